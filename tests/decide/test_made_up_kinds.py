"""Made-up outcomes of every kind: their shares are what long runs of the process show."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from scipy.special import expit

from workbench.decide.made_up import MadeUpProcess, Wandering, true_mean, true_share
from workbench.decide.made_up_runs import Shared, simulate
from workbench.decide.made_up_surfaces import (
    AtLevel,
    Breaking,
    GradeSurface,
    PassSurface,
    Surface,
)
from workbench.define.factors import Categorical, Continuous, Role
from workbench.define.outcomes import Graded, Measured, PassFail, Requirement, at_least
from workbench.define.settings import settings
from workbench.define.terms import MEAN, term
from workbench.define.trial import Trial
from workbench.errors import DefinitionError

HEAT = Continuous(name="heat", low=300, high=400, unit="°C", setting_sd=4, slow=True)
TIP = Categorical(name="tip", levels=("round", "flat"))
ROOM = Continuous(name="room", low=30, high=60, unit="%RH", setting_sd=None, role=Role.OBSERVED)
FACTORS = (HEAT, TIP, ROOM)
FORCE = Measured(name="force", unit="N", requirement=at_least(20))
WETTED = PassFail(name="wetted")
HAZE = Graded(name="haze", grades=("0", "1", "2", "3"), requirement=Requirement(low=1, high=2))
DAMP = Wandering(factor="room", centre=45, sd=3, carry=0.8)
N = 40_000


def slope(size):
    return (term(("heat", 1), factors=FACTORS), size)


def process(surface):
    trial = Trial(title="t", question="q", factors=FACTORS, outcomes=(surface.outcome,))
    return MadeUpProcess(trial=trial, surfaces=(surface,), wandering=(DAMP,))


def at(heat, tip="flat", n=1):
    return settings((HEAT, TIP), [{"heat": heat, "tip": tip}] * n)


def share_seen(made_up, meets, seed=5):
    seen = simulate(made_up, at(380, n=N), parts_per_run=1, seed=seed).values[:, 0, 0]
    return meets(seen).mean()


def agree(seen, expected):
    # Four standard errors of a simulated share; what is only read carries over from run to run,
    # which widens it by the square root of (1 + 0.8) / (1 − 0.8).
    return abs(seen - expected) < 4 * 3 * np.sqrt(expected * (1 - expected) / N)


LEVEL = (AtLevel(factor="tip", level=1, coefficients=((MEAN, 0.5),)),)
DAMPER = (term(("room", 1), factors=FACTORS), 0.3)


def test_what_stands_at_a_level_is_added_there_alone():
    made_up = process(
        Surface(
            outcome=FORCE,
            coefficients=((MEAN, 10.0), slope(2.0)),
            at_levels=(AtLevel(factor="tip", level=1, coefficients=((MEAN, 3.0), slope(-1.0))),),
            run_sd=1.0,
            part_sd=1.0,
        )
    )
    rows = [{"heat": 400, "tip": tip, "room": 45} for tip in ("round", "flat")]
    np.testing.assert_allclose(true_mean(made_up, settings(FACTORS, rows)), [[12.0], [14.0]])


def test_the_share_that_passes_is_what_a_long_simulation_finds():
    made_up = process(
        PassSurface(
            outcome=WETTED,
            coefficients=((MEAN, 0.8), slope(1.5), DAMPER),
            at_levels=LEVEL,
            run_sd=0.7,
        )
    )
    expected = true_share(made_up, at(380), nodes=9)[0]
    assert agree(share_seen(made_up, lambda seen: seen == 1), expected)


def test_without_scatter_the_share_that_passes_is_the_logistic_curve():
    plain = PassSurface(outcome=WETTED, coefficients=((MEAN, 1.2),), run_sd=0.0)
    np.testing.assert_allclose(true_share(process(plain), at(350)), [expit(1.2)], rtol=1e-12)


def test_the_share_between_two_grades_is_what_a_long_simulation_finds():
    made_up = process(
        GradeSurface(
            outcome=HAZE,
            coefficients=((MEAN, 0.2), slope(1.0), DAMPER),
            at_levels=LEVEL,
            run_sd=0.4,
            thresholds=(-0.5, 1.0, 2.5),
        )
    )
    expected = true_share(made_up, at(380), nodes=9)[0]
    assert agree(share_seen(made_up, lambda seen: (seen >= 1) & (seen <= 2)), expected)


def test_what_breaks_first_cuts_the_reading_and_not_the_strength():
    strong = Surface(
        outcome=FORCE,
        coefficients=((MEAN, 30.0),),
        run_sd=3.0,
        part_sd=4.0,
        breaks=Breaking(what="ceramic", mean=33.0, sd=2.0),
    )
    made_up = process(strong)
    seen = simulate(made_up, at(350, n=N), parts_per_run=1, seed=2)
    # Bond 30 ± 5, ceramic 33 ± 2: the difference is normal, 3 ± √29.
    assert agree((seen.mark == 1).mean(), stats.norm.sf(3 / np.sqrt(29)))
    assert not (seen.mark == -1).any()
    np.testing.assert_allclose(
        true_share(made_up, at(350)), [stats.norm.sf(20, 30, 5)], rtol=1e-12
    )


def test_readings_beyond_the_gauge_stand_at_its_ends_with_their_mark():
    short = replace(FORCE, gauge_low=18.0, gauge_high=34.0, resolution=0.5)
    plain = Surface(outcome=short, coefficients=((MEAN, 26.0),), run_sd=3.0, part_sd=4.0)
    seen = simulate(process(plain), at(350, n=N), parts_per_run=1, seed=2)
    values, mark = seen.values.ravel(), seen.mark.ravel()
    assert set(values[mark == -1]) == {18.0}
    assert set(values[mark == 1]) == {34.0}
    # Cut off once rounded to half a newton: beyond 26 ± 8.25, with scatter 5.
    assert agree((mark != 0).mean(), 2 * stats.norm.sf(8.25 / 5))
    assert ((values >= 18) & (values <= 34)).all()


def test_a_new_part_comes_from_a_new_lot_and_a_new_setup():
    wide = Surface(
        outcome=FORCE,
        coefficients=((MEAN, 22.0),),
        run_sd=1.0,
        part_sd=2.0,
        setup_sd=2.0,
        lot_sd=4.0,
    )
    np.testing.assert_allclose(
        true_share(process(wide), at(350)), [stats.norm.sf(20, 22, 5)], rtol=1e-12
    )


def test_runs_of_a_setup_share_its_error_and_the_miss_of_the_slow_setting():
    made_up = process(
        Surface(outcome=FORCE, coefficients=((MEAN, 22.0),), run_sd=1.0, part_sd=0.0, setup_sd=3.0)
    )
    setup = np.repeat(np.arange(2000), 4)
    shared = Shared(setup=setup, lot=np.zeros(8000, dtype=np.int64))
    seen = simulate(made_up, at(350, n=8000), parts_per_run=1, seed=4, shared=shared)
    groups = seen.values.reshape(2000, 4)
    heat = seen.actual.column("heat").reshape(2000, 4)
    assert (heat == heat[:, :1]).all()
    np.testing.assert_allclose(heat[:, 0].std(ddof=1), 4.0, rtol=0.08)
    np.testing.assert_allclose(groups.var(axis=1, ddof=1).mean(), 1.0, rtol=0.06)
    np.testing.assert_allclose(groups.mean(axis=1).var(ddof=1), 9.0 + 0.25, rtol=0.13)


def test_what_is_only_read_wanders_about_its_centre():
    made_up = process(Surface(outcome=FORCE, coefficients=(), run_sd=1.0, part_sd=1.0))
    room = simulate(made_up, at(350, n=N), parts_per_run=1, seed=1).actual.column("room")
    np.testing.assert_allclose([room.mean(), room.std()], [45, 3], rtol=0.02)
    np.testing.assert_allclose(np.corrcoef(room[1:], room[:-1])[0, 1], 0.8, atol=0.02)


def test_a_room_that_nobody_describes_is_refused():
    plain = Surface(outcome=FORCE, coefficients=(), run_sd=1.0, part_sd=1.0)
    with pytest.raises(DefinitionError, match="does not say how 'room' varies"):
        replace(process(plain), wandering=())


@pytest.mark.parametrize("thresholds", [(), (0.0, 1.0), (0.0, 2.0, 1.0), (0.0, 0.0, 1.0)])
def test_grades_need_ascending_thresholds_between_them(thresholds):
    with pytest.raises(DefinitionError, match="one threshold, and they ascend"):
        GradeSurface(outcome=HAZE, coefficients=(), run_sd=0.1, thresholds=thresholds)
