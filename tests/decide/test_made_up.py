"""The made-up process is the truth that everything else is held against, so it comes first."""

import numpy as np
import pytest
from scipy import stats

from workbench.decide.made_up import (
    MadeUpProcess,
    Surface,
    lowest_true_share,
    true_mean,
    true_share,
)
from workbench.decide.made_up_runs import simulate
from workbench.decide.windows import Limit, Window
from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured, at_least, at_most, between
from workbench.define.settings import settings
from workbench.define.terms import MEAN, term
from workbench.define.trial import Trial
from workbench.errors import DefinitionError

BEAD = Continuous(name="bead volume", low=260, high=440, unit="mm³", setting_sd=5)
SPEED = Continuous(name="nozzle speed", low=15, high=35, unit="mm/s", setting_sd=0.5)
FACTORS = (BEAD, SPEED)
LEAK = Measured(name="leak rate", unit="mm³/s", requirement=at_most(1.0), scale="log")
FORCE = Measured(name="peel force", unit="N", requirement=at_least(26), resolution=0.1)


def surface(outcome, *coefficients, run_sd=0.3, part_sd=0.4):
    terms = tuple(
        (term(*powers, factors=FACTORS) if powers else MEAN, size)
        for size, *powers in coefficients
    )
    return Surface(outcome=outcome, coefficients=terms, run_sd=run_sd, part_sd=part_sd)


def process(*surfaces, factors=FACTORS):
    outcomes = tuple(one.outcome for one in surfaces)
    trial = Trial(title="t", question="q", factors=factors, outcomes=outcomes)
    return MadeUpProcess(trial=trial, surfaces=surfaces)


def at(*rows):
    return settings(FACTORS, [{"bead volume": b, "nozzle speed": s} for b, s in rows])


def test_the_mean_is_the_polynomial_in_coded_settings():
    bent = surface(
        FORCE, (30.0,), (2.0, ("bead volume", 1)), (-3.0, ("bead volume", 2), ("nozzle speed", 1))
    )
    # bead volume 395 is coded 0.5, nozzle speed 20 is coded −0.5
    expected = 30 + 2 * 0.5 - 3 * 0.5**2 * -0.5
    np.testing.assert_allclose(true_mean(process(bent), at((395, 20))), [[expected]])


def test_without_setting_error_the_share_is_the_normal_probability():
    held = tuple(
        Continuous(name=f.name, low=f.low, high=f.high, unit=f.unit, setting_sd=0) for f in FACTORS
    )
    force = surface(FORCE, (27.0,), run_sd=0.6, part_sd=0.8)
    leak = surface(LEAK, (-1.0,), run_sd=0.3, part_sd=0.4)
    share = true_share(process(force, leak, factors=held), at((350, 25)))
    expected = stats.norm.sf(26, 27, 1.0) * stats.norm.cdf(0, -1.0, 0.5)
    np.testing.assert_allclose(share, [expected], rtol=1e-12)


def test_a_setting_error_on_a_straight_line_adds_its_variance():
    slope = 4.0  # per half range of 90 mm³, so 5 mm³ of setting error is 4 × 5/90
    force = surface(FORCE, (27.0,), (slope, ("bead volume", 1)), run_sd=0.6, part_sd=0.8)
    share = true_share(process(force), at((350, 25)), nodes=9)
    expected = stats.norm.sf(26, 27, np.hypot(1.0, slope * 5 / 90))
    # Nine Gauss points leave less than 1e-7 for an error this small beside the scatter.
    np.testing.assert_allclose(share, [expected], atol=1e-7)


def test_the_share_is_what_a_long_simulation_finds():
    exact = Measured(name="peel force", unit="N", requirement=at_least(26))
    force = surface(
        exact,
        (27.5,),
        (1.5, ("bead volume", 1)),
        (-0.8, ("bead volume", 2)),
        run_sd=0.6,
        part_sd=0.8,
    )
    width = Measured(name="width", unit="mm", requirement=between(0.4, 1.6))
    spread = surface(
        width,
        (1.0,),
        (0.3, ("bead volume", 1)),
        (-0.2, ("nozzle speed", 1)),
        run_sd=0.2,
        part_sd=0.2,
    )
    made_up = process(force, spread)
    n = 40_000
    seen = simulate(made_up, at(*[(400, 20)] * n), parts_per_run=1, seed=3)
    meets = (seen.values[:, 0, 0] >= 26) & (seen.values[:, 0, 1] >= 0.4)
    meets &= seen.values[:, 0, 1] <= 1.6
    expected = true_share(made_up, at((400, 20)))[0]
    # Four standard errors of a simulated share.
    assert abs(meets.mean() - expected) < 4 * np.sqrt(expected * (1 - expected) / n)


def test_same_seed_same_parts():
    made_up = process(surface(FORCE, (30.0,)), surface(LEAK, (-1.0,)))
    first, again, other = (
        simulate(made_up, at((300, 20), (400, 30)), parts_per_run=3, seed=s).values
        for s in (7, 7, 8)
    )
    assert first.shape == (2, 3, 2)
    np.testing.assert_array_equal(first, again)
    assert not np.array_equal(first, other)


def test_readings_have_the_steps_of_the_gauge_and_logs_stay_above_zero():
    made_up = process(surface(FORCE, (30.0,)), surface(LEAK, (-1.0,)))
    values = simulate(made_up, at(*[(350, 25)] * 50), parts_per_run=2, seed=1).values
    tenths = values[:, :, 0] * 10
    np.testing.assert_allclose(tenths, np.round(tenths), atol=1e-9)
    assert (values[:, :, 1] > 0).all()


def test_parts_of_a_run_share_the_scatter_of_the_run():
    made_up = process(surface(FORCE, (30.0,), run_sd=3.0, part_sd=1.0))
    values = simulate(made_up, at(*[(350, 25)] * 4000), parts_per_run=4, seed=2).values[:, :, 0]
    within = values.var(axis=1, ddof=1).mean()
    between_runs = values.mean(axis=1).var(ddof=1)
    np.testing.assert_allclose(within, 1.0, rtol=0.05)
    np.testing.assert_allclose(between_runs, 3.0**2 + 1.0 / 4, rtol=0.1)


def test_the_lowest_share_of_a_window_is_at_its_worst_corner():
    made_up = process(
        surface(FORCE, (28.0,), (1.0, ("bead volume", 1)), (-0.5, ("nozzle speed", 1)))
    )
    limits = tuple(
        Limit(factor=f, low=lo, high=hi, set_point=mid, limited_by_low="", limited_by_high="")
        for f, lo, mid, hi in ((BEAD, 300, 350, 400), (SPEED, 18, 22, 26))
    )
    window = Window(
        limits=limits,
        levels=(),
        share=0.9,
        confidence=0.9,
        chance_at_set_point=0.95,
        lowest_share=0.9,
        volume=0.1,
        model_form=0.3,
        seed=1,
        n_draws=16,
        notes=(),
    )
    expected = true_share(made_up, at((300, 26)))[0]
    # Only the order of summation differs.
    np.testing.assert_allclose(lowest_true_share(made_up, window), expected, rtol=1e-12)


def test_a_process_needs_settings_it_can_miss_by_a_stated_amount():
    unstated = Continuous(name="bead volume", low=260, high=440, unit="mm³", setting_sd=None)
    with pytest.raises(DefinitionError, match="cannot set"):
        process(surface(FORCE, (30.0,)), factors=(unstated,))


def test_a_process_needs_scatter_and_a_scale_it_knows():
    with pytest.raises(DefinitionError, match="without scatter"):
        surface(FORCE, (30.0,), run_sd=0, part_sd=0)
    rooted = Measured(name="bubbles", unit="1", scale="square root")
    with pytest.raises(DefinitionError, match="square root scale"):
        surface(rooted, (30.0,))
