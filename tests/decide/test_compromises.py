"""Compromises between outcomes held against printed ones; fronts; margins."""

import numpy as np
import pytest

import workbench as wb
from workbench.define import Continuous, Measured
from workbench.files.evidence import published
from workbench.numerics.best_point import best_point, lattice
from workbench.numerics.desirability import overall, ramp
from workbench.numerics.front import joint_direction, non_dominated
from workbench.numerics.margins import Known, known_at, needed_margin

TYRE, PAPER = published("hb-desirability-tyre"), published("derringer-suich-1980")
PROPELLANT = published("hb-constrained-optimum-propellant")
DIRECTION = published("hb-multi-response-direction")
NAMES = ("y1", "y2", "y3", "y4")
FACTORS = tuple(Continuous(name=f"x{j}", low=-1, high=1, unit="", setting_sd=0) for j in (1, 2, 3))
# Limits of the paper (in the notes of both checks): larger is better, then targets.
DESIRES = (
    wb.decide.Desire(outcome="y1", low=120, full_low=170),
    wb.decide.Desire(outcome="y2", low=1000, full_low=1300),
    wb.decide.Desire(outcome="y3", low=400, full_low=500, full_high=500, high=600),
    wb.decide.Desire(outcome="y4", low=60, full_low=67.5, full_high=67.5, high=75),
)


def second_order(x):
    a, b, c = x.T
    return np.column_stack([np.ones(len(x)), a, b, c, a * a, b * b, c * c, a * b, a * c, b * c])


def compromise(check, *, linear=()):
    """Return the means of four outcomes as functions of coded points, refitted to the table."""
    table = check.tables["data"]
    x, y = second_order(table[["x1", "x2", "x3"]].to_numpy()), table[list(NAMES)].to_numpy(float)
    columns = [slice(0, 4) if name in linear else slice(None) for name in NAMES]
    found = [np.linalg.lstsq(x[:, some], y[:, i], rcond=None)[0] for i, some in enumerate(columns)]

    def means(points):
        rows = second_order(points)
        return [rows[:, some] @ one for some, one in zip(columns, found, strict=True)]

    return means


def meets(expected, found):
    for name, value in found.items():
        assert value == pytest.approx(expected[name].value, abs=expected[name].tol), name


def best_of(means, reach):
    return best_point(
        lambda points: wb.decide.desirability(DESIRES, means(points)),
        np.full(3, -reach),
        np.full(3, reach),
    )


@pytest.mark.published("Derringer and Suich 1980 (printed values from memory, refitted)")
def test_the_compromise_of_the_paper():
    means = compromise(PAPER)
    at = best_of(means, 1.633)
    meets(PAPER.expected["optimum"], dict(zip(("x1", "x2", "x3"), at, strict=True)))
    there = [float(m[0]) for m in means(at[None])]
    meets(PAPER.expected["optimum_predicted"], dict(zip(NAMES, there, strict=True)))
    each = {d.outcome: float(d.of(np.array([m]))[0]) for d, m in zip(DESIRES, there, strict=True)}
    whole = float(wb.decide.desirability(DESIRES, means(at[None]))[0])
    meets(PAPER.expected["optimum_desirability"], each | {"overall": whole})


@pytest.mark.published("NIST/SEMATECH e-Handbook, 5.5.3.2.2")
def test_the_compromise_of_the_handbook():
    means = compromise(TYRE, linear=("y3",))
    at = best_of(means, 1.0)
    expected = TYRE.expected["optimum_cube_coded_minus1_to_1"]
    whole = float(wb.decide.desirability(DESIRES, means(at[None]))[0])
    found = dict(zip(("x1", "x2", "x3"), at, strict=True)) | {"overall": whole}
    meets(expected, found)
    printed = np.array([[-0.10, 0.15, -1.0]])
    there = [float(m[0]) for m in means(printed)]
    meets(TYRE.expected["at_published_optimum_predicted"], dict(zip(NAMES, there, strict=True)))
    each = {d.outcome: float(d.of(np.array([m]))[0]) for d, m in zip(DESIRES, there, strict=True)}
    whole = float(wb.decide.desirability(DESIRES, means(printed))[0])
    meets(TYRE.expected["at_published_optimum_desirability"], each | {"overall": whole})


@pytest.mark.published("NIST/SEMATECH e-Handbook, 5.5.3.2.2; Derringer and Suich 1980")
@pytest.mark.parametrize("check", [TYRE, PAPER], ids=["Handbook", "paper"])
def test_the_models_behind_the_compromise(made, check):
    table = check.tables["data"]
    order = {"y3": "first-order"} if check is TYRE else {}
    names = {f"{a}:{b}": f"{a} × {b}" for a, b in (("x1", "x2"), ("x1", "x3"), ("x2", "x3"))}
    names |= {f"x{j}^2": f"x{j}²" for j in (1, 2, 3)} | {"Intercept": "mean"}
    off = {(one.group, one.name) for one in check.disagreements}
    coded = table[["x1", "x2", "x3"]].to_numpy()
    for name in NAMES:
        asked = [(Measured(name=name, unit=""), table[name].to_numpy(float))]
        (fit,) = made.fits_of(FACTORS, coded, asked, terms=order.get(name, "second-order"))
        found = {one.name: one.value for one in fit.coefficients}
        for term, value in check.expected[f"{name}_coef"].items():
            if (f"{name}_coef", term) not in off:
                shown = found[names.get(term, term)]
                assert shown == pytest.approx(value.value, abs=value.tol), (name, term)


@pytest.mark.published("NIST/SEMATECH e-Handbook, 5.5.3.2.3")
def test_one_outcome_best_while_two_keep_their_limits():
    table = PROPELLANT.tables["data"].set_index("response")

    def y(name, points):
        a, b = points.T
        c, row = 1 - a - b, table.loc[name]
        pure = row["x1"] * a + row["x2"] * b + row["x3"] * c
        pairs = row["x1:x2"] * a * b + row["x1:x3"] * a * c + row["x2:x3"] * b * c
        return pure + pairs + row["x1:x2:x3"] * a * b * c

    def may(points):
        blend = points.sum(axis=1) <= 1
        return blend & (y("y2", points) <= 4.5) & (y("y3", points) <= 20)

    at = best_point(lambda points: y("y1", points), np.zeros(2), np.ones(2), may=may)
    found = {"x1": at[0], "x2": at[1], "x3": 1 - at.sum()}
    meets(PROPELLANT.expected["solution"], found)
    printed = np.array([[PROPELLANT.expected["solution"][x].value for x in ("x1", "x2")]])
    there = {name: float(y(name, printed)[0]) for name in ("y1", "y2", "y3")}
    meets(PROPELLANT.expected["published_solution_responses"], there)


@pytest.mark.published("NIST/SEMATECH e-Handbook, 5.5.3.2.1")
def test_one_direction_for_two_outcomes():
    table = DIRECTION.tables["data"].set_index("response")
    rises = np.where(table["goal"] == "maximise", 1.0, -1.0)
    slopes = table[["b1", "b2"]].to_numpy() * rises[:, None]
    units = slopes / np.linalg.norm(slopes, axis=1)[:, None]
    names = {f"g{i + 1}_x{j + 1}": units[i, j] for i in range(2) for j in range(2)}
    meets(DIRECTION.expected["unit_gradients"], names)
    r_squared = table["r_squared"].to_numpy()
    priorities = r_squared / r_squared.sum()
    meets(DIRECTION.expected["priorities"], dict(zip(table.index, priorities, strict=True)))
    for given, group in (
        (np.array([0.6, 0.4]), "unit_direction_with_0.6_0.4"),
        (priorities, "unit_direction_with_unrounded_priorities"),
    ):
        way = joint_direction(slopes, given)
        meets(DIRECTION.expected[group], dict(zip(("x1", "x2"), way, strict=True)))


@pytest.mark.published("NIST/SEMATECH e-Handbook, 7.2.6.3, one-sided factors")
def test_the_needed_margin_of_a_sample_is_its_tolerance_factor():
    table = published("tolerance-factors-normal").tables["data"]
    for row in table.itertuples():
        known = Known(leverage=1 / row.n, error_df=row.n - 1)
        found = needed_margin(known, share=row.proportion, confidence=row.confidence)
        assert found == pytest.approx(row.k1_exact, abs=6e-5)


def test_what_runs_do_not_tell_has_no_margin():
    X = np.array([[1.0, -1.0], [1.0, -1.0]])
    nothing = known_at(X, np.array([1.0, 1.0]))
    assert nothing.leverage == np.inf
    assert needed_margin(nothing, share=0.9, confidence=0.9) == np.inf
    assert known_at(X, np.array([1.0, -1.0])).leverage == pytest.approx(0.5)


def test_a_kink_at_an_edge_is_found():
    at = best_point(
        lambda p: -np.abs(p[:, 0] - 0.3) - np.abs(p[:, 1] - 2.0),
        np.array([0.0, 0.0]),
        np.array([1.0, 1.0]),
    )
    np.testing.assert_allclose(at, [0.3, 1.0], atol=1e-6)
    none = best_point(
        lambda p: p[:, 0], np.zeros(1), np.ones(1), may=lambda p: np.zeros(len(p), bool)
    )
    assert none is None


def test_a_ramp_is_nothing_before_and_full_beyond():
    y = np.array([9.0, 10.0, 15.0, 20.0, 30.0])
    np.testing.assert_allclose(ramp(y, nothing=10, full=20), [0, 0, 0.5, 1, 1])
    np.testing.assert_allclose(ramp(y, nothing=20, full=10, weight=2), [1, 1, 0.25, 0, 0])
    both = overall(np.array([[0.25, 0.0], [1.0, 1.0]]), np.array([1.0, 1.0]))
    np.testing.assert_allclose(both, [0.5, 0.0])


def test_the_front_is_what_brute_force_finds():
    rng = np.random.default_rng(4)
    values = np.round(rng.uniform(0, 1, (200, 3)), 1)
    beaten = [
        any((other >= one).all() and (other > one).any() for other in values) for one in values
    ]
    assert (non_dominated(values) == ~np.array(beaten)).all()
    assert len(lattice(np.zeros(2), np.array([1.0, 0.0]), 5)) == 5
