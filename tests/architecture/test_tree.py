"""The shape of the code: layers, sizes, names, what an import costs, what ships."""

import importlib
import importlib.metadata
import inspect
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

import workbench
from workbench.files.demo_data import NOTEBOOKS

pytestmark = pytest.mark.architecture

ROOT = Path(__file__).parents[2]
LAYERS = ("define", "plan", "run", "fit", "decide", "show", "files", "steps")
HEAVY = ("pandas", "plotly", "statsmodels", "scipy.stats", "openpyxl", "IPython", "pyDOE3")
IMPORT_SECONDS = 0.5
MOST_LINES = 400


def python(*arguments):
    return subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )


def spent_by_children():
    times = os.times()
    return times.children_user + times.children_system


def test_imports_point_down():
    linter = Path(sys.executable).parent / "lint-imports"
    done = subprocess.run(
        [linter, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


@pytest.mark.parametrize("arguments", [("-c", "import workbench"), ("-m", "workbench", "--help")])
def test_start_is_quick(arguments):
    seconds = []
    for _ in range(5):
        start = spent_by_children()
        done = python(*arguments)
        seconds.append(spent_by_children() - start)
        assert done.returncode == 0, done.stderr
    # Processor time, and the quickest of five: the others say how busy this machine is.
    assert min(seconds) < IMPORT_SECONDS


@pytest.mark.parametrize("module", ["workbench", "workbench.cli"])
def test_start_loads_nothing_heavy(module):
    code = f"import sys, {module}; print([m for m in {HEAVY!r} if m in sys.modules])"
    done = python("-c", code)
    assert done.stdout.strip() == "[]", done.stdout + done.stderr


def source_files():
    folders = ("workbench", "tests", "notebooks", "data_demo")
    return sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py"))


def test_files_are_small():
    lines = {p.relative_to(ROOT): len(p.read_text("utf-8").splitlines()) for p in source_files()}
    assert len(lines) > 50
    assert {path: n for path, n in lines.items() if n > MOST_LINES} == {}


@pytest.mark.parametrize("layer", LAYERS)
def test_public_names_exist_and_say_what_they_are(layer):
    module = importlib.import_module(f"workbench.{layer}")
    assert module.__doc__
    assert module.__all__
    assert len(set(module.__all__)) == len(module.__all__)
    for name in module.__all__:
        thing = getattr(module, name)
        if inspect.isfunction(thing) or inspect.isclass(thing):
            assert inspect.getdoc(thing), f"{layer}.{name} has no docstring"


@pytest.mark.parametrize("layer", LAYERS)
def test_no_public_function_is_called_like_a_folder(layer):
    module = importlib.import_module(f"workbench.{layer}")
    functions = {n for n in module.__all__ if inspect.isfunction(getattr(module, n))}
    assert functions.isdisjoint(LAYERS)


@pytest.mark.parametrize("layer", LAYERS)
def test_chance_has_a_seed_without_a_default(layer):
    module = importlib.import_module(f"workbench.{layer}")
    for name in module.__all__:
        thing = getattr(module, name)
        if not inspect.isfunction(thing):
            continue
        seed = inspect.signature(thing).parameters.get("seed")
        if seed is not None:
            assert seed.kind is inspect.Parameter.KEYWORD_ONLY, f"{layer}.{name}"


def test_version_is_stated_once_in_effect():
    assert importlib.metadata.version("trial-workbench") == workbench.__version__


def test_the_wheel_carries_the_demo_the_notebook_and_the_evidence(tmp_path):
    from hatchling.builders.wheel import WheelBuilder

    (wheel,) = WheelBuilder(str(ROOT)).build(directory=str(tmp_path), versions=["standard"])
    names = set(zipfile.ZipFile(wheel).namelist())
    assert "workbench/py.typed" in names
    for demo, notebook in NOTEBOOKS.items():
        assert f"workbench/data_demo/{demo}/trial.toml" in names
        assert f"workbench/notebooks/{notebook}" in names
    assert any(name.startswith("workbench/evidence/") for name in names)
    for page in (ROOT / "workbench" / "files" / "starters").iterdir():
        assert f"workbench/files/starters/{page.name}" in names
    assert not any(name.startswith("tests/") for name in names)
