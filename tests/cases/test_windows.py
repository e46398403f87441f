"""Three tables from the field, from the file to a window, or to a reasoned no.

Public practice data sets; the right answers were recomputed with general-purpose libraries.
"""

import json
from itertools import product
from pathlib import Path

import pytest

from workbench.cli import main

CASES = Path(__file__).parent
PUBLIC = pytest.mark.published("public practice data set met in the field")
PROMISE = ("--share=0.9", "--confidence=0.9")


@pytest.fixture
def adopted(capsys, tmp_path):
    """Take a table in and return what answers questions on it: its status and its JSON."""

    def take(case, *said):
        table = next(CASES.glob(f"{case}_*")) / "data.csv"
        folder = tmp_path / "trial"
        assert main(["adopt", str(table), str(folder), *said]) == 0
        capsys.readouterr()

        def ask(command, *more):
            status = main([command, str(folder), *more, "--json"])
            return status, json.loads(capsys.readouterr().out)

        return ask

    return take


class TestTwoAdhesives:
    """Case 05: the averages choose one adhesive, the limit asked for needs the other."""

    @pytest.fixture
    def ask(self, adopted):
        return adopted(
            "05",
            "--outcome=Y:at_least=3.8",
            "--factor=Temperatura:unit=°C,setting_sd=1",
            "--terms=interactions",
        )

    @PUBLIC
    def test_the_limit_decides_not_the_average(self, ask):
        # A1 is better on the average (3.45 against 2.97); at 100 °C A2 reaches 4.51, A1 4.18.
        status, found = ask("window", *PROMISE)
        assert status == 0
        assert found["levels"] == {"Pegamento": "A2"}
        limits = found["limits"]["Temperatura"]
        assert 91.7 < limits["low"] < limits["high"] == 100  # above where the lines cross
        assert limits["limited_by_low"] == "Y below 3.8"
        assert limits["limited_by_high"] == "edge of the range tried"
        (refused,) = [one for one in found["by_level"] if "window" in one]
        assert refused["levels"] == {"Pegamento": "A1"}

    def test_120_degrees_is_outside_whatever_it_would_promise(self, ask):
        _, found = ask("predict", "--at", "Pegamento=A2", "Temperatura=120")
        assert found["points"][0]["inside_region"] is False

    @PUBLIC
    def test_a_part_is_asked_not_a_mean(self, ask):
        # The mean of A2 at 100 °C is 4.51, yet a new part may read as little as 3.87.
        _, found = ask("predict", "--at", "Pegamento=A2", "Temperatura=100")
        at = found["points"][0]["outcomes"]["Y"]
        assert at["new_part_low"] == pytest.approx(3.87, abs=0.0051)
        status, none = ask("window", *PROMISE, "--share=0.99")
        assert status == 4
        assert none["nearest_miss"]["limited_by"] == "Y below 3.8"


class TestBagSeal:
    """Case 09: the gap pulls the two outcomes apart, and no surface of the leakage is usable."""

    @pytest.fixture
    def ask(self, adopted):
        return adopted(
            "09",
            "--ignore=Run",
            "--outcome=Tear:at_most=1",
            "--outcome=Leakage:at_most=0.2",
            *(f"--factor={name}:setting_sd=0" for name in "vpg"),
            "--terms=second-order",
        )

    @PUBLIC
    def test_no_optimum_is_returned_and_the_reasons_are_said(self, ask):
        status, found = ask("window", *PROMISE)
        assert status == 4
        assert "No setting holds" in found["window"]["unavailable"]
        assert found["nearest_miss"]["assured_share"] < 0.5
        notes = " ".join(found["notes"])
        assert "The model of Tear does not follow its runs: lack of fit p = 0.018" in notes
        assert "The model of Leakage does not follow its runs: lack of fit p = 0.03" in notes
        assert "Nothing seems to matter to Leakage" in notes
        assert "cannot be taken as right" in found["if_right"]["window"]["unavailable"]
        assert found["next_trial"]["words"]

    @PUBLIC
    def test_the_gap_moves_them_against_each_other(self, ask):
        _, found = ask("fit")
        gap = {
            name: one
            for name, fit in found["outcomes"].items()
            for one in fit["effects"]
            if one["effect_of"] == "g"
        }
        # Coded slopes over ±1.68: tear +0.905, leakage −0.190; here from −3 to 3.
        assert gap["Tear"]["low"] > 0
        assert gap["Leakage"]["high"] < 0
        leakage = found["outcomes"]["Leakage"]
        assert leakage["predicted_r_squared"] == pytest.approx(-1.05, abs=0.0051)

    def test_nothing_is_handed_over(self, ask):
        status, found = ask("handover", *PROMISE)
        assert status == 4
        assert "No setting holds" in found["handover"]["unavailable"]
        assert found["next_step"]


class TestWirePull:
    """Case 33: both values inside their ranges, the pair outside of what was seen."""

    @pytest.fixture
    def ask(self, adopted):
        return adopted(
            "33",
            "--outcome=pull_strength:at_least=20",
            "--factor=wire_length:setting_sd=0.1",
            "--factor=die_height:setting_sd=5",
            "--terms=first-order",
        )

    @PUBLIC
    def test_the_window_keeps_inside_the_cloud(self, ask):
        status, found = ask("window", *PROMISE)
        assert status == 0
        limits = found["limits"]
        ends = [(limits[n]["low"], limits[n]["high"]) for n in ("wire_length", "die_height")]
        corners = list(product(*ends))
        places = [("20", "50"), ("1", "600"), ("8", "275"), *corners]
        at = [
            f"{name}={value}"
            for place in places
            for name, value in zip(("wire_length", "die_height"), place, strict=True)
        ]
        _, predicted = ask("predict", "--at", *at)
        inside = [one["inside_region"] for one in predicted["points"]]
        assert inside == [False, False, True, *[True] * len(corners)]
        stops = {limits[n][f"limited_by_{side}"] for n in limits for side in ("low", "high")}
        assert "edge of the region tried" in stops
        assert "pull_strength below 20" in stops
