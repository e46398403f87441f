"""Published examples made again: their tables as records, and print beside what comes out."""

import numpy as np
import pytest

import workbench as wb
from workbench.errors import FileError
from workbench.steps.print_again import digits_agreed

OATS = "split-plot-oats"


@pytest.fixture
def oats():
    table = wb.files.published(OATS).tables["data"].astype({"nitro": str})
    return wb.steps.record_of_table(
        table,
        wb.define.Measured(name="yield", unit="1/4 lb"),
        factors=("Variety", "nitro"),
        block="Block",
        setup=("Block", "Variety"),
    )


def test_a_table_becomes_a_record_with_its_blocks_and_setups(oats):
    assert len(oats) == 72
    assert oats.block_labels == ("I", "II", "III", "IV", "V", "VI")
    assert np.unique(oats.setup).tolist() == list(range(1, 19))
    assert oats.readings["yield"].value.mean() == pytest.approx(103.972222, abs=1e-6)
    assert oats.trial.factors[0].levels == ("Victory", "Golden Rain", "Marvellous")


@pytest.mark.published("Yates 1935, J. Roy. Statist. Soc. Suppl. 2, 181-247; strata by R")
def test_the_strata_of_the_oats(oats):
    fit = wb.fit.outcome(oats, "yield", terms="interactions")
    found = dict(zip(("variety", "nitrogen", "variety:nitrogen"), fit.tests, strict=True))
    for name, one in found.items():
        expected = wb.files.published(OATS).expected
        assert abs(one.statistic - expected["strata_F"][name].value) <= 6e-6
        assert abs(one.error_df - expected["denominator_df_both_methods"][name].value) <= 1e-3


def test_print_and_find_stand_side_by_side_and_a_miss_is_said():
    page = wb.steps.beside_print(OATS, "strata_F", {"variety": 1.4853404, "nitrogen": 37.7})
    assert "Yates" in page
    assert page.count("<tr>") == 3
    assert page.count("yes") == 1
    assert page.count(">no<") == 1


@pytest.mark.parametrize(
    ("group", "found"), [("strata_F", {"oats": 1.0}), ("strata_G", {"variety": 1.0})]
)
def test_what_is_not_printed_cannot_be_held_against_it(group, found):
    with pytest.raises(FileError, match=r"'split-plot-oats' prints no"):
        wb.steps.beside_print(OATS, group, found)


@pytest.mark.parametrize(
    ("wanted", "found", "digits"),
    [(21.0, 21.0008, 4), (1.0, 1.0, 10), (0.0, 1e-7, 7), (1.0, 3.0, 0), (-14.5, 14.5, 0)],
)
def test_digits_agreed(wanted, found, digits):
    assert digits_agreed(wanted, found) == digits
