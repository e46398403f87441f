"""Aliases: published sets, sizes and signs, in the names of the user."""

import numpy as np
import pytest

import workbench as wb
from workbench.define import Settings, from_coded, parse_terms, preset, term
from workbench.errors import PlanError

CHECK = wb.files.published("two-level-fractions")


def listed(alias):
    return {str(one): size for one, size in alias.with_terms}


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.3.3.8.1, the sixteenth fraction of seven")
def test_two_factor_aliases_of_the_saturated_eight_runs(numeric_trial):
    trial = numeric_trial(7, tuple("1234567"))
    plan = wb.plan.fraction(trial, seed=1, runs=8, terms="first-order")
    printed = CHECK.expected["resolution3_2^(7-4)_two_factor_aliases"]
    pairs = parse_terms("interactions", trial.factors)
    found = wb.plan.aliases(plan.terms, plan.settings, pairs)
    for alias in found[1:]:
        expected = {f"{a} × {b}": 1.0 for a, b in printed[f"x{alias.term}"].value}
        assert {k: v for k, v in listed(alias).items() if "×" in k} == pytest.approx(expected)


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.4.7.2, resolution V")
def test_catapult_products_of_two_are_mixed_with_three_only(numeric_trial):
    trial = numeric_trial(5, ("height", "start", "bands", "length", "stop"))
    plan = wb.plan.fraction(trial, seed=1, runs=16, terms="interactions")
    for alias in wb.plan.aliases(plan.terms, plan.settings)[1:]:
        orders = {one.order for one, _ in alias.with_terms}
        assert orders == (set() if alias.term.order == 1 else {3})
        used = set(alias.term.factors)
        assert all(used.isdisjoint(one.factors) for one, _ in alias.with_terms)


def test_the_sign_of_an_alias_is_that_of_the_runs(numeric_trial):
    trial = numeric_trial(3, tuple("abc"))
    corners = np.array([[-1, -1, -1], [1, 1, -1], [1, -1, 1], [-1, 1, 1.0]])
    runs = from_coded(trial.factors, corners)
    terms = preset("first-order", trial.factors)
    against = parse_terms("interactions", trial.factors)
    found = {str(a.term): listed(a) for a in wb.plan.aliases(terms, runs, against)}
    assert found["c"]["a × b"] == pytest.approx(-1)
    flipped = from_coded(trial.factors, corners * np.array([1, 1, -1]))
    found = {str(a.term): listed(a) for a in wb.plan.aliases(terms, flipped, against)}
    assert found["c"]["a × b"] == pytest.approx(1)


@pytest.mark.published("Plackett and Burman 1946, Biometrika 33: partial aliases of ±1/3")
def test_partial_aliases_have_their_size(numeric_trial):
    row = np.array([1, 1, -1, 1, 1, 1, -1, -1, -1, 1, -1])
    array = np.vstack([np.roll(row, i) for i in range(11)] + [-np.ones(11, dtype=int)])
    trial = numeric_trial(11, tuple(f"f{i}" for i in range(1, 12)))
    runs = from_coded(trial.factors, array.astype(float))
    terms = preset("first-order", trial.factors)
    pairs = parse_terms("f1, f2, f1 * f2", trial.factors)
    only = wb.define.Terms(terms=pairs.terms[2:], asked="f1 * f2")
    sizes = {str(a.term): listed(a) for a in wb.plan.aliases(terms, runs, only)}
    assert "f1 × f2" not in sizes["f1"]
    assert "f1 × f2" not in sizes["f2"]
    others = [abs(sizes[f"f{i}"]["f1 × f2"]) for i in range(3, 12)]
    assert others == pytest.approx([1 / 3] * 9)


def test_centre_points_give_the_squares_one_joint_line(numeric_trial):
    trial = numeric_trial(2, ("bead volume", "dwell"))
    plan = wb.plan.full(trial, seed=1, centre_points=4)
    squares = parse_terms("second-order", trial.factors)
    bead, dwell = (term((name, 2), factors=trial.factors) for name in ("bead volume", "dwell"))
    assert wb.plan.cannot_be_told_apart(squares, plan.settings) == ((bead, dwell),)
    mean = wb.plan.aliases(plan.terms, plan.settings)[0]
    assert str(mean) == "mean + 0.5 (bead volume²) + 0.5 (dwell²)"


def test_without_centre_points_squares_are_the_mean(numeric_trial):
    trial = numeric_trial(2, ("a", "b"))
    plan = wb.plan.full(trial, seed=1)
    squares = parse_terms("second-order", trial.factors)
    groups = wb.plan.cannot_be_told_apart(squares, plan.settings)
    assert [[str(one) for one in group] for group in groups] == [["mean", "a²", "b²"]]


def test_categories_have_aliases_too(number, category, trial_of):
    trial = trial_of(number("x"), category("tip", "flat", "cone", "knife"))
    whole = wb.plan.full(trial, seed=1)
    terms = preset("first-order", trial.factors)
    assert all(
        not a.with_terms or a.term.order == 0 for a in wb.plan.aliases(terms, whole.settings)
    )
    uneven = Settings(factors=trial.factors, values=whole.settings.values[:5])
    found = wb.plan.aliases(terms, uneven)
    assert any(str(one) == "x × tip" for a in found for one, _ in a.with_terms)


def test_terms_that_are_one_column_have_no_aliases_but_a_reason(numeric_trial):
    trial = numeric_trial(3, tuple("abc"))
    plan = wb.plan.fraction(trial, seed=1, resolution=3, terms="first-order")
    both = parse_terms("a, b, c, a * b", trial.factors)
    with pytest.raises(PlanError, match="cannot tell apart: c and a × b"):
        wb.plan.aliases(both, plan.settings)
