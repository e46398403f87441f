"""Models of outcomes: what matters, how sure, what these runs cannot tell."""

from workbench.fit.boundary import boundary, boundary_words, failed_outright
from workbench.fit.crossings import Crossing, crossings
from workbench.fit.faces import Fit, Prediction, ShareDraws
from workbench.fit.measured import MeasuredFit
from workbench.fit.nouns import (
    Aliased,
    Coefficient,
    Diagnostics,
    Effect,
    Estimate,
    LackOfFit,
    PartScatter,
    PowerFamily,
    PseudoError,
    ScaleCheck,
    TermTest,
)
from workbench.fit.outcome import outcome
from workbench.fit.reading import clear_terms, reading
from workbench.fit.second_order import Ascent, LevelPoint, level_point, steepest_ascent
from workbench.fit.selection import Selection, selection
from workbench.fit.sensitivity import Sensitivity, sensitivity
from workbench.fit.term_tests import sequential_tests
from workbench.fit.together import Shared, TradeOff, pulled_apart, shared_scatter, trade_offs
from workbench.fit.without_products import tests_without_products

__all__ = [
    "Aliased",
    "Ascent",
    "Coefficient",
    "Crossing",
    "Diagnostics",
    "Effect",
    "Estimate",
    "Fit",
    "LackOfFit",
    "LevelPoint",
    "MeasuredFit",
    "PartScatter",
    "PowerFamily",
    "Prediction",
    "PseudoError",
    "ScaleCheck",
    "Selection",
    "Sensitivity",
    "ShareDraws",
    "Shared",
    "TermTest",
    "TradeOff",
    "boundary",
    "boundary_words",
    "clear_terms",
    "crossings",
    "failed_outright",
    "level_point",
    "outcome",
    "pulled_apart",
    "reading",
    "selection",
    "sensitivity",
    "sequential_tests",
    "shared_scatter",
    "steepest_ascent",
    "tests_without_products",
    "trade_offs",
]
