"""What stands in the way of a window, each said with what to do next."""

import numpy as np
import pytest

import workbench as wb
from workbench.decide.windows import NoWindow, Window
from workbench.define.factors import Categorical, Continuous, Role, Spread
from workbench.define.outcomes import Measured, at_least, at_most, between
from workbench.errors import WorkbenchError

FORCE = Measured(name="peel force", unit="N", requirement=at_least(0))
DRAWS = 512


def window(fits, **more):
    asked = {"share": 0.9, "confidence": 0.9, "seed": 3, "n_draws": DRAWS} | more
    return wb.decide.window(fits, **asked)


def with_room(made, seed, *, spread, sd=0.5, slope=0.0):
    """An invented process of two settings and a room that varies; the room has a slope."""
    rng = np.random.default_rng(seed)
    room = Continuous(
        name="room humidity",
        low=30,
        high=60,
        unit="%",
        setting_sd=None,
        role=Role.NOISE,
        spread=spread,
    )
    x = np.vstack([made.face_centred(3)] * 2)
    force = 3 + x[:, 0] - x[:, 1] + slope * x[:, 2] + rng.normal(0, sd, len(x))
    return made.fits_of([*made.numeric(2), room], x, [(FORCE, force)])


def test_a_noise_factor_without_a_distribution_is_refused(made):
    none = window(with_room(made, 1, spread=None)).best
    assert isinstance(none, NoWindow)
    assert "how room humidity varies in production" in none.reason
    assert 'shape "normal" or "uniform"' in none.reason
    assert none.next_trial


@pytest.mark.parametrize("shape", ["normal", "uniform"])
def test_noise_is_averaged_over_and_more_of_it_costs_room(made, shape):
    calm = window(
        with_room(made, 2, spread=Spread(shape=shape, centre=45, width=0.5), slope=1.5)
    ).best
    wild = window(
        with_room(made, 2, spread=Spread(shape=shape, centre=45, width=12), slope=1.5)
    ).best
    assert [one.factor.name for one in calm.limits] == ["factor 1", "factor 2"]
    assert isinstance(calm, Window)
    assert (wild.volume if isinstance(wild, Window) else 0.0) < calm.volume


def test_uniform_noise_of_a_half_width_counts_less_than_a_normal_sd_as_large(made):
    volumes = [
        window(
            with_room(made, 2, spread=Spread(shape=shape, centre=45, width=8), slope=1.5)
        ).best.volume
        for shape in ("uniform", "normal")
    ]
    assert volumes[0] > volumes[1]


def test_levels_that_vary_in_production_are_refused(made):
    lot = Categorical(name="resin lot", levels=("a", "b"), role=Role.NOISE)
    x = np.array([[*row, level] for row in made.face_centred(2) for level in range(2)])
    force = 5 + np.random.default_rng(1).normal(0, 1, len(x))
    fits = made.fits_of(
        [*made.numeric(2), lot],
        x,
        [(FORCE, force)],
        terms="'factor 1' * 'factor 2', 'resin lot', 'factor 1'^2, 'factor 2'^2",
    )
    none = window(fits).best
    assert isinstance(none, NoWindow)
    assert "how often each comes in production is not known" in none.reason


def test_limits_that_no_number_can_meet_are_refused_when_stated():
    with pytest.raises(WorkbenchError) as caught:
        between(5, 3)
    assert caught.value.next_step


def test_requirements_that_pull_apart_are_called_so(made):
    """More of factor 1 helps force and hurts gap: each alone has room, together there is none."""
    rng = np.random.default_rng(4)
    x = np.vstack([made.face_centred(2)] * 2)
    gap = Measured(name="gap", unit="mm", requirement=at_most(-2))
    force = Measured(name="peel force", unit="N", requirement=at_least(2))
    fits = made.fits_of(
        made.numeric(2),
        x,
        [
            (force, 4 * x[:, 0] + rng.normal(0, 0.4, len(x))),
            (gap, 4 * x[:, 0] + rng.normal(0, 0.4, len(x))),
        ],
    )
    none = window(fits).best
    assert isinstance(none, NoWindow)
    assert "can be met alone" in none.next_trial
    assert "peel force" in none.next_trial
    assert "gap" in none.next_trial


def test_a_goal_beyond_the_range_tried_says_where_to_look(made):
    rng = np.random.default_rng(5)
    x = np.vstack([made.face_centred(2)] * 2)
    force = Measured(name="peel force", unit="N", requirement=at_least(20))
    fits = made.fits_of(
        made.numeric(2), x, [(force, 5 + 3 * x[:, 0] + rng.normal(0, 0.5, len(x)))]
    )
    none = window(fits).best
    assert isinstance(none, NoWindow)
    assert "factor 1 above 180 mm" in none.next_trial
    assert "if that is possible and safe" in none.next_trial
