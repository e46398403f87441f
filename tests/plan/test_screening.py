"""Screening plans of two and three levels: what they claim, and what is refused."""

import numpy as np
import pytest

import workbench as wb
from workbench.define import parse_terms
from workbench.errors import PlanError

CHECK = wb.files.published("hb-screening-arrays")
NAMES = tuple(f"f{i}" for i in range(1, 100))


def coded(plan, *points):
    """Return the runs of these kinds, categories as −1 and +1."""
    rows = np.array([point in points for point in plan.point])
    found = np.round(plan.settings.coded()[rows], 9)
    for j, factor in enumerate(plan.settings.factors):
        if hasattr(factor, "levels"):
            found[:, j] = 2 * found[:, j] - 1
    return found


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.3.3.5; Plackett and Burman 1946")
def test_twelve_runs(numeric_trial):
    printed = CHECK.tables["data"].drop(columns="run").to_numpy()
    expected = CHECK.expected["pb12"]
    plan = wb.plan.screening(numeric_trial(11, NAMES), seed=1, runs=12)
    ours = coded(plan, "factorial")
    row = np.array(expected["classic_generating_row"].value)
    cyclic = np.vstack([np.roll(row, i) for i in range(11)] + [-np.ones(11, dtype=int)])
    off = expected["abs_correlation_main_with_two_factor_interaction"]
    for array in (printed, ours, cyclic):
        gram = array.T @ array
        assert set(np.diagonal(gram)) == {expected["gram_diagonal"].value}
        rest = gram - np.diag(np.diagonal(gram))
        assert np.abs(rest).max() == expected["gram_off_diagonal_max_abs"].value
        i, j = np.triu_indices(11, 1)
        shared = np.abs(array.T @ (array[:, i] * array[:, j])) / 12
        others = (np.arange(11)[:, None] != i) & (np.arange(11)[:, None] != j)
        np.testing.assert_allclose(shared[others], off.value, atol=off.tol)
        whole = np.hstack([np.ones((12, 1)), array])
        expected_det = expected["abs_det_with_constant_column"].value
        assert abs(np.linalg.det(whole)) == pytest.approx(expected_det)
    assert "Projectivity 3" in plan.recipe.notes[0]
    assert "up to 0.33" in plan.recipe.notes[1]


@pytest.mark.parametrize("runs", range(12, 101, 4))
def test_every_size_carries_all_its_factors(numeric_trial, runs):
    plan = wb.plan.screening(numeric_trial(runs - 1, NAMES), seed=runs, runs=runs)
    assert len(plan) == runs
    assert len(plan.terms) == runs - 1
    ours = coded(plan, "factorial")
    np.testing.assert_array_equal(ours.T @ ours, runs * np.eye(runs - 1))


def test_half_and_mirror_image_keep_main_effects_clear(numeric_trial):
    plan = wb.plan.screening(numeric_trial(12, NAMES), seed=1, runs=24)
    assert wb.plan.mixing(plan).main_effects_are_clear
    assert "Main effects are clear of products of two factors." in plan.recipe.notes
    plain = wb.plan.screening(numeric_trial(13, NAMES), seed=1, runs=24)
    assert not wb.plan.mixing(plain).main_effects_are_clear


def test_categories_and_their_centre_points(number, category, trial_of):
    sides = (
        category("side", "in", "out"),
        category("tip", "flat", "cone"),
        category("lot", "a", "b"),
    )
    trial = trial_of(number("x"), number("y"), *sides)
    every = wb.plan.screening(trial, seed=1, centre_points=1)
    centre = coded(every, "centre")
    assert len(np.unique(centre, axis=0)) == len(centre) == 8
    some = wb.plan.screening(trial, seed=1, centre_points=2, centre_at="subset")
    centre = coded(some, "centre")
    np.testing.assert_array_equal(centre[:, :2], 0)
    np.testing.assert_array_equal(centre.sum(axis=0), 0)
    assert len(centre) == 4
    assert any("a bend that differs" in note for note in some.recipe.notes)
    with pytest.raises(PlanError, match=r"24 centre points.*Ask for 1 or fewer.*balanced subset"):
        wb.plan.screening(trial, seed=1, centre_points=3)


def test_subset_of_uneven_categories_holds_every_level_equally_often(number, category, trial_of):
    trial = trial_of(number("x"), category("tip", *"abc"), category("side", *"ab"))
    plan = wb.plan.full(trial, seed=1, centre_points=1, centre_at="subset", terms="first-order")
    rows = np.array([point == "centre" for point in plan.point])
    assert sorted(plan.settings.column("tip")[rows]) == [0, 0, 1, 1, 2, 2]
    assert sorted(plan.settings.column("side")[rows]) == [0, 0, 0, 1, 1, 1]
    with pytest.raises(PlanError, match=r"at 'some'.*'every', 'subset'"):
        wb.plan.full(trial, seed=1, centre_points=1, centre_at="some")


@pytest.mark.parametrize(
    ("k", "options", "words"),
    [
        (12, {"runs": 12}, "in 12 runs.*Ask for 16 runs"),
        (5, {"runs": 30}, "in 30 runs.*Ask for 28 runs"),
        (5, {"runs": 8}, "in 8 runs.*Ask for 12 runs"),
        (5, {"centre_points": 13}, "13 centre points .* 12 other runs.*Ask for 12 or fewer"),
        (5, {"terms": "second-order"}, "cannot tell apart|coefficients"),
    ],
    ids=str,
)
def test_what_no_screening_plan_has(numeric_trial, k, options, words):
    with pytest.raises(PlanError, match=words):
        wb.plan.screening(numeric_trial(k, NAMES), seed=1, **options)


def test_three_levels_have_no_two_level_plan(number, category, trial_of):
    trial = trial_of(number("x"), number("y"), category("tip", "flat", "cone", "knife"))
    for make in (wb.plan.screening, wb.plan.fraction):
        with pytest.raises(PlanError, match=r"'tip' has 3 levels.*wb.plan.orthogonal"):
            make(trial, seed=1)
    names = "abcd"
    four = trial_of(*(number(n) for n in names), category("tip", "flat", "cone", "knife"))
    with pytest.raises(PlanError, match="'tip' has 3 levels"):
        wb.plan.definitive(four, seed=1)


@pytest.mark.parametrize("k", range(4, 33))
def test_definitive_plans_of_every_size(numeric_trial, k):
    plan = wb.plan.definitive(numeric_trial(k, NAMES), seed=k)
    x = np.round(plan.settings.coded(), 9)
    order = len(x) // 2
    assert order == {21: 24, 22: 24}.get(k, k + k % 2)
    np.testing.assert_array_equal(x.T @ x, (2 * order - 2) * np.eye(k))
    np.testing.assert_array_equal((x == 0).sum(axis=0), 3)
    i, j = np.triu_indices(k, 1)
    np.testing.assert_array_equal(x.T @ (x[:, i] * x[:, j]), 0)
    np.testing.assert_array_equal(x.T @ x**2, 0)
    assert plan.point.count("centre") == 1


@pytest.mark.published("Jones and Nachtsheim 2013: two-level categories, two mirrored centre runs")
@pytest.mark.parametrize("n_categories", [1, 2, 3, 12])
def test_definitive_plans_with_categories(number, category, trial_of, n_categories):
    numeric = [number(f"x{i}") for i in range(4)]
    categories = [category(f"c{i}", "low", "high") for i in range(n_categories)]
    plan = wb.plan.definitive(trial_of(*numeric, *categories), seed=1)
    x = coded(plan, "factorial", "centre")
    assert (np.abs(x[:, 4:]) == 1).all()
    assert plan.point.count("centre") == 2
    np.testing.assert_array_equal(coded(plan, "centre")[:, :4], 0)
    i, j = np.triu_indices(x.shape[1], 1)
    np.testing.assert_array_equal(x.T @ (x[:, i] * x[:, j]), 0)
    np.testing.assert_array_equal(x.T @ x[:, :4] ** 2, 0)
    np.testing.assert_array_equal(x.sum(axis=0), 0)
    assert any("overlap a little" in note for note in plan.recipe.notes)


def test_extra_pairs_are_extra(numeric_trial):
    for k in (4, 5, 6, 9, 21):
        plain = wb.plan.definitive(numeric_trial(k, NAMES), seed=1)
        for pairs in (1, 2, 4):
            more = wb.plan.definitive(numeric_trial(k, NAMES), seed=1, extra_pairs=pairs)
            added = (len(more) - len(plain)) // 2
            assert pairs <= added <= pairs + 3


@pytest.mark.parametrize(
    ("k", "options", "words"),
    [
        (3, {}, "There are 3 factors.*wb.plan.composite"),
        (33, {}, "33 factors to screen.*wb.plan.screening"),
        (30, {"extra_pairs": 4}, "4 extra pairs.*Ask for 0 to 2"),
        (6, {"extra_pairs": -1}, "-1 extra pairs"),
        (5, {"terms": "second-order"}, "coefficients"),
    ],
    ids=str,
)
def test_what_no_definitive_plan_has(numeric_trial, k, options, words):
    with pytest.raises(PlanError, match=words):
        wb.plan.definitive(numeric_trial(k, NAMES), seed=1, **options)


def test_a_screened_model_may_hold_a_product(numeric_trial):
    trial = numeric_trial(5, NAMES)
    terms = parse_terms("f1, f2, f3, f4, f5, f1 * f2", trial.factors)
    plan = wb.plan.screening(trial, seed=1, terms=terms)
    assert len(plan.terms) == 6
    effects = wb.plan.aliases(plan.terms, plan.settings)[1:]
    assert max(abs(size) for alias in effects for _, size in alias.with_terms) < 1
