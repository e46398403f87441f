"""The level point, the axes and the way up, against the e-Handbook's worked path."""

import numpy as np
import pandas as pd
import pytest

from workbench.define.factors import Categorical, Continuous
from workbench.errors import FitError, Unavailable
from workbench.files.evidence import published
from workbench.fit import level_point, outcome, steepest_ascent
from workbench.numerics.quadratic_surface import cone

CHECK = published("hb-steepest-ascent-second-order")
FIRST = (
    Continuous(name="temperature", low=170, high=230, unit="°C", setting_sd=0),
    Continuous(name="time", low=150, high=250, unit="min", setting_sd=0),
)
SECOND = (
    Continuous(name="temperature", low=140, high=200, unit="°C", setting_sd=0),
    Continuous(name="time", low=300, high=400, unit="min", setting_sd=0),
)


@pytest.fixture
def first(record_of):
    table = CHECK.tables["data"].query("stage == 'first'").reset_index(drop=True)
    return outcome(record_of(table, factors=FIRST, outcome="y"), "y", terms="first-order")


@pytest.fixture
def second(record_of):
    table = CHECK.tables["data"].query("stage != 'first'").reset_index(drop=True)
    names = dict(zip(("x1", "x2"), ("temperature", "time"), strict=True))
    table = table.drop(columns=["temperature", "time"]).rename(columns=names)
    coded = tuple(
        Continuous(name=one.name, low=-1, high=1, unit="", setting_sd=0) for one in SECOND
    )
    return outcome(record_of(table, factors=coded, outcome="y"), "y", terms="second-order")


def meets(group, ours):
    for name, value in ours.items():
        wanted = CHECK.expected[group][name]
        assert value == pytest.approx(wanted.value, abs=wanted.tol), name


@pytest.mark.published(source="NIST/SEMATECH e-Handbook 5.5.3.1.1")
class TestTheWayUp:
    def test_direction(self, first):
        way = steepest_ascent(first, levels={}, rises=True)
        meets(
            "steepest_ascent",
            dict(zip(("unit_direction_x1", "unit_direction_x2"), way.direction, strict=True)),
        )

    def test_step_of_fifty_minutes(self, first):
        way = steepest_ascent(first, levels={}, rises=True, step=("time", 50), n_steps=1)
        meets("steepest_ascent", {"temperature_step_for_50_minutes": np.diff(way.path[:, 0])[0]})
        assert np.diff(way.path[:, 1])[0] == pytest.approx(50)

    def test_cone_of_slopes_and_error_as_printed(self):
        # The print takes F with 6 degrees of freedom although its error has 5.
        slopes = np.array([-1.2925, 11.14])
        expected = CHECK.expected["confidence_cone_95"]
        spread = expected["variance_of_a_coefficient"].value * np.eye(2)
        for df in (5, 6):
            found = cone(slopes, spread, error_df=df, confidence=0.95)
            meets("confidence_cone_95", {f"excluded_fraction_{df}_df": found.excluded})

    def test_cone_of_the_fit_pools_curvature_into_error(self, first):
        # 9 runs less 3 columns: mean square (262.2893 + 8.2733) / 6 of the same table.
        way = steepest_ascent(first, levels={}, rises=True)
        spread = (262.2893 + 8.2733) / 6 / 4 * np.eye(2)
        again = cone(np.array([-1.2925, 11.1425]), spread, error_df=6, confidence=0.95)
        assert way.cone.excluded == pytest.approx(again.excluded, abs=1e-5)

    def test_descent_is_the_other_way(self, first):
        up, down = (steepest_ascent(first, levels={}, rises=one) for one in (True, False))
        np.testing.assert_allclose(up.direction, -down.direction)

    def test_a_step_in_an_unknown_factor_is_refused(self, first):
        with pytest.raises(FitError, match="makes no path"):
            steepest_ascent(first, levels={}, rises=True, step=("pressure", 1.0))


@pytest.mark.published(source="NIST/SEMATECH e-Handbook 5.5.3.1.4")
class TestTheLevelPoint:
    def test_where(self, second):
        found = level_point(second, levels={})
        x1, x2 = found.at
        ours = {"x1_exact": x1, "x2_exact": x2, "predicted": found.value}
        meets("stationary_point", ours)
        assert found.shape == "top"
        assert found.is_inside

    def test_axes(self, second):
        axes = level_point(second, levels={}).axes
        meets(
            "canonical",
            {
                "eigenvalue_1": axes.eigenvalues[0],
                "eigenvalue_2": axes.eigenvalues[1],
                "abs_eigenvector_1_x1": abs(axes.directions[0, 0]),
                "abs_eigenvector_1_x2": abs(axes.directions[1, 0]),
            },
        )

    def test_the_point_lies_in_its_own_region(self, second):
        found = level_point(second, levels={})
        grid = 2 / 20
        assert (found.possible_low <= found.at + grid).all()
        assert (found.at - grid <= found.possible_high).all()


def test_a_plane_has_no_level_point(first):
    found = level_point(first, levels={})
    assert isinstance(found, Unavailable)
    assert "does not bend" in found.reason


def test_each_level_has_its_own_surface(record_of):
    rng = np.random.default_rng(3)
    x = np.tile([-1.0, 0.0, 1.0], 6)
    table = pd.DataFrame({"x": x, "kind": ["a", "b"] * 9})
    top = np.where(table["kind"] == "a", 0.3, -0.4)
    table["y"] = -((x - top) ** 2) + 1e-6 * rng.standard_normal(18)
    factors = (
        Continuous(name="x", low=-1, high=1, unit="", setting_sd=0),
        Categorical(name="kind", levels=("a", "b")),
    )
    fit = outcome(
        record_of(table, factors=factors, outcome="y"), "y", terms="x, kind, x*kind, x^2"
    )
    for level, where in (("a", 0.3), ("b", -0.4)):
        found = level_point(fit, levels={"kind": level})
        np.testing.assert_allclose(found.at, [where], atol=1e-4)
    with pytest.raises(FitError, match="No level of kind"):
        level_point(fit, levels={})
