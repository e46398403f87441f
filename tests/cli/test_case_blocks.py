"""Sixteen runs in two lots of raw material: the lots kept, and what they are mixed with said.

A public practice data set met in the field; the numbers were recomputed with general-purpose
libraries and are asserted with the digits they are printed with.
"""

import pytest

WHOLE = "T * P * C * W"
REDUCED = "T * C, T * W"


def printed(value, digits):
    """Return a tolerance of a little more than half the last printed digit."""
    return pytest.approx(value, abs=0.51 * 10.0**-digits)


@pytest.fixture
def fitted(command, answered, cases, tmp_path):
    def fit(terms, *, with_blocks=True):
        place = tmp_path / f"lots-{len(terms)}-{with_blocks}"
        ignored = ["FR2", "xT", "xP", "xC", "xW", *([] if with_blocks else ["block"])]
        said = command(
            "adopt",
            cases / "35_two_blocks_confounded" / "data.csv",
            place,
            "--outcome=FR1",
            *(["--block=block"] if with_blocks else []),
            *(f"--factor={one}" for one in ("T:unit=°C", "P:unit=bar", "C:unit=%")),
            *(f"--ignore={one}" for one in ignored),
            f"--terms={terms}",
        )
        assert said.status == 0, said.err
        return answered("fit", place)["outcomes"]["FR1"]

    return fit


def term_of(fit, name):
    (one,) = [t for t in fit["terms"] if t["term"] == name and t["scale"] == "coded"]
    return one


@pytest.mark.published("public practice data set met in the field")
def test_the_product_of_four_and_the_lots_are_one_number(fitted):
    fit = fitted(WHOLE)
    assert fit["cannot_tell_apart"] == [["T × P × C × W", "block [1]"]]
    assert "Cannot be told apart: T × P × C × W + block [1]" in fit["reading"]
    # One number for both, named as a sum, and never a second one for the lots.
    (together,) = [one for one in fit["effects"] if "T × P × C × W" in one["effect_of"]]
    assert together["effect_of"] == "T × P × C × W + 2 block [1]"
    assert together["size"] == printed(-18.625, 3)
    assert not [one for one in fit["effects"] if one["effect_of"].startswith("block")]
    (lots,) = [one for one in fit["tests"] if one["term"] == "block"]
    assert lots["statistic"]["unavailable"] == "cannot be told apart from T × P × C × W"


@pytest.mark.published("public practice data set met in the field")
def test_with_the_lots_kept_the_concentration_is_seen(fitted):
    fit = fitted(REDUCED)
    assert fit["residual_sd"] == printed(4.57, 2)
    wanted = {"T": 10.812, "C": 4.937, "W": 7.313, "T × C": -9.062, "T × W": 8.312}
    for name, value in wanted.items():
        # Halves and quarters of 16ths are printed cut, not rounded.
        assert term_of(fit, name)["estimate"] == pytest.approx(value, abs=0.001)
    assert term_of(fit, "C")["p"] == printed(0.0019, 4)
    (lots,) = [one for one in fit["tests"] if one["term"] == "block"]
    # A difference of 18.625 between two lots of eight runs: 16 (18.625 / 2)².
    assert lots["sum_of_squares"] == pytest.approx(16 * (18.625 / 2) ** 2)


@pytest.mark.published("public practice data set met in the field")
def test_without_the_lots_the_concentration_is_hidden(fitted):
    fit = fitted(REDUCED, with_blocks=False)
    assert fit["residual_sd"] == printed(12.55, 2)
    assert term_of(fit, "C")["p"] == printed(0.147, 3)
