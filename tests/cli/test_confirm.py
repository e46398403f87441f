"""`confirm` on the command line: plan and lock, take parts in, say the verdict."""

import importlib.util
import sys
from pathlib import Path

import pytest

PLACE = Path(__file__).parents[1] / "steps" / "seal_confirm.py"
if "seal_confirm" not in sys.modules:
    spec = importlib.util.spec_from_file_location("seal_confirm", PLACE)
    module = importlib.util.module_from_spec(spec)
    sys.modules["seal_confirm"] = module
    spec.loader.exec_module(module)
seal_confirm = sys.modules["seal_confirm"]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("confirm") / "lid_seal"
    seal_confirm.locked_seal(place)
    return place


def test_take_then_verdict(command, answered, folder):
    table = seal_confirm.filled_sheet(folder)
    taken = answered("confirm", folder, "--take", table, "--who", "Tomas Lind")
    assert taken["off_plan"] is None
    found = answered("confirm", folder, "--verdict")
    assert found["verdict"] == "holds"
    assert found["share"] == 0.95
    assert found["places"][0]["name"] == "set point"
    place = found["places"][0]
    assert place["planned"] == place["met"] + place["failed"] + place["lost"] + place["unknown"]
    leak = place["outcomes"]["leak rate"]
    assert leak["index"]["kind"] == "performance"
    assert leak["index"]["Ppk_low"] < leak["index"]["Ppk"] < leak["index"]["Ppk_high"]
    assert leak["index"]["Pp"] == {"unavailable": "it takes two limits"}
    assert leak["tolerance"]["low"] is None
    said = command("confirm", folder, "--verdict")
    assert said.status == 0
    assert said.out.startswith("Verdict: holds.")
    assert "what to do:" in said.out


def test_parts_that_are_missing_leave_it_open_with_status_4(command, tmp_path):
    place = tmp_path / "lid_seal"
    seal_confirm.locked_seal(place)

    def unread(row):
        if int(row["run"]) > 20:
            for name in list(row):
                row[name] = row[name] if name in ("run", "block") else ""

    table = seal_confirm.filled_sheet(place, change=unread)
    assert command("confirm", place, "--take", table).status == 0
    said = command("confirm", place, "--verdict")
    assert said.status == 4
    assert "too few parts to say" in said.out


def test_mistakes_are_named_with_the_next_step(command, tmp_path, folder):
    seal_confirm.opened_seal(tmp_path / "lid_seal")
    said = command("confirm", tmp_path / "lid_seal", "--verdict")
    assert said.status == 2
    assert "No confirmation is locked" in said.err
    assert "next: Plan one: workbench confirm" in said.err
    both = command("confirm", folder, "--verdict", "--take", "x.csv")
    assert both.status == 2
    again = command("confirm", folder)
    assert again.status == 2


def test_without_a_window_the_answer_is_cannot(command, tmp_path):
    place = tmp_path / "lid_seal"
    seal_confirm.opened_seal(place)
    path = place / "trial.toml"
    text = path.read_text("utf-8")
    path.write_text(text.replace("at_most = 0.6", "at_most = 0.01"), "utf-8")
    said = command("confirm", place, "--json")
    assert said.status == 4
    assert "no window to confirm" in said.json["confirmation"]["unavailable"]
    assert said.json["next_trial"]["words"]
    assert not (place / "confirmation.toml").exists()
