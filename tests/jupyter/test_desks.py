"""What panels say to a page and take from it: plain JSON, problems in words, never a traceback."""

import json
import shutil

import pytest

import workbench as wb
from workbench.errors import FileError
from workbench.jupyter.assets import script, styles
from workbench.jupyter.panel_widget import PanelWidget
from workbench.jupyter.planning_desk import PlanningDesk
from workbench.jupyter.record_desk import RecordDesk

FORCE = "push-off force (N)"


def copied(tmp_path, name):
    source = wb.files.demo_folder(name)
    made = tmp_path / name
    made.mkdir()
    for one in ("trial.toml", "plan.csv", "plan.toml"):
        shutil.copy(source / one, made / one)
    return made


@pytest.mark.parametrize("name", ["lid_seal_loads", "plate_bond", "sensor_wire"])
def test_a_sheet_is_plain_json(tmp_path, name):
    sheet = RecordDesk(copied(tmp_path, name)).sheet()
    assert json.loads(json.dumps(sheet, allow_nan=False))["rows"][0]["run"] == 1


def test_an_entry_is_answered_with_the_sheet_as_it_is_then(tmp_path):
    desk = RecordDesk(copied(tmp_path, "plate_bond"))
    desk.sheet()
    edit = {"run": 1, "column": FORCE, "text": "81"}
    answer = desk.answer({"kind": "enter", "who": "Mira", "edits": [edit]})
    assert answer["answers"][0]["outcome"] == "entered"
    assert answer["sheet"]["n_made"] == 1
    assert desk.answer({"kind": "look"}) == {}


def test_what_somebody_else_enters_shows_on_the_next_look(tmp_path):
    folder = copied(tmp_path, "plate_bond")
    desk, other = RecordDesk(folder), RecordDesk(folder)
    desk.sheet()
    edit = {"run": 1, "column": FORCE, "text": "81"}
    other.answer({"kind": "enter", "who": "Ana", "edits": [edit]})
    assert desk.answer({"kind": "look"})["sheet"]["n_made"] == 1


def test_a_folder_that_broke_meanwhile_is_said_in_words(tmp_path):
    folder = copied(tmp_path, "plate_bond")
    desk = RecordDesk(folder)
    desk.sheet()
    (folder / "trial.toml").write_text("title = ", "utf-8")
    assert "trial.toml" in desk.answer({"kind": "look"})["problem"]
    edit = {"run": 1, "column": FORCE, "text": "81"}
    assert "trial.toml" in desk.answer({"kind": "enter", "who": "", "edits": [edit]})["problem"]


def test_a_folder_that_is_no_trial_is_refused_at_once(tmp_path):
    for panel in (wb.jupyter.record_panel, wb.jupyter.planning_panel):
        with pytest.raises(FileError, match=r"no trial\.toml"):
            panel(tmp_path)


def test_a_form_is_plain_json_and_written_only_when_asked(tmp_path):
    folder = copied(tmp_path, "lid_seal")
    before = (folder / "trial.toml").read_bytes()
    desk = PlanningDesk(folder)
    form = json.loads(json.dumps(desk.form()))
    draft = form["draft"]
    assert desk.answer({"kind": "check", "draft": draft}) == {"problems": []}
    assert desk.answer({"kind": "look"}) == {"changes": []}
    assert (folder / "trial.toml").read_bytes() == before
    next(one for one in draft if one["section"] == "factor")["texts"]["low"] = "255"
    assert desk.answer({"kind": "write", "draft": draft})["written"]
    assert wb.files.read_trial(folder).factors[0].low == 255


@pytest.fixture
def sent(monkeypatch):
    """Return what widgets send to their page."""
    found = []
    monkeypatch.setattr(PanelWidget, "send", lambda _, content: found.append(content))
    return found


def test_the_record_widget_sets_the_sheet_before_it_answers(tmp_path, sent):
    widget = wb.jupyter.record_panel(copied(tmp_path, "plate_bond"), who="Mira")
    edit = {"run": 1, "column": FORCE, "text": "81"}
    message = {"id": "1", "kind": "enter", "who": widget.who, "edits": [edit]}
    widget._heard(widget, message, [])
    assert widget.sheet["n_made"] == 1
    assert sent[0]["answers"][0]["outcome"] == "entered"
    assert "sheet" not in sent[0]


def test_the_planning_widget_answers_a_check(tmp_path, sent):
    widget = wb.jupyter.planning_panel(copied(tmp_path, "lid_seal"))
    widget._heard(widget, {"id": "1", "kind": "check", "draft": widget.form["draft"]}, [])
    assert sent == [{"problems": [], "id": "1"}]


def test_the_explorer_widget_answers_a_look(tmp_path, sent):
    source = wb.files.demo_folder("lid_seal")
    folder = copied(tmp_path, "lid_seal")
    wb.steps.take_table(folder, source / "results_as_typed.csv", who="Mira")
    widget = wb.jupyter.explorer(folder, seed=7)
    at = {one["name"]: one["value"] for one in widget.start["fields"]}
    widget._heard(widget, {"id": "1", "kind": "look", "at": at}, [])
    assert [one["outcome"] for one in sent[0]["looks"][0]["ladders"]] == [
        one.name for one in wb.files.read_trial(folder).outcomes
    ]
    assert json.loads(json.dumps(widget.start, allow_nan=False))


def test_a_widget_answers_even_if_the_desk_fails(sent):
    class Broken:
        def answer(self, _message):
            raise ZeroDivisionError

    class Bare(PanelWidget):
        _esm = script("explore.js")

    widget = Bare(Broken())
    with pytest.raises(ZeroDivisionError):
        widget._heard(widget, {"id": "7", "kind": "look"}, [])
    assert sent[0]["id"] == "7"
    assert "failed here" in sent[0]["problem"]


def test_panels_are_made_of_our_own_files_alone():
    for name in ("record.js", "planning.js", "explore.js"):
        source = script(name)
        for word in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval("):
            assert word not in source
        assert "http" not in source.replace("http://www.w3.org/2000/svg", "")
        assert "import " not in source.replace("important ", "")
    assert "url(" not in styles()
    assert "@import" not in styles()
