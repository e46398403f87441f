"""Variances at zero, published strata tables, and what the rows cannot tell."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.files.evidence import published
from workbench.numerics.kenward_roger import kenward_roger_each, kenward_roger_joint
from workbench.numerics.mixed_model import mixed_solution
from workbench.numerics.mixed_rule import hangs_on, ruled_fit
from workbench.numerics.random_terms import random_terms
from workbench.numerics.reml import reml
from workbench.numerics.satterthwaite import satterthwaite_each, satterthwaite_joint
from workbench.numerics.stratum_df import stratum_df
from workbench.numerics.variance_tests import level_test

ZERO = "mixed_zero_variance"


def agree(found, group):
    for name, one in group.items():
        assert found[name] == pytest.approx(one.value, abs=one.tol), name


@pytest.mark.reference(library="lme4 and pbkrtest on R 4.2.2")
def test_a_bounded_component_at_zero(mixed):
    case = mixed.Case(ZERO)
    expected, whole = case.check.expected, np.eye(11)
    agree(case.variances(), expected["bounded_reml_variance"])
    assert case.log_likelihood() == pytest.approx(-40.9505128775, abs=1e-9)
    roger = kenward_roger_each(case.solution, whole)
    assert mixed.digits(roger.estimates, mixed.values(expected["bounded_coef"])) > 7
    assert mixed.digits(roger.std_errors, mixed.values(expected["bounded_se_kenward_roger"])) > 7
    assert mixed.digits(roger.df, mixed.values(expected["bounded_df_kenward_roger"])) > 8
    for term, rows in case.rows.items():
        if term == "Intercept":
            continue
        found = kenward_roger_joint(case.solution, rows)
        wanted = expected["bounded_term_test_kenward_roger"]
        assert mixed.digits(found.statistic, wanted[f"{term}|F"].value) > 6
        assert mixed.digits(found.error_df, wanted[f"{term}|ddf"].value) > 6


@pytest.mark.reference(library="lmerTest on R 4.2.2")
def test_a_component_at_zero_left_out_is_least_squares(mixed):
    case = mixed.Case(ZERO, random={})
    expected = case.check.expected
    other = satterthwaite_each(case.solution, np.eye(11))
    assert mixed.digits(other.df, mixed.values(expected["bounded_df_satterthwaite"])) > 8
    for term, rows in case.rows.items():
        if term == "Intercept":
            continue
        found = satterthwaite_joint(case.solution, rows)
        wanted = expected["bounded_term_test_satterthwaite"]
        assert mixed.digits(found.statistic, wanted[f"{term}|F"].value) > 6
        assert found.p == pytest.approx(wanted[f"{term}|p"].value, rel=1e-5, abs=1e-9)


@pytest.mark.reference(library="nlme (compound symmetry) and aov on R 4.2.2")
def test_a_component_below_zero_gives_the_strata_tests(mixed):
    case = mixed.Case(ZERO, negative=True)
    expected = case.check.expected
    agree(case.variances(), expected["negative_allowed_variance"])
    assert case.log_likelihood() == pytest.approx(-40.6352545632, abs=1e-9)
    roger = kenward_roger_each(case.solution, np.eye(11))
    assert mixed.digits(roger.estimates, mixed.values(expected["negative_allowed_coef"])) > 6
    assert mixed.digits(roger.std_errors, mixed.values(expected["negative_allowed_se"])) > 6
    wanted = expected["negative_allowed_tests"]
    for term, rows in case.rows.items():
        if term == "Intercept":
            continue
        found = kenward_roger_joint(case.solution, rows)
        assert mixed.digits(found.statistic, wanted[f"{term}|F"].value) > 6
        assert mixed.digits(found.error_df, wanted[f"{term}|ddf"].value) > 8


def test_the_rule_keeps_the_unbounded_fit_where_it_is_sound(mixed):
    case = mixed.Case(ZERO)
    found = ruled_fit(case.terms, case.y, list(case.rows.values()))
    assert found.reason == ""
    assert found.below_zero.tolist() == [True]
    assert found.used.tolist() == [True]
    assert found.fit.ratios[0] < 0
    assert found.bounded.ratios[0] == 0


def bars(mixed, drop=()):
    data = published("split-plot-coated-bars").tables["data"].drop(index=list(drop))
    heat = mixed.sum_coded(data["temperature"])
    coating = mixed.sum_coded(data["coating"])
    both = [a * b for a in heat for b in coating]
    X = np.column_stack([np.ones(len(data)), *heat, *coating, *both])
    whole = np.eye(12)
    rows = {"temperature": whole[1:3], "coating": whole[3:6], "temperature:coating": whole[6:]}
    return X, data["y"].to_numpy(float), mixed.level_numbers(data, "heat"), rows


@pytest.mark.published(source="Box, Hunter and Hunter, Statistics for Experimenters, split plots")
def test_coated_bars(mixed):
    X, y, heat, rows = bars(mixed)
    expected = published("split-plot-coated-bars").expected
    found = ruled_fit(random_terms(X, [heat]), y, list(rows.values()))
    assert found.reason == ""
    agree(
        dict(zip(["heat", "residual"], found.fit.variances, strict=True)),
        expected["reml_variance"],
    )
    tests = {term: kenward_roger_joint(found.solution, one) for term, one in rows.items()}
    for group in ("F", "F_exact"):
        agree({term: one.statistic for term, one in tests.items()}, expected[group])
    agree({term: one.p for term, one in tests.items()}, expected["p"])
    assert tests["temperature"].error_df == pytest.approx(3, rel=1e-8)
    assert tests["coating"].error_df == pytest.approx(9, rel=1e-8)
    other = satterthwaite_joint(found.solution, rows["temperature"])
    assert other.error_df == pytest.approx(3, rel=1e-6)
    assert other.statistic == pytest.approx(tests["temperature"].statistic, rel=1e-6)


@pytest.mark.published(source="Yates 1935; Venables and Ripley; computed with R")
def test_oats_whole_and_with_plots_lost(mixed):
    check = published("split-plot-oats")
    expected, data = check.expected, check.tables["data"]
    lost = data[data["in_unbalanced"] == 1]
    variety = [(lost["Variety"] == one).to_numpy(float) for one in ("Marvellous", "Victory")]
    X = np.column_stack([np.ones(len(lost)), *variety, lost["nitro"]])
    groups = {"block": "Block", "block:variety": "Block Variety"}
    terms = random_terms(X, [mixed.level_numbers(lost, one) for one in groups.values()])
    y = lost["yield"].to_numpy(float)
    fit = reml(terms, y, negative=False)
    agree(
        dict(zip([*groups, "residual"], fit.variances, strict=True)),
        expected["unbalanced_reml_variance"],
    )
    likelihood = fit.log_likelihood - 0.5 * np.linalg.slogdet(X.T @ X)[1]
    wanted = expected["unbalanced_reml_log_likelihood"]["value"]
    assert likelihood == pytest.approx(wanted.value, abs=wanted.tol)
    solution = mixed_solution(terms, y, fit)
    names = ["Intercept", "Marvellous", "Victory", "nitro"]
    roger = kenward_roger_each(solution, np.eye(4))
    other = satterthwaite_each(solution, np.eye(4))
    plain = np.sqrt(np.diag(solution.covariance))
    for group, numbers in {
        "coef": roger.estimates,
        "se_plain": plain,
        "se_kenward_roger": roger.std_errors,
        "df_kenward_roger": roger.df,
        "p_kenward_roger": roger.p,
        "df_satterthwaite": other.df,
        "p_satterthwaite": other.p,
    }.items():
        agree(dict(zip(names, numbers, strict=True)), expected[f"unbalanced_{group}"])
    rows = np.eye(4)[1:3]
    joint, fallback = kenward_roger_joint(solution, rows), satterthwaite_joint(solution, rows)
    nitro = kenward_roger_joint(solution, np.eye(4)[3:])
    agree(
        {
            "F_variety_kenward_roger": joint.statistic,
            "df_variety_kenward_roger": joint.error_df,
            "F_variety_satterthwaite": fallback.statistic,
            "df_variety_satterthwaite": fallback.error_df,
            "F_nitro_kenward_roger": nitro.statistic,
            "df_nitro_kenward_roger": nitro.error_df,
        },
        expected["unbalanced_tests"],
    )


@pytest.mark.published(source="Yates 1935, complete oats trial; strata table computed with R")
def test_oats_complete(mixed):
    case, expected = mixed.Case("mixed_oats"), published("split-plot-oats").expected
    terms = {"variety": "variety", "nitrogen": "N", "variety:nitrogen": "N:variety"}
    tests = {key: kenward_roger_joint(case.solution, case.rows[one]) for key, one in terms.items()}
    agree({key: one.statistic for key, one in tests.items()}, expected["strata_F"])
    agree({key: one.p for key, one in tests.items()}, expected["strata_p"])
    agree(
        {key: one.error_df for key, one in tests.items()}, expected["denominator_df_both_methods"]
    )
    found = dict(
        zip(["block:variety", "block", "residual"], case.fit.variances[[1, 0, 2]], strict=True)
    )
    agree(found, expected["reml_variance"])
    agree({key: one**0.5 for key, one in found.items()}, expected["reml_sd"])


@pytest.mark.published(source="NIST/SEMATECH e-Handbook 3.2.3.3; Sokal and Rohlf box 10.1")
@pytest.mark.parametrize(
    ("table", "set_name", "outer", "inner", "error_name"),
    [
        ("data", "first", "machine", "operator", "operator_over_error_exact"),
        ("data_second", "second", "group", "subgroup", "subgroup_over_error"),
    ],
)
def test_nested_components(mixed, table, set_name, outer, inner, error_name):
    check = published("hb-nested-variance-components")
    data, expected = check.tables[table], check.expected
    levels = [mixed.level_numbers(data, outer), mixed.level_numbers(data, f"{outer} {inner}")]
    y, X = data["y"].to_numpy(float), np.ones((len(data), 1))
    found = ruled_fit(random_terms(X, levels), y)
    components = dict(zip([outer, inner, "error"], found.fit.variances, strict=True))
    components["operator_unrestricted"] = components.get("operator", 0.0)
    for name, one in expected[f"{set_name}_variance_components"].items():
        assert components[name] == pytest.approx(one.value, rel=1e-6), name
    upper = level_test(X, y, levels=levels, which=0)
    lower = level_test(X, y, levels=levels, which=1)
    ratios = expected[f"{set_name}_F"]
    one = ratios[f"{outer}_over_{inner}"]
    assert upper.statistic == pytest.approx(one.value, abs=one.tol)
    one = ratios[error_name]
    assert lower.statistic == pytest.approx(one.value, abs=one.tol)
    p = expected[f"{set_name}_p"]
    assert upper.p == pytest.approx(p[outer].value, abs=p[outer].tol)
    if set_name == "second":
        assert lower.p == pytest.approx(p["subgroup_9_12_df"].value, rel=1e-6)
        assert (lower.df, round(lower.error_df, 6)) == (9, 12)
    else:
        assert found.below_zero.tolist() == [False, True]


def test_one_heat_a_temperature_leaves_the_temperatures_without_an_error(mixed):
    X, y, heat, _ = bars(mixed, drop=range(12, 24))
    terms = random_terms(X, [heat])
    assert terms.estimable.tolist() == [False]
    found = ruled_fit(terms, y)
    assert found.used.tolist() == [False]
    assert found.status == "no error df"


def test_what_hangs_on_a_variance_nobody_saw(mixed):
    X, y, heat, _ = bars(mixed, drop=range(12, 24))
    plain = X[:, :6]
    terms = random_terms(plain, [heat])
    found = ruled_fit(terms, y)
    assert found.status == "converged"
    each = np.eye(6)
    assert hangs_on(terms, found.fit, each).tolist() == [True] * 3 + [False] * 3


def test_one_row_a_level_hides_nothing():
    rng = np.random.default_rng(3)
    X, y = np.column_stack([np.ones(8), rng.normal(size=8)]), rng.normal(size=8)
    terms = random_terms(X, [np.arange(8)])
    found = ruled_fit(terms, y)
    assert found.status == "converged"
    assert found.used.tolist() == [False]
    assert not hangs_on(terms, found.fit, np.eye(2)).any()


@pytest.mark.parametrize(
    ("y", "status"),
    [
        (np.full(12, 3.7), "no scatter"),
        (np.repeat([1.0, 5.0, 2.0, 9.0], 3), "no residual"),
    ],
)
def test_outcomes_without_scatter(y, status):
    X = np.column_stack([np.ones(12), np.tile([-1.0, 0, 1], 4)])
    found = ruled_fit(random_terms(X, [np.repeat(np.arange(4), 3)]), y)
    assert found.status == status
    assert found.solution is None


def test_one_setup_only():
    X = np.column_stack([np.ones(6), [-1.0, 1, -1, 1, -1, 1]])
    y = np.array([1.0, 2.0, 1.5, 2.5, 1.2, 2.1])
    terms = random_terms(X, [np.zeros(6, dtype=int)])
    found = ruled_fit(terms, y)
    assert terms.estimable.tolist() == [False]
    assert hangs_on(terms, found.fit, np.eye(2)).tolist() == [True, False]


@pytest.mark.property
@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), ratio=st.sampled_from([0.0, 0.3, 2.0, 100.0]))
def test_balanced_plans_give_the_strata_table(mixed, seed, ratio):
    """In balanced split plots the rule gives F on 4 and 17 df with the two mean squares."""
    rng = np.random.default_rng(seed)
    case = mixed.Case("mixed_splitplot_8wp")
    wp = np.repeat(np.arange(8), 4)
    y = case.X @ rng.normal(size=11) + rng.normal(size=32)
    y = y + np.sqrt(ratio) * rng.normal(size=8)[wp]
    found = ruled_fit(case.terms, y, list(case.rows.values()))
    if found.reason:
        return
    whole_plot = case.X[:, [0, 1, 2, 5]]
    means = np.array([y[wp == one].mean() for one in range(8)])
    rss = np.linalg.lstsq(whole_plot[::4], means)[1][0]
    estimate = found.solution.estimates[1]
    test = kenward_roger_joint(found.solution, case.rows["A"])
    assert test.statistic == pytest.approx(8 * estimate**2 / (rss / 4), rel=1e-5)
    assert test.error_df == pytest.approx(4, rel=1e-5)


@pytest.mark.property
@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    unit=st.sampled_from([1e-6, 1.0, 1e5]),
    shift=st.floats(-50, 50),
)
def test_units_order_and_shift_change_nothing(mixed, seed, unit, shift):
    rng = np.random.default_rng(seed)
    case = mixed.Case("mixed_splitplot_lost_runs")
    wp = mixed.level_numbers(case.check.tables["data"], "wp")
    y = case.y + rng.normal(size=case.y.size)
    order = rng.permutation(y.size)
    one = ruled_fit(case.terms, y)
    two = ruled_fit(
        random_terms(case.X[order], [rng.permutation(8)[wp[order]]]), unit * (y[order] + shift)
    )
    assert one.reason == two.reason
    np.testing.assert_allclose(
        two.fit.variances, unit**2 * one.fit.variances, rtol=1e-5, atol=1e-9 * unit**2
    )
    a = kenward_roger_each(one.solution, np.eye(11))
    b = kenward_roger_each(two.solution, np.eye(11))
    np.testing.assert_allclose(b.df, a.df, rtol=1e-4)
    np.testing.assert_allclose(
        b.estimates[1:], unit * a.estimates[1:], rtol=1e-5, atol=1e-9 * unit
    )


def test_levels_left_for_error(mixed):
    X, _, heat, rows = bars(mixed)
    terms = random_terms(X, [heat])
    left = {name: stratum_df(terms, (one != 0).any(axis=0)) for name, one in rows.items()}
    assert left == {"temperature": 3, "coating": None, "temperature:coating": None}
    oats = mixed.Case("mixed_oats")
    left = {
        name: stratum_df(oats.terms, (one != 0).any(axis=0)) for name, one in oats.rows.items()
    }
    # The mean changes only between blocks, varieties between plots of a block.
    assert left == {"Intercept": 5, "N": None, "variety": 10, "N:variety": None}
