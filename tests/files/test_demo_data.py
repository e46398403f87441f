"""The demo trial is what its seeds make, and its truth is what its text says."""

import importlib.util
import shutil
import sys
from pathlib import Path

import numpy as np
import pytest

import workbench as wb
from workbench.decide.made_up import true_mean, true_share
from workbench.errors import DefinitionError, FileError

REPOSITORY = Path(__file__).parents[2]
FOLDER = wb.files.demo_folder("lid_seal")
DEMOS = wb.files.demo_names()


def maker():
    path = REPOSITORY / "data_demo" / "make.py"
    spec = importlib.util.spec_from_file_location("data_demo_make", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # where a dataclass looks for the names in its annotations
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def process():
    return wb.files.read_process(FOLDER, wb.files.read_trial(FOLDER))


@pytest.mark.parametrize("demo", DEMOS)
def test_the_stored_files_are_what_the_seeds_make(tmp_path, demo):
    maker().make(demo, tmp_path)
    for name in ("plan.csv", "plan.toml", "results_as_typed.csv"):
        made = (tmp_path / name).read_text("utf-8")
        assert made == (REPOSITORY / "data_demo" / demo / name).read_text("utf-8")


def test_these_are_the_demos():
    assert DEMOS == ("lid_seal", "lid_seal_loads", "plate_bond", "sensor_wire")


@pytest.mark.parametrize("demo", DEMOS)
def test_it_says_that_it_is_invented(demo):
    assert "invented" in wb.files.read_trial(wb.files.demo_folder(demo)).invented.lower()


def test_the_truth_at_the_middle_is_the_mean_of_the_surfaces(process):
    middle = wb.define.from_coded(process.trial.factors, np.zeros((1, 4)))
    np.testing.assert_allclose(true_mean(process, middle), [[-1.75, 1.10, 36.0]])


def test_more_bead_seals_better_and_squeezes_out_further(process):
    coded = np.array([[-1.0, 0, 0, 0], [0, 0, 0, 0], [1, 0, 0, 0]])
    leak, squeeze, _ = true_mean(process, wb.define.from_coded(process.trial.factors, coded)).T
    assert leak[0] > leak[1] > leak[2]
    assert squeeze[0] < squeeze[1] < squeeze[2]


def test_there_are_settings_that_hold_and_settings_that_do_not(process):
    rng = np.random.default_rng(1)
    anywhere = wb.define.from_coded(process.trial.factors, rng.uniform(-1, 1, (300, 4)))
    share = true_share(process, anywhere)
    assert (share >= 0.95).any()
    assert (share < 0.95).any()


def test_every_reading_is_far_above_the_floor_of_the_gauge():
    table = (FOLDER / "results_as_typed.csv").read_text("utf-8-sig").splitlines()
    column = table[0].split(",").index("leak rate (mm³/s)")
    readings = [float(line.split(",")[column]) for line in table[1:]]
    floor = wb.files.read_trial(FOLDER).outcome("leak rate").gauge_low
    assert min(readings) > 10 * floor


@pytest.mark.parametrize("name", ["plate bond of Mars", "", "..", "../data_demo/lid_seal"])
def test_another_demo_is_refused_by_name(name):
    with pytest.raises(FileError, match="There is no demo trial") as caught:
        wb.files.demo_folder(name)
    assert "lid_seal" in caught.value.next_step


@pytest.mark.parametrize("demo", DEMOS)
def test_the_notebook_ships_beside_it(demo):
    assert wb.files.demo_notebook(demo).is_file()


def test_a_folder_without_a_process_is_told(tmp_path):
    with pytest.raises(FileError, match=r"process\.toml is not in"):
        wb.files.read_process(tmp_path, wb.files.read_trial(FOLDER))


def test_a_process_for_an_outcome_that_is_not_there_is_told(tmp_path):
    shutil.copy(FOLDER / "process.toml", tmp_path)
    path = tmp_path / "process.toml"
    path.write_text(path.read_text("utf-8").replace('"leak rate"', '"leek rate"'), "utf-8")
    with pytest.raises(DefinitionError, match="There is no outcome 'leek rate'"):
        wb.files.read_process(tmp_path, wb.files.read_trial(FOLDER))
