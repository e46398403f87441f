"""Tolerance statements and indices of parts: capability only where stability is shown."""

import numpy as np
import pytest
from invented_proofs import pull

from workbench.decide.capability import index, stability
from workbench.decide.tolerance import tolerance_statement
from workbench.errors import Unavailable
from workbench.files.evidence import published

CHECK = published("process-capability-indices")


def parts(n, *, mean, sd, seed=1):
    drawn = np.random.default_rng(seed).normal(size=n)
    return mean + sd * (drawn - drawn.mean()) / drawn.std(ddof=1)


@pytest.mark.published(source=CHECK.source)
def test_indices_of_the_handbook():
    outcome = pull(low=8.0, high=20.0)
    values = parts(50, mean=16.0, sd=2.0)
    sitting = np.arange(50) % 2
    stable = stability(values, sitting, is_production=True)
    found = index(values, outcome, stable=stable, confidence=0.90)
    expected = CHECK.expected["indices"]
    assert abs(found.spread - expected["cp"].value) <= expected["cp"].tol
    assert abs(found.nearest - expected["cpk"].value) <= expected["cpk"].tol
    for side in ("lower", "upper"):
        end = {"lower": "low", "upper": "high"}[side]
        cp = CHECK.expected["cp_limits_n50_90pct"][side]
        cpk = CHECK.expected["cpk_approx_limits_n50_90pct"][side]
        assert abs(getattr(found, f"spread_{end}") - cp.value) <= cp.tol
        assert abs(getattr(found, f"nearest_{end}") - cpk.value) <= cpk.tol
    assert (found.spread_name, found.nearest_name) == ("Cp", "Cpk")


@pytest.mark.published(source=CHECK.source)
@pytest.mark.parametrize("name", ["cpu", "cpl"])
def test_indices_against_one_limit(name):
    outcome = pull(high=20.0) if name == "cpu" else pull(low=8.0)
    values = parts(50, mean=16.0, sd=2.0)
    stable = stability(values, np.arange(50) % 2, is_production=True)
    found = index(values, outcome, stable=stable, confidence=0.90)
    expected = CHECK.expected["indices"][name]
    assert abs(found.nearest - expected.value) <= expected.tol
    assert isinstance(found.spread, Unavailable)
    if name == "cpu":
        exact = CHECK.expected["cpu_exact_limits_n50_90pct"]
        assert abs(found.nearest_low - exact["lower"].value) <= exact["lower"].tol
        assert abs(found.nearest_high - exact["upper"].value) <= exact["upper"].tol


@pytest.mark.parametrize(
    ("values", "sitting", "is_production", "words"),
    [
        (parts(49, mean=0, sd=1), np.arange(49) % 2, True, "too few to show"),
        (parts(60, mean=0, sd=1), np.zeros(60, dtype=int), True, "one sitting"),
        (parts(60, mean=0, sd=1), np.arange(60) % 2, False, "a corner of the window"),
        (
            parts(60, mean=0, sd=1) + np.arange(60) % 2 * 3.0,
            np.arange(60) % 2,
            True,
            "sittings differ",
        ),
        (parts(60, mean=0, sd=1) + np.arange(60) / 10, np.arange(60) % 2, True, "drift"),
    ],
)
def test_where_stability_is_not_shown_it_is_performance(values, sitting, is_production, words):
    found = stability(values, sitting, is_production=is_production)
    assert not found.is_shown
    assert words in found.why
    one = index(values, pull(low=-9.0), stable=found, confidence=0.95)
    assert one.nearest_name == "Ppk"


def test_tolerance_statements_have_as_many_sides_as_the_requirement():
    values = parts(10, mean=5.0, sd=1.0)
    both = tolerance_statement(values, pull(low=0, high=9), share=0.95, confidence=0.95)
    assert both.low == pytest.approx(5 - 3.393429, abs=1e-5)
    assert both.high == pytest.approx(5 + 3.393429, abs=1e-5)
    one = tolerance_statement(values, pull(high=9), share=0.95, confidence=0.95)
    assert one.low is None
    assert one.high == pytest.approx(5 + 2.910963, abs=1e-5)
    ratio = pull(high=9.0, scale="log")
    logs = tolerance_statement(np.log(np.exp(values)), ratio, share=0.95, confidence=0.95)
    assert logs.high == pytest.approx(np.exp(5 + 2.910963), rel=1e-5)
    few = tolerance_statement(values[:1], pull(high=9), share=0.95, confidence=0.95)
    assert isinstance(few, Unavailable)
