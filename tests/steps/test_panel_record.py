"""The record panel: what it shows of a trial folder, and what an entry does to the journal."""

import shutil
from datetime import UTC, datetime

import pytest

import workbench as wb
from workbench.steps.panel_entry import enter
from workbench.steps.panel_nouns import Edit
from workbench.steps.panel_record import record_sheet

NOW = datetime(2026, 4, 21, 9, 0, tzinfo=UTC)
FORCE = "push-off force (N)"
DROP = "drop volume as run (µL)"


@pytest.fixture
def folder(tmp_path):
    source = wb.files.demo_folder("plate_bond")
    made = tmp_path / "plate_bond"
    made.mkdir()
    for name in ("trial.toml", "plan.csv", "plan.toml"):
        shutil.copy(source / name, made / name)
    return made


@pytest.fixture
def loads(tmp_path):
    source = wb.files.demo_folder("lid_seal_loads")
    made = tmp_path / "loads"
    made.mkdir()
    for name in ("trial.toml", "plan.csv", "plan.toml"):
        shutil.copy(source / name, made / name)
    return made


def one(folder, run, column, text, *, who="Mira", reason=""):
    answers = enter(
        folder, [Edit(run=run, column=column, text=text)], who=who, reason=reason, now=NOW
    )
    return answers.answers[0]


def cell(folder, run, column):
    sheet = record_sheet(folder)
    j = next(j for j, one in enumerate(sheet.columns) if one.key == column)
    return next(row for row in sheet.rows if row.run == run).cells[j]


def entries(folder):
    return wb.files.read_journal(folder).entries


def test_every_planned_run_stands_in_order_with_what_to_set(folder):
    trial = wb.files.read_trial(folder)
    plan = wb.files.read_plan(folder, trial)
    sheet = record_sheet(folder)
    assert [row.run for row in sheet.rows] == list(range(1, len(plan) + 1))
    assert sheet.next_run == 1
    first, second = sheet.rows[:2]
    drop = plan.settings.column("drop volume")
    assert [float(row.cells[0].planned) for row in sheet.rows] == list(drop)
    assert first.cells[0].is_new
    assert second.cells[0].is_new == (drop[0] != drop[1])
    assert any("eyelids" in one.title for one in sheet.cautions)
    assert any("screen closed" in one.text for one in sheet.cautions)


def test_a_reading_is_in_the_journal_once_it_is_answered(folder):
    assert one(folder, 1, FORCE, "81,5").outcome == "entered"
    stamped = entries(folder)[-1]
    assert (stamped.entry.run, stamped.entry.value, stamped.who) == (1, 81.5, "Mira")
    assert cell(folder, 1, FORCE).text == "81.5"
    assert "81.5" in (folder / "results.csv").read_text("utf-8")
    assert record_sheet(folder).next_run == 2
    assert one(folder, 1, FORCE, "81.5").outcome == "known"
    assert len(entries(folder)) == 1


@pytest.mark.parametrize(("typed", "mark", "shown"), [(">250", 1, ">250"), ("≤ 0,5", -1, "<0.5")])
def test_marks_are_taken_as_on_paper(folder, typed, mark, shown):
    assert one(folder, 1, "time to hold (s)", typed).outcome == "entered"
    assert entries(folder)[-1].entry.mark == mark
    assert cell(folder, 1, "time to hold (s)").text == shown


@pytest.mark.parametrize(
    ("column", "typed", "words"),
    [
        (FORCE, "abc", "is not a number"),
        (FORCE, "1,234", "Write 1.234 or 1234."),
        ("whitening", "grey", "clean, faint, marked, heavy"),
        ("activator as run", "sprayed", "none, wiped, misted"),
        ("made at", "soon", "14:05 for today"),
        (DROP, ">3", "no setting"),
    ],
)
def test_what_cannot_be_read_is_said_and_not_entered(folder, column, typed, words):
    answer = one(folder, 1, column, typed)
    assert answer.outcome == "wrong"
    assert words in answer.words
    assert "--" not in answer.words
    assert entries(folder) == ()


def test_one_wrong_cell_of_a_block_keeps_no_other_out(folder):
    edits = [
        Edit(run=run, column=FORCE, text=text) for run, text in ((1, "80"), (2, "x"), (3, "9"))
    ]
    answers = enter(folder, edits, who="Mira", now=NOW).answers
    assert [one.outcome for one in answers] == ["entered", "wrong", "entered"]
    assert len(entries(folder)) == 2


def test_a_correction_asks_its_reason_and_keeps_what_stood(folder):
    one(folder, 1, FORCE, "81")
    answer = one(folder, 1, FORCE, "18")
    assert answer.outcome == "ask"
    assert "18, before 81" in answer.words
    assert cell(folder, 1, FORCE).text == "81"
    assert one(folder, 1, FORCE, "18", reason="read the wrong way round").outcome == "entered"
    record = wb.steps.open_trial(folder).record
    assert [(c.before, c.after, c.reason) for c in record.corrections] == [
        ("81 N", "18 N", "read the wrong way round")
    ]


def test_what_somebody_else_entered_is_settled_with_a_reason(folder):
    one(folder, 1, FORCE, "81")
    answer = one(folder, 1, FORCE, "90", who="Tomas")
    assert answer.outcome == "ask"
    assert "Mira entered 81, you write 90" in answer.words
    assert one(folder, 1, FORCE, "90", who="Tomas", reason="read again").outcome == "entered"
    assert record_sheet(folder).problem == ""
    assert cell(folder, 1, FORCE).text == "90"


def test_two_who_entered_unseen_are_shown_and_can_be_settled(folder):
    entry = {"run": 1, "part": 1, "reading": 1, "outcome": "push-off force", "unit": "N"}
    for who, value in (("Mira", 81.0), ("Tomas", 90.0)):
        reading = wb.files.ReadingEntry(text=str(value), value=value, **entry)
        wb.files.append(folder, [reading], writer=who.lower(), who=who)
    sheet = record_sheet(folder)
    assert "Mira" in sheet.problem
    assert "Tomas" in sheet.problem
    assert one(folder, 1, FORCE, "85", who="Ana", reason="read a third time").outcome == "entered"
    assert record_sheet(folder).problem == ""
    assert cell(folder, 1, FORCE).text == "85"


def test_an_emptied_reading_stays_and_an_emptied_setting_goes_back_to_the_plan(folder):
    one(folder, 1, FORCE, "81")
    assert one(folder, 1, FORCE, "").outcome == "wrong"
    one(folder, 1, DROP, "5,4")
    assert cell(folder, 1, DROP).flag in ("note", "check")
    assert one(folder, 1, DROP, "").outcome == "ask"
    assert one(folder, 1, DROP, "", reason="typed into the wrong row").outcome == "entered"
    as_run = wb.steps.open_trial(folder).record.as_run.column("drop volume")[0]
    assert as_run == float(cell(folder, 1, DROP).planned)


@pytest.mark.parametrize("status", ["failed", "excluded", "repeated"])
def test_a_run_that_does_not_simply_count_asks_why(folder, status):
    assert one(folder, 2, "status", status).outcome == "ask"
    assert one(folder, 2, "status", status, reason="collar dropped").outcome == "entered"
    record = wb.steps.open_trial(folder).record
    assert (record.status[1], record.reason[1]) == (status, "collar dropped")
    shown = cell(folder, 2, "status")
    assert (shown.text, shown.said) == (status, "collar dropped")


def test_a_time_alone_is_today(folder):
    assert one(folder, 1, "made at", "8:05").outcome == "entered"
    assert record_sheet(folder).rows[0].made_at == "2026-04-21T08:05:00"


def test_a_note_may_begin_with_a_sign_and_may_change(folder):
    assert one(folder, 1, "notes", "=odd").outcome == "entered"
    assert cell(folder, 1, "notes").text == "=odd"
    assert one(folder, 1, "notes", "very odd").outcome == "entered"
    assert cell(folder, 1, "notes").text == "very odd"


def test_a_far_off_setting_is_flagged_at_once(folder):
    one(folder, 1, DROP, "12")
    flagged = cell(folder, 1, DROP)
    assert flagged.flag == "check"
    assert "off plan" in flagged.said
    assert any("off plan" in found.sentence for found in record_sheet(folder).findings)


def test_dwells_and_waits_are_timers(folder):
    timers = record_sheet(folder).rows[0].timers
    dwells = {one.name: one.seconds for one in timers if not one.after_run}
    assert set(dwells) == {"flash-off time", "press time"}
    plan = wb.steps.open_trial(folder).plan
    assert dwells["press time"] == plan.settings.column("press time")[0]


def test_loads_and_lots_stand_above_their_runs(loads):
    sheet = record_sheet(loads)
    leads = [row for row in sheet.rows if row.lead]
    assert 1 < len(leads) < len(sheet.rows)
    assert "cure humidity" in leads[0].lead
    blocks = [row.run for row in sheet.rows if row.asks_block]
    plan = wb.steps.open_trial(loads).plan
    assert len(blocks) == (plan.n_blocks if plan.n_blocks > 1 else 0)
    for number, run in enumerate(blocks):
        assert one(loads, run, "block", f"lot {number}").outcome == "entered"
    if blocks:
        record = wb.steps.open_trial(loads).record
        assert set(record.block_labels) == {f"lot {number}" for number in range(len(blocks))}
        assert record_sheet(loads).n_made == 0
