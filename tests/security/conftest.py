"""The hostile trial, and commands run in process."""

import importlib.util
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from workbench.cli import main

PLACE = Path(__file__).parent / "hostile.py"

if "hostile_trial" not in sys.modules:
    spec = importlib.util.spec_from_file_location("hostile_trial", PLACE)
    module = importlib.util.module_from_spec(spec)
    sys.modules["hostile_trial"] = module
    spec.loader.exec_module(module)


@dataclass(frozen=True, kw_only=True)
class Said:
    """What a command printed, and its exit status."""

    status: int
    out: str
    err: str


@pytest.fixture
def command(capsys):
    """Run `workbench …` in this process."""

    def run(*arguments):
        capsys.readouterr()
        status = main([str(one) for one in arguments])
        said = capsys.readouterr()
        return Said(status=status, out=said.out, err=said.err)

    return run


@pytest.fixture(scope="session")
def hostile(tmp_path_factory):
    """Return the folder of the hostile trial, made once; tests only read it."""
    return sys.modules["hostile_trial"].make(tmp_path_factory.mktemp("hostile") / "trial")
