"""Hostile texts in pages, spreadsheets, terminals and JSON are shown, never obeyed."""

import csv
import io
import json
import re
import socket

import hostile_trial as hostile_texts
import pytest

from workbench import files, show
from workbench.cli.screen import STEERING, plain
from workbench.files.csv_text import cell_text
from workbench.files.headings import guarded, unguarded
from workbench.jupyter.renderers import markup

RUNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
ALIVE = re.compile(r"<(?:img|svg/onload|iframe|a href|script>alert|style>@import)", re.IGNORECASE)


@pytest.fixture(scope="module")
def opened(hostile):
    from workbench.steps.trials import open_trial

    return open_trial(hostile)


def test_the_run_sheet_page_escapes_every_text(opened):
    page = show.run_sheet(opened.trial, opened.plan)
    assert not ALIVE.search(page)
    assert "&lt;img src=x" in page
    assert "javascript:" not in re.sub(r">[^<]*<", "><", page)


def test_notebook_tables_escape_every_text(opened):
    for noun in (opened.trial, opened.plan, opened.record):
        page = markup(noun)
        assert not ALIVE.search(page)
        assert "&lt;img src=x" in page


def tables_written(hostile, command, tmp_path):
    """Return the cells of every CSV and workbook that the workbench writes for the trial."""
    import shutil

    from openpyxl import load_workbook

    folder = shutil.copytree(hostile, tmp_path / "trial")
    assert command("sheet", folder).status == 0
    assert command("export", folder).status == 0
    for path in sorted(folder.rglob("*.csv")):
        if path.name == "typed.csv":
            continue
        text = path.read_text(encoding="utf-8-sig")
        yield path.name, [cell for row in csv.reader(io.StringIO(text)) for cell in row]
    book = load_workbook(folder / "run_sheet.xlsx")
    for sheet in book:
        cells = [cell for row in sheet.iter_rows() for cell in row if cell.value is not None]
        ours = [cell.value for cell in cells if cell.data_type == "f"]
        assert all("HYPERLINK" not in one and "cmd" not in one for one in ours)
        yield sheet.title, [str(c.value) for c in cells if c.data_type == "s"]


def test_no_cell_that_is_written_is_a_formula(hostile, command, tmp_path):
    seen = set()
    for name, cells in tables_written(hostile, command, tmp_path):
        seen.add(name)
        risky = [one for one in cells if one.startswith(RUNS) and not _is_number(one)]
        assert risky == [], name
    assert {"readings.csv", "runs.csv", "dictionary.csv", "results.csv", "runs"} <= seen


def test_guarded_text_comes_back_and_negative_numbers_stay():
    for text in (*hostile_texts.ALL, "'=1", "''=1", "'plain", "-", "=", "plain"):
        assert unguarded(guarded(text)) == text
        assert not guarded(text).startswith(RUNS)
    assert [cell_text(one) for one in (-5.0, -0.25, 1e-7)] == ["-5", "-0.25", "1e-07"]


def test_a_screen_is_never_steered(hostile, command):
    for name in ("check", "fit"):
        said = command(name, hostile)
        assert said.status in (0, 4), said.err
        assert not STEERING.search(said.out + said.err)
    assert "\\x1b[31m" in command("fit", hostile).out or "\\x1b" in plain(hostile_texts.SCREEN)


def test_an_error_that_names_a_cell_steers_no_screen(tmp_path, command):
    table = tmp_path / "t\x1b[2J.csv"
    table.write_text("run,\x1b]0;owned\x07\n1,\x1b[31mred\n", encoding="utf-8")
    said = command("adopt", table, tmp_path / "new")
    assert said.status == 2
    assert not STEERING.search(said.out + said.err)


def test_json_keeps_the_very_names_and_steers_no_screen(hostile, command):
    said = command("fit", hostile, "--json")
    assert not STEERING.search(said.out)
    assert hostile_texts.FORCE in json.loads(said.out)["outcomes"]


@pytest.mark.slow
def test_nothing_is_asked_of_a_network_while_the_whole_job_is_done(tmp_path, command, monkeypatch):
    asked = []

    def refuse(_self, address, *_rest):
        asked.append(address)
        raise OSError("no network here")

    for name in ("connect", "connect_ex", "sendto"):
        monkeypatch.setattr(socket.socket, name, refuse)
    monkeypatch.setattr(socket, "getaddrinfo", lambda *address, **_: refuse(None, address))
    assert command("demo", tmp_path).status == 0
    trial = tmp_path / "lid_seal"
    assert command("check", trial).status == 0
    assert command("export", trial).status == 0
    assert asked == []


def test_pages_name_no_address_outside(hostile, opened):
    page = show.run_sheet(opened.trial, opened.plan)
    loading = re.findall(r"<(?:script|link|img|iframe)[^>]*(?:src|href)=[^>]*>", page)
    assert [one for one in loading if "data:" not in one] == []
    assert files.read_trial(hostile).title == hostile_texts.TRIAL.title


def _is_number(text):
    try:
        float(text)
    except ValueError:
        return False
    return True
