"""Damaged files of every kind: only the project's own errors come out. The long run is a study."""

import importlib.util
import sys
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

HERE = Path(__file__).parent
IN_MEMORY = Path("/dev/shm")  # noqa: S108 - each input writes files and syncs them


def load(name):
    """Load a module that lies beside this one."""
    spec = importlib.util.spec_from_file_location(f"fuzz_{name}", HERE / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


targets, mutate, harness = load("targets"), load("mutate"), load("harness")


@pytest.fixture(scope="module")
def bench():
    """Return the sound inputs, in memory where the machine allows it."""
    place = IN_MEMORY if IN_MEMORY.is_dir() else None
    with tempfile.TemporaryDirectory(dir=place) as folder:
        yield targets.bench(Path(folder))


@pytest.mark.property
@pytest.mark.parametrize("kind", targets.KINDS)
def test_only_errors_of_the_project_come_out(bench, kind):
    @given(number=st.integers(0, 10**9))
    @settings(max_examples=15, deadline=None, database=None)
    def holds(number):
        data = harness.damaged_input(
            bench, kind, seed=2, number=number, targets=targets, mutate=mutate
        )
        harness.run_one(bench, kind, data, number=number, targets=targets)

    holds()


@pytest.mark.parametrize("kind", targets.KINDS)
def test_the_sound_input_is_read(bench, kind):
    assert next(iter(targets.readers(bench, kind, bench.sound[kind], 1)))() is not None


@pytest.mark.parametrize(
    ("kind", "number"),
    [("journal signed", 319), ("journal signed", 953), ("results table", 1371)],
)
def test_what_once_came_out_does_no_more(bench, kind, number):
    data = harness.damaged_input(
        bench, kind, seed=1, number=number, targets=targets, mutate=mutate
    )
    harness.run_one(bench, kind, data, number=number, targets=targets)
