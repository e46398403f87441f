"""What to run next: by what stands in the way, with what it would change (invented processes)."""

import numpy as np
import pytest

import workbench as wb
from workbench.decide.limiting import EDGE
from workbench.decide.next_trial import Kind, Obstacle
from workbench.decide.windows import Limit, NearestMiss, NoWindow, Window
from workbench.define.constraints import Forbidden
from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured, at_least, at_most
from workbench.define.trial import Budget, Trial
from workbench.errors import Unavailable
from workbench.numerics.margins import Known, needed_margin

DWELL = Continuous(name="dwell", low=1, high=3, unit="s", setting_sd=0.05)
HEAT = Continuous(name="heat", low=330, high=390, unit="°C", setting_sd=1)
FEED = Continuous(name="feed", low=2, high=6, unit="mm", setting_sd=0.1)
GAP = Continuous(name="gap", low=0.2, high=0.6, unit="mm", setting_sd=0.01)
FORCE = Measured(name="force", unit="N", requirement=at_least(4))


def trial(factors, outcome=FORCE, **more):
    return Trial(title="t", question="?", factors=factors, outcomes=(outcome,), **more)


def miss(settings, *, share=0.9, limited_by="force below 4 N"):
    return NoWindow(
        reason="none",
        share=share,
        confidence=0.9,
        nearest_miss=NearestMiss(
            settings=tuple(settings.items()), chance=0.8, assured_share=0.5, limited_by=limited_by
        ),
        next_trial="",
    )


def refused():
    return NoWindow(reason="no", share=0.9, confidence=0.9, nearest_miss=None, next_trial="")


def fitted(made, plan, mean, *, sd=0.3, outcome=FORCE, terms="second-order", seed=1):
    x = plan.settings.coded()
    values = mean(x) + np.random.default_rng(seed).normal(0, sd, len(x))
    return made.fits_of(plan.settings.factors, x, [(outcome, values)], terms=terms)


def by_kind(found):
    return {one.kind: one for one in found.trials}


@pytest.fixture
def composite():
    asked = trial((DWELL, HEAT))
    return wb.plan.composite(asked, axial="face", centre_points=4, seed=3)


def ask(fits, best, plan, **more):
    asked = trial(plan.settings.factors, fits[0].outcome, **more)
    return wb.decide.next_trials(fits, best, plan, trial=asked, seed=2)


def test_too_few_runs_ask_for_repeats_as_few_as_would_be_enough(made, composite):
    fits = fitted(made, composite, lambda x: 4.46 + 0.2 * x[:, 0])
    found = ask(fits, miss({"dwell": 2.0, "heat": 360.0}), composite)
    assert found.obstacle is Obstacle.TOO_FEW_RUNS
    first = found.trials[0]
    assert (first.kind, first.recommended) == (Kind.REPLICATES, True)
    assert [one.recommended for one in found.trials[1:]] == [False] * (len(found.trials) - 1)
    assert first.gain.error_after < first.gain.error_before
    assert first.gain.needed_after < first.gain.needed_before
    assert first.gain.needed_before > first.gain.margin >= first.gain.needed_after
    assert f"{len(first)} are the fewest that would be enough" in first.reason


def test_the_gain_is_that_of_the_longer_model_matrix_with_its_block(made, composite):
    fits = fitted(made, composite, lambda x: 4.7 + 0.2 * x[:, 0])
    found = ask(fits, miss({"dwell": 2.5, "heat": 350.0}), composite)
    one = by_kind(found)[Kind.CORNERS]
    settings = np.vstack([fits[0].settings.values, one.runs.values])
    a, b = (settings - [2, 360]).T / np.array([[1], [30]])
    block = np.r_[np.ones(len(composite)), -np.ones(len(one))]
    X = np.column_stack([np.ones(len(a)), a, b, a * b, a * a, b * b, block])
    x = np.array([1, 0.5, -1 / 3, -1 / 6, 0.25, 1 / 9, 0])
    leverage = x @ np.linalg.solve(X.T @ X, x)
    assert one.gain.error_after == pytest.approx(np.sqrt(leverage), rel=1e-9)
    known = Known(leverage=leverage, error_df=len(X) - 7)
    needed = needed_margin(known, share=0.9, confidence=0.9)
    assert one.gain.needed_after == pytest.approx(needed, rel=1e-9)
    residual = fits[0].residual_sd
    place = one.runs.rows(np.array([-1]))
    mean = fits[0].predict(place, confidence=0.9).mean[0]
    plain = (mean - 4) / residual
    assert 0 < one.gain.margin < plain  # setting error and model form take some
    before = X[: len(composite), :6]
    leverage = x[:6] @ np.linalg.solve(before.T @ before, x[:6])
    was = Known(leverage=leverage, error_df=len(before) - 6)
    assured = np.quantile(
        fits[0].share_draws(place, n_draws=8192, seed=5, model_form=0.3).share, 0.1
    )
    expected = needed_margin(was, share=float(assured), confidence=0.9)
    assert one.gain.margin == pytest.approx(expected, abs=0.06)  # other draws


def test_corners_stand_between_the_levels_tried_and_inside_the_ranges(made, composite):
    fits = fitted(made, composite, lambda x: 4.7 + 0.2 * x[:, 0])
    one = by_kind(ask(fits, miss({"dwell": 2.9, "heat": 360.0}), composite))[Kind.CORNERS]
    dwell = one.runs.column("dwell")[[p == "corner" for p in one.point]]
    assert set(np.round(dwell, 6)) == {2.4, 3.0}
    assert one.point.count("nearest miss") == 2


def test_forbidden_corners_are_left_out(made, composite):
    fits = fitted(made, composite, lambda x: 4.7 + 0.2 * x[:, 0])
    hot = Forbidden(where=(("heat", 370.0, 390.0), ("dwell", 2.0, 3.0)), reason="burns")
    found = ask(fits, miss({"dwell": 2.0, "heat": 360.0}), composite, constraints=(hot,))
    for one in found.trials:
        runs = one.runs
        assert not ((runs.column("heat") > 370) & (runs.column("dwell") > 2)).any()


def test_nothing_between_two_levels_asks_for_axial_runs(made):
    plan = wb.plan.full(trial((DWELL, HEAT)), replicates=4, seed=1)
    fits = fitted(made, plan, lambda x: 6 + x[:, 0], terms="interactions")
    found = ask(fits, refused(), plan)
    assert found.obstacle is Obstacle.STRAIGHTNESS
    first = found.trials[0]
    assert first.kind is Kind.AXIAL
    assert "dwell, heat cannot be seen to bend" in first.reason
    assert isinstance(first.gain.error_before, Unavailable)
    assert first.gain.error_after < 1.1  # and unknown before
    assert first.point.count("axial") == 4


def test_terms_that_are_one_number_ask_for_the_mirror_image(made):
    factors = (DWELL, HEAT, FEED, GAP)
    plan = wb.plan.fraction(trial(factors), runs=8, replicates=2, seed=1, terms="first-order")
    mixed = "dwell, heat, feed, gap, dwell * heat, feed * gap"
    fits = fitted(made, plan, lambda x: 6 + x[:, 0] + x[:, 0] * x[:, 1], terms=mixed)
    assert fits[0].aliased
    found = ask(fits, refused(), plan)
    assert found.obstacle is Obstacle.MIXED
    first = found.trials[0]
    assert first.kind is Kind.FOLD_OVER
    assert "dwell × heat from feed × gap" in first.reason
    longer = wb.plan.with_added_block(
        trial(factors), plan, first.runs, point=first.point, what_for="fold-over", seed=1
    )
    left = wb.plan.mixing(longer).lines
    assert not any("dwell × heat" in line and "feed × gap" in line for line in left)


def test_a_process_that_would_not_do_asks_to_go_further_and_says_what_scatter_must_be(
    made, composite
):
    fits = fitted(made, composite, lambda x: 4.2 + 0.2 * x[:, 0], sd=0.5)
    found = ask(fits, miss({"dwell": 3.0, "heat": 360.0}), composite)
    assert found.obstacle is Obstacle.PROCESS
    first = found.trials[0]
    assert first.kind is Kind.FURTHER
    assert isinstance(first.gain, Unavailable)
    (moved,) = first.ranges
    assert (moved.factor, moved.low, moved.high) == ("dwell", 1.0, 4.0)
    assert first.runs.column("dwell").max() == pytest.approx(4.0)
    scatter = by_kind(found)[Kind.LESS_SCATTER]
    assert len(scatter) == 0
    assert "force would have to fall by" in scatter.reason


def test_scatter_that_has_to_fall_is_margin_over_needed(made, composite):
    fits = fitted(made, composite, lambda x: 4.4 + 0.1 * x[:, 0], sd=0.5)
    found = by_kind(ask(fits, miss({"dwell": 2.0, "heat": 360.0}), composite))
    gain = found[Kind.CORNERS].gain
    fall = 100 * (1 - gain.margin / gain.needed_before)
    assert f"fall by {fall:.0f} %" in found[Kind.LESS_SCATTER].reason


def test_a_mean_beyond_its_limit_is_not_mended_by_less_scatter(made, composite):
    fits = fitted(made, composite, lambda x: 2 + 0.1 * x[:, 0])
    found = by_kind(ask(fits, miss({"dwell": 2.0, "heat": 360.0}), composite))
    assert "less scatter alone will not do" in found[Kind.LESS_SCATTER].reason


def test_what_is_above_zero_stays_above_zero(made):
    """A gap tried from 0.2 mm goes no lower than half of that."""
    factors = (GAP, HEAT)
    plan = wb.plan.composite(trial(factors), axial="face", centre_points=4, seed=3)
    low = Measured(name="leak", unit="", requirement=at_most(2))
    x = plan.settings.coded()
    values = 2.2 + 0.3 * x[:, 0] + np.random.default_rng(1).normal(0, 0.5, len(x))
    fits = made.fits_of(factors, x, [(low, values)])
    none = miss({"gap": 0.2, "heat": 360.0}, limited_by="leak above 2")
    found = wb.decide.next_trials(fits, none, plan, trial=trial(factors, low), seed=1)
    one = by_kind(found)[Kind.FURTHER]
    assert one.runs.column("gap").min() == pytest.approx(0.1)


def limit(factor, low, high, stop):
    return Limit(
        factor=factor,
        low=low,
        high=high,
        set_point=(low + high) / 2,
        limited_by_low="force below 4 N",
        limited_by_high=stop,
    )


def window(stop):
    return Window(
        limits=(limit(DWELL, 1.5, 3.0, stop), limit(HEAT, 340, 380, "force below 4 N")),
        levels=(),
        share=0.9,
        confidence=0.9,
        chance_at_set_point=0.97,
        lowest_share=0.92,
        volume=0.5,
        model_form=0.3,
        seed=1,
        n_draws=1024,
        notes=(),
    )


def test_beside_a_window_only_its_edges_are_gone_beyond(made, composite):
    fits = fitted(made, composite, lambda x: 5 + 0.4 * x[:, 0])
    found = ask(fits, window(EDGE), composite)
    assert found.obstacle is Obstacle.EDGE
    assert [one.kind for one in found.trials] == [Kind.FURTHER]
    assert found.trials[0].ranges[0].factor == "dwell"
    none = ask(fits, window("force below 4 N"), composite)
    assert "stops at requirements on every side" in none.reason


def test_runs_beyond_the_budget_say_so(made, composite):
    fits = fitted(made, composite, lambda x: 4.7 + 0.2 * x[:, 0])
    asked = trial((DWELL, HEAT), budget=Budget(parts=14))
    plan = wb.plan.composite(asked, axial="face", centre_points=4, seed=3)
    found = wb.decide.next_trials(
        fits, miss({"dwell": 2.0, "heat": 360.0}), plan, trial=asked, seed=2
    )
    assert "They take 6 parts; the budget leaves 2" in by_kind(found)[Kind.CORNERS].reason


def test_the_same_seed_gives_the_same_answer(made, composite):
    fits = fitted(made, composite, lambda x: 4.72 + 0.2 * x[:, 0])
    one, other = (ask(fits, miss({"dwell": 2.0, "heat": 360.0}), composite) for _ in range(2))
    assert [t.reason for t in one.trials] == [t.reason for t in other.trials]
    assert all(
        (a.runs.values == b.runs.values).all()
        for a, b in zip(one.trials, other.trials, strict=True)
    )


def test_the_way_on_serves_all_outcomes_that_lack_margin(made, composite):
    """Force asks for dwell and heat, wear against heat: heat is given up, dwell is not."""
    wear = Measured(name="wear", unit="", requirement=at_most(3))
    x = composite.settings.coded()
    rng = np.random.default_rng(3)
    force = 4.2 + 0.6 * x[:, 0] + 0.6 * x[:, 1] + rng.normal(0, 0.6, len(x))
    worn = 2.8 + 0.9 * x[:, 1] + rng.normal(0, 0.6, len(x))
    factors = composite.settings.factors
    place = miss({"dwell": 3.0, "heat": 390.0})
    alone = made.fits_of(factors, x, [(FORCE, force)])
    both = made.fits_of(factors, x, [(FORCE, force), (wear, worn)])
    moved = []
    for fits, outcomes in ((alone, (FORCE,)), (both, (FORCE, wear))):
        asked = Trial(title="t", question="?", factors=factors, outcomes=outcomes)
        found = wb.decide.next_trials(fits, place, composite, trial=asked, seed=2)
        runs = by_kind(found)[Kind.FURTHER].runs
        moved.append((runs.column("dwell").max(), runs.column("heat").max()))
    assert moved[0][1] > 390
    assert moved[1] == (pytest.approx(4.0), pytest.approx(390.0))
