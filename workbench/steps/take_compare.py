"""What a table says beside what the journal says: new, known, corrected or contradicted."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from workbench.errors import RecordError
from workbench.files.record_files import setting_of
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Hashable

    from workbench.files.entries import Value
    from workbench.files.merging import Claims
    from workbench.files.raw_table import RawTable
    from workbench.files.record_files import Held
    from workbench.run.record import Record
    from workbench.steps.take_cells import Read
    from workbench.steps.take_moments import Said

ROUNDING = 1e-9  # relative; numbers written out and read back


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """What was recorded before the table, who takes it in, and whether it settles conflicts."""

    record: Record
    held: Held
    writer: str
    settles: bool


@dataclass(slots=True, kw_only=True)
class Comparison:
    """Compares what a table says with what is known, noting each correction in `lines`."""

    table: RawTable
    before: Before
    lines: list[ReceiptLine] = field(default_factory=list)

    def adds(self, one: Said) -> bool:
        """Return whether what is said of a run is new.

        Raises
        ------
        RecordError
            If it contradicts what someone else has entered and does not settle it.
        """
        if self._stands_in_record(one):
            return False
        thing = Thing(name=f"Run {one.run}, {one.what}", place=self._row(one))
        return self._differs(self.before.held.runs.get((one.run, one.what)), one.value, thing)

    def adds_setting(self, one: Said) -> bool:
        """Return whether an as-run setting is new; raises as `adds`."""
        thing = Thing(name=f"Run {one.run}, {one.what} as run", place=self._row(one))
        claims = self.before.held.runs.get((one.run, setting_of(one.what)))
        if claims is None and self._is_setting_known(one):
            return False
        return self._differs(claims, one.value, thing)

    def adds_reading(self, one: Read) -> bool:
        """Return whether a reading is new; raises as `adds`."""
        name = f"Run {one.run}, {one.outcome}, part {one.part}, reading {one.reading}"
        claims = self.before.held.readings.get((one.outcome, one.run, one.part, one.reading))
        said = (one.cell.value, one.cell.mark)
        return self._differs(claims, said, Thing(name=name, place=one.place))

    def _stands_in_record(self, one: Said) -> bool:
        record = self.before.record
        at = np.flatnonzero(record.run == one.run)
        if not at.size:
            return False
        label = record.block_labels[record.block[at[0]]]
        known: dict[str, Value] = {"block": label, "setup": int(record.setup[at[0]])}
        return one.what in known and known[one.what] == one.value

    def _is_setting_known(self, one: Said) -> bool:
        """Whether the record holds that setting already, as planned."""
        record = self.before.record
        for settings in record.as_run.rows(record.run == one.run).as_dicts():
            return _same(settings[one.what], one.value)
        return False

    def _row(self, one: Said) -> str:
        return f"{self.table.source}, row {self.table.rows[one.row].number}"

    def _differs(self, claims: Claims[Any] | None, value: Hashable, thing: Thing) -> bool:
        if claims is None:
            return True
        if not self.before.settles:
            _refuse_contradiction(claims, value, thing, writer=self.before.writer)
        last = [said for _, said in claims.last.values()]
        if all(_same(said, value) for said in last):
            return False
        self.lines.append(
            ReceiptLine(
                where=thing.place,
                met=f"{thing.name}: {in_words(value)}, before {in_words(last[-1])}",
                understood="a correction; the earlier entry stays in the journal",
                sure=False,
            )
        )
        return True


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """What is compared, in words, and where the table says it."""

    name: str
    place: str


def in_words(said: Hashable) -> str:
    """Return a value, or a reading with its mark, as a message shows it."""
    if isinstance(said, tuple):
        value, mark = said
        return f"{('<', '', '>')[mark + 1]}{value:g}"
    return f"{said:g}" if isinstance(said, int | float) else repr(said)


def _refuse_contradiction(
    claims: Claims[Any], value: Hashable, thing: Thing, *, writer: str
) -> None:
    for own, (stamped, said) in claims.last.items():
        if own != writer and not _same(said, value):
            raise RecordError(
                f"{thing.name}: {stamped.who} entered {in_words(said)}, "
                f"the table says {in_words(value)}.",
                why="Both cannot be right, and the workbench does not choose.",
                next_step="Correct the table; or, if it is right, take it with --settle.",
                place=thing.place,
            )


def _same(a: Hashable, b: Hashable) -> bool:
    if isinstance(a, tuple) and isinstance(b, tuple):
        return len(a) == len(b) and all(_same(x, y) for x, y in zip(a, b, strict=True))
    if isinstance(a, int | float) and isinstance(b, int | float):
        return abs(a - b) <= ROUNDING * max(abs(a), abs(b))
    return a == b
