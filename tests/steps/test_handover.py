"""A hand-over from a trial folder: what it says, on the page, in the workbook, as JSON."""

import hashlib
import io
import json
import re
from dataclasses import replace

import openpyxl
import pytest
import seal_handover as seal

from workbench import files, show
from workbench.decide.handover import Checked, Proof
from workbench.decide.handover_made import NoHandOver
from workbench.decide.verdict import Answer
from workbench.decide.windows import Decision, NoWindow
from workbench.define.cautions import DEFERRAL
from workbench.files.entries import RunEntry
from workbench.files.handover_xlsx import handover_bytes, write_handover_xlsx
from workbench.files.journal_ends import read_ends
from workbench.run.record import Status
from workbench.steps.handover import ConfirmationSoFar, HandedOver, hand_over_of
from workbench.steps.handover_answers import handover_answer, no_handover_answer
from workbench.steps.trials import open_trial
from workbench.steps.windows import WindowAnswer


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    return seal.opened_seal(tmp_path_factory.mktemp("trials") / "lid_seal")


@pytest.fixture(scope="module")
def answer(opened):
    return seal.answer_of(opened, seal.window_of(opened.trial))


@pytest.fixture(scope="module")
def made(opened, answer):
    return hand_over_of(opened, answer)


@pytest.fixture(scope="module")
def page(made):
    return show.hand_over(made)


@pytest.fixture(scope="module")
def book(made):
    return openpyxl.load_workbook(io.BytesIO(handover_bytes(made)))


def facts(made, title):
    (chapter,) = [one for one in made.evidence if one.title == title]
    return {fact.what: fact.found for fact in chapter.facts}


def said(made, title):
    (chapter,) = [one for one in made.evidence if one.title == title]
    return chapter.says


class TestWhatIsHandedOver:
    def test_settings_stand_as_they_were_found(self, made):
        lines = {one.name: one for one in made.instruction.settings}
        assert list(lines) == list(seal.ENDS)
        bead = lines["bead volume"]
        assert (bead.low, bead.set_to, bead.high, bead.unit) == (320, 345, 365, "mm³")
        assert bead.holds == 4.0
        assert bead.steps == ()

    def test_each_failing_side_is_told_with_what_drives_it(self, made):
        signs = {one.sign: one for one in made.instruction.look_for}
        assert list(signs) == [
            "leaks",
            "bead too thin",
            "squeezes out too far",
            "peels too easily",
        ]
        assert signs["leaks"].reading == "leak rate above 0.6 mm³/s"
        assert signs["leaks"].comes_with == (
            "bead volume below 320 mm³",
            "nozzle height above 1.2 mm",
            "nozzle speed above 27.5 mm/s",
        )
        assert signs["peels too easily"].comes_with == ("cure humidity below 45 %RH",)
        assert signs["bead too thin"].comes_with == ()

    def test_do_keeps_waits_and_what_breaks(self, made):
        do = " ".join(made.instruction.do)
        assert "Test leak rate, squeeze-out width and peel force after 48 h of cure." in do
        assert "peel force last: it destroys the part" in do
        assert made.instruction.keep == ("nozzle bore 1.2 mm", "cure time 48 h")

    def test_the_trials_own_rule_stops_the_line_too(self, made):
        rules = " ".join(made.instruction.stop_if)
        assert "Stop if three parts in a row leak more than 5 mm³/s" in rules
        assert "up to 5 in 100" in rules

    def test_a_row_of_the_control_plan_for_each_setting_and_requirement(self, made):
        rows = {one.characteristic: one for one in made.control}
        assert len(rows) == 4 + 2 + 3
        assert rows["nozzle bore"].specification == "1.2 mm, as in the trial"
        assert rows["bead volume"].specification == "345 mm³; 320 to 365 mm³"
        assert rows["bead volume"].method == ""
        assert "pressure decay at 30 kPa" in rows["leak rate"].method
        assert "destroys the part" in rows["peel force"].method
        assert rows["squeeze-out width"].specification == "0.5 to 1.6 mm"
        assert "Check bead volume, nozzle height and nozzle speed first" in (
            rows["squeeze-out width"].reaction
        )
        assert "not tried or not assured" in rows["cure humidity"].reaction
        assert all(one.sample == one.frequency == "" for one in made.control)
        kinds = [one.checked for one in made.control]
        assert kinds == [Checked.SETTING] * 6 + [Checked.REQUIREMENT] * 3

    def test_without_a_confirmation_it_is_said_to_be_unconfirmed(self, made):
        assert made.proof is Proof.NONE
        assert made.standing.startswith("Not confirmed")
        assert said(made, "Confirmation").startswith("Not confirmed")
        assert any("no confirmation run has been made" in one for one in made.not_tested)


class TestEvidence:
    def test_digests_are_those_of_the_files(self, opened, made):
        found = facts(made, "Digests")
        text = (opened.folder / "trial.toml").read_text(encoding="utf-8")
        assert found["trial.toml"] == hashlib.sha256(text.encode()).hexdigest()
        plan = (opened.folder / "plan.csv").read_text(encoding="utf-8")
        assert found["plan.csv"] == hashlib.sha256(plan.encode()).hexdigest()
        (end,) = read_ends(opened.folder).values()
        (journal,) = [value for what, value in found.items() if what.startswith("journal of")]
        assert journal == end.digest.removeprefix("sha256:")

    def test_fits_say_their_model_their_runs_and_their_scatter(self, made):
        found = facts(made, "Fits")
        assert list(found) == ["leak rate", "squeeze-out width", "peel force"]
        assert "30 runs, settings as they were run" in found["leak rate"]
        assert re.search(r"scatter by a factor of 1\.2\d", found["leak rate"])
        assert re.search(r"scatter by 1\.\d+ N ", found["peel force"])
        assert "second-order (14 terms)" in found["peel force"]

    def test_the_plan_with_its_seed_and_the_window_with_its_draws(self, made):
        assert facts(made, "Plan")["seed of the order"] == "11"
        assert facts(made, "Plan")["plan"] == "central composite: 30 runs, 1 part a run"
        window = facts(made, "Window")
        assert window["asked"] == "95 % of parts, with 95 % confidence"
        assert window["draws"] == "64 processes, seed 11"
        assert window["holds on condition"] == "Model form: an assumption."

    def test_shares_stand_by_requirement_and_last_for_all(self, made):
        assert [one.outcome for one in made.assured][-1] == ""
        assert made.assured[-1].lowest == 0.953
        assert made.assured[0].requirement == "at most 0.6 mm³/s"

    def test_that_no_gauge_was_studied_is_said(self, made):
        assert said(made, "Gauges").startswith("No gauge study")

    def test_runs_left_out_stand_with_their_reason(self, tmp_path):
        folder = tmp_path / "lid_seal"
        seal.opened_seal(folder)
        entry = RunEntry(run=7, status=Status.EXCLUDED, reason="nozzle was bent")
        (writer,) = read_ends(folder)
        files.append(folder, [entry], writer=writer, who="Mira Osei")
        opened = open_trial(folder)
        made = hand_over_of(opened, seal.answer_of(opened, seal.window_of(opened.trial)))
        runs = facts(made, "Runs, and what does not count")
        assert runs["runs"] == "29 count of 30 planned"
        assert runs["run 7, excluded"] == "nozzle was bent"
        assert "1 run left out by hand" in facts(made, "Fits")["leak rate"]


class TestRefused:
    def test_without_a_window(self, opened, answer):
        none = NoWindow(
            reason="No setting holds.",
            share=0.95,
            confidence=0.95,
            nearest_miss=None,
            next_trial="Run more.",
        )
        for decision in (none, Decision(best=none, by_level=(((), none),), if_right=none)):
            without = WindowAnswer(decision=decision, fits=answer.fits, accepted="")
            refused = hand_over_of(opened, without)
            assert refused == NoHandOver(reason="No setting holds.", next_step="Run more.")
        assert no_handover_answer(refused) == {
            "handover": {"unavailable": "No setting holds."},
            "next_step": "Run more.",
        }


class TestConfirmed:
    @pytest.fixture
    def over(self, opened, answer):
        def with_verdict(verdict):
            so_far = ConfirmationSoFar(locked=_Locked(), verdict=verdict)
            return hand_over_of(opened, answer, so_far)

        return with_verdict

    def test_it_says_so_in_its_heading(self, over, answer):
        made = over(seal.verdict_of(answer.best))
        assert made.proof is Proof.CONFIRMED
        page = show.hand_over(made)
        assert "<h1>Hand-over, confirmed: Silicone bead of the probe housing</h1>" in page
        assert "Not confirmed" not in page
        assert not any("no confirmation run" in one for one in made.not_tested)
        seen = facts(made, "Confirmation")
        at = "set point (bead volume 345, nozzle height 0.95, nozzle speed 22, cure humidity 52)"
        assert seen[at].startswith("59 of 59 parts met every requirement. At least 95.1 %")

    def test_a_refuted_window_is_not_handed_over(self, over, answer):
        places = (Answer.HOLDS, Answer.FAILS)
        refused = over(seal.verdict_of(answer.best, Answer.FAILS, place_answers=places))
        assert isinstance(refused, NoHandOver)
        assert "does not hold: at corner 1" in refused.reason
        assert refused.next_step == "Do as the verdict says."


class _Locked:
    """A locked confirmation, as far as a hand-over looks at it."""

    plan = None
    digest = "sha256:abc"


class TestPage:
    def test_the_heading_says_that_nothing_was_confirmed(self, page):
        assert "<h1>Hand-over, not confirmed: Silicone bead of the probe housing</h1>" in page

    def test_nothing_is_fetched_and_nothing_runs(self, page):
        assert not re.search(r"(?:src|href)\s*=|url\(|@import|<script", page)

    def test_cautions_and_their_deferral_hang_at_the_bench(self, page):
        first = page.split('<section class="leaf')[1]
        assert "Silicone cure vapour" in first
        assert "Leak test at 30 kPa only" in first
        assert DEFERRAL.split(";")[0].replace("'", "&#x27;") in first

    def test_signatures_stay_empty(self, page):
        (signed,) = re.findall(r'<div class="sign">(.*?)</div></div>', page)
        assert re.findall(r">([a-z]+), name and date", signed) == ["process", "quality", "line"]
        assert "Mira" not in signed

    def test_words_of_a_user_stay_words(self, made):
        bad = "<img src=x onerror=alert(1)>"
        trial = replace(made.trial, title=bad, invented=bad, cautions=(bad,))
        assert "<img" not in show.hand_over(replace(made, trial=trial, not_tested=(bad,)))


class TestWorkbook:
    def test_three_sheets_with_the_standing_first(self, book):
        assert book.sheetnames == ["work instruction", "control plan", "evidence"]
        for sheet in book:
            assert sheet["A1"].value.startswith("Hand-over, not confirmed: ")
            assert sheet["A2"].value.startswith("Not confirmed")

    def test_limits_are_numbers(self, book):
        rows = list(book["work instruction"].iter_rows(values_only=True))
        (bead,) = [row for row in rows if row[0] == "bead volume"]
        assert bead[:5] == ("bead volume", 320, 345, 365, "mm³")

    def test_open_cells_are_boxes_that_hold_nothing(self, book):
        rows = list(book["control plan"].iter_rows())
        (leak,) = [row for row in rows if row[0].value == "leak rate"]
        assert [leak[j].value for j in (4, 5)] == [None, None]
        assert leak[4].border.left.style == "thin"

    def test_no_text_is_taken_for_a_formula(self, made, tmp_path):
        bad = '=HYPERLINK("x","y")'
        trial = replace(made.trial, title=bad, cautions=(bad, "@SUM(1)"), invented="+1")
        row = replace(made.control[0], characteristic=bad, reaction="-2+3")
        changed = replace(
            made, trial=trial, control=(row, *made.control[1:]), not_tested=(bad,), promise=bad
        )
        path = write_handover_xlsx(tmp_path, changed)
        book = openpyxl.load_workbook(path)
        cells = [c for sheet in book for row in sheet.iter_rows() for c in row if c.value]
        assert not [one for one in cells if one.data_type == "f"]
        assert {one.value for one in cells} >= {f"'{bad}", "'@SUM(1)", "'+1", "'-2+3"}


def test_as_json(made, tmp_path):
    found = HandedOver(made=made, page=tmp_path / "a.html", workbook=tmp_path / "a.xlsx")
    answer = json.loads(json.dumps(handover_answer(found), allow_nan=False))
    assert answer["confirmed"] is False
    assert answer["standing"] == "not confirmed: no confirmation has been judged"
    assert answer["settings"]["nozzle height"]["low"] == 0.7
    assert answer["control_plan"][0]["sample"] is None
    assert answer["evidence"]["Gauges"]["facts"] == []
    assert answer["assured"]["all together"]["lowest"] == 0.953
    assert [one.rpartition("/")[2] for one in answer["files"]] == ["a.html", "a.xlsx"]
