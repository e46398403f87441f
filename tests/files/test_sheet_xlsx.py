"""The run sheet as a workbook: what is locked, checked, marked, hidden, and how it prints."""

import csv
import io
import zipfile
from dataclasses import replace

import invented_bond as bond
import pytest
from openpyxl import load_workbook

from workbench.define.cautions import DEFERRAL
from workbench.define.factors import Categorical
from workbench.define.trial import Trial
from workbench.errors import FileError
from workbench.files.plan_files import plan_digest
from workbench.files.sheet_csv import sheet_text
from workbench.files.sheet_mark import short_digest
from workbench.files.sheet_xlsx import sheet_bytes, write_sheet_xlsx
from workbench.files.tables import read_table
from workbench.plan.repeats import USUAL_STOPPING_RULE

BENCH = {"made at", "test peel force from", "test look from", "who"}


@pytest.fixture(scope="module")
def book():
    return load_workbook(io.BytesIO(sheet_bytes(bond.TRIAL, bond.plan())))


@pytest.fixture(scope="module")
def runs(book):
    return book["runs"]


def heads(sheet):
    return [cell.value for cell in sheet[1]]


def column(sheet, heading):
    return [row[heads(sheet).index(heading)] for row in sheet.iter_rows(min_row=2)]


def rule(sheet, heading):
    """Return the validation that covers the first and the last cell under a heading."""
    cells = column(sheet, heading)
    found = [
        one for one in sheet.data_validations.dataValidation if cells[0].coordinate in one.sqref
    ]
    assert len(found) == 1, heading
    assert cells[-1].coordinate in found[0].sqref
    return found[0]


def choices(book, heading):
    place, cells = rule(book["runs"], heading).formula1.split("!")
    return [row[0].value for row in book[place][cells.replace("$", "")]]


def text_of(sheet):
    return "\n".join(str(c.value) for row in sheet.iter_rows() for c in row if c.value is not None)


def test_the_columns_are_those_of_the_csv_sheet_and_the_bench(runs):
    line = sheet_text(bond.TRIAL, bond.plan()).lstrip("\ufeff").splitlines()[0]
    of_csv = next(csv.reader([line]))
    assert [one for one in heads(runs) if one not in BENCH] == of_csv
    assert set(heads(runs)) - set(of_csv) == BENCH


def test_planned_cells_are_locked_and_entry_cells_are_not(runs):
    locked = {"run", "bead volume (mm³)", "activator", "test peel force from", "test look from"}
    for heading in heads(runs):
        assert {c.protection.locked for c in column(runs, heading)} == {heading in locked}, heading
    assert runs.protection.sheet
    assert runs.protection.password is None
    assert all(cell.protection.locked for cell in runs[1])


def test_lists_hold_the_very_words_of_the_trial_whatever_they_hold(book):
    assert choices(book, "status") == ["done", "failed", "excluded", "repeated"]
    assert choices(book, "activator as run") == ["none", "'=misted", "a, b"]
    assert choices(book, "tight, part 2") == ["yes", "no"]
    assert choices(book, "look, part 1") == ["clean", "hazy", "'+white"]
    for heading in ("status", "activator as run", "tight, part 1", "look, part 2"):
        assert rule(book["runs"], heading).type == "list"
        assert rule(book["runs"], heading).errorStyle == "stop"
        assert {c.number_format for c in column(book["runs"], heading)} == {"@"}


def test_numbers_have_limits_that_ask_back(runs):
    force = rule(runs, "peel force (N), part 1")
    cell = column(runs, "peel force (N), part 1")[0].coordinate
    assert f"{cell}>=0.5" in force.formula1
    assert f"{cell}<=250" in force.formula1
    assert f'LEFT({cell},1)="<"' in force.formula1
    assert force.errorStyle == "warning"
    assert "<0.5" in force.prompt
    volume = rule(runs, "bead volume as run (mm³)")
    assert ">=170" in volume.formula1  # 260 to 440 mm³ with half the range on either side
    assert "<=530" in volume.formula1
    leak = column(runs, "leak (mm³/s), part 1")[0].coordinate
    assert f"{leak}>0" in rule(runs, "leak (mm³/s), part 1").formula1
    voids = rule(runs, "voids (voids), part 1")
    assert voids.errorStyle == "stop"
    assert "<=12" in voids.formula1


def test_marks_stand_on_every_entry_column_with_limits_or_a_plan(runs):
    marked = {
        str(area.sqref): [one.formula[0] for one in rules]
        for area, rules in runs.conditional_formatting._cf_rules.items()
    }
    volume = column(runs, "bead volume as run (mm³)")
    area = f"{volume[0].coordinate}:{volume[-1].coordinate}"
    planned = column(runs, "bead volume (mm³)")[0].coordinate
    assert any(f"{volume[0].coordinate}<>{planned}" in one for one in marked[area])
    assert any("<=530" in one for one in marked[area])
    humidity = column(runs, "humidity as run (%RH)")
    (only,) = marked[f"{humidity[0].coordinate}:{humidity[-1].coordinate}"]
    assert "<>" not in only
    whole = f"A2:{column(runs, 'who')[-1].coordinate}"
    assert '="failed"' in marked[whole][0]


def test_the_time_to_test_is_computed_from_made_at(runs):
    made = column(runs, "made at")[1].coordinate
    assert column(runs, "test peel force from")[1].value == f'=IF(ISNUMBER({made}),{made}+3,"")'
    look = column(runs, "test look from")[1]
    assert look.value == f'=IF(ISNUMBER({made}),{made}+{30 / 1440:.15G},"")'
    assert look.number_format == "yyyy-mm-dd hh:mm"
    for heading in ("made at", "test look from"):  # a narrower column would show ###
        letter = column(runs, heading)[0].column_letter
        assert runs.column_dimensions[letter].width >= len(look.number_format) + 2
    assert "Wait: overnight." in rule(runs, "leak (mm³/s), part 1").prompt


def test_no_wait_no_times():
    outcomes = tuple(replace(one, wait="") for one in bond.TRIAL.outcomes)
    sheet = load_workbook(
        io.BytesIO(sheet_bytes(replace(bond.TRIAL, outcomes=outcomes), bond.plan()))
    )["runs"]
    assert "made at" not in heads(sheet)


def test_nothing_of_the_user_is_a_formula(book):
    formulas = [
        cell.value
        for sheet in book.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    ]
    assert len(formulas) == 2 * 4
    assert all(one.startswith("=IF(ISNUMBER(") for one in formulas)
    assert "'=HYPERLINK(1)" in text_of(book["cautions"])


def test_paper(book, runs):
    assert str(runs.page_setup.paperSize) == runs.PAPERSIZE_A4
    assert runs.page_setup.orientation == "landscape"
    assert (runs.page_setup.fitToWidth, runs.page_setup.fitToHeight) == (1, 0)
    assert runs.sheet_properties.pageSetUpPr.fitToPage
    assert runs.print_title_rows == "$1:$1"
    assert runs.freeze_panes == "B2"
    digest = short_digest(plan_digest(bond.plan()))
    for sheet in (runs, book["cautions"]):
        assert sheet.oddFooter.left.text == "R&&D bond (invented)"
        assert sheet.oddFooter.center.text == f"plan {digest}, seed 1"
        assert sheet.oddFooter.right.text == "page &P of &N"
    assert "Invented." in runs.oddHeader.left.text
    assert book["cautions"].page_setup.orientation == "portrait"


def test_a_narrow_sheet_stays_upright():
    factors = (bond.FACTORS[0],)
    trial = Trial(title="narrow", question="", factors=factors, outcomes=bond.TRIAL.outcomes[:1])
    made = bond.plan()
    settings = replace(made.settings, factors=factors, values=made.settings.values[:, :1])
    plan = replace(made, settings=settings, parts_per_run=1, terms=None)
    sheet = load_workbook(io.BytesIO(sheet_bytes(trial, plan)))["runs"]
    assert sheet.page_setup.orientation == "portrait"


def test_the_second_sheet_says_what_comes_before_the_first_run(book):
    said = text_of(book["cautions"])
    for words in (
        "Before run 1: make one part at each of these corners",
        f"{USUAL_STOPPING_RULE} (common practice, no source.)",
        "Flammable solvent",
        DEFERRAL,
        "Invented.",
    ):
        assert words in said, words
    assert "=cure: 48 h" in said
    sheet = book["cautions"]
    free = [c for row in sheet.iter_rows() for c in row if not c.protection.locked]
    assert len(free) == 4  # a box for each corner
    stated = replace(bond.TRIAL, stopping_rule="Stop at smoke.")
    said = text_of(load_workbook(io.BytesIO(sheet_bytes(stated, bond.plan())))["cautions"])
    assert "Stop at smoke." in said
    assert "no source.)" not in said


def test_the_digest_is_hidden_and_read_back(book, tmp_path):
    assert book["workbench"].sheet_state == "hidden"
    path = write_sheet_xlsx(tmp_path, bond.TRIAL, bond.plan())
    table = read_table(path)
    assert table.plan == plan_digest(bond.plan())
    assert table.plan != plan_digest(bond.plan(turned=True))
    assert table.source == "run_sheet.xlsx, sheet 'runs'"
    assert len(table) == 4


def test_a_formula_that_is_not_ours_is_still_refused(tmp_path):
    path = write_sheet_xlsx(tmp_path, bond.TRIAL, bond.plan())
    book = load_workbook(path)
    column(book["runs"], "peel force (N), part 1")[0].value = "=1+1"
    book.save(path)
    with pytest.raises(FileError, match="never calculated"):
        read_table(path)


def test_names_that_the_sheet_uses_itself():
    factors = (*bond.FACTORS[:1], replace(bond.FACTORS[1], name="who"))
    trial = replace(
        bond.TRIAL,
        factors=factors,
        outcomes=(*bond.TRIAL.outcomes[:1], replace(bond.TRIAL.outcomes[1], name="made at")),
    )
    made = bond.plan()
    plan = replace(made, settings=replace(made.settings, factors=factors))
    sheet = load_workbook(io.BytesIO(sheet_bytes(trial, plan)))["runs"]
    assert len(set(heads(sheet))) == len(heads(sheet))


def test_nasty_text_still_makes_a_workbook():
    nasty = "a\u0001<b>&amp;&L&12 \"'" + "é" * 300
    factors = tuple(
        replace(one, name=f"{one.name} {nasty}")
        if not isinstance(one, Categorical)
        else replace(one, name=f"act {nasty}", levels=("none", f"={nasty}", "c"))
        for one in bond.FACTORS
    )
    trial = replace(
        bond.TRIAL, title=nasty, factors=factors, cautions=(nasty,), invented=nasty, held=()
    )
    made = bond.plan()
    plan = replace(made, settings=replace(made.settings, factors=factors[:2]))
    data = sheet_bytes(trial, plan)
    book = load_workbook(io.BytesIO(data))
    for sheet in book.worksheets[:2]:
        for check in sheet.data_validations.dataValidation:
            assert len(check.prompt or "") <= 255
            assert len(check.promptTitle or "") <= 32
            assert len(check.error or "") <= 255
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        footer = packed.read("xl/worksheets/sheet1.xml").decode().split("<oddFooter>")[1]
    assert len(footer.split("</oddFooter>")[0].replace("&amp;", "&")) <= 255
