"""Tables of every kind of outcome, from the file as it came to the numbers of the fit.

Public practice data sets; the numbers were recomputed with general-purpose libraries and are
asserted with the digits they are printed with.
"""

import pytest

pytestmark = pytest.mark.published("public practice data set met in the field")


def printed(value, digits):
    """Return a tolerance of a little more than half the last printed digit."""
    return pytest.approx(value, abs=0.51 * 10.0**-digits)


def test_of(fit, name):
    (one,) = [test for test in fit["tests"] if test["term"] == name]
    return one


test_of.__test__ = False


def coded(fit):
    return {t["term"]: t["estimate"] for t in fit["terms"] if t["scale"] == "coded"}


@pytest.fixture
def fitted(command, answered, cases, tmp_path):
    """Adopt the table of a case and fit its one outcome."""

    def fit(case, *said, name="data.csv", terms=()):
        table = next(cases.glob(f"{case}_*")) / name
        taken = command("adopt", table, tmp_path / "trial", *said)
        assert taken.status == 0, taken.err
        (outcome,) = answered("fit", tmp_path / "trial", *terms)["outcomes"].values()
        return outcome

    return fit


def test_bars_in_heats_have_two_errors(fitted):
    """Case 01: the temperature is judged by the heats, coatings by the bars within them."""
    heats = ("--setup=heat", "--ignore=position", "--ignore=replicate")
    fit = fitted("01", *heats, "--factor=temp_C:kind=categorical")
    for name, df, error_df, statistic, p, stratum in (
        ("temp_C", 2, 3, 2.75, 0.209, "between temp_C setups"),
        ("coating", 3, 9, 11.48, 0.0020, "within temp_C setups"),
        ("temp_C × coating", 6, 9, 4.38, 0.0241, "within temp_C setups"),
    ):
        test = test_of(fit, name)
        assert (test["df"], test["stratum"]) == (df, stratum)
        assert test["error_df"] == pytest.approx(error_df)
        assert test["statistic"] == printed(statistic, 2)
        assert test["p"] == printed(p, 3 if p > 0.1 else 4)
    parts = fit["variance_components"]
    assert parts["temp_C setup"]["value"] == printed(1172, 0)
    assert parts["run"]["value"] == printed(124.5, 1)


def test_skips_are_counted(fitted):
    """Case 02: panels are parts of a board; B6 is worse than A6 though its average is not."""
    board = ("--part=Panel", "--outcome=skips:kind=counted")
    fit = fitted("02", *board, terms=("--terms", "first-order"))
    assert fit["kind"] == "counted"
    assert (fit["n_runs"], fit["error_df"]) == (300, 283)
    at = coded(fit)
    masks = {name: at[f"Mask [{name}]"] for name in ("A1.5", "A3", "A6", "B3")}
    masks["B6"] = -sum(masks.values())
    assert max(masks, key=masks.get) == "B6"
    said = " ".join(fit["notes"])
    assert "Never run (Opening × Mask): L A6" in said
    assert "Never run (Opening × Solder × Mask): S Thick A6" in said
    assert "only runs replicate" in said


def test_what_always_changed_together_is_one_line(fitted):
    """Case 04: temperature and accelerant cannot be told apart, with either as labels."""
    fit = fitted("04", "--factor=TC:kind=categorical")
    joint = test_of(fit, "TC")
    assert (joint["df"], joint["error_df"]) == (2, 15)
    assert joint["statistic"] == printed(0.156, 3)
    assert joint["p"] == printed(0.857, 3)
    assert fit["residual_sd"] == printed(0.260, 3)
    other = test_of(fit, "Acelerante")
    assert "cannot be told apart" in other["p"]["unavailable"]
    at = coded(fit)
    assert all("unavailable" in at[f"Acelerante [{one}]"] for one in "AB")
    assert fit["cannot_tell_apart"]


def test_cracked_out_of_a_hundred(fitted):
    """Case 06: on the log odds the interaction of the per cent scale is not needed."""
    pots = "--outcome=Cracked:kind=counted,out_of=100"
    fit = fitted("06", pots, name="data.txt", terms=("--terms", "R, T, C, D, R * C"))
    at = coded(fit)
    for name, value in {"R": 0.455, "C": 0.534, "D": -0.310, "T": 0.038, "R × C": 0.046}.items():
        assert at[name] == printed(value, 3)
    assert fit["facts"]["dispersion"]["value"] == printed(1.10, 2)
    # The case has p = .54 without the dispersion; over it, on 10 degrees of freedom, .577.
    assert test_of(fit, "R × C")["p"] == printed(0.577, 3)


def test_shares_that_add_up_have_no_effect_of_their_own(fitted):
    """Case 10: the quadratic blending model of three shares."""
    blends = "MCC, RS, OF, MCC * RS, MCC * OF, RS * OF"
    fit = fitted("10", terms=("--terms", blends))
    at = coded(fit)
    for name, value in {
        "MCC": 54.25,
        "RS": 48.74,
        "OF": 62.88,
        "MCC × RS": -27.46,
        "MCC × OF": -71.62,
        "RS × OF": 1.25,
    }.items():
        assert at[name] == printed(value, 2)
    assert test_of(fit, "MCC × OF")["p"] == printed(0.011, 3)
    assert (fit["r_squared"], fit["adjusted_r_squared"]) == (printed(0.833, 3), printed(0.667, 3))
    assert fit["error_df"] == 5
    assert not {"MCC", "RS", "OF"} & {one["effect_of"] for one in fit["effects"]}


def test_motors_that_had_not_failed(fitted):
    """Case 11: used as what they say; the hours fall with the heat."""
    fit = fitted("11", "--outcome=time:unit=h,status=cens")
    assert fit["kind"] == "censored"
    assert fit["n_rows"] == 40
    assert any("23 of 40 readings are only known to lie above" in one for one in fit["notes"])
    (effect,) = fit["effects"]
    assert effect["high"] < 0
    assert test_of(fit, "temp")["p"] < 1e-5


def test_batches_judge_suppliers(fitted):
    """Case 12: nine degrees of freedom between batches, not 33 between determinations."""
    fit = fitted("12", "--run=Batch")
    test = test_of(fit, "Supplier")
    assert (test["df"], test["error_df"]) == (2, 9)
    assert test["statistic"] == printed(0.97, 2)
    assert test["p"] == printed(0.416, 3)
    assert "3 parts a run were averaged; only runs replicate." in fit["notes"]


def test_cells_of_unequal_size(fitted):
    """Case 15: each average counts its cells alike, and tests are adjusted for all others."""
    fit = fitted("15")
    assert test_of(fit, "A")["p"] == pytest.approx(1.0)
    assert test_of(fit, "B")["sum_of_squares"] == printed(4.565, 3)
    assert test_of(fit, "B")["p"] == printed(0.0484, 4)
    assert test_of(fit, "A × B")["sum_of_squares"] == printed(18.261, 3)
    assert test_of(fit, "A × B")["p"] == printed(0.00058, 5)
    assert (fit["error_df"], fit["residual_sd"]) == (16, pytest.approx(1.0))
