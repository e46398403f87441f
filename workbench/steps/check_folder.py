"""What lies in a trial folder: known files, leftovers, links, strangers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.files.journal import FOLDER
from workbench.files.links import leads_out
from workbench.steps.check_nouns import Remark, Remarks

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

KNOWN = (
    "trial.toml",
    "plan.csv",
    "plan.toml",
    "results.csv",
    "decisions.toml",
    "process.toml",
    "run_sheet.html",
    "run_sheet.csv",
    "run_sheet.xlsx",
    "report.html",
    "confirmation.toml",
    "confirmation_sheet.html",
    "verdict.html",
    "handover.html",
    "handover.xlsx",
)
KNOWN_FOLDERS = (FOLDER, "export", "versions", "backup", "confirmation", "attachments")
NOTEBOOK = ".ipynb"
CACHES = (".ipynb_checkpoints", "__pycache__", ".git", ".virtual_documents")
MOST_ENTRIES = 5_000  # a folder that holds more is not one trial
MOST_NAMED = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """The entries of a trial folder and of its results, by what they are."""

    known: tuple[str, ...]
    leftover: tuple[str, ...]
    held_open: tuple[str, ...]
    out: tuple[str, ...]
    notebooks: tuple[str, ...]
    strange: tuple[str, ...]


def folder_remarks(folder: Path, *, named: frozenset[str]) -> Remarks:
    """Return what is odd about the files of a trial; `named` are those that its journal names."""
    found = _sorted(folder, named)
    notes = [
        _note(found.leftover, "left over from writing that was cut short", "It may be deleted."),
        _note(
            found.held_open,
            "a spreadsheet program holds this file open, or was cut short",
            "Close it before taking the table in: what is not saved is not in it.",
        ),
        _note(found.notebooks, "not read by this check", ""),
        _note(
            found.strange,
            "not written by the workbench and not named in the journal; left alone",
            "",
        ),
    ]
    return Remarks(
        mend=tuple(_leads_out(name) for name in found.out),
        notes=tuple(one for one in notes if one is not None),
    )


def known_files(folder: Path) -> tuple[str, ...]:
    """Return the files of a trial folder that a check looks at, as they are named in it."""
    return _sorted(folder, frozenset()).known


def _sorted(folder: Path, named: frozenset[str]) -> _Found:
    kinds: dict[str, list[str]] = {
        name: [] for name in ("known", "leftover", "held_open", "out", "notebooks", "strange")
    }
    for i, path in enumerate(_entries(folder)):
        if i >= MOST_ENTRIES:
            break
        name = path.relative_to(folder).as_posix()
        if path.name not in CACHES:
            kinds[_kind(path, name, folder, is_named=name in named)].append(name)
    return _Found(**{name: tuple(sorted(each)) for name, each in kinds.items()})


def _entries(folder: Path) -> Iterator[Path]:
    yield from folder.iterdir()
    inner = folder / FOLDER
    if inner.is_dir() and not leads_out(inner, folder):
        yield from inner.iterdir()


def _kind(path: Path, name: str, folder: Path, *, is_named: bool) -> str:
    if leads_out(path, folder):
        return "out"
    if path.name.startswith(".") and path.name.endswith(".new"):
        return "leftover"
    if path.name.startswith(("~$", ".~lock.")):
        return "held_open"
    if path.suffix == NOTEBOOK:
        return "notebooks"
    return "known" if is_named or _is_known(path, name) else "strange"


def _is_known(path: Path, name: str) -> bool:
    if path.is_dir():
        return name in KNOWN_FOLDERS
    is_of_results = name.startswith(f"{FOLDER}/") and path.suffix in (".jsonl", ".end", ".sha256")
    return name in KNOWN or is_of_results


def _note(names: tuple[str, ...], wrong: str, next_step: str) -> Remark | None:
    if not names:
        return None
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return Remark(
        place=", ".join(names[:MOST_NAMED]) + more, wrong=wrong + ".", next_step=next_step
    )


def _leads_out(name: str) -> Remark:
    return Remark(
        place=name,
        wrong="It is a link that leads out of the folder.",
        why="A trial holds what it needs; a link from a stranger could lead to any file of yours.",
        next_step="Remove the link, or put the file itself in its place.",
    )
