"""Chances at points and maps of them."""

import numpy as np
import pytest

import workbench as wb
from workbench.define.factors import Categorical
from workbench.define.outcomes import Measured, at_least
from workbench.define.settings import from_coded
from workbench.errors import DecisionError, Unavailable

FORCE = Measured(name="peel force", unit="N", requirement=at_least(0))
PULL = Measured(name="pull force", unit="N", requirement=at_least(0))


@pytest.fixture(scope="module")
def fits(made):
    rng = np.random.default_rng(1)
    x = made.face_centred(3)
    force = 2 + x[:, 0] - x[:, 2] + rng.normal(0, 1, len(x))
    pull = 2 - x[:, 0] + rng.normal(0, 1, len(x))
    return made.fits_of(made.numeric(3), x, [(FORCE, force), (PULL, pull)])


@pytest.fixture(scope="module")
def points(fits):
    return from_coded(fits[0].settings.factors, np.array([[0.0, 0, 0], [0.5, 0, 0.5]]))


def test_failing_shares_are_added_up_whatever_the_correlation(fits, points):
    both = wb.decide.chance(fits, points, seed=1)
    alone = [wb.decide.chance((one,), points, seed=1) for one in fits]
    np.testing.assert_allclose(1 - both, (1 - alone[0]) + (1 - alone[1]), atol=1e-6)


def test_a_chance_that_cannot_be_had_says_why(made, points):
    x = made.face_centred(3)
    free = Measured(name="cycle time", unit="s")
    y = np.random.default_rng(2).normal(0, 1, len(x))
    answer = wb.decide.chance(made.fits_of(made.numeric(3), x, [(free, y)]), points, seed=1)
    assert isinstance(answer, Unavailable)
    assert "cycle time" in answer.reason


def test_a_map_is_the_worst_over_the_limits_of_the_others(fits):
    best = wb.decide.window(fits, share=0.8, confidence=0.8, seed=1, n_draws=512).best
    drawn = wb.decide.chance_map(fits, x="factor 1", y="factor 2", seed=1, box=best)
    assert drawn.chance.shape == drawn.assured.shape == (drawn.y.size, drawn.x.size)
    low, high = best.limits[2].low, best.limits[2].high
    assert drawn.held == f"factor 3 anywhere from {low:g} to {high:g} mm"
    j, i = 10, 20
    ends = [
        wb.decide.chance_map(
            fits, x="factor 1", y="factor 2", seed=1, confidence=0.8, at={"factor 3": value}
        )
        for value in (low, (low + high) / 2, high)
    ]
    assert drawn.chance[j, i] == pytest.approx(min(one.chance[j, i] for one in ends), abs=1e-6)
    assert drawn.assured[j, i] <= min(one.assured[j, i] for one in ends) + 1e-6
    assert drawn.confidence == 0.8
    within = (drawn.x >= best.limits[0].low) & (drawn.x <= best.limits[0].high)
    up = (drawn.y >= best.limits[1].low) & (drawn.y <= best.limits[1].high)
    # 1,024 draws stand behind a map: one standard error is about 0.01 here.
    assert drawn.assured[np.ix_(up, within)].min() > 0.8 - 0.04


def test_x_runs_along_columns(fits):
    drawn = wb.decide.chance_map(
        fits[:1], x="factor 1", y="factor 3", seed=1, confidence=0.9, at={"factor 2": 240.0}
    )
    assert drawn.chance[0, -1] > drawn.chance[0, 0]  # more of factor 1 helps
    assert drawn.chance[0, 0] > drawn.chance[-1, 0]  # more of factor 3 does not
    assert drawn.held == "factor 2 240 mm"
    assert drawn.inside.all()


def test_levels_are_held_by_name(made):
    rng = np.random.default_rng(3)
    tip = Categorical(name="tip", levels=("flat", "bevel"))
    x = np.array([[*row, level] for row in made.face_centred(2) for level in (0, 1)])
    force = 2 * x[:, 2] + rng.normal(0, 1, len(x))
    fits = made.fits_of([*made.numeric(2), tip], x, [(FORCE, force)])
    chances = [
        wb.decide.chance_map(
            fits, x="factor 1", y="factor 2", seed=1, confidence=0.9, at={"tip": level}
        ).chance.mean()
        for level in ("flat", "bevel")
    ]
    assert chances[1] > chances[0] + 0.2


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"x": "factor 2"}, "cannot be an axis"),
        ({"y": "tip"}, "cannot be an axis"),
        ({}, "Nothing says where factor 3 stands"),
        ({"confidence": None}, "No confidence"),
    ],
)
def test_maps_that_are_not_told_enough_are_refused(fits, more, words):
    asked = {"x": "factor 1", "y": "factor 2", "seed": 1, "confidence": 0.9} | more
    with pytest.raises(DecisionError, match=words):
        wb.decide.chance_map(fits, **asked)
