"""Start a trial: a folder with a commented trial.toml to fill in, and its notebooks."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING

from workbench import files
from workbench.errors import FileError
from workbench.steps.people import now

if TYPE_CHECKING:
    from pathlib import Path

SEEDS = 9999


def start_trial(folder: Path, operation: str = "") -> Path:
    """Make the folder if it is missing, write a starter trial.toml, return its path.

    `operation` names one of the trade, as `files.operation_names` lists them; without it the
    starter is an invented example. The notebooks of the trial are put beside it.

    Raises
    ------
    FileError
        If the folder holds anything already.
    OptionError
        If there is no starter for such an operation.
    """
    refuse_if_used(folder)
    # Any seed will do, as long as it is written down; one that nobody chose tempts nobody.
    seed, date = 1 + secrets.randbelow(SEEDS), now()[:10]
    if operation:
        text = files.operation_text(operation, seed=seed, date=date)
    else:
        text = files.starter_text(seed=seed, date=date)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise FileError(
            f"The folder cannot be made: {problem.strerror or problem}.",
            why="A trial lives in its own folder.",
            next_step="Name a place where you may write.",
            place=str(folder),
        ) from None
    path = folder / "trial.toml"
    files.write_text_atomically(path, text)
    put_notebooks(folder)
    return path


def put_notebooks(folder: Path) -> tuple[Path, ...]:
    """Write the notebooks that open this trial, headed by its title; return their paths.

    Raises
    ------
    WorkbenchError
        If the folder's trial.toml cannot be read.
    """
    trial = files.read_trial(folder)
    written = []
    for name, text in files.trial_notebooks(trial.title, trial.question).items():
        files.write_text_atomically(folder / name, text)
        written.append(folder / name)
    return tuple(written)


def refuse_if_used(folder: Path) -> None:
    """Refuse a folder that holds anything, and a file.

    Raises
    ------
    FileError
        If the path is a file or a folder with something in it.
    """
    if folder.exists() and not folder.is_dir():
        raise FileError(
            "This is a file, not a folder.",
            why="A trial lives in its own folder.",
            next_step="Name a folder that is new or empty.",
            place=str(folder),
        )
    if folder.is_dir() and any(folder.iterdir()):
        raise FileError(
            "The folder is not empty.",
            why="What is there could be lost or mixed up with the new trial.",
            next_step="Name a folder that is new or empty.",
            place=str(folder),
        )
