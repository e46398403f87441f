"""Box–Behnken plans: the printed table, counts, blocks, and what is refused."""

import numpy as np
import pytest

import workbench as wb
from workbench.errors import PlanError

CHECK = wb.files.published("hb-response-surface-designs")
NAMES = tuple(f"f{i}" for i in range(1, 20))


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.3.3.6.2, table 3.24")
def test_the_table_of_three_factors(numeric_trial):
    printed = sorted(map(tuple, CHECK.tables["data_box_behnken_k3"].to_numpy().tolist()))
    plan = wb.plan.box_behnken(numeric_trial(3), seed=1)
    assert sorted(map(tuple, np.round(plan.settings.coded(), 9).tolist())) == printed


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.3.3.6.4, table 3.28")
@pytest.mark.parametrize("k", [3, 4, 5, 6])
def test_run_counts(numeric_trial, k):
    name = f"box_behnken_k{k}"
    plan = wb.plan.box_behnken(numeric_trial(k), seed=1)
    assert len(plan) == CHECK.expected["run_counts"][name].value
    assert plan.point.count("centre") == CHECK.expected["center_runs"][name].value


@pytest.mark.parametrize(("k", "blocks"), [(4, 3), (5, 2), (6, 2), (7, 2), (9, 5), (10, 2)])
def test_blocks_move_no_effect(numeric_trial, k, blocks):
    trial = numeric_trial(k, NAMES)
    plan = wb.plan.box_behnken(trial, seed=1, blocks=blocks)
    assert set(np.bincount(plan.block)[1:]) == {len(plan) // blocks}
    X = wb.define.model_matrix(plan.terms, plan.settings).X
    means = np.array([X[plan.block == b].mean(axis=0) for b in range(1, blocks + 1)])
    np.testing.assert_allclose(means, means[:1].repeat(blocks, axis=0), atol=1e-12)
    assert plan.closing_block is None


@pytest.mark.parametrize(
    ("k", "options", "words"),
    [
        (8, {}, "no Box–Behnken structure for 8.*Vary 7 factors"),
        (2, {}, "for 2 factors.*Vary 3"),
        (3, {"blocks": 2}, "falls into one block only.*Ask for one block only"),
        (4, {"blocks": 2}, "one block or 3"),
        (3, {"centre_points": 13}, "13 centre points .* 12 other runs"),
        (3, {"centre_points": -1}, "-1 centre points"),
    ],
    ids=str,
)
def test_what_there_is_not(numeric_trial, k, options, words):
    with pytest.raises(PlanError, match=words):
        wb.plan.box_behnken(numeric_trial(k, NAMES), seed=1, **options)


def test_a_category_has_no_middle(number, category, trial_of):
    trial = trial_of(number("x"), number("y"), category("tip", "flat", "cone"))
    with pytest.raises(PlanError, match=r"'tip' is a category.*wb.plan.composite"):
        wb.plan.box_behnken(trial, seed=1)


def test_uneven_and_missing_centre_runs_are_said(numeric_trial):
    trial = numeric_trial(4, NAMES)
    uneven = wb.plan.box_behnken(trial, seed=1, blocks=3, centre_points=4)
    assert any("do not divide evenly" in note for note in uneven.recipe.notes)
    none = wb.plan.box_behnken(trial, seed=1, centre_points=0, terms="interactions")
    assert any("middle is not tried" in note for note in none.recipe.notes)
