"""What a meeting decides and leaves open: kept in decisions.toml, read back, shown."""

import pytest

import workbench as wb
from workbench.errors import FileError, WorkbenchError
from workbench.files.decisions import NAME
from workbench.steps.new import start_trial

OLD = """\
# ours
schema = 1

[[decision]]  # before there were questions
what = "released"
reason = "see report"
by = "Tomas"
at = "2026-03-12"
"""


@pytest.fixture
def trial(tmp_path):
    start_trial(tmp_path / "seal", "")
    return tmp_path / "seal"


def test_a_decision_is_kept_with_who_and_why(trial):
    kept = wb.steps.keep_decision(trial, " Run at\n0.9 mm ", reason="it holds", by="Mira")
    (one,) = kept.decided
    assert (one.what, one.reason, one.by) == ("Run at 0.9 mm", "it holds", "Mira")
    assert one.at[:4].isdigit()
    assert wb.steps.decisions_of(trial) == kept


def test_a_question_is_open_until_a_decision_answers_it(trial):
    wb.steps.keep_question(trial, "Which gauge?", by="Tomas")
    kept = wb.steps.keep_question(trial, "Which lot?", reason="one was tried", by="Tomas")
    assert [(one.number, one.entry.what) for one in kept.open] == [
        (1, "Which gauge?"),
        (2, "Which lot?"),
    ]
    kept = wb.steps.keep_decision(trial, "Gauge 4", by="Mira", answers=1)
    assert [(one.number, one.entry.what) for one in kept.open] == [(2, "Which lot?")]
    assert kept.decided[-1].answers == "Which gauge?"
    with pytest.raises(WorkbenchError, match=r"No question 1 is open.*2 \(Which lot\?\)"):
        wb.steps.keep_decision(trial, "Gauge 5", by="Mira", answers=1)
    with pytest.raises(WorkbenchError, match="was asked before"):
        wb.steps.keep_question(trial, "Which  lot?", by="Mira")


def test_an_older_file_is_added_to_and_its_comments_stay(trial):
    (trial / NAME).write_text(OLD, encoding="utf-8")
    wb.steps.keep_question(trial, "Which lot?", by="Tomas")
    kept = wb.steps.keep_decision(trial, "Two lots", by="Mira", answers=1)
    assert [one.what for one in kept.decided] == ["released", "Two lots"]
    assert kept.decided[0].answers == ""
    assert kept.open == ()
    written = (trial / NAME).read_text("utf-8")
    assert written.startswith("# ours\n")
    assert "# before there were questions" in written


@pytest.mark.parametrize("text", ["", " \n", "a\x00b", "x" * 2001, "bad \udc80 byte"])
def test_what_cannot_be_kept_is_refused_and_nothing_is_written(trial, text):
    with pytest.raises(WorkbenchError, match="The text"):
        wb.steps.keep_decision(trial, text, by="Mira")
    assert not (trial / NAME).exists()


def test_a_folder_without_a_trial_is_refused(tmp_path):
    with pytest.raises(FileError, match=r"no trial\.toml"):
        wb.steps.keep_question(tmp_path, "Which lot?", by="Mira")


@pytest.mark.parametrize("entry", ['what = "a"', 'what = 1\nreason = ""\nby = ""\nat = ""'])
def test_a_question_that_is_not_understood_is_named(trial, entry):
    (trial / NAME).write_text(f"schema = 1\n\n[[question]]\n{entry}\n", encoding="utf-8")
    with pytest.raises(FileError, match="not understood"):
        wb.steps.decisions_of(trial)


def test_the_report_shows_what_is_decided_and_what_is_open(trial):
    wb.steps.keep_decision(trial, "Run <at> 0.9 mm", reason="it holds", by="Mira")
    wb.steps.keep_question(trial, "Which lot & when?", reason="one was tried", by="Tomas")
    wb.steps.keep_question(trial, "Which gauge?", by="Tomas")
    wb.steps.keep_decision(trial, "Gauge 4", by="Mira", answers=2)
    page = wb.steps.write_report(wb.steps.open_trial(trial)).read_text("utf-8")
    last = page[page.index('id="decision"') : page.index('class="colophon"')]
    assert last.index("<h3>Decided</h3>") < last.index("Run &lt;at&gt; 0.9 mm")
    assert last.index("it holds") < last.index("<h3>Open questions</h3>")
    assert last.index("<h3>Open questions</h3>") < last.index("Which lot &amp; when?")
    assert "one was tried" in last
    assert "Which gauge?" not in last
    assert "Gauge 4" in last
