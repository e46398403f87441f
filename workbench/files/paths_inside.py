"""Paths that a trial may name: inside its folder, relative to it, on every kind of machine."""

from __future__ import annotations

import unicodedata
from pathlib import PurePosixPath, PureWindowsPath

from workbench.errors import FileError

LONGEST_NAME = 200  # bytes of one part; most disks keep 255
MOST_FOLDERS = 16


def check_path_inside(path: str) -> None:
    """Check that a path is relative and stays inside the folder it is relative to.

    Raises
    ------
    FileError
        If it is too long, empty, absolute, names a drive, climbs out with "..", holds a backslash
        or a character that does not print.
    """
    posix, windows = PurePosixPath(path), PureWindowsPath(path)
    leaves = posix.is_absolute() or bool(windows.drive or windows.root) or ".." in posix.parts
    prints = not any(unicodedata.category(one) in ("Cc", "Cf", "Cs") for one in path)
    too_long = any(len(part.encode(errors="replace")) > LONGEST_NAME for part in posix.parts)
    if too_long or len(posix.parts) > MOST_FOLDERS:
        raise FileError(
            f"The path {path[:60]!r} … is too long.",
            why="No disk keeps a file of such a name.",
            next_step="Name the file as it is in the trial folder.",
        )
    if not posix.parts or leaves or "\\" in path or not prints:
        raise FileError(
            f"The path {path!r} does not lie inside the trial folder.",
            why="A trial names only files that travel with it.",
            next_step="Copy the file into the trial folder and name it from there, with forward "
            "slashes, such as photos/run_07.jpg.",
        )
