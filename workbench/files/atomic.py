"""Write a file whole or not at all."""

from __future__ import annotations

import os
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from workbench.errors import FileError
from workbench.files.links import check_stays_inside

# Seconds. On Windows a virus scanner or an indexer may hold a file for a moment.
PAUSES = (0.05, 0.2, 0.5)
LEFT_OVER = 86_400  # seconds after which a file that a killed program left cannot be in use


def write_text_atomically(path: Path, text: str, *, expected: bytes | None = None) -> None:
    """Put text (UTF-8, line ends as they stand) at a path; the old file stays if anything fails.

    A reader sees the old file or the new one, never half of one, also after a power cut: the
    text goes to a file beside it, is synced to the disk, then takes the name in one step.
    `expected` is what the file held when it was read; if it holds anything else by now, it stays.

    Raises
    ------
    FileError
        If the folder is missing, full or may not be written to, another program holds the file
        open (on Windows), or the file was changed since it was read.
    """
    write_bytes_atomically(path, text.encode("utf-8"), expected=expected)


def write_bytes_atomically(path: Path, data: bytes, *, expected: bytes | None = None) -> None:
    """Put bytes at a path as `write_text_atomically` puts text.

    Raises
    ------
    FileError
        As `write_text_atomically`.
    """
    check_stays_inside(path, path.parent)
    try:
        _replace(path.resolve(), data, expected)  # a link keeps pointing at its file
    except OSError as problem:
        raise FileError(
            f"{path.name} cannot be written: {problem.strerror or problem}.",
            why="Nothing was changed; a file that was there stands as before.",
            next_step="Check that the folder exists, may be written to and has room.",
            place=str(path.parent),
        ) from None


def put_in_place(new: Path, path: Path) -> None:
    """Let a file take the name of another in the same folder, in one step.

    Raises
    ------
    FileError
        If another program holds that one open (on Windows).
    OSError
        If the folder may not be written to.
    """
    for pause in (*PAUSES, None):
        try:
            new.replace(path)
            break
        except PermissionError:
            if pause is None:
                raise _held_open(path) from None
            time.sleep(pause)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Put the names of a folder's files on the disk.

    Raises
    ------
    OSError
        If the disk cannot.
    """
    if os.name != "posix":  # elsewhere a folder cannot be opened for syncing
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _replace(path: Path, data: bytes, expected: bytes | None) -> None:
    mode = path.stat().st_mode & 0o777 if path.exists() else _usual_mode()
    _clear_left_over(path)
    # The same folder, so that the last step stays within one file system.
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".new")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        Path(name).chmod(mode)
        _check_unchanged(path, expected)
        put_in_place(Path(name), path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _clear_left_over(path: Path) -> None:
    now = time.time()
    for old in path.parent.glob(f".{path.name}.*.new"):
        with suppress(OSError):  # another program may be clearing as well
            if now - old.stat().st_mtime > LEFT_OVER:
                old.unlink()


def _check_unchanged(path: Path, expected: bytes | None) -> None:
    if expected is None or (path.exists() and path.read_bytes() == expected):
        return
    raise FileError(
        f"{path.name} was changed or removed on the disk since it was read.",
        why="Writing now would undo what someone else has just done; nothing was written.",
        next_step="Look at the file, then do it again.",
        place=str(path.parent),
    )


def _held_open(path: Path) -> FileError:
    return FileError(
        f"{path.name} cannot be replaced: another program holds it open.",
        why="A spreadsheet program keeps a table for itself as long as it shows it. The file "
        "stands as before.",
        next_step=f"Close {path.name} there, then do it again.",
        place=str(path.parent),
    )


def _usual_mode() -> int:
    # mkstemp makes files for their owner only; a trial folder is shared by a team.
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
