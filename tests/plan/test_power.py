"""Power: exact published values, simulation, strata, categories, ratios and refusals."""

from dataclasses import replace

import numpy as np
import pytest

import workbench as wb
from workbench.define import model_matrix
from workbench.errors import PlanError, Unavailable
from workbench.numerics.noncentral import critical_f
from workbench.plan.verify import block_columns

CHECK = wb.files.published("power-and-sample-size")
N_TRIALS = 20_000


@pytest.mark.published("recomputed: see the check's provenance")
@pytest.mark.parametrize(
    ("name", "k", "replicates", "terms", "effect"),
    [
        ("2^2_reps3_delta2.0sigma", 2, 3, "interactions", 2.0),
        ("2^3_reps2_delta1.0sigma", 3, 2, "a * b * c", 1.0),
        ("2^3_reps2_delta2.0sigma", 3, 2, "a * b * c", 2.0),
        ("2^4_reps2_delta1.0sigma", 4, 2, "a * b * c * d", 1.0),
        ("2^4_reps2_delta1.5sigma", 4, 2, "a * b * c * d", 1.5),
    ],
)
def test_single_effects_of_replicated_factorials(
    numeric_trial, name, k, replicates, terms, effect
):
    trial = numeric_trial(k, tuple("abcd"))
    plan = wb.plan.full(trial, seed=1, replicates=replicates, terms=terms)
    for one in wb.plan.power(plan, sd=1, effect=effect, alpha=0.05):
        expected = CHECK.expected["two_level_single_effect_power"][name].value
        assert one.power == pytest.approx(expected, abs=1e-10)


@pytest.mark.published("recomputed: see the check's provenance")
@pytest.mark.parametrize(
    ("name", "terms", "effect"),
    [
        ("16_runs_5_terms_delta2.0sigma", "a, b, c, d, a * b", 2.0),
        ("16_runs_5_terms_delta1.5sigma", "a, b, c, d, a * b", 1.5),
        ("16_runs_11_terms_delta2.0sigma", "a * b * c, a * d, b * d, c * d", 2.0),
    ],
)
def test_single_effects_of_sixteen_runs(numeric_trial, name, terms, effect):
    plan = wb.plan.full(numeric_trial(4, tuple("abcd")), seed=1, terms=terms)
    found = wb.plan.power(plan, sd=1, effect=effect, alpha=0.05)[0]
    expected = CHECK.expected["two_level_single_effect_power"][name].value
    assert found.error_df == 16 - 1 - int(name.split("_")[2])
    assert found.power == pytest.approx(expected, abs=1e-10)


def simulated(plan, term, coefficients, rng):
    """Return how often an exact F test of the term rejects, and its standard error."""
    model = model_matrix(plan.terms, plan.settings)
    own = model.columns_of(term)
    others = np.delete(model.X, own, axis=1)
    others = np.hstack([others, block_columns(plan.block)])
    whole = np.hstack([others, model.X[:, own]])
    y = model.X[:, own] @ coefficients + rng.standard_normal((N_TRIALS, len(plan)))
    rss = [
        ((y - y @ q @ q.T) ** 2).sum(axis=1) for q in (np.linalg.qr(m)[0] for m in (others, whole))
    ]
    df, error_df = len(own), len(plan) - whole.shape[1]
    statistic = (rss[0] - rss[1]) / df / (rss[1] / error_df)
    share = (statistic > critical_f(df, error_df, alpha=0.05)).mean()
    return share, np.sqrt(share * (1 - share) / N_TRIALS)


def test_power_is_what_simulation_finds(number, category, trial_of):
    rng = np.random.default_rng(20240607)
    tip = category("tip", "flat", "cone", "knife")
    three = [number(name) for name in "xyz"]
    plans = [
        wb.plan.full(trial_of(*three, category("side", "in", "out")), seed=1, blocks=2),
        wb.plan.fraction(trial_of(*three, number("u"), number("v")), seed=2, centre_points=3),
        wb.plan.composite(trial_of(*three), seed=3, blocks=3, centre_points=5),
        wb.plan.composite(trial_of(number("x"), tip), seed=4, centre_points=1, axial=1.3),
    ]
    for plan in plans:
        chosen = rng.choice(len(plan.terms), size=min(3, len(plan.terms)), replace=False)
        for one in wb.plan.power(plan, sd=1, effect=1.4, alpha=0.05):
            if plan.terms.terms.index(one.term) not in chosen:
                continue
            is_square = any(power == 2 for _, power in one.term.powers)
            # The pair of levels compared worst: here all pairs are alike or the last is in it.
            options = [[1.4 if is_square else 0.7]]
            if "tip" in one.term.factors:
                options = [[0.7, -0.7], [0.7, 0.0], [0.0, 0.7]]
            found = [simulated(plan, one.term, np.array(c), rng) for c in options]
            share, error = min(found)
            assert one.power == pytest.approx(share, abs=3 * error + 1e-12)


def random_plan(rng, number, category, trial_of):
    """Return a plan of a random kind with a random model that it carries, error left over."""
    numeric = [number(name) for name in "abcdef"]
    side, tip = category("side", "in", "out"), category("tip", "flat", "cone", "knife")
    seed, draw = int(rng.integers(1000)), int(rng.integers(4, 7))
    makers = [
        lambda: wb.plan.full(trial_of(*numeric[:2], side), seed=seed, replicates=2, blocks=2),
        lambda: wb.plan.full(trial_of(*numeric[:2], tip), seed=seed, replicates=2),
        lambda: wb.plan.full(trial_of(*numeric[:4]), seed=seed, blocks=4, centre_points=4),
        lambda: wb.plan.fraction(trial_of(*numeric[:draw]), seed=seed, centre_points=3),
        lambda: wb.plan.composite(trial_of(*numeric[:2]), seed=seed, blocks=2, axial=1.2),
        lambda: wb.plan.composite(trial_of(*numeric[:4]), seed=seed, core_runs=8),
        lambda: wb.plan.screening(trial_of(*numeric[:draw], side), seed=seed),
        lambda: wb.plan.definitive(trial_of(*numeric[:4], side), seed=seed, extra_pairs=2),
        lambda: wb.plan.box_behnken(trial_of(*numeric[:4]), seed=seed, blocks=3),
        lambda: wb.plan.orthogonal(trial_of(*numeric[:3], tip, side), seed=seed, runs=36),
    ]
    plan = makers[int(rng.integers(len(makers)))]()
    if rng.random() < 0.3:
        plan = wb.plan.with_repeats(plan, n_repeats=2, seed=seed)
    # Part of its model, the factors of what is kept in it or not: power asks for no heredity.
    kept = rng.permutation(len(plan.terms))[: int(rng.integers(1, len(plan.terms) + 1))]
    terms = tuple(plan.terms.terms[i] for i in sorted(kept))
    return replace(plan, terms=replace(plan.terms, terms=terms))


@pytest.mark.property
def test_power_is_what_simulation_finds_for_fifty_plans(number, category, trial_of):
    rng = np.random.default_rng(71)
    for _ in range(50):
        plan = random_plan(rng, number, category, trial_of)
        effect = float(rng.uniform(0.3, 2.5))
        found = wb.plan.power(plan, sd=1, effect=effect, alpha=0.05)
        one = found[int(rng.integers(len(found)))]
        half = effect if all(power % 2 == 0 for _, power in one.term.powers) else effect / 2
        options = [[half]]
        if "tip" in one.term.factors:
            options = [[half, -half], [half, 0.0], [0.0, half]]
        share, error = min(simulated(plan, one.term, np.array(c), rng) for c in options)
        allowed = 3 * max(error, np.sqrt(one.power * (1 - one.power) / N_TRIALS))
        assert one.power == pytest.approx(share, abs=allowed + 1e-12), (plan.recipe.kind, one)


def test_detectable_at_several_scatters(numeric_trial):
    plan = wb.plan.fraction(
        numeric_trial(5), seed=1, runs=16, centre_points=3, terms="first-order"
    )
    found = wb.plan.detectable_at(plan, sds=(0.5, 1.0, 2.0), alpha=0.05, chance=0.8)
    assert [one.sd for one in found] == [0.5, 1.0, 2.0]
    for one in found:
        assert one.terms == wb.plan.detectable(plan, sd=one.sd, alpha=0.05, chance=0.8)
    sizes = [one.terms[0].difference for one in found]
    assert sizes == pytest.approx([sizes[1] / 2, sizes[1], sizes[1] * 2])


def test_detectable_at_scales_the_scatter_of_resets(number, trial_of):
    trial = trial_of(number("oven", slow=True), number("x"))
    plan = wb.plan.full(trial, seed=1, replicates=3, terms="first-order")
    (one,) = wb.plan.detectable_at(plan, sds=(2.0,), alpha=0.05, chance=0.8, setup_per_run=0.5)
    assert one.terms == wb.plan.detectable(plan, sd=2.0, setup_sd=1.0, alpha=0.05, chance=0.8)
    (ratio,) = wb.plan.detectable_at(
        plan, sds=(1.2,), alpha=0.05, chance=0.8, setup_per_run=2.0, as_ratio=True
    )
    whole = wb.plan.detectable(plan, sd=1.2, setup_sd=1.44, alpha=0.05, chance=0.8, as_ratio=True)
    assert ratio.terms[0].difference == pytest.approx(whole[0].difference)


def test_detectable_differences_have_the_chance_asked(numeric_trial, category, number, trial_of):
    tip = category("tip", "flat", "cone", "knife")
    for plan in (
        wb.plan.composite(numeric_trial(3), seed=1),
        wb.plan.full(trial_of(number("x"), tip), seed=1, replicates=2),
    ):
        for one in wb.plan.detectable(plan, sd=2.5, alpha=0.1, chance=0.85):
            again = wb.plan.power(plan, sd=2.5, effect=one.difference, alpha=0.1)
            (same,) = [p for p in again if p.term == one.term]
            assert same.power == pytest.approx(0.85, abs=1e-8)
            assert same.error_df == one.error_df


def test_blocks_cost_error_df(numeric_trial):
    trial = numeric_trial(4)
    for blocks in (1, 2, 4):
        plan = wb.plan.full(trial, seed=1, blocks=blocks, terms="first-order")
        assert wb.plan.power(plan, sd=1, effect=1, alpha=0.05)[0].error_df == 12 - blocks


def test_no_error_df_is_an_answer_with_a_reason(numeric_trial):
    plan = wb.plan.full(numeric_trial(2), seed=1)
    for one in (
        *(p.power for p in wb.plan.power(plan, sd=1, effect=1, alpha=0.05)),
        *(d.difference for d in wb.plan.detectable(plan, sd=1, alpha=0.05, chance=0.8)),
    ):
        assert isinstance(one, Unavailable)
        assert "left over for error" in one.reason


def test_slow_factors_are_judged_between_resets(number, trial_of):
    trial = trial_of(number("oven", slow=True), number("x"), number("y"))
    plan = wb.plan.full(trial, seed=1, replicates=3)
    found = {str(p.term): p for p in wb.plan.power(plan, sd=1, effect=2, alpha=0.05)}
    assert isinstance(found["oven"].power, Unavailable)
    assert "between resets" in found["oven"].power.reason
    assert found["oven"].error_df == 6 - 2
    # 24 runs, less 6 resets, less x, y, their product and their products with the oven.
    assert found["oven × x"].error_df == found["x"].error_df == 24 - 6 - 5
    stated = {
        str(p.term): p.power for p in wb.plan.power(plan, sd=1, effect=2, alpha=0.05, setup_sd=1.0)
    }
    # Six reset means of four runs: variance 1 + 1/4, so the effect of 2 has 6 (2/2)² / 1.25.
    assert stated["oven"] == pytest.approx(
        float(wb.plan.power(_six_means(numeric=number, trial_of=trial_of), sd=1.25**0.5,
                            effect=2, alpha=0.05)[0].power), abs=1e-12,
    )  # fmt: skip
    assert stated["x"] == pytest.approx(found["x"].power, abs=1e-12)
    assert stated["oven"] < stated["x"]


def _six_means(numeric, trial_of):
    return wb.plan.full(trial_of(numeric("oven")), seed=1, replicates=3)


def test_ratios_are_taken_as_logarithms(numeric_trial):
    plan = wb.plan.full(numeric_trial(3), seed=1, replicates=2)
    ratio = wb.plan.power(plan, sd=1.3, effect=1.5, alpha=0.05, as_ratio=True)
    plain = wb.plan.power(plan, sd=np.log(1.3), effect=np.log(1.5), alpha=0.05)
    assert [p.power for p in ratio] == [p.power for p in plain]
    assert (ratio[0].sd, ratio[0].effect) == (1.3, 1.5)
    found = wb.plan.detectable(plan, sd=1.3, alpha=0.05, chance=0.9, as_ratio=True)[0]
    as_log = wb.plan.detectable(plan, sd=np.log(1.3), alpha=0.05, chance=0.9)[0]
    assert found.difference == pytest.approx(np.exp(as_log.difference))


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"sd": 0.0}, "no scatter at all"),
        ({"sd": -1.0}, "sd is -1.0"),
        ({"sd": float("nan")}, "sd is nan"),
        ({"effect": float("inf")}, "effect is inf"),
        ({"effect": 0.5, "as_ratio": True, "sd": 1.2}, "ratio of 1 or more"),
        ({"alpha": 0.0}, "alpha is 0.0"),
        ({"alpha": 1.0}, "alpha is 1.0"),
        ({"setup_sd": -1.0}, "setup_sd is -1.0"),
    ],
    ids=str,
)
def test_numbers_out_of_range_are_refused(numeric_trial, options, words):
    plan = wb.plan.full(numeric_trial(3), seed=1)
    with pytest.raises(PlanError, match=words):
        wb.plan.power(plan, **({"sd": 1.0, "effect": 1.0, "alpha": 0.05} | options))


def test_a_chance_below_alpha_is_refused(numeric_trial):
    plan = wb.plan.full(numeric_trial(3), seed=1)
    with pytest.raises(PlanError, match="above alpha"):
        wb.plan.detectable(plan, sd=1, alpha=0.05, chance=0.04)
    with pytest.raises(PlanError, match="chance is 1"):
        wb.plan.detectable(plan, sd=1, alpha=0.05, chance=1)
