"""Models of outcomes: what matters, how sure, what these runs cannot tell."""

from workbench.fit.crossings import Crossing, crossings
from workbench.fit.faces import Estimate, Fit, Prediction, ShareDraws
from workbench.fit.measured import MeasuredFit
from workbench.fit.nouns import (
    Aliased,
    Coefficient,
    Diagnostics,
    Effect,
    LackOfFit,
    PartScatter,
    PowerFamily,
    PseudoError,
    ScaleCheck,
    TermTest,
)
from workbench.fit.outcome import outcome
from workbench.fit.reading import clear_terms, reading
from workbench.fit.term_tests import sequential_tests
from workbench.fit.without_products import tests_without_products

__all__ = [
    "Aliased",
    "Coefficient",
    "Crossing",
    "Diagnostics",
    "Effect",
    "Estimate",
    "Fit",
    "LackOfFit",
    "MeasuredFit",
    "PartScatter",
    "PowerFamily",
    "Prediction",
    "PseudoError",
    "ScaleCheck",
    "ShareDraws",
    "TermTest",
    "clear_terms",
    "crossings",
    "outcome",
    "reading",
    "sequential_tests",
    "tests_without_products",
]
