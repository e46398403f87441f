"""Start a trial: a folder with a commented trial.toml to fill in."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING

from workbench import files
from workbench.errors import FileError
from workbench.steps.people import now

if TYPE_CHECKING:
    from pathlib import Path

SEEDS = 9999


def start_trial(folder: Path) -> Path:
    """Make the folder if it is missing, write a starter trial.toml, return its path.

    Raises
    ------
    FileError
        If the folder holds anything already.
    """
    refuse_if_used(folder)
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
    # Any seed will do, as long as it is written down; one that nobody chose tempts nobody.
    text = files.starter_text(seed=1 + secrets.randbelow(SEEDS), date=now()[:10])
    files.write_text_atomically(path, text)
    return path


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
