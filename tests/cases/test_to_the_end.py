"""Three tables from the field, from the file to the numbers of the fit, by the command line.

Public practice data sets; the numbers were recomputed with general-purpose libraries and are
asserted with the digits they are printed with.
"""

import json
from pathlib import Path

import pytest

from workbench.cli import main

CASES = Path(__file__).parent
PUBLIC = pytest.mark.published("public practice data set met in the field")


def printed(value, digits):
    """Return a tolerance of a little more than half the last printed digit."""
    return pytest.approx(value, abs=0.51 * 10.0**-digits)


@pytest.fixture
def fitted(capsys, tmp_path):
    def fit(table, *said, model=()):
        folder = tmp_path / "trial"
        assert main(["adopt", str(table), str(folder), *said]) == 0
        capsys.readouterr()
        assert main(["fit", str(folder), *model, "--json"]) == 0
        (outcome,) = json.loads(capsys.readouterr().out)["outcomes"].values()
        return outcome

    return fit


def test_of(tests, name):
    (one,) = [test for test in tests if test["term"] == name]
    return one


test_of.__test__ = False


def coded(fit, name):
    (one,) = [t for t in fit["terms"] if t["term"] == name and t["scale"] == "coded"]
    return one


class TestLineRate:
    """Case 03: both answers side by side, the replicates kept as blocks."""

    @pytest.fixture
    def fit(self, fitted):
        table = next(CASES.glob("03_*")) / "data.csv"
        gone = [f"--exclude=2/{run}=bad quality" for run in (2, 3, 5)]
        labels = [f"--factor={name}:kind=categorical" for name in ("line_speed", "loading")]
        return fitted(table, "--block=replication", *gone, *labels)

    @PUBLIC
    def test_without_the_three_runs(self, fit):
        assert (fit["n_runs"], fit["n_excluded"], fit["error_df"]) == (24, 3, 13)
        assert fit["residual_sd"] == printed(45.0, 1)
        tests = fit["tests_without_products"]
        loading = test_of(tests, "loading")
        assert (loading["df"], loading["error_df"]) == (2, 13)
        assert loading["statistic"] == printed(5.67, 2)
        assert loading["p"] == printed(0.017, 3)
        assert test_of(tests, "line_speed")["p"] == printed(0.183, 3)
        assert test_of(tests, "line_speed × loading")["p"] == printed(0.717, 3)
        assert test_of(tests, "block")["df"] == 2

    @PUBLIC
    def test_with_them(self, fit):
        whole = fit["with_excluded"]
        assert whole["n_runs"] == 27
        assert whole["residual_sd"] == printed(59.7, 1)
        assert test_of(whole["tests"], "loading")["p"] == printed(0.041, 3)
        assert test_of(whole["tests"], "line_speed")["p"] == printed(0.060, 3)
        # Balanced: with or without products adjusted for, the tests agree.
        for one in whole["tests_without_products"]:
            assert one["p"] == pytest.approx(test_of(whole["tests"], one["term"])["p"])

    @pytest.mark.usefixtures("fit")
    def test_both_are_shown(self, capsys, tmp_path):
        assert main(["fit", str(tmp_path / "trial")]) == 0
        said = capsys.readouterr().out
        assert "with the excluded runs counted in (27 runs)" in said
        assert "terms that do not contain it" in said


class TestDecimalComma:
    """Case 07: both files with no option at all."""

    @PUBLIC
    def test_three_actions(self, fitted):
        fit = fitted(next(CASES.glob("07_*")) / "data.csv")
        action, density = (test_of(fit["tests"], name) for name in ("Accio", "Densitat"))
        assert (action["df"], action["error_df"]) == (2, 12)
        assert action["statistic"] == printed(32.24, 2)
        assert action["p"] == printed(1.5e-5, 6)
        assert density["statistic"] == printed(30.69, 2)
        assert density["p"] == printed(6.7e-6, 6)
        assert test_of(fit["tests"], "Accio × Densitat")["p"] == printed(0.184, 3)
        assert fit["residual_sd"] ** 2 == printed(2.828, 3)
        mean = coded(fit, "mean")["estimate"]
        size = {one["effect_of"]: one["size"] for one in fit["effects"]}
        for name, value in {"S": 13.75, "P": 8.475, "C": 7.4625}.items():
            assert mean + size[f"Accio [{name}]"] == pytest.approx(value)
        for name, value in {"A": 15.30, "B": 9.72, "C": 6.78, "D": 7.78}.items():
            assert mean + size[f"Densitat [{name}]"] == printed(value, 2)

    @PUBLIC
    def test_six_leaves(self, fitted):
        fit = fitted(next(CASES.glob("07_*")) / "data2.csv")
        assert fit["n_runs"] == 42
        assert coded(fit, "mean")["estimate"] == printed(15.9524, 4)
        leaf = test_of(fit["tests"], "Fulla")
        assert (leaf["df"], leaf["error_df"]) == (5, 36)
        assert leaf["statistic"] == printed(3.117, 3)
        assert leaf["p"] == printed(0.0194, 4)


class TestDrifted:
    """Case 14: fitted as run, as planned where asked."""

    @pytest.fixture
    def fit(self, fitted):
        place = next(CASES.glob("14_*"))

        def one(*model):
            planned = f"--planned={place / 'planned.csv'}"
            return fitted(place / "data.csv", "--outcome=Y", planned, model=model)

        return one

    @PUBLIC
    def test_as_run(self, fit):
        found = fit()
        assert (found["n_runs"], found["uses"]) == (11, "as-run")
        assert found["residual_sd"] == printed(3.669, 3)
        assert found["r_squared"] == printed(0.910, 3)
        for name, value, p in (("T", 5.464, 0.0056), ("P", 10.184, 0.0001), ("C", 1.034, 0.45)):
            assert coded(found, name)["estimate"] == printed(value, 3)
            assert coded(found, name)["p"] == pytest.approx(p, rel=0.5 if p < 0.001 else 0.02)
        assert coded(found, "mean")["estimate"] == printed(50.378, 3)

    @PUBLIC
    def test_as_planned(self, fit):
        found = fit("--planned-settings")
        for name, value in {"mean": 51.173, "T": 5.885, "P": 10.885, "C": 0.865}.items():
            assert coded(found, name)["estimate"] == printed(value, 3)
