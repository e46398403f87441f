"""What a plan stands to lose, held against leaving runs out and against brute force."""

from itertools import combinations

import numpy as np
import pytest

import workbench as wb
from workbench.define import Settings, settings
from workbench.define.model_matrix import model_matrix
from workbench.errors import PlanError, Unavailable
from workbench.plan.verify import block_columns

NAMES = tuple("abcdefgh")


def whole_matrix(plan):
    model = model_matrix(plan.terms, plan.settings)
    return np.hstack([model.X, block_columns(plan.block)]), model


@pytest.fixture
def plans(numeric_trial, number, category, trial_of):
    mixed = trial_of(number("x"), number("y"), category("tip", "flat", "cone", "knife"))
    return [
        wb.plan.composite(numeric_trial(3, NAMES), seed=1, blocks=3, centre_points=6),
        wb.plan.full(mixed, seed=2, replicates=2, blocks=2),
        wb.plan.screening(numeric_trial(7, NAMES), seed=3, centre_points=2),
        wb.plan.box_behnken(numeric_trial(4, NAMES), seed=4, blocks=3),
    ]


def test_the_worst_lost_run_against_leaving_each_out(plans):
    for plan in plans:
        X, model = whole_matrix(plan)
        before = np.diagonal(np.linalg.inv(X.T @ X))
        growth = np.array(
            [
                np.sqrt(np.diagonal(np.linalg.inv(left.T @ left)) / before)
                for left in (np.delete(X, i, axis=0) for i in range(len(X)))
            ]
        )[:, 1 : model.X.shape[1]]
        found = wb.plan.worst_lost_run(plan)
        assert found.growth == pytest.approx(growth.max(), rel=1e-9)
        assert growth[found.run - 1].max() == pytest.approx(growth.max(), rel=1e-9)
        assert found.term in {str(one) for one in plan.terms.terms}


def test_a_run_that_must_not_be_lost_is_named(numeric_trial):
    plan = wb.plan.full(numeric_trial(2), seed=1)
    lost = wb.plan.worst_lost_run(plan)
    assert isinstance(lost.growth, Unavailable)
    assert f"Without run {lost.run}" in lost.growth.reason
    X, _ = whole_matrix(plan)
    assert np.linalg.matrix_rank(np.delete(X, lost.run - 1, axis=0)) < X.shape[1]


def test_leverage_and_correlation_of_estimates_by_brute_force(plans):
    for plan in plans:
        X, model = whole_matrix(plan)
        inverse = np.linalg.inv(X.T @ X)
        np.testing.assert_allclose(wb.plan.leverages(plan), np.diagonal(X @ inverse @ X.T))
        assert wb.plan.leverages(plan).sum() == pytest.approx(X.shape[1])
        overlap = wb.plan.estimate_overlap(plan)
        p = model.X.shape[1]
        sizes = np.sqrt(np.diagonal(inverse)[:p])
        np.testing.assert_allclose(
            overlap.correlation, inverse[:p, :p] / np.outer(sizes, sizes), atol=1e-9
        )
        off = np.abs(overlap.correlation - np.eye(p))
        assert overlap.largest == pytest.approx(off.max())
        a, b = (model.names.index(name) for name in overlap.worst)
        assert off[a, b] == pytest.approx(overlap.largest)


def test_degrees_of_freedom_add_up(plans):
    for plan in plans:
        found = wb.plan.degrees_of_freedom(plan)
        X, _ = whole_matrix(plan)
        assert found.error == len(plan) - np.linalg.matrix_rank(X)
        rows = {
            (*row, b) for row, b in zip(plan.settings.values.tolist(), plan.block, strict=True)
        }
        assert found.pure_error == len(plan) - len(rows)
        assert 1 + found.blocks + found.model + found.error == len(plan)
        (layer,) = found.layers
        assert (layer.name, layer.error) == ("between runs", found.error)
        assert layer.blocks + layer.model + layer.error == layer.total == len(plan) - 1


def test_degrees_of_freedom_by_layer_where_resets_are_shared(number, trial_of):
    trial = trial_of(number("oven", slow=True), number("x"), number("y"))
    plan = wb.plan.full(trial, seed=1, replicates=3)
    between, within = wb.plan.degrees_of_freedom(plan).layers
    assert (between.name, within.name) == ("between resets", "within resets")
    # Six resets, one line for the oven; 18 within, five lines for x, y and products.
    assert (between.total, between.model, between.error) == (5, 1, 4)
    assert (within.total, within.model, within.error) == (18, 5, 13)
    blocked = wb.plan.full(trial, seed=1, replicates=3, blocks=3)
    between, within = wb.plan.degrees_of_freedom(blocked).layers
    assert (between.blocks, between.model, between.error) == (2, 1, 2)
    power = {
        str(one.term): one.error_df for one in wb.plan.power(blocked, sd=1, effect=1, alpha=0.05)
    }
    assert (power["oven"], power["x"]) == (between.error, within.error)


def test_drift_left_by_brute_force(plans):
    for plan in plans:
        X, model = whole_matrix(plan)
        base = np.hstack([X[:, :1], block_columns(plan.block)])
        time = np.arange(len(plan)) - (len(plan) - 1) / 2

        def left(columns, base=base):
            return columns - base @ np.linalg.lstsq(base, columns, rcond=None)[0]

        worst = 0.0
        for trend in (time, time**2 - (time**2).mean()):
            t = left(trend)
            for column in left(model.X[:, 1:]).T:
                if np.linalg.norm(column) > 1e-9:
                    size = abs(t @ column) / np.linalg.norm(t) / np.linalg.norm(column)
                    worst = max(worst, size)
        assert wb.plan.drift_left(plan) == pytest.approx(worst, abs=1e-9)


def test_a_better_order_against_drift(plans, same_plan):
    for plan in plans:
        better = wb.plan.against_drift(plan, seed=5, n_orders=200)
        assert wb.plan.drift_left(better) <= wb.plan.drift_left(plan)
        assert f"{wb.plan.drift_left(better):.2f} correlated" in better.recipe.notes[-1]
        assert sorted(better.standard) == sorted(plan.standard)
        assert better.closing_block == plan.closing_block
        assert same_plan(better, wb.plan.against_drift(plan, seed=5, n_orders=200))
    with pytest.raises(PlanError, match="0 orders"):
        wb.plan.against_drift(plans[0], seed=1, n_orders=0)


def test_the_axial_block_stays_last_whatever_is_changed(numeric_trial):
    plan = wb.plan.composite(numeric_trial(3, NAMES), seed=1, blocks=3, centre_points=6)
    assert plan.closing_block == 3
    for seed in range(6):
        for other in (
            wb.plan.against_drift(plan, seed=seed, n_orders=5),
            wb.plan.with_repeats(plan, n_repeats=4, seed=seed),
        ):
            last = other.block == 3
            assert {p for p, closes in zip(other.point, last, strict=True) if closes} == {
                "axial",
                "centre",
            }
    assert wb.plan.composite(numeric_trial(3, NAMES), seed=1).closing_block is None
    assert wb.plan.full(numeric_trial(3, NAMES), seed=1, blocks=2).closing_block is None


def test_repeats_sharpen_the_estimates_most(numeric_trial):
    plan = wb.plan.composite(numeric_trial(2, NAMES), seed=1, centre_points=2, axial="face")
    X, _ = whole_matrix(plan)
    best = max(
        np.linalg.slogdet(np.vstack([X, X[[i]]]).T @ np.vstack([X, X[[i]]]))[1]
        for i in range(len(X))
    )
    one, _ = whole_matrix(wb.plan.with_repeats(plan, n_repeats=1, seed=1))
    assert np.linalg.slogdet(one.T @ one)[1] == pytest.approx(best)
    for count in (1, 3, len(plan)):
        more = wb.plan.with_repeats(plan, n_repeats=count, seed=1)
        assert len(more) == len(plan) + count
        before, after = (wb.plan.degrees_of_freedom(p).pure_error for p in (plan, more))
        assert after == before + count
        assert sorted(more.standard) == list(range(1, len(more) + 1))
        assert len(np.unique(more.setup)) == len(more)
    for count in (0, len(plan) + 1):
        with pytest.raises(PlanError, match=f"{count} of {len(plan)} runs"):
            wb.plan.with_repeats(plan, n_repeats=count, seed=1)


def test_notes_on_price_and_error_follow_the_runs(number, trial_of):
    from workbench.define import Budget

    trial = trial_of(number("a"), number("b"), budget=Budget(parts=4, parts_per_run=1))
    plan = wb.plan.full(trial, seed=1)
    assert any("No run is left over" in note for note in plan.recipe.notes)
    more = wb.plan.with_repeats(plan, n_repeats=2, seed=1)
    assert not any("No run is left over" in note for note in more.recipe.notes)
    assert more.recipe.notes[-1] == "It needs 6 parts; the budget states 4."
    folded = wb.plan.with_repeats(more, n_repeats=1, seed=1)
    assert [n for n in folded.recipe.notes if "parts;" in n] == [
        "It needs 7 parts; the budget states 4."
    ]


def test_the_dry_run_takes_the_corners(numeric_trial, number, category, trial_of):
    plan = wb.plan.composite(numeric_trial(2, NAMES), seed=1, axial="face")
    dry = wb.plan.corner_dry_run(plan)
    assert sorted(map(tuple, np.round(dry.coded(), 9))) == [(-1, -1), (-1, 1), (1, -1), (1, 1)]
    tips = trial_of(number("x"), category("tip", *"abcdef"))
    dry = wb.plan.corner_dry_run(wb.plan.full(tips, seed=1))
    assert len(set(dry.column("tip"))) >= 2
    assert set(dry.column("x")) == {0.1, 0.7}
    small = wb.plan.corner_dry_run(wb.plan.full(trial_of(number("x")), seed=1))
    assert len(small) == 2


def test_precision_by_brute_force(plans):
    for plan in plans:
        found = wb.plan.precision(plan, seed=1)
        X, model = whole_matrix(plan)
        inverse = np.linalg.inv(X.T @ X)[: model.X.shape[1], : model.X.shape[1]]
        rng = np.random.default_rng(2)
        rows = []
        for _ in range(4000):
            row = {
                f.name: f.levels[rng.integers(len(f.levels))]
                if hasattr(f, "levels")
                else rng.uniform(f.low, f.high)
                for f in plan.settings.factors
            }
            rows.append(row)
        at = model_matrix(plan.terms, settings(plan.settings.factors, rows)).X
        error = np.sort(np.sqrt(np.einsum("ij,jk,ik->i", at, inverse, at)))
        for share in (0.1, 0.5, 0.9):
            assert found.at_share(share) == pytest.approx(np.quantile(error, share), rel=0.03)
            # A share of 4 000 random points is right to 0.008.
            limit = float(np.quantile(error, share))
            assert found.share_below(limit) == pytest.approx(share, abs=0.03)
        assert found.share_below(0.0) == 0
        assert found.share_below(1e9) == 1


@pytest.mark.published("Box and Hunter 1957: equal precision at equal distance")
def test_a_rotatable_plan_knows_all_directions_alike(numeric_trial):
    plan = wb.plan.composite(numeric_trial(2, ("x", "y")), seed=1, centre_points=5)
    found = wb.plan.precision_map(plan, x="x", y="y", n_points=41)
    middle, edge = found.standard_error[20, 20], found.standard_error[20, 40]
    assert middle == pytest.approx(np.sqrt(1 / 5))
    assert found.standard_error[40, 20] == pytest.approx(edge)
    at = Settings(
        factors=plan.settings.factors, values=np.array([[0.4 + 0.3 * 0.6, 0.4 + 0.3 * 0.8]])
    )
    X, _ = whole_matrix(plan)
    row = model_matrix(plan.terms, at).X[0]
    assert np.sqrt(row @ np.linalg.inv(X.T @ X) @ row) == pytest.approx(edge)
    assert found.held == ""


def test_a_map_says_where_the_others_stand(number, category, trial_of):
    trial = trial_of(number("x"), number("y"), number("z"), category("tip", "flat", "cone"))
    plan = wb.plan.full(trial, seed=1)
    found = wb.plan.precision_map(plan, x="y", y="x", at={"tip": "cone"}, n_points=5)
    assert found.held == "z 0.4 mm, tip cone"
    assert (found.x_factor.name, found.standard_error.shape) == ("y", (5, 5))
    for x, y in (("tip", "x"), ("x", "nothing"), ("x", "x")):
        with pytest.raises(PlanError, match="Choose two of: 'x', 'y', 'z'"):
            wb.plan.precision_map(plan, x=x, y=y)


def test_mixing_by_brute_force(plans):
    for plan in plans:
        mixed = wb.plan.mixing(plan)
        from workbench.plan.mixing import second_order_terms

        terms = second_order_terms(plan.settings.factors)
        model = model_matrix(terms, plan.settings)
        base = np.hstack([np.ones((len(plan), 1)), block_columns(plan.block)])
        left = model.X - base @ np.linalg.lstsq(base, model.X, rcond=None)[0]
        there = {frozenset((o.one, o.other)): abs(o.size) for o in mixed.partly}
        grouped = [set(group) for group in mixed.groups]
        for a, b in combinations(terms.terms, 2):
            sizes = [
                abs(u @ v) / (np.linalg.norm(u) * np.linalg.norm(v))
                for u in left[:, model.columns_of(a)].T
                for v in left[:, model.columns_of(b)].T
                if np.linalg.norm(u) > 1e-9 and np.linalg.norm(v) > 1e-9
            ]
            size = max(sizes, default=0.0)
            if any({a, b} <= group for group in grouped):
                assert size > 1 - 1e-9
            else:
                assert there.get(frozenset((a, b)), 0.0) == pytest.approx(size, abs=1e-8)


def test_what_blocks_take_is_named(numeric_trial):
    plan = wb.plan.full(numeric_trial(3, NAMES), seed=1, blocks=4, terms="first-order")
    mixed = wb.plan.mixing(plan)
    assert {str(one) for one in mixed.with_blocks} >= {"a × b", "a × c", "b × c"}
    assert mixed.largest_on_main_effects() == 0
