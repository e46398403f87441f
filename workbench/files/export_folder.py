"""A folder of tables that is written whole, and replaced only where it is as it was written.

Beside the tables stands SHA256SUMS, in the form that `sha256sum --check` reads: by it an export
is known again, and a receiver can see that nothing changed on the way.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.atomic import write_text_atomically
from workbench.files.digests import file_digest

if TYPE_CHECKING:
    from collections.abc import Mapping

SUMS = "SHA256SUMS"


def write_folder(folder: Path, texts: Mapping[str, str]) -> tuple[Path, ...]:
    """Write each text under its name into the folder, all or none; return their paths.

    A folder that exists must be empty, or hold an earlier export and nothing else.

    Raises
    ------
    FileError
        If the folder holds anything else, or cannot be written.
    """
    _check_ours(folder)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(dir=folder.parent, prefix=f".{folder.name}.", suffix=".new"))
    except OSError as met:
        raise _not_made(folder, met) from None
    try:
        for name, text in {**texts, SUMS: _sums(texts)}.items():
            write_text_atomically(made / name, text)
        made.chmod(0o777 & ~_mask())
        _take_place(made, folder)
    except OSError as met:
        raise _not_made(folder, met) from None
    finally:
        shutil.rmtree(made, ignore_errors=True)
    return tuple(folder / name for name in (*texts, SUMS))


def _take_place(made: Path, folder: Path) -> None:
    if not folder.exists():
        made.rename(folder)
        return
    old = made.with_name(f"{made.name}.old")
    folder.rename(old)
    try:
        made.rename(folder)
    except OSError:
        old.rename(folder)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _check_ours(folder: Path) -> None:
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise _foreign(folder, "This is a link or a file, not a folder.")
    if not folder.is_dir():
        return
    found = sorted(path.name for path in folder.iterdir())
    if not found:
        return
    known = _known(folder)
    for name in found:
        if name == SUMS:
            continue
        path = folder / name
        if name not in known:
            raise _foreign(folder, f"{name} in it was not written by an export.")
        if path.is_symlink() or not path.is_file() or file_digest(path) != known[name]:
            raise _foreign(folder, f"{name} in it was changed since it was exported.")


def _known(folder: Path) -> dict[str, str]:
    path = folder / SUMS
    if path.is_symlink() or not path.is_file():
        return {}
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return {}
    pairs = (line.partition("  ") for line in lines)
    return {name: digest for digest, _, name in pairs}


def _sums(texts: Mapping[str, str]) -> str:
    return "".join(f"{_digest(text.encode())}  {name}\n" for name, text in texts.items())


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _mask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _foreign(folder: Path, wrong: str) -> FileError:
    return FileError(
        wrong,
        why="An export replaces its folder as a whole, and nothing of yours may be lost by that.",
        next_step="Name another folder with --to, or move the file away.",
        place=str(folder),
    )


def _not_made(folder: Path, met: OSError) -> FileError:
    return FileError(
        f"The export cannot be written: {met.strerror or met}.",
        why="Nothing was changed; an earlier export stands as before.",
        next_step="Name a folder where you may write and that has room.",
        place=str(folder),
    )
