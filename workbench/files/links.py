"""Links in a trial folder: followed inside it, refused where they lead out of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import FileError

if TYPE_CHECKING:
    from pathlib import Path


def leads_out(path: Path, folder: Path) -> bool:
    """Return whether a path, its links followed, lies outside a folder, or cannot be followed."""
    try:
        return not path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError):  # links that go round in a circle
        return True


def check_stays_inside(path: Path, folder: Path) -> None:
    """Check that writing to a path changes nothing outside its folder.

    Raises
    ------
    FileError
        If the path is a link, or lies behind one, that leads out of the folder.
    """
    if leads_out(path, folder):
        raise FileError(
            f"{path.relative_to(folder)} is a link that leads out of the folder.",
            why="A trial from someone else could change any file of yours in this way.",
            next_step="Remove the link, or put the file itself in its place.",
            place=str(folder),
        )
