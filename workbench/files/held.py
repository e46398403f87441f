"""What the journal says now of each run and of each reading, and what was replaced on the way."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar

from workbench.define.outcomes import Graded
from workbench.define.units import convert
from workbench.errors import DefinitionError, RecordError
from workbench.files.entries import ReadingEntry, RunEntry
from workbench.files.merging import Claims
from workbench.files.shown_values import shown_reading
from workbench.run.beside import Correction

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterator

    from workbench.define.trial import Trial
    from workbench.files.entries import Attachment, Value
    from workbench.files.journal import Journal, Stamped

Said = TypeVar("Said", bound="Hashable")
ReadingKey = tuple[str, int, int, int]  # outcome, run, part, reading
RunKey = tuple[int, str]  # run, what is said of it
ReadingSaid = tuple[float, int]  # value, mark

BEFOREHAND = ("block", "blocked by", "setup")  # may be written down a sheet before a run is made
NO_CORRECTION = ("blocked by", "reason", "note")  # words; the journal keeps the earlier ones


@dataclass(frozen=True, slots=True)
class Held:
    """What the journal says now: of each run and of each reading.

    `attached` holds the files by run and path, `entered` the time at which each run was first
    entered as made (ISO 8601), `corrections` every value that a later entry replaced. Where two
    writers differ, `last_stands` lets the latest stand instead of refusing to answer.
    """

    runs: dict[RunKey, Claims[Value | None]] = field(default_factory=dict)
    readings: dict[ReadingKey, Claims[ReadingSaid]] = field(default_factory=dict)
    attached: dict[RunKey, Attachment] = field(default_factory=dict)
    entered: dict[int, str] = field(default_factory=dict)
    corrections: list[Correction] = field(default_factory=list)
    last_stands: bool = False

    def of_run(self, run: int, what: str) -> Value | None:
        """Return what is said of a run, None if nothing."""
        claims = self.runs.get((run, what))
        return self._now(claims, f"Run {run}, {what}") if claims else None

    def reading(self, key: ReadingKey) -> ReadingSaid | None:
        """Return one reading, None if there is none."""
        claims = self.readings.get(key)
        return self._now(claims, reading_words(key)) if claims else None

    def _now(self, claims: Claims[Said], thing: str) -> Said:
        return claims.latest[1] if self.last_stands else claims.agreed(thing)[1]

    @property
    def run_numbers(self) -> set[int]:
        """Numbers of the runs of which anything is said."""
        named = {run for run, _ in (*self.runs, *self.attached)}
        return named | {key[1] for key in self.readings}

    @property
    def runs_made(self) -> set[int]:
        """Numbers of the runs of which more is said than the lot that they were meant for."""
        said = {run for run, what in self.runs if what not in BEFOREHAND}
        return said | {key[1] for key in self.readings}


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
            case _:
                pass
    return held


def setting_of(factor: str) -> str:
    """Return the name under which an as-run setting is held."""
    return f"setting of {factor}"


def reset_of(factor: str) -> str:
    """Return the name under which the answer to "was it reset?" is held."""
    return f"reset of {factor}"


def reading_words(key: ReadingKey) -> str:
    """Return the place of a reading in words."""
    outcome, run, part, reading = key
    return f"Run {run}, {outcome}, part {part}, reading {reading}"


def trial_unit(trial: Trial, name: str) -> str:
    """Return the unit of a factor or outcome, empty if it has none.

    Raises
    ------
    RecordError
        If the trial has neither of that name.
    """
    for one in (*trial.factors, *trial.outcomes):
        if one.name == name:
            return str(getattr(one, "unit", ""))
    raise RecordError(
        f"The journal speaks of {name!r}, which the trial has not.",
        why="What was entered cannot be placed.",
        next_step="Put the factor or outcome back into trial.toml under its old name.",
        place="results",
    )


def in_trial_unit(value: float, *, own: str, unit: str, thing: str) -> float:
    """Return an entered value in the unit that the trial states now.

    Raises
    ------
    RecordError
        If the two units do not measure the same.
    """
    if not own or not unit or own == unit:  # a unit that was never stated fits any
        return value
    try:
        return convert(value, from_unit=own, to_unit=unit)
    except DefinitionError as met:
        raise RecordError(
            f"{thing} was entered in {own}, but the trial now states {unit}.",
            why=met.wrong,
            next_step="Put the old unit back into trial.toml.",
            place="results",
        ) from None


class _Placing:
    """Places entries one after the other; what each replaces becomes a correction."""

    def __init__(self, held: Held, trial: Trial) -> None:
        self.held = held
        self.trial = trial
        self.units: dict[str, str] = {}

    def run(self, stamped: Stamped, entry: RunEntry) -> None:
        """Place what an entry says of a run."""
        held = self.held
        for what, value, reason in self._said(entry):
            if what not in BEFOREHAND:
                held.entered.setdefault(entry.run, stamped.when)
            claims = held.runs.setdefault((entry.run, what), Claims())
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
            held.attached[entry.run, one.path] = one

    def reading(self, stamped: Stamped, entry: ReadingEntry) -> None:
        """Place one reading."""
        key = (entry.outcome, entry.run, entry.part, entry.reading)
        value = self._in_unit(entry.value, entry.unit, name=entry.outcome, run=entry.run)
        self.held.entered.setdefault(entry.run, stamped.when)
        claims = self.held.readings.setdefault(key, Claims())
        said = (value, entry.mark)
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
            for before in _replaced(claims, stamped, said, settles=entry.settles)
        )

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
            trial_unit(self.trial, reset.factor)
            yield reset_of(reset.factor), "yes" if reset.was_reset else "no", ""

    def _setting(self, value: Value | None, own: str, factor: str) -> Value | None:
        if isinstance(value, int | float):
            return self._in_unit(float(value), own, name=factor)
        trial_unit(self.trial, factor)
        return value

    def _in_unit(self, value: float, own: str, *, name: str, run: int = 0) -> float:
        unit = self.units.get(name)
        if unit is None:
            unit = self.units[name] = trial_unit(self.trial, name)
        return in_trial_unit(value, own=own, unit=unit, thing=f"Run {run}, {name}")

    def _reading_words(self, outcome: str, said: ReadingSaid) -> str:
        one = self.trial.outcome(outcome)
        if isinstance(one, Graded) and said[0] not in range(len(one.grades)):
            return f"{said[0]:g}"
        shown = shown_reading(one, *said)
        number = f"{shown:g}" if isinstance(shown, float) else shown
        return f"{number} {self.units[outcome]}".rstrip()


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
