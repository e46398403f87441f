"""Full factorials and fractions: what they claim, what they refuse, in whose names."""

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyDOE3 import fullfact

import workbench as wb
from workbench.define import Budget, Forbidden, Role, Spread, Stepped, parse_terms, term
from workbench.define.constraints import linear_limit
from workbench.errors import PlanError
from workbench.numerics.words import resolution_of


def corners(plan):
    """Return the factorial runs, −1 and +1, in standard order."""
    rows = np.argsort(plan.standard)
    rows = rows[[plan.point[row] == "factorial" for row in rows]]
    coded = plan.settings.coded()[rows]
    for j, factor in enumerate(plan.settings.factors):
        if hasattr(factor, "levels"):
            coded[:, j] = 2 * coded[:, j] - 1
    return np.round(coded, 9)


def test_full_factorial_is_every_corner_at_the_stated_ends(numeric_trial):
    plan = wb.plan.full(numeric_trial(4), seed=3)
    assert set(plan.settings.values.ravel()) == {0.1, 0.7}
    assert len(np.unique(plan.settings.values, axis=0)) == len(plan) == 16
    assert plan.recipe.resolution is None


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.4.7.2, a half fraction of five factors")
def test_catapult_runs_are_the_chosen_half(numeric_trial):
    table = wb.files.published("hb-catapult-2x5-1").tables["data"]
    printed = table[["h", "s", "b", "l", "e"]].to_numpy(dtype=float)
    printed = printed[(np.abs(printed) == 1).all(axis=1)]
    plan = wb.plan.fraction(numeric_trial(5), seed=1, runs=16)
    ours = corners(plan)
    assert plan.recipe.resolution == 5
    # The printed half takes the fifth factor as the product of the others or its opposite.
    signs = printed.prod(axis=1)
    assert set(signs) == {signs[0]}
    mirrored = ours * np.array([1, 1, 1, 1, signs[0]])
    assert set(map(tuple, mirrored)) == set(map(tuple, printed))


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.3.3.4.7, table 3.17")
def test_resolution_of_the_returned_runs_is_that_of_the_table(numeric_trial):
    names = tuple(f"factor {i}" for i in range(1, 16))
    table = wb.files.published("two-level-fractions").tables["data"]
    for row in table[table["factors"] <= 15].itertuples():
        trial = numeric_trial(row.factors, names)
        plan = wb.plan.fraction(trial, seed=2, runs=row.runs, terms="first-order")
        assert resolution_of(corners(plan)) == plan.recipe.resolution == row.resolution


def test_fewest_runs_for_a_resolution(numeric_trial):
    # Right answers recomputed independently of any generator (exhaustive search of words).
    names = tuple(f"factor {i}" for i in range(1, 16))
    wanted = {(7, 3): 8, (4, 4): 8, (6, 5): 32, (8, 5): 64}
    wanted |= {(k, 4): 16 for k in range(6, 9)} | {(k, 4): 32 for k in range(9, 16)}
    wanted |= {(k, 5): 128 for k in range(9, 12)} | {(5, 4): 16}
    for (k, resolution), runs in wanted.items():
        trial = numeric_trial(k, names)
        plan = wb.plan.fraction(trial, seed=1, resolution=resolution, terms="first-order")
        assert len(plan) == runs
        assert resolution_of(corners(plan)) == plan.recipe.resolution >= resolution
    # Where 32 runs have resolution VI they are not sold as V.
    six = wb.plan.fraction(numeric_trial(6, names), seed=1, resolution=5, terms="first-order")
    assert six.recipe.resolution == 6


@pytest.mark.property
@settings(max_examples=40, deadline=None)
@given(
    k=st.integers(2, 6),
    seed=st.integers(0, 2**31),
    replicates=st.integers(1, 3),
    centre=st.integers(0, 4),
    blocks=st.sampled_from([1, 2, 4]),
    as_fraction=st.booleans(),
)
def test_plans_are_balanced_orthogonal_and_remade(
    numeric_trial, same_plan, k, seed, replicates, centre, blocks, as_fraction
):
    trial = numeric_trial(k)
    make = wb.plan.fraction if as_fraction else wb.plan.full
    try:
        plan = make(trial, seed=seed, replicates=replicates, centre_points=centre, blocks=blocks)
    except PlanError:
        return
    ours = corners(plan)
    np.testing.assert_array_equal(ours.T @ ours, len(ours) * np.eye(k))
    np.testing.assert_array_equal(ours.sum(axis=0), 0)
    assert sorted(plan.standard) == list(range(1, len(plan) + 1))
    sizes = np.bincount(plan.block)[1:]
    assert len(sizes) == blocks
    assert max(sizes) - min(sizes) <= 1
    assert list(plan.block) == sorted(plan.block)
    assert plan.point.count("centre") == centre
    factorial = np.array([p == "factorial" for p in plan.point])
    coded = np.round(plan.settings.coded(), 9)
    for block in range(1, blocks + 1):
        np.testing.assert_array_equal(coded[factorial & (plan.block == block)].sum(axis=0), 0)
    assert same_plan(wb.plan.remake(trial, plan.recipe), plan)


@pytest.mark.property
@settings(max_examples=30, deadline=None)
@given(
    names=st.lists(
        st.text(st.characters(codec="utf-8", exclude_categories=["C"]), min_size=1, max_size=12)
        .map(str.strip)
        .filter(lambda name: name and name not in ("run", "block", "setup", "part", "reading"))
        .filter(lambda name: name not in ("status", "reason", "pull force")),
        min_size=5,
        max_size=5,
        unique=True,
    ),
    seed=st.integers(0, 999),
)
def test_renaming_factors_changes_no_run(numeric_trial, same_plan, names, seed):
    plain = wb.plan.fraction(numeric_trial(5), seed=seed, runs=16, terms="first-order", blocks=2)
    trial = numeric_trial(5, tuple(names))
    renamed = wb.plan.fraction(trial, seed=seed, runs=16, terms="first-order", blocks=2)
    np.testing.assert_array_equal(plain.settings.values, renamed.settings.values)
    np.testing.assert_array_equal(plain.block, renamed.block)
    assert renamed.recipe.generators == (f"{names[4]} = {' × '.join(names[:4])}",)
    one = parse_terms("interactions", trial.factors)
    again = wb.plan.fraction(trial, seed=seed, runs=16, terms=one)
    assert same_plan(wb.plan.remake(trial, again.recipe), again)


def test_same_seed_same_plan_other_seed_other_order(numeric_trial, same_plan):
    trial = numeric_trial(5)
    one = wb.plan.fraction(trial, seed=1, runs=16)
    assert same_plan(one, wb.plan.fraction(trial, seed=1, runs=16))
    other = wb.plan.fraction(trial, seed=2, runs=16)
    assert not (one.standard == other.standard).all()
    first, second = (np.argsort(plan.standard) for plan in (one, other))
    np.testing.assert_array_equal(one.settings.values[first], other.settings.values[second])


def test_factors_are_given_to_columns_so_that_the_model_is_carried(numeric_trial):
    # In the plain order of 32 runs for seven factors, the products of 1-2 and 3-6 are one column.
    trial = numeric_trial(7, tuple("abcdefg"))
    terms = "first-order"
    plain = wb.plan.fraction(trial, seed=1, runs=32, terms=terms)
    assert plain.recipe.generators[0] == "f = a × b × c"
    plan = wb.plan.fraction(trial, seed=1, runs=32, terms="a, b, c, d, e, f, g, a * b, c * f")
    assert wb.plan.cannot_be_told_apart(plan.terms, plan.settings) == ()
    assert wb.plan.cannot_be_told_apart(plan.terms, plain.settings) == (
        (term(("a", 1), ("b", 1), factors=trial.factors), plan.terms.terms[-1]),
    )


def test_mixed_levels_are_every_combination(number, category, trial_of):
    dial = Stepped(name="dial", steps=(1, 2, 5), unit="V", setting_sd=0)
    trial = trial_of(number("x"), dial, category("tip", "flat", "cone", "knife"))
    plan = wb.plan.full(trial, seed=4, replicates=2, blocks=2)
    assert len(plan) == 36
    expected = fullfact([2, 3, 3])
    found = np.column_stack(
        [
            plan.settings.column("x") == 0.7,
            np.searchsorted(dial.steps, plan.settings.column("dial")),
            plan.settings.column("tip"),
        ]
    )
    for block in (1, 2):
        assert set(map(tuple, found[plan.block == block])) == set(map(tuple, expected))
    with pytest.raises(PlanError, match="whole replicates"):
        wb.plan.full(trial, seed=4, blocks=2)


def test_centre_points_with_categories_stand_at_every_combination(number, category, trial_of):
    trial = trial_of(number("x"), number("y"), category("tip", "flat", "cone"))
    plan = wb.plan.full(trial, seed=1, centre_points=3)
    centre = [i for i, point in enumerate(plan.point) if point == "centre"]
    tips = Counter(plan.settings.column("tip")[centre].tolist())
    assert dict(tips) == {0.0: 3, 1.0: 3}
    np.testing.assert_allclose(plan.settings.values[centre, :2], 0.4)
    assert any(
        "3 centre points at each of the 2 combinations of tip" in n for n in plan.recipe.notes
    )


def test_what_blocks_take_is_said_in_the_users_names(numeric_trial):
    trial = numeric_trial(4, tuple("wxyz"))
    two = wb.plan.full(trial, seed=1, blocks=2)
    assert "only w × x × y × z" in two.recipe.notes[0]
    four = wb.plan.full(trial, seed=1, blocks=4)
    (lost,) = [note for note in four.recipe.notes if note.startswith("Given up")]
    assert lost.count("×") == 1
    assert len(four.terms) == len(two.terms) - 1  # nobody asked for it, so it is left out
    with pytest.raises(PlanError, match="cannot tell apart: blocks and "):
        wb.plan.full(trial, seed=1, blocks=4, terms="interactions")


def test_blocks_keep_the_products_that_are_asked_for(numeric_trial):
    trial = numeric_trial(4, tuple("wxyz"))
    plan = wb.plan.full(trial, seed=1, blocks=4, terms="w, x, y, z, w * x, w * y, w * z, x * y")
    (lost,) = [note for note in plan.recipe.notes if note.startswith("Given up")]
    assert "y × z" in lost or "x × z" in lost


def test_slow_factors_are_reset_seldom_and_replicates_reset_anew(number, trial_of):
    trial = trial_of(number("oven", slow=True), number("x"), number("y"))
    plan = wb.plan.full(trial, seed=5, replicates=2)
    assert list(np.unique(plan.setup)) == [1, 2, 3, 4]
    assert (np.diff(plan.setup) >= 0).all()
    for setup in (1, 2, 3, 4):
        rows = plan.settings.values[plan.setup == setup]
        assert len(np.unique(rows[:, 0])) == 1
        assert len(np.unique(rows, axis=0)) == 4
    easy = wb.plan.full(trial_of(number("x"), number("y")), seed=5)
    assert list(easy.setup) == [1, 2, 3, 4]


def test_only_planned_factors_have_columns(number, trial_of):
    noise = wb.define.Continuous(
        name="room", low=1, high=2, unit="°C", setting_sd=None, role=Role.NOISE,
        spread=Spread(shape="normal", centre=1.5, width=0.1),
    )  # fmt: skip
    read = wb.define.Continuous(
        name="dew", low=1, high=2, unit="°C", setting_sd=None, role=Role.OBSERVED
    )
    trial = trial_of(number("x"), noise, read, model="x, room, dew, x * room")
    plan = wb.plan.full(trial, seed=1)
    assert plan.settings.names == ("x", "room")
    assert str(plan.terms) == "x, room, x × room"
    assert any("dew" in note for note in plan.recipe.notes)


@pytest.mark.parametrize(
    ("k", "options", "words"),
    [
        (
            5,
            {"runs": 8, "resolution": 5},
            "resolution III at most, not V.*Ask for 16 runs",
        ),
        (5, {"runs": 12}, "no two-level fraction of 5 factors in 12 runs.*8 or 16"),
        (5, {"runs": 32}, "no fraction.*wb.plan.full"),
        (5, {"resolution": 6}, "has resolution VI.*wb.plan.full, 32 runs"),
        (2, {}, "no fraction for 2 factors"),
        (5, {"runs": 16, "terms": "second-order"}, "cannot carry.*composite"),
        (5, {"runs": 8, "terms": "interactions"}, "16 coefficients.*Ask for 16 runs"),
        (4, {"runs": 8, "terms": "a, b, c, d, a * b, c * d"}, "a × b and c × d.*16 runs"),
        (5, {"runs": 16, "blocks": 8}, "cannot be cut into 8 blocks.*2, 4"),
        (5, {"runs": 16, "blocks": 3}, "cannot be cut into 3 blocks"),
        (5, {"replicates": 0}, "0 replicates"),
        (5, {"centre_points": -1}, "-1 centre points"),
        (5, {"blocks": 0}, "0 blocks"),
    ],
    ids=str,
)
def test_fractions_weaker_than_asked_are_refused(numeric_trial, k, options, words):
    with pytest.raises(PlanError, match=words):
        wb.plan.fraction(numeric_trial(k, tuple("abcde")), seed=1, **options)


def test_a_second_order_trial_gets_no_two_level_plan_without_a_word(numeric_trial):
    trial = numeric_trial(3, tuple("abc"), model="second-order")
    for centre_points in (0, 4):
        with pytest.raises(PlanError, match=r"cannot carry a², b² and c².*composite"):
            wb.plan.full(trial, seed=1, centre_points=centre_points)
    one = numeric_trial(1, model="second-order")
    assert len(wb.plan.full(one, seed=1, centre_points=2, replicates=2)) == 6


def test_forbidden_runs_are_refused_with_their_reason(numeric_trial):
    too_much = linear_limit({"a": 1.0, "b": 1.0}, at_most=1.0, reason="squeezes out of the joint")
    trial = numeric_trial(3, tuple("abc"), constraints=(too_much,))
    with pytest.raises(PlanError, match=r"a 0.7, b 0.7, c 0.1.*squeezes out.*Shrink"):
        wb.plan.full(trial, seed=1)
    corner = Forbidden(where=(("a", 0.5, 1.0), ("c", 0.5, 1.0)), reason="hot")
    with pytest.raises(PlanError, match="forbids it: hot"):
        wb.plan.full(numeric_trial(3, tuple("abc"), constraints=(corner,)), seed=1)
    harmless = Forbidden(where=(("a", 0.3, 0.5),), reason="hot")
    assert len(wb.plan.full(numeric_trial(3, tuple("abc"), constraints=(harmless,)), seed=1)) == 8


def test_levels_and_steps_that_do_not_fit_are_refused(number, category, trial_of):
    many = trial_of(number("x"), number("y"), category("tip", "flat", "cone", "knife"))
    with pytest.raises(PlanError, match="'tip' has 3 levels"):
        wb.plan.fraction(many, seed=1)
    dial = Stepped(name="dial", steps=(1, 2, 5), unit="V", setting_sd=0)
    with pytest.raises(PlanError, match=r"'dial' at 3 V, which is none of its steps"):
        wb.plan.full(trial_of(number("x"), dial), seed=1, centre_points=2)
    even = Stepped(name="dial", steps=(0.1, 0.4, 0.7), unit="V", setting_sd=0)
    fraction = wb.plan.fraction(
        trial_of(number("x"), number("y"), even), seed=1, resolution=3, centre_points=1
    )
    assert set(fraction.settings.column("dial")) == {0.1, 0.4, 0.7}
    words = trial_of(category("a", "x", "y"), category("b", "x", "y"))
    with pytest.raises(PlanError, match="all are categories"):
        wb.plan.full(words, seed=1, centre_points=1)
    with pytest.raises(PlanError, match="2,048 runs"):
        wb.plan.full(trial_of(*(number(f"x{i}") for i in range(11))), seed=1)


def test_a_plan_beyond_the_budget_says_so(numeric_trial):
    trial = numeric_trial(4, budget=Budget(parts=40, parts_per_run=3))
    plan = wb.plan.full(trial, seed=1)
    assert plan.parts_per_run == 3
    assert any("48 parts; the budget states 40" in note for note in plan.recipe.notes)


def test_a_saturated_plan_says_that_nothing_is_left_for_error(numeric_trial):
    plan = wb.plan.full(numeric_trial(2), seed=1)
    assert any("No run is left over for error" in note for note in plan.recipe.notes)


def test_a_bend_is_called_unseen_only_where_there_is_a_scale(numeric_trial, category, trial_of):
    words = trial_of(category("a", "x", "y"), category("b", "x", "y"))
    assert not any(
        "bend" in note for note in wb.plan.full(words, seed=1, replicates=2).recipe.notes
    )
    assert any("bends" in note for note in wb.plan.full(numeric_trial(3), seed=1).recipe.notes)
