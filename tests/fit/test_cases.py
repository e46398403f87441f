"""Field cases at the level of the fit: public practice data, right answers recomputed."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from workbench.define.factors import Categorical, Component, Continuous, Stepped
from workbench.define.outcomes import Measured
from workbench.define.settings import settings
from workbench.errors import Unavailable
from workbench.fit import crossings, outcome, reading

CASES = Path(__file__).parents[1] / "cases"


def table(case: str, file: str = "data.csv") -> pd.DataFrame:
    return pd.read_csv(CASES / case / file, encoding="utf-8-sig")


def test_of(fit, name):
    return next(one for one in fit.tests if str(one.term) == name)


test_of.__test__ = False


class TestTwoAdhesives:
    """Interaction before averages; straight lines cross at 91.7 °C; 120 °C is outside."""

    @pytest.fixture
    def adhesives(self, record_of):
        temperature = Continuous(name="Temperatura", low=60, high=100, unit="°C", setting_sd=None)
        return record_of(
            table("05_two_adhesives_cure_temp"),
            factors=["Pegamento", temperature],
            outcome="Y",
        )

    @pytest.fixture
    def lines(self, adhesives):
        return outcome(adhesives, "Y", terms="interactions")

    def test_lines_and_their_scatter(self, lines):
        level = {one.name: one.value for one in lines.coefficients}
        first, second = (
            (
                level["mean"] + s * level["Pegamento [A1]"],
                level["Temperatura"] + s * level["Pegamento [A1] × Temperatura"],
            )
            for s in (1, -1)
        )
        np.testing.assert_allclose(first, (3.45, 0.725), atol=5e-4)
        np.testing.assert_allclose(second, (2.97, 1.545), atol=5e-4)
        assert lines.residual_variance**0.5 == pytest.approx(0.236, abs=5e-4)
        assert lines.r_squared == pytest.approx(0.965, abs=5e-4)

    def test_straight_lines_suffice(self, lines):
        assert lines.lack_of_fit.p == pytest.approx(0.60, abs=5e-3)

    def test_temperature_as_a_label_gives_the_usual_table(self, record_of):
        data = table("05_two_adhesives_cure_temp").astype({"Temperatura": str})
        fit = outcome(
            record_of(data, factors=["Pegamento", "Temperatura"], outcome="Y"),
            "Y",
            terms="interactions",
        )
        for name, df, statistic, p in (
            ("Pegamento", 1, 10.99, 0.016),
            ("Temperatura", 2, 82.4, 4.3e-5),
            ("Pegamento × Temperatura", 2, 10.87, 0.010),
        ):
            one = test_of(fit, name)
            assert (one.df, one.error_df) == (df, 6)
            assert one.statistic == pytest.approx(statistic, rel=1e-3)
            assert one.p == pytest.approx(p, rel=0.03)
        assert fit.residual_variance == pytest.approx(0.0629, abs=5e-5)

    def test_the_lines_cross_inside(self, lines):
        (one,) = crossings(lines)
        assert one.value == pytest.approx(91.7, abs=0.05)
        assert one.inside

    def test_reading_speaks_of_the_interaction_first(self, lines):
        said = reading(lines)
        assert "91.7 °C" in said
        assert said.index("depends on") < said.index("from 60 to 100 °C")

    def test_predictions_for_one_part(self, lines):
        points = settings(
            lines.settings.factors,
            [
                {"Pegamento": "A1", "Temperatura": 100},
                {"Pegamento": "A2", "Temperatura": 100},
                {"Pegamento": "A1", "Temperatura": 120},
                {"Pegamento": "A2", "Temperatura": 120},
            ],
        )
        found = lines.predict(points, confidence=0.95)
        np.testing.assert_allclose(found.mean, [4.18, 4.51, 4.90, 6.06], atol=6e-3)
        np.testing.assert_allclose(found.new_part_low[:2], [3.53, 3.87], atol=6e-3)
        np.testing.assert_allclose(found.new_part_high[:2], [4.82, 5.16], atol=6e-3)
        assert found.inside.tolist() == [True, True, False, False]


class TestSaturatedMould:
    """No error degrees of freedom: a ranking with a noise band, no p-value."""

    @pytest.fixture
    def mould(self, record_of):
        data = table("08_mould_length_saturated")
        names = ["mould_temp_C", "cool_time_s", "hold_press_bar"]
        record = record_of(data, factors=names, outcome=Measured(name="length_mm", unit="mm"))
        return outcome(record, "length_mm", terms=("mould_temp_C * cool_time_s * hold_press_bar"))

    def test_effects(self, mould):
        expected = {
            "hold_press_bar": 0.3375,
            "cool_time_s": 0.1225,
            "mould_temp_C": -0.0925,
            "mould_temp_C × cool_time_s": -0.0575,
            "cool_time_s × hold_press_bar": 0.0425,
            "mould_temp_C × hold_press_bar": 0.0275,
            "mould_temp_C × cool_time_s × hold_press_bar": 0.0225,
        }
        found = {one.name: one.value for one in mould.effects}
        assert found == pytest.approx(expected, abs=1e-9)

    def test_pseudo_error_and_margins(self, mould):
        pseudo = mould.pseudo_error
        assert pseudo.value == pytest.approx(0.0750, abs=1e-9)
        # The case states the margins of the 1989 paper (t on 7/3 df); simulated ones are smaller.
        assert pseudo.margin_by_t == pytest.approx(0.2823, abs=5e-5)
        assert pseudo.simultaneous_margin_by_t == pytest.approx(0.6756, abs=5e-5)
        assert pseudo.margin == pytest.approx(2.2953 * 0.075, rel=0.005)
        assert pseudo.standing_out == ("hold_press_bar",)
        assert pseudo.simultaneous_margin > 0.3375

    def test_nothing_is_tested(self, mould):
        assert mould.error_df == 0
        for one in (*mould.tests, *mould.coefficients, *mould.effects):
            assert isinstance(one.p, Unavailable)
        assert isinstance(mould.adjusted_r_squared, Unavailable)
        assert isinstance(mould.predict(mould.settings, confidence=0.95), Unavailable)

    def test_reading_says_what_four_more_runs_buy(self, mould):
        said = reading(mould)
        assert "no p-values" in said
        assert "4 more runs" in said
        assert "hold_press_bar stands out" in said


class TestPrintedBars:
    """The interaction's p depends on the scale; the action does not."""

    @pytest.fixture
    def bars(self, record_of):
        infill, speed = "Infill percentage", "Print speed (mm/min)"
        factors = [
            Categorical(name=infill, levels=("30", "80")),
            Categorical(name=speed, levels=("1500", "2000", "2500")),
        ]
        data = table("13_printed_bars_infill_speed").astype({infill: str, speed: str})
        stress = Measured(name="Max Stress", unit="MPa")
        record = record_of(data, factors=factors, outcome=stress)
        return outcome(record, "Max Stress", terms="interactions")

    def test_p_by_scale(self, bars):
        p = {check.scale: [value for _, value in check.p] for check in bars.scale_checks}
        assert p["as read"][0] < 1e-13
        assert p["as read"][1] == pytest.approx(0.0032, abs=5e-5)
        assert p["as read"][2] == pytest.approx(0.0286, abs=5e-5)
        assert p["log"][2] == pytest.approx(0.076, abs=5e-4)
        assert p["inverse"][2] == pytest.approx(0.254, abs=5e-4)
        assert "depends on the scale" in reading(bars)

    def test_best_power(self, bars):
        family = bars.power_family
        assert family.best == pytest.approx(-1.30, abs=5e-3)
        # Stated as −2.50 to −0.15: the outermost points inside on a grid of 0.05. The crossings
        # themselves are at −2.501 and −0.113.
        assert family.low == pytest.approx(-2.501, abs=1e-3)
        assert family.high == pytest.approx(-0.113, abs=1e-3)

    def test_cell_means(self, bars):
        rows = [
            {"Infill percentage": i, "Print speed (mm/min)": s}
            for i in ("30", "80")
            for s in ("1500", "2000", "2500")
        ]
        points = settings(bars.settings.factors, rows)
        found = bars.predict(points, confidence=0.95)
        np.testing.assert_allclose(
            found.mean, [12.21, 11.91, 11.77, 22.48, 22.16, 20.45], atol=6e-3
        )


class TestDriftedSettings:
    """Settings as run are fitted by default, coded by the plan; the lost run is named."""

    FACTORS = (
        Continuous(name="T", low=120, high=160, unit="°C", setting_sd=None),
        Continuous(name="P", low=40, high=80, unit="bar", setting_sd=None),
        Continuous(name="C", low=15, high=30, unit="g/L", setting_sd=None),
    )
    NAMES = ("T", "P", "C")

    def test_as_run(self, record_of):
        record = record_of(
            table("14_drifted_settings_missing_run"), factors=self.FACTORS, outcome="Y"
        )
        fit = outcome(record, "Y")
        np.testing.assert_allclose(fit.estimates, [50.378, 5.464, 10.184, 1.034], atol=6e-4)
        p = [one.p for one in fit.coefficients[1:]]
        stated = ((0.0056, 6e-5), (0.0001, 6e-5), (0.45, 6e-3))
        for found, (value, last_digit) in zip(p, stated, strict=True):
            assert found == pytest.approx(value, abs=last_digit)
        assert fit.residual_variance**0.5 == pytest.approx(3.669, abs=5e-4)
        assert fit.r_squared == pytest.approx(0.910, abs=5e-4)

    def test_as_planned(self, record_of):
        planned = table("14_drifted_settings_missing_run", "planned.csv")
        record = record_of(planned, factors=self.FACTORS, outcome="Y")
        fit = outcome(record, "Y")
        np.testing.assert_allclose(fit.estimates, [51, 5.625, 10.625, 1.125], atol=1e-9)

    def test_planned_settings_of_the_runs_made(self, record_of):
        # The corner at 160, 80, 15 was lost.
        made = table("14_drifted_settings_missing_run")
        planned = table("14_drifted_settings_missing_run", "planned.csv").drop(index=3)
        nominal = settings(self.FACTORS, planned[list(self.NAMES)].to_dict("records"))
        record = record_of(made, factors=self.FACTORS, outcome="Y", planned=nominal)
        fit = outcome(record, "Y", uses_as_run=False)
        np.testing.assert_allclose(fit.estimates, [51.173, 5.885, 10.885, 0.865], atol=6e-4)
        assert not fit.uses_as_run


class TestWirePull:
    """Points inside every range and yet outside the cloud of runs are flagged."""

    @pytest.fixture
    def wire(self, record_of):
        record = record_of(
            table("33_wire_pull_extrapolation"),
            factors=["wire_length", "die_height"],
            outcome="pull_strength",
        )
        return outcome(record, "pull_strength")

    def test_natural_coefficients(self, wire):
        found = [one.value for one in wire.natural_coefficients]
        np.testing.assert_allclose(found, [2.2638, 2.7443, 0.0125], atol=6e-5)
        assert wire.r_squared == pytest.approx(0.9811, abs=6e-5)
        assert wire.residual_variance**0.5 == pytest.approx(2.288, abs=6e-4)

    def test_leverage(self, wire):
        leverage = wire.diagnostics.leverage
        assert int(leverage.argmax()) + 1 == 18
        assert leverage.max() == pytest.approx(0.2929, abs=6e-5)
        assert (np.flatnonzero(leverage > 0.24) + 1).tolist() == [17, 18]

    def test_points_outside_the_cloud(self, wire):
        rows = [(8, 275), (20, 50), (1, 600), (18, 600)]
        points = settings(
            wire.settings.factors, [{"wire_length": a, "die_height": b} for a, b in rows]
        )
        found = wire.predict(points, confidence=0.95)
        assert found.mean[0] == pytest.approx(27.66, abs=6e-3)
        np.testing.assert_allclose(found.leverage, [0.044, 0.515, 0.309, 0.208], atol=6e-4)
        assert found.inside.tolist() == [True, False, False, True]


def test_steps_are_coded_like_a_range(record_of):
    data = table("05_two_adhesives_cure_temp")
    stepped = Stepped(name="Temperatura", steps=(60, 80, 100), unit="°C", setting_sd=None)
    record = record_of(data, factors=["Pegamento", stepped], outcome="Y")
    fit = outcome(record, "Y", terms="interactions")
    assert fit.estimates[0] == pytest.approx((3.45 + 2.97) / 2, abs=5e-3)


class TestTabletMixture:
    """Shares that add up: no constant, R² about the mean, no effect of one component alone."""

    @pytest.fixture
    def tablets(self, record_of):
        factors = tuple(Component(name=name, low=0, high=1) for name in ("MCC", "RS", "OF"))
        return record_of(table("10_tablet_mixture"), factors=factors, outcome="Hardness")

    def test_quadratic_blending(self, tablets):
        fit = outcome(tablets, "Hardness", terms="second-order")
        np.testing.assert_allclose(
            fit.estimates, (54.25, 48.74, 62.88, -27.46, -71.62, 1.25), atol=5e-3
        )
        assert test_of(fit, "MCC × OF").p == pytest.approx(0.011, abs=5e-4)
        assert (fit.r_squared, fit.adjusted_r_squared) == pytest.approx((0.833, 0.667), abs=5e-4)
        assert fit.error_df == 5

    def test_linear_blending(self, tablets):
        fit = outcome(tablets, "Hardness", terms="first-order")
        assert fit.r_squared == pytest.approx(0.219, abs=5e-4)
        assert fit.effects == ()
