"""Photos and files of a run: named by a path inside the trial folder and a digest."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.digests import file_digest
from workbench.files.entries import Attachment
from workbench.files.links import leads_out
from workbench.run.beside import FileState

if TYPE_CHECKING:
    from pathlib import Path

LARGEST = 1_000_000_000  # bytes; a file beyond this is kept elsewhere and described in the note


def attached_file(folder: Path, path: str, *, note: str = "") -> Attachment:
    """Return the attachment of a file in a trial folder, with the digest that it has now.

    Raises
    ------
    FileError
        If the path leads out of the folder, or there is no such file of usable size.
    """
    found = Attachment(path=path, digest="", note=note)  # refuses a path that leads out
    whole = folder / path
    if leads_out(whole, folder):
        raise FileError(
            f"{path} is a link that leads out of the trial folder.",
            why="A trial names only files that travel with it.",
            next_step="Copy the file itself into the trial folder.",
            place=str(folder),
        )
    if not whole.is_file() or whole.stat().st_size > LARGEST:
        raise FileError(
            f"{path} is not a file of at most {LARGEST // 1_000_000} MB.",
            why="What cannot be read now cannot be told from a changed file later.",
            next_step="Check the name (with its folder, such as photos/run_07.jpg).",
            place=str(folder),
        )
    return Attachment(path=found.path, digest=_digest_now(whole), note=note)


def state_of(folder: Path, attachment: Attachment) -> FileState:
    """Return whether an attached file is there and still the one that was attached.

    A file behind a link that leads out of the folder is not looked at.
    """
    whole = folder / attachment.path
    if leads_out(whole, folder):
        return FileState.NOT_LOOKED_AT
    try:
        if not whole.is_file() or whole.stat().st_size > LARGEST:
            return FileState.MISSING
        is_same = _digest_now(whole) == attachment.digest.removeprefix("sha256:").lower()
    except OSError:
        return FileState.MISSING
    return FileState.UNCHANGED if is_same else FileState.CHANGED


def _digest_now(path: Path) -> str:
    state = path.stat()
    return _digest(path, state.st_mtime_ns, state.st_size)


@lru_cache(maxsize=1024)  # a record is read often, its photos change never
def _digest(path: Path, _changed: int, _size: int) -> str:
    return file_digest(path)
