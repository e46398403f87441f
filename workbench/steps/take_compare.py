"""What a table says beside what the journal says: new, known, corrected or contradicted."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import isnan
from typing import TYPE_CHECKING, Any

from workbench.define.factors import Categorical
from workbench.errors import RecordError
from workbench.files.record_files import setting_of
from workbench.files.table_entry import unpacked
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping

    from workbench.files.merging import Claims
    from workbench.files.raw_table import RawTable
    from workbench.files.record_files import Held
    from workbench.run.record import Record
    from workbench.steps.take_cells import Read
    from workbench.steps.take_moments import Said

ROUNDING = 1e-9  # relative; numbers written out and read back


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """What was recorded before the table; who takes it in, what that settles, and why."""

    record: Record
    held: Held
    writer: str
    settles: bool
    reason: str = ""


@dataclass(slots=True, kw_only=True)
class Comparison:
    """Compares what a table says with what is known, noting each correction in `lines`.

    `why` holds what the table says of each run that may be the reason of a correction, `row_of`
    the row of each run in the record.
    """

    table: RawTable
    before: Before
    why: Mapping[int, str]
    row_of: Mapping[int, int]
    lines: list[ReceiptLine] = field(default_factory=list)
    spoken: dict[str, frozenset[int]] = field(default_factory=dict)
    read: dict[str, frozenset[int]] = field(default_factory=dict)

    def reason(self, run: int) -> str:
        """Return why a value of a run is corrected, empty if nobody says."""
        return self.why.get(run, "") or self.before.reason

    def reason_of_setting(self, one: Said) -> str:
        """Return why a setting is corrected, empty if none was entered before."""
        is_first = self._is_unspoken(setting_of(one.what), one.run)
        return "" if is_first else self.reason(one.run)

    def reason_of_reading(self, one: Read) -> str:
        """Return why a reading is corrected, empty if none was entered before."""
        if self._is_unread(one):
            return ""
        key = (one.outcome, one.run, one.part, one.reading)
        return "" if self.before.held.readings.find(key) is None else self.reason(one.run)

    def _is_unspoken(self, what: str, run: int) -> bool:
        """Whether nobody has said that of the run; nearly all of a long table is new."""
        runs = self.spoken.get(what)
        if runs is None:
            pile = self.before.held.runs.piles.get(what)
            runs = frozenset(() if pile is None else pile.keys().tolist())
            self.spoken[what] = runs
        return run not in runs

    def _is_unread(self, one: Read) -> bool:
        """Whether the run has no reading of the outcome yet."""
        runs = self.read.get(one.outcome)
        if runs is None:
            pile = self.before.held.readings.piles.get(one.outcome)
            runs = frozenset(() if pile is None else unpacked(pile.keys())[:, 0].tolist())
            self.read[one.outcome] = runs
        return one.run not in runs

    def adds(self, one: Said) -> bool:
        """Return whether what is said of a run is new.

        Raises
        ------
        RecordError
            If it contradicts what someone else has entered and does not settle it.
        """
        if one.run not in self.row_of and self._is_unspoken(one.what, one.run):
            return True
        if self._stands_in_record(one):
            return False
        thing = Thing(name=f"Run {one.run}, {one.what}", place=self._row(one), run=one.run)
        return self._differs(self.before.held.runs.find((one.run, one.what)), one.value, thing)

    def adds_setting(self, one: Said) -> bool:
        """Return whether an as-run setting is new; raises as `adds`."""
        if one.run not in self.row_of and self._is_unspoken(setting_of(one.what), one.run):
            return True
        name = f"Run {one.run}, {one.what} as run"
        thing = Thing(name=name, place=self._row(one), run=one.run)
        claims = self.before.held.runs.find((one.run, setting_of(one.what)))
        if claims is None and self._is_setting_known(one):
            return False
        return self._differs(claims, one.value, thing)

    def adds_reading(self, one: Read) -> bool:
        """Return whether a reading is new; raises as `adds`."""
        if self._is_unread(one):
            return True
        name = f"Run {one.run}, {one.outcome}, part {one.part}, reading {one.reading}"
        claims = self.before.held.readings.find((one.outcome, one.run, one.part, one.reading))
        said = (one.cell.value, one.cell.mark)
        place = self.table.place(one.row, one.heading)
        return self._differs(claims, said, Thing(name=name, place=place, run=one.run))

    def _stands_in_record(self, one: Said) -> bool:
        row = self.row_of.get(one.run)
        if row is None:
            return False
        record = self.before.record
        if one.what == "block":
            return bool(record.block_labels[record.block[row]] == one.value)
        return one.what == "setup" and int(record.setup[row]) == one.value

    def _is_setting_known(self, one: Said) -> bool:
        """Whether the record holds that setting already, as planned."""
        row = self.row_of.get(one.run)
        if row is None:
            return False
        settings = self.before.record.as_run
        value = float(settings.column(one.what)[row])
        if isnan(value):
            return False
        factor = self.before.record.trial.factor(one.what)
        shown = factor.levels[int(value)] if isinstance(factor, Categorical) else value
        return _same(shown, one.value)

    def _row(self, one: Said) -> str:
        return f"{self.table.source}, row {self.table.row_numbers[one.row]}"

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
                understood=_correction(self.reason(thing.run)),
                sure=False,
            )
        )
        return True


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """What is compared, in words, and where the table says it."""

    name: str
    place: str
    run: int


def rows_of_runs(record: Record) -> dict[int, int]:
    """Return the row of each run in the record."""
    return {run: row for row, run in enumerate(record.run.tolist())}


def _correction(reason: str) -> str:
    kept = "the earlier entry stays in the journal"
    if reason:
        return f"a correction, because: {reason}; {kept}"
    return f'a correction without a reason (--reason "…" keeps one); {kept}'


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
