"""Write a file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from workbench.errors import FileError


def write_text_atomically(path: Path, text: str) -> None:
    """Put text (UTF-8, line ends as they stand) at a path; the old file stays if anything fails.

    A reader sees the old file or the new one, never half of one, also after a power cut: the
    text goes to a file beside it, is synced to the disk, then takes the name in one step.

    Raises
    ------
    FileError
        If the folder is missing, full or may not be written to.
    """
    write_bytes_atomically(path, text.encode("utf-8"))


def write_bytes_atomically(path: Path, data: bytes) -> None:
    """Put bytes at a path as `write_text_atomically` puts text.

    Raises
    ------
    FileError
        If the folder is missing, full or may not be written to.
    """
    try:
        _replace(path.resolve(), data)  # a link keeps pointing at its file
    except OSError as problem:
        raise FileError(
            f"{path.name} cannot be written: {problem.strerror or problem}.",
            why="Nothing was changed; a file that was there stands as before.",
            next_step="Check that the folder exists, may be written to and has room.",
            place=str(path.parent),
        ) from None


def _replace(path: Path, data: bytes) -> None:
    mode = path.stat().st_mode & 0o777 if path.exists() else _usual_mode()
    # The same folder, so that the last step stays within one file system.
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".new")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        Path(name).chmod(mode)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    _sync_folder(path.parent)


def _usual_mode() -> int:
    # mkstemp makes files for their owner only; a trial folder is shared by a team.
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _sync_folder(folder: Path) -> None:
    if os.name != "posix":  # elsewhere a folder cannot be opened for syncing
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
