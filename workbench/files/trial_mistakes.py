"""Every mistake in trial.toml, where reading a trial stops at the first."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from workbench.errors import WorkbenchError
from workbench.files.toml_factors import (
    read_constraint,
    read_factor,
    read_hazards,
    read_held,
)
from workbench.files.toml_fields import Table
from workbench.files.toml_outcomes import read_outcome
from workbench.files.toml_text import parse_toml, read_text
from workbench.files.trial_toml import (
    TOP_KEYS,
    TRIAL_FILE,
    check_names,
    check_schema,
    read_budget,
    read_trial,
    trial_from_text,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    Reader = Callable[[Table], object]

TEXT_KEYS = ("title", "question", "model", "stopping_rule", "invented")
LIST_KEYS = ("cautions", "people")
NUMBER_KEYS = ("share", "confidence")
MOST = 200  # of a whole file
MOST_IN_A_TABLE = 20  # more mistakes in one section say only that it is no section of a trial

_KEY = re.compile(r"key (\S+)\Z")


def trial_mistakes(folder: Path) -> tuple[WorkbenchError, ...]:
    """Return every mistake in a folder's trial.toml, in the order of its sections.

    What rests on a section that cannot be read (its name in a model, its levels in a constraint)
    is looked at once that section can.
    """
    try:
        read_trial(folder)
    except WorkbenchError as first:
        try:
            text = read_text(folder / TRIAL_FILE)
        except WorkbenchError as unreadable:
            return (unreadable,)
        return _all_of(text, first)
    return ()


def text_mistakes(text: str) -> tuple[WorkbenchError, ...]:
    """Return every mistake in the text of a trial.toml, as `trial_mistakes`."""
    try:
        trial_from_text(text)
    except WorkbenchError as first:
        return _all_of(text, first)
    return ()


def _all_of(text: str, first: WorkbenchError) -> tuple[WorkbenchError, ...]:
    try:
        source = parse_toml(text, name=TRIAL_FILE)
    except WorkbenchError as unreadable:
        return (unreadable,)
    top = Table(source=source, values=source.values)
    found = [one for reader in _top_readers() for one in _mistakes(top, reader)]
    for key, reader in _sections():
        try:
            tables = top.tables(key)
        except WorkbenchError as no_sections:
            found.append(no_sections)
            continue
        found += [one for table in tables[:MOST] for one in _mistakes(table, reader)]
    # What lies between sections, such as a model of unknown factors, shows once each can be read.
    return tuple({str(one): one for one in (found or [first])}.values())[:MOST]


def _mistakes(table: Table, reader: Reader) -> Iterator[WorkbenchError]:
    """Read a table again and again, each time without the key that was wrong before."""
    values = dict(table.values)
    dropped: set[str] = set()
    for _ in range(MOST_IN_A_TABLE):
        try:
            reader(replace(table, values=values))
        except WorkbenchError as met:
            key = _key(met)
            if key in dropped:  # missing now, since we left it out
                return
            yield met
            if key not in values:
                return
            dropped.add(key)
            del values[key]
        else:
            return


def _key(met: WorkbenchError) -> str:
    found = _KEY.search(met.place)
    return found[1] if found else ""


def _top_readers() -> tuple[Reader, ...]:
    return (
        check_schema,
        lambda top: top.only(TOP_KEYS),
        lambda top: [top.text(key) for key in TEXT_KEYS],
        lambda top: [top.texts(key) for key in LIST_KEYS],
        lambda top: [top.number(key) for key in NUMBER_KEYS],
        lambda top: top.whole("seed"),
        read_hazards,
        read_budget,
        check_names,
    )


def _sections() -> tuple[tuple[str, Reader], ...]:
    return (
        ("factor", read_factor),
        ("held", read_held),
        ("outcome", read_outcome),
        ("constraint", read_constraint),
    )
