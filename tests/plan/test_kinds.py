"""What holds for every kind of plan: its recipe, its seed, its order, its names."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import workbench as wb
from workbench.define import Budget, Categorical, Continuous, Measured, Trial
from workbench.errors import PlanError

LETTERS = tuple("abcdef")
NAMES = ("bead volume", "C", "1", "tip × feed", "Öffnung, µm", "x 'y' \"z\"")


def numeric(names, k, **more):
    factors = [Continuous(name=n, low=1, high=3, unit="mm", setting_sd=0.1) for n in names[:k]]
    return trial(factors, **more)


def categories(names, k, levels):
    return trial([Categorical(name=n, levels=tuple(levels)) for n in names[:k]])


def mixed(names):
    tip = Categorical(name=names[3], levels=("flat", "cone"))
    lot = Categorical(name=names[4], levels=("new", "old"))
    return trial([*numeric(names, 3).factors, tip, lot])


def trial(factors, **more):
    pull = Measured(name="pull force", unit="N")
    return Trial(title="made up", question="?", factors=tuple(factors), outcomes=(pull,), **more)


# Kind: how the trial and the plan are made.
KINDS = {
    "full": (lambda n: numeric(n, 3), wb.plan.full, {"centre_points": 2}),
    "full in 16 blocks": (
        lambda n: numeric(n, 6),
        wb.plan.full,
        {"blocks": 16, "terms": "first-order"},
    ),
    "centre subset": (mixed, wb.plan.full, {"centre_points": 1, "centre_at": "subset"}),
    "fraction": (lambda n: numeric(n, 6), wb.plan.fraction, {"resolution": 4, "blocks": 2}),
    "fraction subset": (mixed, wb.plan.fraction, {"centre_points": 2, "centre_at": "subset"}),
    "rotatable": (lambda n: numeric(n, 3), wb.plan.composite, {"blocks": 3, "centre_points": 6}),
    "uncorrelated": (
        lambda n: numeric(n, 3),
        wb.plan.composite,
        {"axial": "uncorrelated squares"},
    ),
    "small core": (lambda n: numeric(n, 4), wb.plan.composite, {"core_runs": 8}),
    "inscribed": (lambda n: numeric(n, 2), wb.plan.composite, {"inscribed": True, "axial": 1.3}),
    "screening": (
        lambda n: numeric(n, 6),
        wb.plan.screening,
        {"centre_points": 1, "replicates": 2},
    ),
    "screening subset": (
        mixed,
        wb.plan.screening,
        {"centre_points": 2, "centre_at": "subset", "runs": 20},
    ),
    "definitive": (lambda n: numeric(n, 5), wb.plan.definitive, {"extra_pairs": 2}),
    "definitive mixed": (mixed, wb.plan.definitive, {}),
    "Box-Behnken": (lambda n: numeric(n, 4), wb.plan.box_behnken, {"blocks": 3}),
    "orthogonal": (
        lambda n: categories(n, 4, "pqr"),
        wb.plan.orthogonal,
        {"runs": 18, "replicates": 2},
    ),
    "Latin": (lambda n: categories(n, 3, "pqrs"), wb.plan.latin_square, {}),
    "Graeco-Latin": (lambda n: categories(n, 4, "pqrst"), wb.plan.latin_square, {}),
    "incomplete": (
        lambda n: categories(n, 1, "pqrstuv"),
        wb.plan.incomplete_blocks,
        {"block_size": 3},
    ),
}


# Each is its own mirror image in any one factor.
WHOLE = (
    "full",
    "centre subset",
    "full in 16 blocks",
    "rotatable",
    "uncorrelated",
    "inscribed",
    "Box-Behnken",
)


@pytest.mark.parametrize("kind", KINDS)
def test_the_recipe_makes_the_plan_again(same_plan, kind):
    of, make, options = KINDS[kind]
    made_for = of(NAMES)
    plan = make(made_for, seed=11, **options)
    assert same_plan(wb.plan.remake(made_for, plan.recipe), plan)
    repeated = wb.plan.with_repeats(plan, n_repeats=3, seed=5)
    assert same_plan(wb.plan.remake(made_for, repeated.recipe), repeated)
    ordered = wb.plan.against_drift(repeated, seed=4, n_orders=10)
    assert same_plan(wb.plan.remake(made_for, ordered.recipe), ordered)
    twice = wb.plan.with_repeats(ordered, n_repeats=1, seed=3)
    assert same_plan(wb.plan.remake(made_for, twice.recipe), twice)


@pytest.mark.parametrize(
    "kind", [k for k in KINDS if k not in ("Latin", "Graeco-Latin", "incomplete", "orthogonal")]
)
def test_a_fold_over_of_one_factor_is_made_again(same_plan, kind):
    of, make, options = KINDS[kind]
    made_for = of(NAMES)
    plan = make(made_for, seed=11, **options)
    if kind in WHOLE:
        with pytest.raises(PlanError, match="there already"):
            wb.plan.fold_over(made_for, plan, seed=2, factors=[NAMES[1]])
        return
    folded = wb.plan.fold_over(made_for, plan, seed=2, factors=[NAMES[1]])
    assert same_plan(wb.plan.remake(made_for, folded.recipe), folded)
    more = wb.plan.with_repeats(folded, n_repeats=2, seed=2)
    assert same_plan(wb.plan.remake(made_for, more.recipe), more)
    assert more.closing_block == more.n_blocks


@pytest.mark.property
@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=5, deadline=None)
@given(seed=st.integers(0, 2**63 - 1))
def test_seed_order_and_names(same_plan, kind, seed):
    of, make, options = KINDS[kind]
    plan = make(of(LETTERS), seed=seed, **options)
    assert same_plan(make(of(LETTERS), seed=seed, **options), plan)
    assert sorted(plan.standard) == list(range(1, len(plan) + 1))
    assert set(np.diff(plan.block)) <= {0, 1}
    assert set(np.diff(plan.setup)) <= {0, 1}
    renamed = make(of(NAMES), seed=seed, **options)
    np.testing.assert_array_equal(renamed.settings.values, plan.settings.values)
    np.testing.assert_array_equal(renamed.block, plan.block)
    np.testing.assert_array_equal(renamed.standard, plan.standard)
    other = make(of(LETTERS), seed=(seed + 1) % 2**63, **options)
    # Another seed, another order of the same runs (squares draw other letters too).
    if "Latin" not in kind:
        ours, theirs = (np.argsort(one.standard) for one in (plan, other))
        np.testing.assert_array_equal(plan.settings.values[ours], other.settings.values[theirs])


def test_every_kind_is_written_and_read_back(tmp_path, same_plan):
    for kind, (of, make, options) in KINDS.items():
        made_for = of(LETTERS)
        plan = make(made_for, seed=2, **options)
        folder = tmp_path / kind.replace(" ", "_")
        folder.mkdir()
        wb.files.write_trial(folder, made_for)
        wb.files.write_plan(folder, plan)
        assert same_plan(wb.files.read_plan(folder, made_for), plan)


def test_a_changed_plan_is_written_and_read_back(tmp_path, same_plan):
    made_for = numeric(LETTERS, 5, budget=Budget(parts=20))
    plan = wb.plan.fraction(made_for, seed=1, runs=8, resolution=3, terms="first-order")
    plan = wb.plan.fold_over(made_for, plan, seed=2)
    plan = wb.plan.with_repeats(plan, n_repeats=2, seed=3)
    wb.files.write_trial(tmp_path, made_for)
    wb.files.write_plan(tmp_path, plan)
    read = wb.files.read_plan(tmp_path, made_for)
    assert same_plan(read, plan)
    assert read.budget_parts == 20
    assert read.closing_block == 2


def test_an_unknown_kind_is_not_made(numeric_trial):
    plan = wb.plan.full(numeric_trial(2), seed=1)
    from dataclasses import replace

    with pytest.raises(PlanError, match="No plan of the kind 'spiral'"):
        wb.plan.remake(numeric_trial(2), replace(plan.recipe, kind="spiral"))


@pytest.mark.parametrize(
    ("make", "options", "words"),
    [
        (
            wb.plan.full,
            {"centre_points": 9},
            "9 centre points .* 8 other runs.*Ask for 8 or fewer",
        ),
        (wb.plan.full, {"blocks": 16}, "16 blocks.*Numbers of pieces that work here"),
        (wb.plan.full, {"blocks": 0}, "0 blocks"),
        (wb.plan.fraction, {"runs": 6}, "in 6 runs.*Ask for 4 runs"),
        (wb.plan.fraction, {"resolution": 5}, "resolution V.*resolution III"),
        (wb.plan.composite, {"centre_points": 15}, "15 centre points .* 14 other runs"),
        (wb.plan.composite, {"blocks": 2, "axial": "uncorrelated squares"}, "Ask for blocks=1"),
        (wb.plan.composite, {"blocks": 4}, "no 4 blocks.*1, 2, 3, 5 or 9"),
        (wb.plan.composite, {"core_runs": 6}, "in 6 runs.*Ask for 4 runs"),
    ],
    ids=str,
)
def test_what_there_is_not(numeric_trial, make, options, words):
    with pytest.raises(PlanError, match=words):
        make(numeric_trial(3), seed=1, **options)


# Distance for three factors and eight centre points as another package's run count has it.
@pytest.mark.parametrize(
    ("k", "core", "centre"), [(2, 4, 1), (3, 8, 8), (4, 16, 4), (5, 16, 6), (6, 32, 9)]
)
def test_squares_without_correlation(numeric_trial, k, core, centre):
    trial = numeric_trial(k, LETTERS)
    plan = wb.plan.composite(trial, seed=1, axial="uncorrelated squares", centre_points=centre)
    assert plan.point.count("factorial") == core
    squares = plan.settings.coded() ** 2
    between = np.corrcoef(squares.T)[np.triu_indices(k, 1)]
    np.testing.assert_allclose(between, 0, atol=1e-12)
    distance = wb.plan.uncorrelated_axial_distance(k, core, centres=centre)
    assert np.abs(plan.settings.coded()).max() == pytest.approx(max(distance, 1))


def test_the_distance_of_uncorrelated_squares_is_the_one_measured_elsewhere():
    assert wb.plan.uncorrelated_axial_distance(3, 8, centres=8) == pytest.approx(1.6227, abs=5e-5)


@pytest.mark.published("Hartley 1959: cores that mix main effects with products of two")
@pytest.mark.parametrize(
    ("k", "core", "blocks"),
    [
        (3, 4, 1),
        (4, 8, 1),
        (5, 16, 1),
        (6, 16, 1),
        (6, 16, 2),
        (7, 32, 1),
        (8, 64, 1),
        (9, 64, 1),
        (12, 128, 1),
    ],
)
def test_small_cores_carry_the_second_order_model(numeric_trial, k, core, blocks):
    names = tuple(f"f{i}" for i in range(k))
    plan = wb.plan.composite(numeric_trial(k, names), seed=1, core_runs=core, blocks=blocks)
    X = wb.define.model_matrix(plan.terms, plan.settings).X
    assert np.linalg.matrix_rank(X) == X.shape[1] == (k + 1) * (k + 2) // 2
    assert len(plan) == core + 2 * k + 4
    small = plan.recipe.resolution is not None and plan.recipe.resolution < 5
    assert any("A small core" in note for note in plan.recipe.notes) == small
