"""Adopt a table that already exists: a trial folder as if it had been planned here."""

from __future__ import annotations

import os
import platform
import shutil
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from workbench import files
from workbench.errors import FileError, WorkbenchError
from workbench.files.entries import ReceiptEntry
from workbench.files.table_singles import lines_of
from workbench.run.receipt import Receipt
from workbench.steps.adopt_columns_file import with_columns_file
from workbench.steps.adopt_layout import layout
from workbench.steps.adopt_planned import read_planned
from workbench.steps.adopt_trial import understood
from workbench.steps.large_tables import collector_paused
from workbench.steps.new import refuse_if_used
from workbench.steps.people import who_is_it

if TYPE_CHECKING:
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan
    from workbench.steps.adopt_options import AdoptOptions
    from workbench.steps.adopt_trial import Understood


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Adopted:
    """A table taken in: the folder made, its trial and plan (None if none), the receipt."""

    folder: Path
    trial: Trial
    plan: Plan | None
    receipt: Receipt


def adopt(table: Path, folder: Path, options: AdoptOptions) -> Adopted:
    """Take in a table that already exists and make a trial folder of it, whole or not at all.

    Columns that no option names are proposed from what they hold; each proposal is a line of the
    receipt. What has two readings is refused with the option that decides.

    Raises
    ------
    WorkbenchError
        If the folder is in use, or a file, column, cell or option is not understood.
    """
    with collector_paused():
        return _adopted(table, folder, options)


def _adopted(table: Path, folder: Path, options: AdoptOptions) -> Adopted:
    refuse_if_used(folder)
    raw = files.read_table(table, sheet=options.sheet, options=options.read)
    whole = with_columns_file(options)
    whole = replace(whole, title=whole.title or folder.resolve().name.replace("_", " "))
    planned = read_planned(whole.planned, whole.read) if whole.planned else None
    found = understood(raw, layout(raw, whole), whole, planned=planned)
    receipt = Receipt(lines=(*raw.lines, *found.lines), n_rows=len(raw), columns=raw.headings)
    note = ReceiptEntry(
        source=raw.source,
        digest=raw.digest,
        n_rows=receipt.n_rows,
        columns=receipt.columns,
        lines=receipt.lines,
    )
    who = who_is_it(whole.who)
    writer = whole.writer or files.writer_name(who, platform.node())
    whole_entry = replace(found.entry, receipt=note)
    _make_whole(folder, replace(found, entry=whole_entry), _Writer(who, writer))
    return Adopted(folder=folder, trial=found.trial, plan=found.plan, receipt=receipt)


@dataclass(frozen=True, slots=True)
class _Writer:
    who: str
    name: str


def _make_whole(folder: Path, found: Understood, writer: _Writer) -> None:
    """Write everything into a folder beside the wanted one, which then takes its name."""
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(dir=folder.parent, prefix=f".{folder.name}."))
    except OSError as met:
        raise _not_made(folder, met) from None
    try:
        _write(made, found, writer)
        made.chmod(0o777 & ~_mask())
        if folder.exists():
            folder.rmdir()
        made.rename(folder)
    except OSError as met:
        raise _not_made(folder, met) from None
    except WorkbenchError as met:
        met.place = met.place.replace(str(made), str(folder))
        raise
    finally:
        shutil.rmtree(made, ignore_errors=True)


def _write(made: Path, found: Understood, writer: _Writer) -> None:
    files.write_trial(made, found.trial)
    if found.plan is not None:
        files.write_plan(made, found.plan)
    files.append(made, lines_of(found.entry), writer=writer.name, who=writer.who)
    # Read back as any other trial is, so that what was written is known to be readable.
    trial = files.read_trial(made)
    files.write_results(made, files.read_record(made, trial, files.read_plan(made, trial)))


def _mask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _not_made(folder: Path, met: OSError) -> FileError:
    return FileError(
        f"The folder cannot be made: {met.strerror or met}.",
        why="A trial lives in its own folder.",
        next_step="Name a place where you may write.",
        place=str(folder),
    )
