"""Files that the journal names: there, inside the folder, and as they were when attached."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from workbench.files.entries import RunEntry
from workbench.files.links import leads_out
from workbench.files.table_json import receipt_of
from workbench.steps.check_nouns import Remark

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from workbench.files.entries import Attachment
    from workbench.files.journal import Journal

CHUNK = 1 << 20  # bytes read at a time: a film of a pull test need not fit into memory


def named_files(journal: Journal) -> frozenset[str]:
    """Return the paths of every file that the journal names, tables taken in among them."""
    taken = (receipt_of(one.entry) for one in journal.entries)
    tables = (one.source.partition(", sheet ")[0] for one in taken if one is not None)
    return frozenset((*tables, *(one.path for _, one in _attachments(journal))))


def attached_remarks(journal: Journal, folder: Path) -> tuple[Remark, ...]:
    """Return what is wrong with the files that belong to runs."""
    last = {(run, one.path): one for run, one in _attachments(journal)}
    found = (_wrong(run, one, folder) for (run, _), one in last.items())
    return tuple(one for one in found if one is not None)


def _attachments(journal: Journal) -> Iterator[tuple[int, Attachment]]:
    entries: Iterable[object] = (stamped.entry for stamped in journal.entries)
    for entry in entries:
        if isinstance(entry, RunEntry):
            yield from ((entry.run, one) for one in entry.attachments)


def _wrong(run: int, one: Attachment, folder: Path) -> Remark | None:
    # A path that leaves the folder is no entry at all: reading the journal refuses it.
    path = folder / one.path
    wrong = ""
    if leads_out(path, folder):
        wrong = "The file lies behind a link that leads out of the folder."
    else:
        wrong = _missing_or_changed(path, one.digest)
    return _remark(f"run {run}, {one.path}", wrong) if wrong else None


def _missing_or_changed(path: Path, digest: str) -> str:
    try:
        if not path.is_file():
            return "The file that belongs to this run is not here."
        found = _digest(path)
    except OSError as met:
        return f"The file cannot be read: {met.strerror or met}."
    return "" if found == digest.lower() else "The file is not the one that was attached."


def _remark(place: str, wrong: str) -> Remark:
    return Remark(
        place=place,
        wrong=wrong,
        why="What it proves about the run can no longer be seen.",
        next_step="Put the file back as it was, or attach it anew.",
    )


def _digest(path: Path) -> str:
    found = hashlib.sha256()
    with path.open("rb") as stream:
        while chunk := stream.read(CHUNK):
            found.update(chunk)
    return found.hexdigest()
