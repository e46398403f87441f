"""The window: what it promises, what it refuses, what it says."""

import numpy as np
import pytest

import workbench as wb
from workbench.decide.windows import NoWindow, Window
from workbench.define.constraints import Forbidden, linear_limit
from workbench.define.factors import Categorical, Continuous, Role, Spread, Stepped
from workbench.define.outcomes import Measured, at_least, at_most, between
from workbench.define.settings import Settings
from workbench.errors import DecisionError

GAP = Measured(name="gap", unit="mm", requirement=between(-4.5, 4.5), too_high="lid rocks")
FORCE = Measured(name="peel force", unit="N", requirement=at_least(0))
DRAWS = 1024  # enough for these tests, a quarter of what is usual


def two_outcomes(made, seed, *, n=2, sd=1.0, copies=2, **factor):
    """An invented quadratic process: gap is two-sided, force is low at one corner."""
    rng = np.random.default_rng(seed)
    x = made.face_centred(n, copies=copies)
    gap = 1.5 * x[:, 0] - x[:, 1] + 0.8 * x[:, 0] ** 2 + rng.normal(0, sd, len(x))
    force = 4 + 1.5 * x[:, 1] - 1.2 * x[:, 0] - 0.9 * x[:, 1] ** 2 + rng.normal(0, sd, len(x))
    return made.fits_of(made.numeric(n, **factor), x, [(GAP, gap), (FORCE, force)])


def true_share(values):
    """The share of the process above at coded settings (n, 2), setting sd 2.4 of 80."""
    from scipy import stats

    nodes, weights = np.polynomial.hermite_e.hermegauss(5)
    weights = weights / weights.sum()
    share = np.zeros(len(values))
    for e1, w1 in zip(nodes, weights, strict=True):
        for e2, w2 in zip(nodes, weights, strict=True):
            a, b = values[:, 0] + 0.06 * e1, values[:, 1] + 0.06 * e2
            gap = 1.5 * a - b + 0.8 * a**2
            force = 4 + 1.5 * b - 1.2 * a - 0.9 * b**2
            inside = stats.norm.cdf(4.5 - gap) - stats.norm.cdf(-4.5 - gap)
            share += w1 * w2 * inside * stats.norm.cdf(force)
    return share


def window(fits, **more):
    asked = {"share": 0.9, "confidence": 0.9, "seed": 3, "n_draws": DRAWS} | more
    return wb.decide.window(fits, **asked)


def ends(one):
    return [(limit.low, limit.high) for limit in one.limits]


def corners(one):
    mesh = np.meshgrid(*[np.linspace(limit.low, limit.high, 9) for limit in one.limits])
    return np.column_stack([side.ravel() for side in mesh])


@pytest.fixture(scope="module")
def fits(made):
    return two_outcomes(made, 1)


@pytest.fixture(scope="module")
def found(fits):
    return window(fits)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_true_share_is_kept_in_three_pinned_trials(made, seed):
    best = window(two_outcomes(made, seed, copies=3), share=0.95, confidence=0.95).best
    assert isinstance(best, Window)
    points = corners(best)
    coded = (points - [140, 240]) / 40
    assert true_share(coded).min() >= 0.95
    assert best.volume > 0.05
    assert best.lowest_share >= 0.95 - 1e-6


def test_same_seed_same_window_other_seed_nearly(fits, found):
    again = window(fits)
    assert ends(again.best) == ends(found.best)
    assert again.best.lowest_share == found.best.lowest_share
    other = window(fits, seed=4).best
    assert other.volume == pytest.approx(found.best.volume, rel=0.15)


def test_more_asked_is_never_wider(fits, found):
    wide = found.best.volume
    assert window(fits, share=0.95).best.volume <= wide
    assert window(fits, confidence=0.97).best.volume <= wide


def test_worse_held_settings_are_never_wider(made, found):
    loose = window(two_outcomes(made, 1, setting_sd=8.0)).best
    assert loose.volume <= found.best.volume


def test_taking_the_form_as_right_is_never_narrower_and_stands_beside(found):
    assert found.if_right.model_form == 0
    assert found.best.model_form == 0.3
    assert found.if_right.volume >= found.best.volume
    assert any("assumption" in note for note in found.best.notes)


def test_the_order_of_the_factors_does_not_matter(made, found):
    rng = np.random.default_rng(1)
    x = made.face_centred(2, copies=2)
    gap = 1.5 * x[:, 0] - x[:, 1] + 0.8 * x[:, 0] ** 2 + rng.normal(0, 1, len(x))
    force = 4 + 1.5 * x[:, 1] - 1.2 * x[:, 0] - 0.9 * x[:, 1] ** 2 + rng.normal(0, 1, len(x))
    turned = made.numeric(2)[::-1]
    best = window(made.fits_of(turned, x[:, ::-1], [(GAP, gap), (FORCE, force)])).best
    # Draws differ, so the two agree to what 1,024 of them can tell.
    assert best.volume == pytest.approx(found.best.volume, rel=0.15)
    assert [one.factor.name for one in best.limits] == ["factor 2", "factor 1"]


def test_the_set_point_lies_inside_and_is_easy_to_set(found):
    for limit in found.best.limits:
        assert limit.low <= limit.set_point <= limit.high
        assert limit.set_point == round(limit.set_point)
    assert found.best.chance_at_set_point >= found.best.lowest_share


def test_each_side_says_what_stops_it(found):
    said = {one.limited_by_low for one in found.best.limits}
    said |= {one.limited_by_high for one in found.best.limits}
    known = {
        "edge of the range tried",
        "gap above 4.5 mm (lid rocks)",
        "gap below -4.5 mm",
        "peel force below 0 N",
    }
    assert said <= known
    assert len(said) > 1


def test_nothing_outside_the_region_tried_is_recommended(made):
    """An axial plan leaves the corners out: a box must stay where the runs tell enough."""
    rng = np.random.default_rng(2)
    circle = [[np.cos(t), np.sin(t)] for t in np.linspace(0, 2 * np.pi, 9)[:-1]]
    x = np.vstack([circle, circle, np.zeros((6, 2))])
    force = 30 + rng.normal(0, 1, len(x))
    fits = made.fits_of(made.numeric(2), x, [(FORCE, force)])
    best = window(fits).best
    grid = Settings(factors=fits[0].settings.factors, values=corners(best))
    assert fits[0].predict(grid, confidence=0.95).inside.all()
    assert best.volume < 0.8
    said = [one.limited_by_high for one in best.limits]
    assert "edge of the region tried" in said


def test_constraints_are_kept_and_named(fits, found):
    limit = linear_limit({"factor 1": 1, "factor 2": 1}, at_most=370, reason="bead would run over")
    hole = Forbidden(where=(("factor 2", 250.1, 250.3),), reason="resonance of the pump")
    best = window(fits, constraints=(limit, hole)).best
    grid = Settings(factors=fits[0].settings.factors, values=corners(best))
    assert limit.allows(grid).all()
    (low, high) = ends(best)[1]
    assert high < 250.1 or low > 250.3
    said = {one.limited_by_low for one in best.limits} | {
        one.limited_by_high for one in best.limits
    }
    assert said & {"bead would run over", "resonance of the pump"}
    assert best.volume < found.best.volume


def test_only_steps_of_a_stepped_factor_are_limits_or_set_points(made):
    rng = np.random.default_rng(3)
    dial = Stepped(name="dial", steps=(1, 2, 3, 4, 5), unit="", setting_sd=0)
    x = made.face_centred(2, copies=2)
    force = 2 + 2 * x[:, 0] - x[:, 1] + rng.normal(0, 0.6, len(x))
    best = window(made.fits_of([dial, *made.numeric(2)[1:]], x, [(FORCE, force)])).best
    limit = best.limits[0]
    assert {limit.low, limit.high, limit.set_point} <= set(dial.steps)
    assert limit.limited_by_low == "peel force below 0 N"


def categorical_fits(made):
    rng = np.random.default_rng(4)
    tip = Categorical(name="tip", levels=("flat", "bevel", "spade"))
    x = np.array([[a, b, level] for a, b in made.face_centred(2) for level in range(3)])
    level = np.array([0.0, 1.5, -9.0])[x[:, 2].astype(int)]
    force = 2 + level + x[:, 0] - x[:, 1] + rng.normal(0, 0.7, len(x))
    return made.fits_of(
        [*made.numeric(2), tip],
        x,
        [(FORCE, force)],
        terms="'factor 1' * 'factor 2', tip, 'factor 1'^2, 'factor 2'^2",
    )


def test_each_level_has_its_answer_and_the_widest_is_best(made):
    progress = []
    found = window(
        categorical_fits(made), progress=lambda done, total: progress.append((done, total))
    )
    answers = {levels[0][1]: one for levels, one in found.by_level}
    assert set(answers) == {"flat", "bevel", "spade"}
    assert isinstance(answers["spade"], NoWindow)
    assert answers["bevel"].volume >= answers["flat"].volume
    assert found.best.set_point()["tip"] == "bevel"
    assert progress[-1] == (4, 4)
    miss = answers["spade"].nearest_miss
    assert dict(miss.settings)["tip"] == "spade"
    assert miss.assured_share < 0.9
    assert miss.limited_by == "peel force below 0 N"


def test_no_window_says_what_comes_nearest_and_what_would_help(made):
    none = window(two_outcomes(made, 1, sd=3.0)).best
    assert isinstance(none, NoWindow)
    assert none.nearest_miss.assured_share < 0.9
    assert none.nearest_miss.limited_by in none.reason
    assert none.next_trial
    assert set(dict(none.nearest_miss.settings)) == {"factor 1", "factor 2"}


def test_few_error_df_are_refused_with_what_is_needed(made):
    none = window(two_outcomes(made, 1, copies=1)).best
    assert isinstance(none, NoWindow)
    assert "6 error degrees of freedom" in none.reason
    assert "2 more runs" in none.reason


def two_level_fits(made, **more):
    rng = np.random.default_rng(5)
    x = np.tile(np.array([[-1.0, -1], [-1, 1], [1, -1], [1, 1]]), (6, 1))
    x = np.vstack([x, *more.get("extra", [])])
    force = 4 + x[:, 0] + rng.normal(0, 0.7, len(x))
    return made.fits_of(made.numeric(2), x, [(FORCE, force)], terms="interactions")


def test_two_levels_give_no_window_between_them_unless_straightness_is_accepted(made):
    fits = two_level_fits(made)
    none = window(fits).best
    assert isinstance(none, NoWindow)
    assert "factor 1, factor 2 was tried at two levels only" in none.reason
    reason = "Straight in all trials since 2019, J. Alder"
    best = window(fits, straightness_accepted=reason).best
    assert isinstance(best, Window)
    assert any(reason in note for note in best.notes)
    assert isinstance(window(two_level_fits(made, extra=[np.zeros((4, 2))])).best, Window)


def test_clear_lack_of_fit_is_refused(made):
    rng = np.random.default_rng(6)
    x = made.face_centred(2, copies=3)
    force = 9 + 4 * x[:, 0] ** 2 * x[:, 1] ** 2 - 4 * x[:, 0] ** 2 + rng.normal(0, 0.3, len(x))
    fits = made.fits_of(made.numeric(2), x, [(FORCE, force)], terms="first-order")
    none = window(fits)
    assert isinstance(none.best, NoWindow)
    assert "lack of fit" in none.best.reason
    assert isinstance(none.if_right, NoWindow)


def test_doubtful_fit_keeps_the_window_but_not_the_one_that_takes_it_as_right(made):
    for seed in range(60):
        rng = np.random.default_rng(seed)
        x = made.face_centred(2, copies=2)
        force = 9 + x[:, 0] + rng.normal(0, 1, len(x))
        fits = made.fits_of(made.numeric(2), x, [(FORCE, force)])
        if 0.01 <= fits[0].lack_of_fit.p < 0.05:
            break
    answer = window(fits)
    assert isinstance(answer.best, Window)
    assert isinstance(answer.if_right, NoWindow)
    assert "lack of fit" in answer.best.notes[0]
    assert "cannot be taken as right" in answer.if_right.reason


def test_unstated_setting_error_is_asked_for(made):
    none = window(two_outcomes(made, 1, setting_sd=None)).best
    assert isinstance(none, NoWindow)
    assert "setting_sd" in none.reason


def test_outcomes_without_a_requirement_have_no_say(made, fits):
    rng = np.random.default_rng(7)
    x = made.face_centred(2, copies=2)
    free = Measured(name="cycle time", unit="s")
    more = made.fits_of(made.numeric(2), x, [(free, rng.normal(0, 1, len(x)))])
    best = window((*fits, *more)).best
    assert any("cycle time" in note for note in best.notes)
    alone = window(more).best
    assert isinstance(alone, NoWindow)
    assert "requirement" in alone.reason


def test_noise_is_no_side_of_the_box(made):
    rng = np.random.default_rng(8)
    room = Continuous(
        name="room humidity",
        low=30,
        high=60,
        unit="%",
        setting_sd=None,
        role=Role.NOISE,
        spread=Spread(shape="normal", centre=45, width=5),
    )
    x = made.face_centred(3)
    x = np.vstack([x, x])
    force = 3 + x[:, 0] - x[:, 1] + 0.5 * x[:, 2] + rng.normal(0, 0.5, len(x))
    best = window(made.fits_of([*made.numeric(2), room], x, [(FORCE, force)])).best
    assert [one.factor.name for one in best.limits] == ["factor 1", "factor 2"]
    assert any("room humidity" in note for note in best.notes)


def test_blocks_limit_the_statement_to_lots_like_these(made):
    rng = np.random.default_rng(9)
    x = made.face_centred(2, copies=2)
    block = np.arange(len(x)) % 2
    force = 5 + x[:, 0] + block + rng.normal(0, 0.7, len(x))
    best = window(made.fits_of(made.numeric(2), x, [(FORCE, force)], block=block)).best
    assert any("lots like these" in note for note in best.notes)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"share": 1.0}, "share asked for is 1"),
        ({"confidence": 0.4}, "confidence asked for is 0.4"),
        ({"seed": -1}, "seed is -1"),
        ({"n_draws": 50}, "50 draws"),
    ],
)
def test_promises_that_cannot_be_are_refused(fits, asked, words):
    with pytest.raises(DecisionError, match=words):
        window(fits, **asked)


def test_fits_over_different_factors_are_refused(made, fits):
    other = two_outcomes(made, 1, setting_sd=1.0)
    with pytest.raises(DecisionError, match="other factors"):
        window((fits[0], other[1]))
    with pytest.raises(DecisionError, match="No fit"):
        window(())


@pytest.mark.slow
@pytest.mark.parametrize("n", [1, 3, 4])
def test_one_three_and_four_factors_get_a_box(made, n):
    rng = np.random.default_rng(11)
    x = made.face_centred(n, copies=3 if n == 1 else 2)
    high = Measured(name="leak", unit="mL/min", requirement=at_most(3))
    leak = x[:, 0] + 0.5 * x[:, -1] ** 2 + rng.normal(0, 0.7, len(x))
    best = window(made.fits_of(made.numeric(n), x, [(high, leak)])).best
    assert len(best.limits) == n
    assert 0 < best.volume <= 1
    assert best.lowest_share >= 0.9 - 1e-6


@pytest.mark.slow
@pytest.mark.parametrize("n", [5, 6])
def test_five_and_six_factors_get_a_box(made, n):
    rng = np.random.default_rng(12)
    x = made.face_centred(n, centre=8)
    force = 4 + x[:, 0] - x[:, -1] ** 2 + rng.normal(0, 0.7, len(x))
    best = window(made.fits_of(made.numeric(n), x, [(FORCE, force)])).best
    assert len(best.limits) == n
    assert 0.1 < best.volume <= 1
    assert best.lowest_share >= 0.9 - 1e-6


def test_eight_numeric_factors_are_too_many_and_some_can_be_held(made):
    x = np.tile(np.vstack([np.eye(8), -np.eye(8), np.zeros((1, 8))]), (2, 1))
    force = 9 + np.random.default_rng(13).normal(0, 1, len(x))
    fits = made.fits_of(made.numeric(8), x, [(FORCE, force)], terms="first-order")
    none = window(fits).best
    assert isinstance(none, NoWindow)
    assert "8 numeric factors" in none.reason
    assert "--hold" in none.reason
