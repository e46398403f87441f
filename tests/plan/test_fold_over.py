"""Fold-over and the unequal fractions of the Handbook, told apart by our own assessment."""

import numpy as np
import pytest

import workbench as wb
from workbench.define import Forbidden, Stepped, from_coded, parse_terms, preset
from workbench.define.model_matrix import model_matrix
from workbench.errors import PlanError
from workbench.numerics.least_squares import factored
from workbench.plan.verify import carried_matrix

CHECK = wb.files.published("hb-foldover-and-three-quarter")
SEVEN = tuple("1234567")


@pytest.fixture
def eight(numeric_trial):
    return numeric_trial(7, SEVEN)


def standard_eight(trial):
    """Return our eight runs with the columns in the order of the print."""
    plan = wb.plan.fraction(trial, seed=1, runs=8, terms="first-order")
    assert set(plan.recipe.generators) == {"4 = 1 × 2", "5 = 1 × 3", "6 = 2 × 3", "7 = 1 × 2 × 3"}
    return plan


def products_mixed_with(plan, name):
    """Return products of two that are one number with a main effect."""
    for group in wb.plan.mixing(plan).groups:
        names = [str(one) for one in group]
        if name in names:
            return {one.replace(" × ", "") for one in names if one != name}
    return set()


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.3.3.8.2, table 3.36: one factor reversed")
def test_one_factor_reversed(eight):
    plan = standard_eight(eight)
    folded = wb.plan.fold_over(eight, plan, seed=2, factors=["4"])
    assert len(folded) == CHECK.expected["reverse_x4_combined"]["runs"].value
    for name, expected in CHECK.expected["reverse_x4_two_factor_aliases_of_main_effects"].items():
        assert products_mixed_with(folded, name.removeprefix("x")) == set(expected.value)
    mixed = wb.plan.mixing(folded)
    grouped = {str(one).replace(" × ", "") for group in mixed.groups for one in group}
    clear = set(CHECK.expected["reverse_x4_clear_interactions"]["pairs"].value)
    assert clear == {a + b for a in SEVEN for b in SEVEN if a < b and "4" in a + b}
    assert grouped.isdisjoint(clear)
    rest = CHECK.expected["reverse_x4_remaining_set"]["12"].value
    groups = [{str(one).replace(" × ", "") for one in group} for group in mixed.groups]
    assert set(rest) in groups
    # Seven main effects, six products with the reversed one, and the remaining set.
    n_effects = CHECK.expected["reverse_x4_combined"]["estimable_effects"].value
    assert n_effects == 7 + len(clear) + 1
    assert mixed.with_blocks == ()


@pytest.mark.published("Box and Hunter 1961: all factors reversed clears the main effects")
def test_all_factors_reversed(eight):
    plan = standard_eight(eight)
    folded = wb.plan.fold_over(eight, plan, seed=2)
    assert wb.plan.mixing(folded).main_effects_are_clear
    assert not wb.plan.mixing(plan).main_effects_are_clear
    assert (folded.recipe.resolution, folded.recipe.generators) == (4, ())
    assert "main effects are clear of products of two" in " ".join(folded.recipe.notes)


def test_the_runs_that_were_made_stay_first(eight, same_plan):
    plan = standard_eight(eight)
    folded = wb.plan.fold_over(eight, plan, seed=2)
    n = len(plan)
    np.testing.assert_array_equal(folded.settings.values[:n], plan.settings.values)
    np.testing.assert_array_equal(folded.standard[:n], plan.standard)
    assert folded.point[:n] == plan.point
    assert (folded.block[:n] == 1).all()
    assert folded.closing_block == 2
    assert sorted(folded.standard) == list(range(1, 2 * n + 1))
    assert same_plan(wb.plan.remake(eight, folded.recipe), folded)
    again = wb.plan.against_drift(folded, seed=1, n_orders=20)
    assert again.point[:n] == ("factorial",) * n
    assert same_plan(wb.plan.remake(eight, again.recipe), again)


def test_slow_factors_share_resets_in_the_mirror_image(number, trial_of):
    trial = trial_of(number("oven", slow=True), *(number(n) for n in "abc"))
    plan = wb.plan.fraction(trial, seed=1, runs=8, terms="first-order")
    folded = wb.plan.fold_over(trial, plan, seed=3, factors=["a"])
    oven = folded.settings.column("oven")
    assert int(folded.setup.max()) == 2 * int(plan.setup.max())
    for setup in np.unique(folded.setup):
        assert len(set(oven[folded.setup == setup])) == 1


def test_what_cannot_be_folded(eight, category, number, trial_of):
    plan = standard_eight(eight)
    with pytest.raises(PlanError, match=r"no factor 'x9'.*Choose from: 1, 2"):
        wb.plan.fold_over(eight, plan, seed=1, factors=["x9"])
    with pytest.raises(PlanError, match="No factor was named"):
        wb.plan.fold_over(eight, plan, seed=1, factors=[])
    folded = wb.plan.fold_over(eight, plan, seed=1)
    with pytest.raises(PlanError, match="those that are there already"):
        wb.plan.fold_over(eight, folded, seed=1)
    knives = trial_of(number("x"), category("tip", *"abc"))
    with pytest.raises(PlanError, match="'tip' has 3 levels"):
        wb.plan.fold_over(knives, wb.plan.full(knives, seed=1), seed=1)
    steps = Stepped(name="dwell", steps=(0.0, 2.0, 3.0), unit="s", setting_sd=0.0)
    uneven = trial_of(number("x"), steps)
    plan = wb.plan.full(uneven, seed=1)
    with pytest.raises(PlanError, match="'dwell' at 1 s, which is none of its steps"):
        wb.plan.fold_over(uneven, plan, seed=1)


def test_a_forbidden_mirror_image_is_refused(number, trial_of):
    where = (("a", 0.6, 0.7), ("b", 0.6, 0.7), ("c", 0.0, 0.2))
    corner = Forbidden(where=where, reason="it burns")
    trial = trial_of(*(number(n) for n in "abc"), constraints=(corner,))
    plan = wb.plan.fraction(trial, seed=1, resolution=3, terms="first-order")
    with pytest.raises(PlanError, match="it burns"):
        wb.plan.fold_over(trial, plan, seed=1)


def unequal(trial, table, terms):
    """Return model and blocks of printed runs."""
    names = [factor.name for factor in trial.factors]
    settings = from_coded(trial.factors, table[names].to_numpy(dtype=float))
    return model_matrix(terms, settings), table["block"].to_numpy()


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.3.3.8.2: eight runs and half a fold-over")
def test_twelve_runs_of_four_factors(numeric_trial):
    trial = numeric_trial(4, ("x1", "x2", "x3", "x4"))
    table = CHECK.tables["data"].query("design == '12-run'")
    terms = preset("interactions", trial.factors)
    model, block = unequal(trial, table, terms)
    # Mean, ten effects and the step between blocks take all twelve.
    assert carried_matrix(model, block) == 0
    rank = CHECK.expected["twelve_run"]["rank_of_block_main_and_interactions"].value
    X = np.hstack([model.X, np.where(block == block.min(), -1.0, 1.0)[:, None]])
    whole = factored(X)
    assert whole.rank == rank
    errors = np.sqrt(np.diagonal(whole.unscaled_covariance()))
    names = [name.replace(" × ", ":") for name in model.names]
    for name, one in CHECK.expected["twelve_run_coefficient_se_over_sigma"].items():
        assert errors[names.index(name)] == pytest.approx(one.value, abs=one.tol)


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.5.7: three quarters of 64 runs, eight factors")
def test_forty_eight_runs_of_eight_factors(numeric_trial):
    names = tuple(f"x{i}" for i in range(1, 9))
    trial = numeric_trial(8, names)
    table = CHECK.tables["data"].query("design == '48-run'")
    settings = from_coded(trial.factors, table[list(names)].to_numpy(dtype=float))
    terms = parse_terms("interactions", trial.factors)
    model = model_matrix(terms, settings)
    whole = factored(model.X)
    expected = CHECK.expected["forty_eight_run"]
    assert whole.rank == expected["rank"].value
    assert len(table) - whole.rank == expected["error_df"].value
    information = np.round(1 / np.diagonal(whole.unscaled_covariance()), 6)
    distinct = sorted(set(information))
    np.testing.assert_allclose(
        distinct, expected["all_distinct_inverse_variances"].value, atol=1e-4
    )
    assert distinct[0] == pytest.approx(expected["smallest_inverse_variance"].value, abs=1e-4)
    assert distinct[1] == pytest.approx(expected["second_inverse_variance"].value, abs=1e-4)
    best = [name for name, one in zip(model.names, information, strict=True) if one == distinct[2]]
    assert best == ["mean"]
    assert len(expected["dropped_standard_order_runs"].value) == 64 - len(table)
