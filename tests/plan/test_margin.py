"""The margin that a plan needs before it can assure anything."""

from itertools import product

import numpy as np
import pytest

import workbench as wb
from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured, at_least
from workbench.define.trial import Trial
from workbench.errors import Unavailable
from workbench.plan.margin import needed_margin


@pytest.mark.published("e-Handbook of Statistical Methods, section 7.2.6.3; Natrella (1963)")
@pytest.mark.parametrize(
    ("n", "share", "confidence", "factor"),
    # One-sided factors: 43 wafers of the handbook; table A-7 of Natrella, from memory.
    [(43, 0.90, 0.99, 1.8740), (10, 0.90, 0.95, 2.355), (20, 0.95, 0.95, 2.396)],
)
def test_a_plan_without_factors_needs_the_tolerance_factor(n, share, confidence, factor):
    found = needed_margin(1 / n, n - 1, share=share, confidence=confidence)
    assert found == pytest.approx(factor, abs=6e-4)


@pytest.mark.property
def test_the_margin_is_that_of_the_definition_by_simulation():
    """The lower limit at the best point lies below the true quantile in 95 of 100 trials."""
    rng = np.random.default_rng(1)
    h, df, share = 0.118, 10, 0.95
    k = needed_margin(h, df, share=share, confidence=0.95)
    mean = np.sqrt(h) * rng.standard_normal(200_000)
    s = np.sqrt(rng.chisquare(df, 200_000) / df)
    true_quantile = -1.6448536
    assert np.mean(mean - k * s <= true_quantile) == pytest.approx(0.95, abs=0.002)


def trial(n=3):
    return Trial(
        title="made up",
        question="where?",
        factors=tuple(
            Continuous(name=f"factor {j}", low=0, high=1, unit="mm", setting_sd=0)
            for j in range(n)
        ),
        outcomes=(Measured(name="force", unit="N", requirement=at_least(3)),),
        model="second-order",
        share=0.95,
        confidence=0.95,
    )


def test_more_runs_need_less_and_never_less_than_a_known_process():
    small = wb.plan.composite(trial(), seed=1, centre_points=6)
    large = wb.plan.with_repeats(small, n_repeats=12, seed=2)
    found = wb.plan.margin(small, share=0.95, confidence=0.95)
    assert found.if_known == pytest.approx(1.645, abs=1e-3)
    more = wb.plan.margin(large, share=0.95, confidence=0.95)
    assert found.if_known < more.needed < found.needed
    assert more.error_df == found.error_df + 12
    strict = wb.plan.margin(small, share=0.99, confidence=0.95)
    sure = wb.plan.margin(small, share=0.95, confidence=0.99)
    assert strict.needed > found.needed
    assert sure.needed > found.needed


def test_face_centred_twenty_runs_need_what_the_formula_says_by_hand():
    """Leverage by hand: the least is at the centre of 8 corners, 6 faces and 6 centres."""
    x = np.array(
        [*product([-1.0, 1.0], repeat=3), *np.vstack([np.eye(3), -np.eye(3)]), *np.zeros((6, 3))]
    )
    squares = np.column_stack([np.ones(20), x**2])
    at = np.array([1.0, 0, 0, 0])
    least = at @ np.linalg.inv(squares.T @ squares) @ at
    assert needed_margin(least, 10, share=0.95, confidence=0.95) == pytest.approx(2.87, abs=0.01)


def test_plans_that_leave_too_little_say_so():
    few = wb.plan.composite(trial(), seed=1, centre_points=1)
    found = wb.plan.margin(few, share=0.95, confidence=0.95)
    assert isinstance(found, Unavailable)
    assert "error degrees of freedom" in found.reason
