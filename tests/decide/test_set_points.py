"""Set points inside a window and the trade-off between goals (an invented process)."""

import numpy as np
import pytest

import workbench as wb
from workbench.decide.desirability import usual_desire
from workbench.decide.goals import LESS, MORE, TARGET, goal_of
from workbench.decide.windows import Limit, Window
from workbench.define.factors import Categorical, Continuous, Stepped
from workbench.define.outcomes import Measured, PassFail, at_least, at_most, between, target
from workbench.errors import DecisionError, Unavailable
from workbench.show.set_points import set_points_table
from workbench.show.trade_off import front_sentence, trade_off

FORCE = Measured(name="force <b>", unit="N", requirement=at_least(1))
LEAK = Measured(name="leak", unit="mm³/s", requirement=at_most(9))
DWELL = Continuous(name="dwell", low=1, high=3, unit="s", setting_sd=0.02)
HEAT = Continuous(name="heat", low=330, high=390, unit="°C", setting_sd=0.5)


@pytest.fixture(scope="module")
def fits(made):
    """Force rises along both factors, leak with heat: more of one costs the other."""
    x = made.face_centred(2, copies=2)
    rng = np.random.default_rng(6)
    force = 6 + 1.5 * x[:, 0] + x[:, 1] + rng.normal(0, 0.1, len(x))
    leak = 4 + 0.2 * x[:, 0] + 2 * x[:, 1] + rng.normal(0, 0.1, len(x))
    return made.fits_of([DWELL, HEAT], x, [(FORCE, force), (LEAK, leak)])


@pytest.fixture(scope="module")
def window():
    limits = tuple(
        Limit(
            factor=one,
            low=low,
            high=high,
            set_point=(low + high) / 2,
            limited_by_low="",
            limited_by_high="",
        )
        for one, low, high in ((DWELL, 1.5, 2.5), (HEAT, 345.0, 375.0))
    )
    return Window(
        limits=limits,
        levels=(),
        share=0.9,
        confidence=0.9,
        chance_at_set_point=0.99,
        lowest_share=0.95,
        volume=0.25,
        model_form=0.0,
        seed=1,
        n_draws=1024,
        notes=(),
    )


@pytest.fixture(scope="module")
def points(fits, window):
    return wb.decide.set_points(fits, window, seed=3)


def test_one_goal_takes_the_corner_of_the_window_that_serves_it(points):
    by_name = {one.name: dict(one.settings) for one in points}
    assert by_name["best for force <b>"] == pytest.approx({"dwell": 2.5, "heat": 375.0})
    assert by_name["best for leak"] == pytest.approx({"dwell": 1.5, "heat": 345.0})
    assert next(iter(by_name)) == "most robust"


def test_the_compromise_lies_between_and_beats_the_others_in_desirability(fits, points):
    compromise = points[-1]
    assert compromise.name == "desirability"
    goals = wb.decide.goals_of(fits)
    wide = [wb.define.settings((DWELL, HEAT), [dict(one.settings)]) for one in points]
    corners = wb.define.settings(
        (DWELL, HEAT),
        [{"dwell": d, "heat": h} for d in (1.5, 2.5) for h in (345.0, 375.0)],
    )
    desires = [
        usual_desire(fit.outcome, goal, fit.predict(corners, confidence=0.95).mean)
        for fit, goal in zip(fits, goals, strict=True)
    ]
    found = [
        float(
            wb.decide.desirability(
                desires, [fit.predict(one, confidence=0.95).mean for fit in fits]
            )[0]
        )
        for one in wide
    ]
    assert max(found) == pytest.approx(found[-1], abs=2e-3)  # settings are rounded to be read
    assert compromise.overall == pytest.approx(found[-1], abs=2e-2)


def test_what_is_foreseen_is_what_the_fits_predict(fits, points):
    for one in points:
        place = wb.define.settings((DWELL, HEAT), [dict(one.settings)])
        for fit, seen in zip(fits, one.foreseen, strict=True):
            told = fit.predict(place, confidence=0.95)
            assert seen.mean == told.mean[0]
            assert (seen.new_part_low, seen.new_part_high) == (
                told.new_part_low[0],
                told.new_part_high[0],
            )
        assert one.assured <= one.chance


def test_a_stepped_factor_is_set_to_a_step(made, window):
    notch = Stepped(name="dwell", steps=(1.0, 2.0, 3.0), unit="s", setting_sd=0)
    x = made.face_centred(2, copies=2)
    force = 6 + x[:, 0] + np.random.default_rng(1).normal(0, 0.1, len(x))
    fits = made.fits_of([notch, HEAT], x, [(FORCE, force)])
    limits = (
        Limit(
            factor=notch, low=1.0, high=2.0, set_point=2.0, limited_by_low="", limited_by_high=""
        ),
        window.limits[1],
    )
    box = Window(**{f: getattr(window, f) for f in window.__slots__} | {"limits": limits})
    best = wb.decide.set_points(fits, box, seed=1)[1]
    assert dict(best.settings)["dwell"] == 2.0


def test_the_front_is_not_beaten_and_knows_the_window(fits, window):
    goals = wb.decide.goals_of(fits)
    front = wb.decide.trade_off_front(fits, goals, window=window)
    force, leak = front.means.T
    assert (np.diff(force) <= 0).all()  # the best of the first goal first
    assert (np.diff(leak) <= 0).all()  # and each loss there is a gain here
    inside = front.settings.column("heat") <= 375
    assert not front.in_window[~inside].any()
    for one in front.others[::50]:
        assert ((force >= one[0]) & (leak <= one[1])).any()
    none = wb.decide.trade_off_front(fits, goals)
    assert not none.in_window.any()


def test_a_front_of_one_goal_or_an_unknown_one_is_refused(fits):
    goals = wb.decide.goals_of(fits)
    with pytest.raises(DecisionError, match="A front for 1 goals"):
        wb.decide.trade_off_front(fits, goals[:1])
    with pytest.raises(DecisionError, match="no fit of 'colour'"):
        wb.decide.trade_off_front(fits, (goals[0], wb.decide.Goal(outcome="colour", better=MORE)))


def test_the_front_of_two_kinds_competes_over_levels(made):
    tip = Categorical(name="tip", levels=("chisel", "bevel"))
    x = made.face_centred(2, copies=1)
    both = np.vstack([np.column_stack([x, np.full(len(x), k)]) for k in (0, 1)])
    rng = np.random.default_rng(2)
    noise = rng.normal(0, 0.05, (2, len(both)))
    force = 6 + both[:, 0] + 2 * both[:, 2] + noise[0]
    leak = 4 + both[:, 1] + noise[1]
    fits = made.fits_of([DWELL, HEAT, tip], both, [(FORCE, force), (LEAK, leak)])
    front = wb.decide.trade_off_front(fits, wb.decide.goals_of(fits))
    assert set(front.settings.column("tip")) == {1.0}


@pytest.mark.parametrize(
    ("asked", "better", "aim"),
    [
        (at_least(4), MORE, None),
        (at_most(4), LESS, None),
        (between(1, 3), TARGET, 2.0),
        (target(5, tolerance=2), TARGET, 5.0),
    ],
)
def test_requirements_say_which_way_is_better(asked, better, aim):
    goal = goal_of(Measured(name="y", unit="", requirement=asked))
    assert (goal.better, goal.target) == (better, aim)
    assert goal_of(PassFail(name="wetted", passes="yes", fails="no")).better == MORE
    assert goal_of(Measured(name="y", unit="")) is None


def test_a_desirability_without_a_slope_is_refused():
    for wrong in ({}, {"low": 3.0}, {"low": 3.0, "full_low": 2.0}):
        with pytest.raises(DecisionError, match="no slope from nothing to full"):
            wb.decide.Desire(outcome="y", **wrong)
    with pytest.raises(DecisionError, match="weight 0"):
        wb.decide.Desire(outcome="y", low=1, full_low=2, weight=0)


def test_pages_and_figures_escape_names(fits, window, points):
    front = wb.decide.trade_off_front(fits, wb.decide.goals_of(fits), window=window)
    drawn = trade_off(front, points)
    text = drawn.to_json()
    assert "force <b>" not in text.replace("\\u003c", "<").replace("&lt;", "")
    assert len(drawn.data) == 4
    assert f"{len(front)} settings trade more force" in front_sentence(front)
    trial = wb.define.Trial(title="t", question="?", factors=(DWELL, HEAT), outcomes=(FORCE, LEAK))
    table = set_points_table(points, trial)
    assert "force &lt;b&gt;" in table
    assert "most robust" in table


def test_an_outcome_that_predicts_nothing_leaves_no_front(made):
    x = made.face_centred(2, copies=1, centre=0)[:4]
    some = np.arange(4.0)
    fits = made.fits_of([DWELL, HEAT], x, [(FORCE, some), (LEAK, some)])
    found = wb.decide.trade_off_front(fits, wb.decide.goals_of(fits))
    assert isinstance(found, Unavailable)
