"""Where to run: chances, the window with its set point, and what stops each side."""

from workbench.decide.chances import ChanceMap, chance, chance_map
from workbench.decide.straightness import two_level_factors
from workbench.decide.window import window
from workbench.decide.windows import Decision, Limit, NearestMiss, NoWindow, Window

__all__ = [
    "ChanceMap",
    "Decision",
    "Limit",
    "NearestMiss",
    "NoWindow",
    "Window",
    "chance",
    "chance_map",
    "two_level_factors",
    "window",
]
