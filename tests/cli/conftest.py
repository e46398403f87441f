"""Commands run in process, and what they said."""

import json
from dataclasses import dataclass
from pathlib import Path

import pytest

from workbench.cli import main

CASES = Path(__file__).parents[1] / "cases"


@dataclass(frozen=True, kw_only=True)
class Said:
    """What a command printed, and its exit status."""

    status: int
    out: str
    err: str

    @property
    def json(self):
        """The one JSON object on standard output; NaN and infinity are refused."""
        return json.loads(self.out, parse_constant=_refused)


def _refused(constant):
    raise AssertionError(f"{constant} is no JSON")


@pytest.fixture
def command(capsys):
    """Run `workbench …` in this process."""

    def run(*arguments):
        capsys.readouterr()
        status = main([str(one) for one in arguments])
        said = capsys.readouterr()
        return Said(status=status, out=said.out, err=said.err)

    return run


@pytest.fixture
def answered(command):
    """Run a command that answers, and return its JSON object."""

    def run(*arguments):
        said = command(*arguments, "--json")
        assert said.status == 0, said.err
        return said.json

    return run


@pytest.fixture
def cases():
    return CASES
