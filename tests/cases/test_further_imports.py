"""Tables as people keep them, further cases: what each is taken to mean, and what is asked.

Public data sets met in the field (solder: Comizzoli, Landwehr and Sinclair 1990; motors: Nelson
and Hahn 1972; both from memory; wire bonds: Montgomery, Peck and Vining 2012), files as they came.
Where a file leaves one reading it is adopted without options; where it leaves two, the
question names the option that decides, and the answer is given here as the user would give it.
"""

from pathlib import Path

import pytest

from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured
from workbench.files.read_options import ReadOptions
from workbench.run.record import Status


class TestDecimalComma:
    """Case 07: semicolons, decimal commas, 16,5 beside 15."""

    def test_three_actions(self, take):
        taken = take("07")
        assert taken.kinds == {"Accio": ("P", "S", "C"), "Densitat": ("A", "B", "C", "D")}
        assert taken.values("Reduccio").mean() == pytest.approx((13.75 + 8.475 + 7.4625) * 8 / 24)
        assert taken.line("semicolon separates the cells")
        assert "decimal comma" in taken.line("'Reduccio': numbers such as 13,4").understood

    def test_six_leaves_are_labels(self, take):
        taken = take("07", name="data2.csv")
        assert taken.kinds == {"Fulla": tuple("123456")}
        assert taken.values("Y").mean() == pytest.approx(15.9524, abs=5e-5)
        assert "kind=continuous" in taken.line("'Fulla': 6 levels").understood

    def test_said_to_be_numbers(self, take):
        taken = take("07", name="data2.csv", factors=("Fulla:kind=continuous",))
        assert taken.kinds == {"Fulla": (1, 6)}

    def test_the_marks_may_be_said(self, take):
        read = ReadOptions(separator="semicolon", decimal="comma")
        assert take("07", read=read).values("Reduccio").max() == 21.6


def test_mould_length(take):
    """Case 08."""
    taken = take("08")
    assert taken.kinds == {
        "mould_temp_C": (23, 38),
        "cool_time_s": (18, 28),
        "hold_press_bar": (400, 650),
    }
    assert taken.record.run.tolist() == list(range(1, 9))


class TestBagSeal:
    """Case 09: a column of kinds of points, two outcomes."""

    def test_what_is_asked(self, asked):
        said = asked("09")
        assert "'Tear', 'Leakage' could be" in said
        assert '--outcome "Leakage" or --outcome "Tear" (several may be)' in said

    def test_the_other_outcome_is_not_forgotten(self, asked):
        said = asked("09", outcomes=("Tear",))
        assert "'Leakage': The column stands behind the outcome" in said

    def test_both_outcomes(self, take):
        taken = take(
            "09",
            outcomes=(
                "Tear:at_most=1",
                "Leakage",
            ),
        )
        assert taken.kinds == {"v": (300, 400), "p": (170, 190), "g": (-3, 3)}
        assert "kinds of points" in taken.line("'Run'").met
        assert [one.name for one in taken.trial.outcomes] == ["Tear", "Leakage"]


def test_shares_of_a_mixture(take):
    """Case 10: three shares that add to 1, rounded to two places."""
    taken = take("10")
    assert [one.name for one in taken.trial.factors] == ["MCC", "RS", "OF"]
    assert [one.name for one in taken.trial.outcomes] == ["Hardness"]
    line = taken.line("'MCC': adds to 1 with 'RS', 'OF' in every row")
    assert line.sure
    assert "share of a mixture" in line.understood


class TestInsulation:
    """Case 11: hours to failure; 0 stands for motors that had not failed."""

    def test_what_is_asked(self, asked):
        said = asked("11")
        assert "which readings are cut off" in said
        assert '--outcome "time:status=cens"' in said

    def test_the_longest_of_their_settings_are_the_cut_off_ones(self, take):
        taken = take("11", outcomes=("time:unit=h,status=cens",))
        readings = taken.record.readings["time"]
        assert int((readings.mark == 1).sum()) == 23
        assert (readings.value[readings.mark == 1] >= 528).all()
        assert taken.kinds == {"temp": (150, 220)}
        line = taken.line("0 marks what was cut off")
        assert not line.sure
        assert "cut_off=1" in line.understood

    def test_the_mark_may_be_said(self, take):
        taken = take("11", outcomes=("time:unit=h,status=cens,cut_off=1",))
        assert int((taken.record.readings["time"].mark == 1).sum()) == 17

    def test_a_mark_that_no_row_has(self, asked):
        assert "No row of 'cens' holds '2'" in asked(
            "11", outcomes=("time:status=cens,cut_off=2",)
        )


class TestSupplierBatches:
    """Case 12: batch labels 1 to 4 that come again under each supplier."""

    def test_what_is_asked(self, asked):
        said = asked("12")
        assert "come again under each 'Supplier'" in said
        assert '--run "Batch" or --setup "Batch" or --block "Batch"' in said

    def test_a_batch_is_a_run(self, take):
        taken = take("12", run="Batch")
        assert len(taken.record) == 12
        assert taken.record.readings["Purity"].part.tolist() == [1, 2, 3] * 12
        assert "12 runs" in taken.line("4 labels").understood
        means = taken.values("Purity").reshape(12, 3).mean(axis=1).reshape(3, 4)
        between = 4 * ((means.mean(axis=1) - means.mean()) ** 2).sum() / 2
        within = ((means - means.mean(axis=1)[:, None]) ** 2).sum() / 9
        assert between / within == pytest.approx(0.97, abs=0.005)

    def test_a_batch_as_setup_needs_to_know_what_stays(self, take, asked):
        assert '--factor "Supplier:slow=yes"' in asked("12", setup="Batch")
        taken = take("12", setup="Batch", factors=("Supplier:slow=yes",))
        assert int(taken.record.setup.max()) == 12


@pytest.mark.parametrize(("name", "sheet"), [("data.csv", None), ("raw.xlsx", "Raw Data")])
def test_printed_bars(take, name, sheet):
    """Case 13: the sample numbers are run numbers, the treatment a label."""
    taken = take("13", name=name, read=ReadOptions(sheet=sheet))
    assert taken.kinds == {"Infill percentage": (30, 80), "Print speed": (1500, 2500)}
    assert len(taken.record) == 18
    assert "left out" in taken.line("one label for each combination").understood


def test_the_sheet_is_asked(asked):
    """Case 13: three sheets."""
    assert '--sheet "Raw Data"' in asked("13", name="raw.xlsx")


class TestDrifted:
    """Case 14: a byte-order mark, coded columns mostly blank, a plan beside the table."""

    def test_what_is_asked(self, asked):
        said = asked("14")
        assert "'T', 'P', 'C', 'Y' could be" in said
        assert '--outcome "Y"' in said

    def test_as_run_beside_the_plan(self, take):
        planned = next(Path(__file__).parent.glob("14_*")) / "planned.csv"
        taken = take("14", outcomes=("Y",), planned=planned)
        assert taken.kinds == {"T": (120, 160), "P": (40, 80), "C": (15, 30)}
        assert "coded form of 'P'" in taken.line("'xP': −1, 0 and 1").understood
        assert "missing" in taken.line("planned run 4").understood
        assert taken.record.status[3] is Status.MISSING


def test_unbalanced_cells(take):
    """Case 15."""
    taken = take("15")
    assert taken.kinds == {"A": ("a1", "a2"), "B": ("b1", "b2")}
    assert taken.trial.model == "interactions"
    assert len(taken.record) == 20


class TestWireBonds:
    """Case 33: every column scatters."""

    def test_what_is_asked(self, asked):
        assert '--outcome "pull_strength"' in asked("33")

    def test_named(self, take):
        taken = take("33", outcomes=("pull_strength:unit=gf",))
        assert all(isinstance(one, Continuous) for one in taken.trial.factors)
        assert taken.kinds == {"wire_length": (1, 20), "die_height": (50, 600)}
        assert isinstance(taken.trial.outcomes[0], Measured)


class TestTwoLots:
    """Case 35: coded columns beside natural ones, two outcomes, two lots."""

    def test_what_is_asked(self, asked):
        said = asked("35")
        assert "'FR1', 'FR2' could be" in said
        assert '--outcome "FR1"' in said

    def test_both(self, take):
        taken = take(
            "35",
            outcomes=(
                "FR1",
                "FR2",
            ),
        )
        assert list(taken.kinds) == ["T", "P", "C", "W"]
        assert taken.record.block_labels == ("1", "2")
        for name in "TPCW":
            assert taken.line(f"the coded form of '{name}'; left out")
