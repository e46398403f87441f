"""Every demo by its name, and what the commands answer on it."""

import shutil

import pytest

import workbench as wb
from workbench.cli.options import DEMOS

CENSORED = {"lid_seal_loads": "leak rate", "plate_bond": "push-off force"}


def test_the_help_names_every_demo(command):
    assert tuple(DEMOS) == wb.files.demo_names()
    said = " ".join(command("demo", "--help").out.split())
    assert all(f"{name}: {what}" in said for name, what in DEMOS.items())


def test_another_name_is_refused_before_anything_is_written(command, tmp_path):
    said = command("demo", tmp_path / "mine", "plate_bind")
    assert said.status == 2
    assert "There is no demo trial 'plate_bind'" in said.err
    assert "sensor_wire" in said.err
    assert not (tmp_path / "mine").exists()


@pytest.mark.parametrize("name", DEMOS)
def test_every_outcome_of_every_demo_is_fitted(command, answered, tmp_path, name):
    folder = tmp_path / name
    shutil.copytree(wb.files.demo_folder(name), folder)
    assert command("take", folder, folder / "results_as_typed.csv").status == 0
    found = answered("fit", folder)["outcomes"]
    assert set(found) == {one.name for one in wb.files.read_trial(folder).outcomes}
    assert not [one for one in found.values() if "unavailable" in one]
    if name in CENSORED:
        assert found[CENSORED[name]]["kind"] == "censored"


def test_the_whole_job_by_the_load_ends_in_a_refusal_and_a_report(command, tmp_path):
    said = command("demo", tmp_path, "lid_seal_loads")
    assert said.status == 0, said.err
    assert "decide  no window: leak rate: a new part comes from a new setup" in said.out
    assert (tmp_path / "lid_seal_loads" / "report.html").is_file()
    assert (tmp_path / "lid_seal_loads" / "set_once_per_load.ipynb").is_file()
