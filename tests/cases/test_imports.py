"""Tables as people keep them: what each is taken to mean without a word, and what is asked.

Public data sets met in the field (solder: Comizzoli, Landwehr and Sinclair 1990; motors: Nelson
and Hahn 1972; both from memory; wire bonds: Montgomery, Peck and Vining 2012), files as they came.
Where a file leaves one reading it is adopted without options; where it leaves two, the
question names the option that decides, and the answer is given here as the user would give it.
"""

import numpy as np
import pytest

from workbench.define.outcomes import Counted
from workbench.run.record import Status
from workbench.steps.adopt_options import (
    parse_exclusion,
)


class TestFurnace:
    """Case 01: heats of four bars each; the temperature is set once a heat."""

    def test_what_is_asked(self, asked):
        said = asked("01")
        assert "'temp_C' stays the same within each of its labels" in said
        assert '--setup "heat" or --block "heat" or --factor "heat" or --ignore "heat"' in said
        assert '--ignore "position"' in said
        assert '--block "replicate"' in said

    def test_the_heat_is_a_setup(self, take):
        taken = take("01", setup="heat", ignore=("position", "replicate"))
        assert taken.kinds["temp_C"] == (360, 380)
        assert taken.kinds["coating"] == ("C2", "C3", "C1", "C4")
        assert [one.slow for one in taken.trial.factors] == [True, False]
        assert np.bincount(taken.record.setup).tolist() == [0, 4, 4, 4, 4, 4, 4]
        assert "taken as slow to change" in taken.line("6 labels of setups").understood

    def test_without_its_heat_the_temperature_is_noticed(self, take):
        taken = take("01", ignore=("heat", "position", "replicate"))
        line = taken.line("'temp_C' changes 4 times in 24 rows")
        assert not line.sure
        assert "--setup" in line.understood


class TestSolderSkips:
    """Case 02: three panels a board, counts with many zeros."""

    def test_what_is_asked(self, asked):
        said = asked("02")
        assert "285 of 900 of them 0: counts, or measured values" in said
        assert '--outcome "skips:kind=counted"' in said
        assert "rows of the same settings apart that follow one another" in said
        assert '--part "Panel" or --reading "Panel"' in said

    def test_panels_are_parts_of_a_board(self, take):
        taken = take("02", outcomes=("skips:kind=counted",), part="Panel")
        assert isinstance(taken.trial.outcomes[0], Counted)
        assert len(taken.record) == 300
        readings = taken.record.readings["skips"]
        assert len(readings) == 900
        assert np.unique(readings.part).tolist() == [1, 2, 3]
        assert int((readings.value == 0).sum()) == 285
        assert taken.kinds["Mask"] == ("A1.5", "A3", "A6", "B3", "B6")
        assert "left out" in taken.line("'rownames'").understood
        assert "300 runs" in taken.line("are one run").understood


class TestLineRate:
    """Case 03: three replicates, three runs of the second were scrapped."""

    def test_what_is_asked(self, asked):
        assert '--block "replication" or --factor "replication"' in asked("03")

    def test_runs_are_left_out_by_replicate_and_run(self, take):
        gone = tuple(parse_exclusion(f"2/{run}=bad quality") for run in (2, 3, 5))
        taken = take("03", blocks=("replication",), exclude=gone)
        record = taken.record
        assert record.block_labels == ("1", "2", "3")
        assert record.blocked_by == "replication"
        out = [i for i, one in enumerate(record.status) if one is Status.EXCLUDED]
        assert sorted(taken.values("rate")[out]) == [120, 380, 390]
        assert {record.reason[i] for i in out} == {"bad quality"}
        assert len(record.readings["rate"]) == 27
        assert taken.kinds == {"line_speed": (36, 38), "loading": (0, 4)}
        line = taken.line("--exclude 2/3=bad quality")
        assert line.where.endswith("row 13")
        assert "(replication 2, run_order 3)" in line.met

    def test_the_same_runs_by_the_place_of_their_rows(self, take):
        gone = tuple(parse_exclusion(f"{run}=bad quality") for run in (11, 12, 17))
        taken = take("03", blocks=("replication",), exclude=gone)
        out = [i for i, one in enumerate(taken.record.status) if one is Status.EXCLUDED]
        assert sorted(taken.values("rate")[out]) == [120, 380, 390]

    def test_runs_numbered_within_their_replicate(self, take):
        taken = take("03", blocks=("replication",), run="run_order")
        assert taken.record.run.tolist() == list(range(1, 28))
        # Replicate 1, run 1 is row 4: 36, 0 and 360.
        assert taken.values("rate")[0] == 360
        assert taken.record.as_run.values[0].tolist() == [36, 0]
        assert "block after block" in taken.line("come again in each block").understood

    def test_a_number_that_stands_in_every_replicate_is_asked(self, asked):
        said = asked(
            "03",
            blocks=("replication",),
            run="run_order",
            exclude=(parse_exclusion("5=bad quality"),),
        )
        assert '--exclude "BLOCK/5=bad quality"' in said

    @pytest.mark.parametrize("wrong", ["4/2=x", "2/10=x"])
    def test_a_run_that_is_not_there(self, asked, wrong):
        said = asked("03", blocks=("replication",), exclude=(parse_exclusion(wrong),))
        assert "0 runs are number" in said
        assert "Blocks are: 1, 2, 3" in said


def test_two_factors_that_always_change_together(take):
    """Case 04."""
    taken = take("04")
    assert taken.kinds == {"TC": (40, 80), "Acelerante": ("A", "B", "C")}
    assert [one.name for one in taken.trial.outcomes] == ["Y"]
    line = taken.line("'TC' and 'Acelerante' always change together")
    assert line.sure
    assert "cannot be told" in line.understood
    assert taken.trial.model == "first-order"
    assert "--repeats parts" in taken.line("15 of 18 rows share every setting").understood


class TestTwoAdhesives:
    """Case 05: pairs of rows at the same settings, one after the other."""

    def test_rows_are_runs_and_the_receipt_says_what_that_assumes(self, take):
        taken = take("05")
        assert taken.kinds == {"Pegamento": ("A1", "A2"), "Temperatura": (60, 100)}
        assert len(taken.record) == 12
        line = taken.line("6 of 12 rows share every setting with the row before")
        assert not line.sure
        assert "a replicate" in line.understood
        assert "--repeats parts" in line.understood

    def test_rows_as_parts(self, take):
        taken = take("05", repeats="parts")
        assert len(taken.record) == 6
        assert taken.record.readings["Y"].part.tolist() == [1, 2] * 6

    def test_rows_as_readings(self, take):
        taken = take("05", repeats="readings")
        assert taken.record.readings["Y"].reading.tolist() == [1, 2] * 6
        assert set(taken.record.readings["Y"].part.tolist()) == {1}

    def test_rows_stated_to_be_runs(self, take):
        taken = take("05", repeats="runs")
        assert len(taken.record) == 12
        assert taken.line("6 of 12 rows share every setting").sure

    def test_other_words(self, asked):
        assert "parts, readings, runs" in asked("05", repeats="boards")


class TestCrackedPots:
    """Case 06: blanks between the cells, U+2212 before the ones."""

    def test_signs_and_blanks(self, take):
        taken = take("06", name="data.txt")
        assert taken.kinds == dict.fromkeys("RTCD", (-1, 1))
        assert taken.values("Cracked").sum() == 282
        assert (taken.record.as_run.values == -1).sum() == 32
        assert not taken.line("blanks separate the cells").sure
        assert taken.trial.model == "R * T * C * D"
        assert "kind=counted,out_of=" in taken.line("all whole numbers").understood

    def test_pots_are_counted(self, take):
        said = ("Cracked:kind=counted,out_of=100,at_most=10",)
        (outcome,) = take("06", name="data.txt", outcomes=said).trial.outcomes
        assert isinstance(outcome, Counted)
        assert (outcome.out_of, outcome.requirement.high) == (100, 10)
