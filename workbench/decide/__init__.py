"""Where to run: chances, the window with its set point, and what stops each side."""

from workbench.decide.chances import ChanceMap, chance, chance_map
from workbench.decide.made_up import (
    MadeUpProcess,
    lowest_true_share,
    true_mean,
    true_share,
)
from workbench.decide.made_up_runs import simulate
from workbench.decide.next_trial import (
    Gain,
    Kind,
    MovedRange,
    NextTrial,
    NextTrials,
    Obstacle,
)
from workbench.decide.next_trials import next_trials
from workbench.decide.straightness import two_level_factors
from workbench.decide.window import window
from workbench.decide.windows import Decision, Limit, NearestMiss, NoWindow, Window

__all__ = [
    "ChanceMap",
    "Decision",
    "Gain",
    "Kind",
    "Limit",
    "MadeUpProcess",
    "MovedRange",
    "NearestMiss",
    "NextTrial",
    "NextTrials",
    "NoWindow",
    "Obstacle",
    "Window",
    "chance",
    "chance_map",
    "lowest_true_share",
    "next_trials",
    "simulate",
    "true_mean",
    "true_share",
    "two_level_factors",
    "window",
]
