"""Bring a file from elsewhere into a trial folder, under a name that no other file has there."""

from __future__ import annotations

import os
import re
import shutil
import unicodedata
from contextlib import suppress
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.atomic import sync_folder
from workbench.files.attached_files import LARGEST
from workbench.files.digests import file_digest
from workbench.files.links import check_stays_inside

if TYPE_CHECKING:
    from pathlib import Path

FOLDER = "attachments"
MOST_ALIKE = 1_000  # files of one name
LONGEST_STEM = 80
# Names that Windows keeps for devices, whatever stands behind the point.
DEVICES = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)", re.IGNORECASE)


def copied_inside(folder: Path, source: Path) -> Path:
    """Copy a file into `attachments` of a trial folder and return the copy.

    The same bytes under the same name are not copied again; another file of that name stays, and
    the copy takes a number behind its own.

    Raises
    ------
    FileError
        If there is no such file of usable size, or the folder cannot be written to.
    """
    _check_source(source)
    target = folder / FOLDER
    check_stays_inside(target, folder)
    try:
        target.mkdir(exist_ok=True)
        return _copied(source, target)
    except OSError as met:
        raise FileError(
            f"{source.name} cannot be copied into {FOLDER}: {met.strerror or met}.",
            why="Nothing was attached, and no file in the folder was changed.",
            next_step="Check that the file can be read and the folder has room.",
            place=str(folder),
        ) from None


def safe_name(name: str) -> str:
    """Return a file name that every disk keeps: plain letters, digits, point, dash, underscore.

    Examples
    --------
    >>> safe_name("Lötstelle 7 (oben).JPG"), safe_name("../.hidden"), safe_name("con.txt")
    ('Lotstelle_7_oben.JPG', 'hidden', 'file_con.txt')
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    stem, point, end = re.sub(r"[^A-Za-z0-9._-]+", "_", plain).strip("._-").rpartition(".")
    if not point:
        stem, end = end, ""
    stem = stem.strip("._-")[:LONGEST_STEM] or "file"
    if DEVICES.fullmatch(stem.partition(".")[0]):
        stem = f"file_{stem}"
    return f"{stem}.{end.strip('_')[:16]}" if end.strip("_") else stem


def _check_source(source: Path) -> None:
    try:
        is_usable = source.is_file() and source.stat().st_size <= LARGEST
    except OSError:
        is_usable = False
    if not is_usable:
        raise FileError(
            f"{source.name!r} is not a file of at most {LARGEST // 1_000_000} MB.",
            why="Only a file that can be read now can be told from a changed one later.",
            next_step="Check its name and folder.",
            place=str(source.parent),
        )


def _copied(source: Path, target: Path) -> Path:
    name = safe_name(source.name)
    stem, point, end = name.rpartition(".")
    if not point:
        stem, end = end, ""
    for number in range(1, MOST_ALIKE):
        copy = target / (name if number == 1 else f"{stem}_{number}{point}{end}")
        if copy.is_symlink():
            continue
        try:
            stream = copy.open("xb")  # refuses a name that is taken, also by another program
        except FileExistsError:
            if copy.is_file() and file_digest(copy) == file_digest(source):
                return copy
            continue
        with stream:
            _fill(stream.fileno(), source, copy)
        sync_folder(target)
        return copy
    raise FileError(
        f"There are {MOST_ALIKE} files called {name} in {FOLDER}.",
        why="None of them is overwritten.",
        next_step="Rename the file and attach it again.",
        place=str(target),
    )


def _fill(handle: int, source: Path, copy: Path) -> None:
    """Fill a new file with the bytes of another; nothing of it stays if that fails."""
    try:
        with source.open("rb") as read, os.fdopen(os.dup(handle), "wb") as write:
            shutil.copyfileobj(read, write, 1 << 20)
            write.flush()
            os.fsync(write.fileno())
    except BaseException:
        with suppress(OSError):
            copy.unlink()
        raise
