"""The invented demo trials that ship with the package, and the truth behind them."""

from __future__ import annotations

import tomllib
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.decide.made_up import MadeUpProcess, Surface
from workbench.define.outcomes import Measured
from workbench.define.terms import term
from workbench.errors import FileError

if TYPE_CHECKING:
    from workbench.define.trial import Trial

NOTEBOOK = "lid_seal_whole_job.ipynb"


def demo_folder(name: str = "lid_seal") -> Path:
    """Return the folder of a demo trial, in the installed package or beside its source.

    Raises
    ------
    FileError
        If there is no demo of that name.
    """
    known = sorted(one.parent.name for one in _shipped("data_demo").glob("*/trial.toml"))
    if name not in known:
        raise FileError(
            f"There is no demo trial {name!r}.",
            why="Only the demo trials that ship with the workbench can be copied.",
            next_step=f"Use one of: {', '.join(known)}.",
        )
    return _shipped("data_demo") / name


def demo_notebook() -> Path:
    """Return the notebook that does the whole job on the lid seal."""
    return _shipped("notebooks") / NOTEBOOK


def read_process(folder: Path, trial: Trial) -> MadeUpProcess:
    """Return the made-up process behind a demo trial, from its process.toml.

    Raises
    ------
    FileError
        If the folder has no process.toml, or it names an outcome that is not measured.
    """
    path = folder / "process.toml"
    if not path.is_file():
        raise FileError(
            f"{path.name} is not in {folder.name}.",
            why="The truth of a demo trial is written there.",
            next_step="Copy the demo again.",
        )
    written = tomllib.loads(path.read_text(encoding="utf-8"))
    surfaces = tuple(_surface(one, trial) for one in written["surface"])
    return MadeUpProcess(trial=trial, surfaces=surfaces)


def _surface(written: dict[str, Any], trial: Trial) -> Surface:
    outcome = trial.outcome(written["outcome"])
    if not isinstance(outcome, Measured):
        raise FileError(
            f"{outcome.name!r} is not a measured outcome.",
            why="A made-up process has a mean and a scatter for each outcome.",
            next_step="Leave it out of process.toml.",
        )
    coefficients = tuple(
        (term(*((name, 1) for name in names), factors=trial.factors), float(size))
        for size, *names in written["coefficients"]
    )
    return Surface(
        outcome=outcome,
        coefficients=coefficients,
        run_sd=float(written["run_sd"]),
        part_sd=float(written["part_sd"]),
    )


def _shipped(what: str) -> Path:
    package = Path(str(resources.files("workbench")))
    inside = package / what
    # An editable install has no copy inside the package: the repository's own folder stands in.
    return inside if inside.is_dir() else package.parent / what
