"""The command that hands over: what it writes, what it refuses, what it says."""

import openpyxl
import pytest

from workbench.cli.options import COMMANDS as HELP

TABLE = "press,pull\n" + "\n".join(
    f"{press},{6.0 - 0.002 * (press - 50) ** 2 + wobble:.2f}"
    for press, wobble in (
        (30, 0.05),
        (30, -0.06),
        (40, 0.08),
        (40, -0.04),
        (45, 0.02),
        (50, -0.05),
        (50, 0.06),
        (50, 0.01),
        (55, -0.03),
        (60, 0.07),
        (60, -0.06),
        (70, 0.03),
        (70, -0.02),
    )
)


@pytest.fixture
def folder(command, tmp_path):
    (tmp_path / "pulls.csv").write_text(TABLE, encoding="utf-8")
    place = tmp_path / "bond"
    said = command(
        "adopt",
        tmp_path / "pulls.csv",
        place,
        "--outcome=pull:unit=N,at_least=5.3",
        "--factor=press:unit=N,setting_sd=0.5",
        "--terms=second-order",
    )
    assert said.status == 0, said.err
    return place


def test_both_files_are_written_and_the_first_word_is_not_confirmed(command, folder):
    said = command("handover", folder, "--share=0.9", "--confidence=0.9")
    assert said.status == 0, said.err
    assert said.out.startswith("Not confirmed: ")
    assert f"next: workbench confirm {folder}" in said.out
    page = (folder / "handover.html").read_text(encoding="utf-8")
    assert "<h1>Hand-over, not confirmed: " in page
    assert "No hazard has been named" in page
    book = openpyxl.load_workbook(folder / "handover.xlsx")
    assert book.sheetnames == ["work instruction", "control plan", "evidence"]


def test_as_json_it_is_one_object(command, folder):
    said = command("handover", folder, "--share=0.9", "--confidence=0.9", "--json")
    assert said.status == 0
    found = said.json
    assert found["confirmed"] is False
    press = found["settings"]["press"]
    assert 30 <= press["low"] < press["set_point"] < press["high"] <= 70
    assert press["below_low"] == press["above_high"] == "pull below 5.3 N"
    assert len(found["control_plan"]) == 2


def test_without_a_window_nothing_is_written(command, folder):
    asked = (folder / "trial.toml").read_text(encoding="utf-8")
    (folder / "trial.toml").write_text(asked.replace("at_least = 5.3", "at_least = 6.2"))
    said = command("handover", folder, "--share=0.9", "--confidence=0.9")
    assert said.status == 4
    assert said.out.startswith("Nothing to hand over: ")
    assert "next: " in said.out
    assert not list(folder.glob("handover*"))


def test_what_must_be_promised_is_asked_for(command, folder):
    said = command("handover", folder)
    assert said.status == 2
    assert "No share is stated" in said.err
    assert not list(folder.glob("handover*"))


def test_the_help_knows_it():
    assert "work instruction" in HELP["handover"][0]
