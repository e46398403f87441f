"""The whole job through the command line, on a trial that starts from nothing."""

import csv
import re

import numpy as np
import pytest

from workbench.files import read_trial

FORCE, SQUEEZE, LEAK = "peel_force", "squeeze_out", "leak_rate"


@pytest.fixture
def started(command, tmp_path):
    folder = tmp_path / "trial"
    assert command("new", folder).status == 0
    return folder


@pytest.fixture
def small(started):
    """The started trial with two of its factors, so that a window is found in a moment."""
    path = started / "trial.toml"
    head, *sections = re.split(r"^(?=\[\[)", path.read_text("utf-8"), flags=re.MULTILINE)
    left_out = ('name = "nozzle_speed"', 'name = "cure_humidity"')
    kept = [one for one in sections if not any(name in one for name in left_out)]
    path.write_text(head + "".join(kept), "utf-8")
    return started


@pytest.fixture
def planned(command, started):
    said = command("plan", started, "--kind=composite", "--centre-points=4", "--seed=7")
    assert said.status == 0, said.err
    return started


def fill(folder):
    """Fill in run_sheet.csv from an invented process, in a copy beside it."""
    rng = np.random.default_rng(8)
    with (folder / "run_sheet.csv").open(encoding="utf-8-sig", newline="") as opened:
        rows = list(csv.DictReader(opened))
    trial = read_trial(folder)
    for row in rows:
        coded = {
            f.name: (float(row[f"{f.name} ({f.unit})"]) - (f.low + f.high) / 2)
            / ((f.high - f.low) / 2)
            for f in trial.factors
        }
        run = rng.standard_normal(3)  # scatter of the run, shared by its parts
        for heading in row:
            part = rng.standard_normal() * 0.5
            if heading.startswith(FORCE):
                row[heading] = f"{32 + 3 * coded['bead_volume'] + 0.5 * run[0] + part:.2f}"
            elif heading.startswith(SQUEEZE):
                mean = 0.7 + 0.15 * coded["bead_volume"]
                row[heading] = f"{mean + 0.04 * run[1] + 0.04 * part:.3f}"
            elif heading.startswith(LEAK):
                bent = -10.6 - 0.3 * coded["bead_volume"] + 0.15 * run[2] + 0.1 * part
                row[heading] = f"{np.exp(bent):.3e}"
    filled = folder / "filled.csv"
    with filled.open("w", encoding="utf-8", newline="") as opened:
        writer = csv.DictWriter(opened, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return filled


def run_it(command, folder):
    """Write the sheet, fill it in and take it back."""
    said = command("sheet", folder)
    assert said.status == 0, said.err
    said = command("take", folder, fill(folder), "--who=Mira", "--json")
    assert said.status == 0, said.err
    return said.json


@pytest.fixture
def filled(command, planned):
    assert run_it(command, planned)["rows"] == 28
    return planned


def test_plan_says_what_it_can_tell(answered, started):
    answer = answered("plan", started, "--kind=composite", "--centre-points=4", "--seed=7")
    assert answer["plan"]["runs"] == 16 + 8 + 4
    assert answer["plan"]["seed"] == 7
    power = answer["power"][FORCE]
    assert power["unit"] == "N"
    assert len(power["terms"]) == 14
    assert all(0 < one["power"] < 1 for one in power["terms"])
    assert (started / "plan.csv").is_file()
    assert (started / "plan.toml").is_file()


def test_fraction_names_what_it_mixes(answered, started):
    text = (started / "trial.toml").read_text("utf-8")
    (started / "trial.toml").write_text(
        text.replace('model = "second-order"', 'model = "first-order"'), "utf-8"
    )
    answer = answered("plan", started, "--kind=fraction", "--runs=8")
    assert answer["plan"]["runs"] == 8
    assert answer["plan"]["resolution"] == 4
    mixed = {one["term"]: one["with"] for one in answer["cannot_tell_apart"]}
    assert abs(mixed["bead_volume"][0]["size"]) == pytest.approx(1)


def test_same_seed_same_plan(command, started):
    command("plan", started, "--kind=composite", "--seed=7")
    first = (started / "plan.csv").read_bytes()
    command("plan", started, "--kind=composite", "--seed=8")
    assert (started / "plan.csv").read_bytes() != first
    command("plan", started, "--kind=composite", "--seed=7")
    assert (started / "plan.csv").read_bytes() == first


def test_sheet_needs_a_plan(command, started):
    said = command("sheet", started)
    assert said.status == 2
    assert "no plan yet" in said.err
    assert "workbench plan" in said.err


def test_fit_needs_results(command, planned):
    said = command("fit", planned)
    assert said.status == 2
    assert "No run of this trial has a result yet" in said.err
    assert "workbench take" in said.err


def test_from_sheet_to_fit(command, answered, filled):
    answer = answered("fit", filled)
    assert set(answer["outcomes"]) == {FORCE, SQUEEZE, LEAK}
    assert answer["happened"]["n_done"] == 28
    force = answer["outcomes"][FORCE]
    assert force["variance_components"]["part"]["df"] == 28
    assert force["variance_components"]["part"]["low"] < 0.25
    assert force["variance_components"]["part"]["high"] > 0.25
    (bead,) = [one for one in force["effects"] if one["effect_of"] == "bead_volume"]
    assert bead["low"] < 6 < bead["high"]
    leak = answer["outcomes"][LEAK]["effects"]
    assert all(one["is_ratio"] for one in leak)
    text = command("fit", filled)
    assert "28 of 28 planned runs done" in text.out
    assert "bead_volume" in text.out


def test_results_guard_the_plan(command, filled):
    before = (filled / "plan.csv").read_bytes()
    said = command("plan", filled, "--seed=8")
    assert said.status == 2
    assert "has results already" in said.err
    assert (filled / "plan.csv").read_bytes() == before


@pytest.mark.slow
def test_to_window_and_report(command, answered, small):
    assert command("plan", small, "--centre-points=8", "--seed=7").status == 0
    run_it(command, small)
    answer = answered("window", small, "--share=0.9", "--confidence=0.9")
    for name, limits in answer["limits"].items():
        assert limits["low"] <= answer["set_point"][name] <= limits["high"]
        assert limits["limited_by_low"]
    assert answer["lowest_share"] >= 0.9
    said = command("report", small, "--share=0.9", "--confidence=0.9")
    assert said.status == 0, said.err
    page = (small / "report.html").read_text("utf-8")
    assert page.lower().startswith("<!doctype html>")
    assert "bead_volume" in page
    assert re.search(r"<(script|link|img|iframe)[^>]+(src|href)=.?https?:", page) is None


def test_report_before_anything_was_run(command, planned):
    said = command("report", planned)
    assert said.status == 0, said.err
    assert (planned / "report.html").stat().st_size > 10_000
