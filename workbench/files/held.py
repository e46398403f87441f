"""What the journal says now of each run and of each reading, and what was replaced on the way."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from workbench.define.outcomes import Graded
from workbench.files.entries import ReadingEntry, RunEntry
from workbench.files.held_claims import BEFOREHAND, Held
from workbench.files.held_tables import TablePlacing
from workbench.files.held_units import (
    TrialUnits,
    in_trial_unit,
    reset_of,
    setting_of,
    trial_unit,
)
from workbench.files.shown_values import shown_reading
from workbench.files.table_entry import TableEntry, packed_one
from workbench.files.table_singles import reading_entries, run_entries
from workbench.run.beside import Confirmed, Correction

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterator

    from workbench.define.trial import Trial
    from workbench.files.entries import Value
    from workbench.files.held_claims import ReadingSaid
    from workbench.files.journal import Journal, Stamped
    from workbench.files.merging import Claims

__all__ = ["Held", "held_now", "in_trial_unit", "reset_of", "setting_of", "trial_unit"]

Said = TypeVar("Said", bound="Hashable")

NO_CORRECTION = ("blocked by", "reason", "note")  # words; the journal keeps the earlier ones


def held_now(journal: Journal, trial: Trial, *, last_stands: bool = False) -> Held:
    """Return what the entries of a journal say, later ones over earlier ones.

    `last_stands` is for whoever is about to settle where writers differ.

    Raises
    ------
    RecordError
        If an entry names a factor or outcome that the trial has not, or a unit that differs.
    """
    held = Held(last_stands=last_stands)
    placing = _Placing(held, trial)
    for stamped in journal.entries:
        match stamped.entry:
            case RunEntry() as entry:
                placing.run(stamped, entry)
            case ReadingEntry() as entry:
                placing.reading(stamped, entry)
            case TableEntry() as entry:
                placing.table(stamped, entry)
            case _:
                pass
    return held


class _Placing:
    """Places entries one after the other; what each replaces becomes a correction."""

    def __init__(self, held: Held, trial: Trial) -> None:
        self.held = held
        self.trial = trial
        self.units = TrialUnits(trial)
        self.tables = TablePlacing(held, self.units)

    def run(self, stamped: Stamped, entry: RunEntry) -> None:
        """Place what an entry says of a run."""
        held = self.held
        for what, value, reason in self._said(entry):
            if what not in BEFOREHAND:
                held.entered.setdefault(entry.run, stamped.when)
            claims = held.runs.pile(what).own(entry.run)
            replaced = _replaced(claims, stamped, value, settles=entry.settles)
            if what not in NO_CORRECTION:
                held.corrections.extend(
                    Correction(
                        run=entry.run,
                        about=what.removeprefix("setting of ").removeprefix("reset of "),
                        thing=what,
                        before=_words(before),
                        after=_words(value),
                        who=stamped.who,
                        when=stamped.when,
                        reason=reason,
                    )
                    for before in replaced
                )
        for one in entry.attachments:
            held.attach(entry.run, one)

    def reading(self, stamped: Stamped, entry: ReadingEntry) -> None:
        """Place one reading."""
        value = self.units.value(entry.value, entry.unit, name=entry.outcome, run=entry.run)
        self.held.entered.setdefault(entry.run, stamped.when)
        place = packed_one(entry.run, entry.part, entry.reading)
        claims = self.held.readings.pile(entry.outcome).own(place)
        said = (value, entry.mark)
        replaced = _replaced(claims, stamped, said, settles=entry.settles)
        self._confirm(stamped, entry, place, is_replaced=bool(replaced))
        self.held.corrections.extend(
            Correction(
                run=entry.run,
                about=entry.outcome,
                thing=f"{entry.outcome}, part {entry.part}, reading {entry.reading}",
                before=self._reading_words(entry.outcome, before),
                after=self._reading_words(entry.outcome, said),
                who=stamped.who,
                when=stamped.when,
                reason=entry.reason,
            )
            for before in replaced
        )

    def _confirm(
        self, stamped: Stamped, entry: ReadingEntry, place: int, *, is_replaced: bool
    ) -> None:
        """Keep who looked again at a value; another value takes that with it."""
        confirmed = self.held.confirmed
        if is_replaced:
            confirmed.pop((entry.outcome, place), None)
        if entry.confirms:
            confirmed[entry.outcome, place] = Confirmed(
                run=entry.run,
                part=entry.part,
                reading=entry.reading,
                outcome=entry.outcome,
                who=stamped.who,
                when=stamped.when,
                reason=entry.reason,
            )

    def table(self, stamped: Stamped, entry: TableEntry) -> None:
        """Place a table: together what nobody has spoken of, the rest entry by entry."""
        rest = self.tables.together(stamped, entry)
        for run in run_entries(rest):
            self.run(stamped, run)
        for reading in reading_entries(rest):
            self.reading(stamped, reading)

    def _said(self, entry: RunEntry) -> Iterator[tuple[str, Value | None, str]]:
        for what, value in (
            ("block", entry.block),
            ("blocked by", entry.blocked_by),
            ("setup", entry.setup),
            ("status", entry.status),
            ("reason", entry.reason),
            ("note", entry.note),
            ("made at", entry.made_at),
        ):
            if value not in ("", None):
                yield what, value, entry.reason
        for one in entry.settings:
            yield (
                setting_of(one.factor),
                self._setting(one.value, one.unit, one.factor),
                one.reason,
            )
        for reset in entry.resets:
            self.units.of(reset.factor)
            yield reset_of(reset.factor), "yes" if reset.was_reset else "no", ""

    def _setting(self, value: Value | None, own: str, factor: str) -> Value | None:
        if isinstance(value, int | float):
            return self.units.value(float(value), own, name=factor)
        self.units.of(factor)
        return value

    def _reading_words(self, outcome: str, said: ReadingSaid) -> str:
        one = self.trial.outcome(outcome)
        if isinstance(one, Graded) and said[0] not in range(len(one.grades)):
            return f"{said[0]:g}"
        shown = shown_reading(one, *said)
        number = f"{shown:g}" if isinstance(shown, float) else shown
        return f"{number} {self.units.of(outcome)}".rstrip()


def _replaced(claims: Claims[Said], stamped: Stamped, said: Said, *, settles: bool) -> list[Said]:
    """Add a claim and return the differing values that it replaced."""
    before = list(claims.last.values())
    claims.add(stamped, said, settles=settles)
    if not before:
        return []
    now = list(claims.last.values())
    gone = [claim for claim in before if not any(claim is one for one in now)]
    return [value for _, value in gone if value != said]


def _words(value: Value | None) -> str:
    if value is None:
        return "not known"
    return f"{value:g}" if isinstance(value, int | float) else value
