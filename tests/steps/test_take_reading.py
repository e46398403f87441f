"""Results taken back as people write them: marks, units, reasons of corrections."""

import pytest

from workbench import files
from workbench.errors import WorkbenchError
from workbench.files.read_options import ReadOptions
from workbench.steps.adopt import adopt
from workbench.steps.adopt_options import AdoptOptions, parse_factor, parse_outcome
from workbench.steps.take import take_table

FIRST = "run,drop,force\n1,2,50\n2,4,60\n3,2,\n4,4,\n"


@pytest.fixture
def folder(tmp_path):
    table = tmp_path / "first.csv"
    table.write_text(FIRST, encoding="utf-8")
    said = AdoptOptions(
        who="Mira",
        writer="mira",
        outcomes=(parse_outcome("force:unit=N"),),
        factors=(parse_factor("drop:unit=mm3"),),
    )
    return adopt(table, tmp_path / "trial", said).folder


@pytest.fixture
def taken(folder, tmp_path):
    def take(text, *, name="more.csv", **said):
        table = tmp_path / name
        table.write_bytes(text.encode("utf-8"))
        return take_table(folder, table, who="Mira", writer="mira", **said)

    return take


def readings(folder):
    trial = files.read_trial(folder)
    record = files.read_record(folder, trial, files.read_plan(folder, trial))
    found = record.readings["force"]
    return {
        int(record.run[row]): (float(value), int(mark))
        for row, value, mark in zip(found.row, found.value, found.mark, strict=True)
    }


def corrections(folder):
    entries = [stamped.entry for stamped in files.read_journal(folder).entries]
    return [one for one in entries if isinstance(one, files.ReadingEntry) and one.reason]


def test_marks_and_units(folder, taken):
    receipt = taken("run;force (kN)\n3;>0,25\n4;0,07\n")
    assert readings(folder)[3] == (pytest.approx(250), 1)
    assert readings(folder)[4] == (pytest.approx(70), 0)
    said = [f"{line.met} → {line.understood}" for line in receipt.lines]
    assert any("converted to N" in one for one in said)
    assert any("decimal comma" in one for one in said)


def test_a_unit_of_another_kind_is_refused(folder, taken):
    before = readings(folder)
    with pytest.raises(WorkbenchError, match="mm"):
        taken("run,force (mm)\n3,25\n")
    assert readings(folder) == before


def test_a_correction_with_its_reason(folder, taken):
    receipt = taken("run,force\n1,55\n3,71\n", reason="read off by one line")
    assert readings(folder)[1] == (55, 0)
    (kept,) = corrections(folder)
    assert (kept.run, kept.value, kept.reason) == (1, 55, "read off by one line")
    (line,) = [line for line in receipt.lines if "correction" in line.understood]
    assert "because: read off by one line" in line.understood
    assert "55, before 50" in line.met


def test_the_reason_of_the_row_comes_first(folder, taken):
    taken("run,force,notes\n1,55,cable touched\n", reason="typing error")
    (kept,) = corrections(folder)
    assert kept.reason == "cable touched"


def test_a_correction_without_a_reason_is_said_to_have_none(folder, taken):
    receipt = taken("run,force\n1,55\n")
    assert corrections(folder) == []
    (line,) = [line for line in receipt.lines if "correction" in line.understood]
    assert '--reason "…"' in line.understood
    assert not line.sure


def test_an_edited_results_table_comes_back_with_a_reason(folder):
    path = folder / "results.csv"
    path.write_text(path.read_text("utf-8").replace("60", "62"), encoding="utf-8")
    take_table(folder, path, who="Mira", writer="mira", reason="scale was not zeroed")
    assert readings(folder)[2] == (62, 0)
    assert corrections(folder)[0].reason == "scale was not zeroed"
    files.check_results_untouched(folder)


def test_two_readings_are_asked_and_answered(folder, taken):
    text = "run\tforce\n3\t1,234\n4\t1,345\n"
    with pytest.raises(WorkbenchError, match="two readings"):
        taken(text)
    taken(text, read=ReadOptions(decimal="comma"))
    assert readings(folder)[3] == (1.234, 0)
