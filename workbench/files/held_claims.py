"""What holds now of each run and of each reading, by what was claimed of them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from workbench.files.piles import Claimed
from workbench.files.table_entry import packed_one, unpacked
from workbench.numerics.distinct import distinct

if TYPE_CHECKING:
    from collections.abc import Hashable

    from numpy.typing import NDArray

    from workbench.files.entries import Attachment, Value
    from workbench.files.merging import Claims
    from workbench.run.beside import Confirmed, Correction

Said = TypeVar("Said", bound="Hashable")
ReadingKey = tuple[str, int, int, int]  # outcome, run, part, reading
RunKey = tuple[int, str]  # run, what is said of it
ReadingSaid = tuple[float, int]  # value, mark
AttachedKey = tuple[int, str, int, str]  # run, path, part, outcome

BEFOREHAND = ("block", "blocked by", "setup")  # may be written down a sheet before a run is made


def _split_run(key: RunKey) -> tuple[str, int]:
    return key[1], key[0]


def _joined_runs(what: str, runs: NDArray[np.int64]) -> list[RunKey]:
    return [(run, what) for run in runs.tolist()]


def _split_reading(key: ReadingKey) -> tuple[str, int]:
    return key[0], packed_one(*key[1:])


def _joined_readings(outcome: str, places: NDArray[np.int64]) -> list[ReadingKey]:
    return [(outcome, run, part, reading) for run, part, reading in unpacked(places).tolist()]


@dataclass(frozen=True, slots=True)
class Held:
    """What the journal says now: of each run and of each reading.

    `attached` holds the files by run, path, part and outcome, `entered` the time at which each run
    was first entered as made (ISO 8601), `corrections` every value that a later entry replaced,
    `confirmed` who looked again at a reading (by outcome and place) and found it true. Where two
    writers differ, `last_stands` lets the latest stand instead of refusing to answer.
    """

    runs: Claimed[RunKey, Value | None] = field(
        default_factory=partial(Claimed, _split_run, _joined_runs)
    )
    readings: Claimed[ReadingKey, ReadingSaid] = field(
        default_factory=partial(Claimed, _split_reading, _joined_readings)
    )
    attached: dict[AttachedKey, Attachment] = field(default_factory=dict)
    confirmed: dict[tuple[str, int], Confirmed] = field(default_factory=dict)
    entered: dict[int, str] = field(default_factory=dict)
    corrections: list[Correction] = field(default_factory=list)
    last_stands: bool = False

    def attach(self, run: int, one: Attachment) -> None:
        """Keep a file of a run; attached anew, it is the new one wherever the run names it."""
        for key, other in self.attached.items():
            if key[:2] == (run, one.path):
                self.attached[key] = replace(other, digest=one.digest)
        self.attached[run, one.path, one.part, one.outcome] = one

    def of_run(self, run: int, what: str) -> Value | None:
        """Return what is said of a run, None if nothing."""
        claims = self.runs.find((run, what))
        return self._now(claims, f"Run {run}, {what}") if claims else None

    def reading(self, key: ReadingKey) -> ReadingSaid | None:
        """Return one reading, None if there is none."""
        claims = self.readings.find(key)
        return self._now(claims, reading_words(key)) if claims else None

    def _now(self, claims: Claims[Said], thing: str) -> Said:
        return claims.latest[1] if self.last_stands else claims.agreed(thing)[1]

    def words_of_runs(self, what: str, runs: NDArray[np.int64]) -> NDArray[np.object_]:
        """Return what is said (n,) of ascending runs (n,), None where nothing is."""
        words = np.full(runs.size, None, dtype=object)
        pile = self.runs.piles.get(what)
        if pile is not None:
            for chunk in pile.chunks:
                words[np.searchsorted(runs, chunk.keys[chunk.live])] = chunk.values[chunk.live]
            if pile.single:
                words[np.searchsorted(runs, list(pile.single))] = [
                    self._now(claims, f"Run {run}, {what}") for run, claims in pile.single.items()
                ]
        return words

    def are_said(self, what: str, runs: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Return of which of the runs (n,) anything is said under that name."""
        pile = self.runs.piles.get(what)
        return np.zeros(runs.size, dtype=np.bool_) if pile is None else pile.are_claimed(runs)

    def readings_of(self, outcome: str) -> HeldReadings:
        """Return all readings of an outcome by run, part and reading."""
        pile = self.readings.pile(outcome)
        alone = sorted(pile.single)
        said = [self._agreed(outcome, key, pile.single[key]) for key in alone]
        chunks = pile.chunks
        place = np.concatenate(
            [np.array(alone, dtype=np.int64), *(one.keys[one.live] for one in chunks)]
        )
        value = np.concatenate(
            [[one for one, _ in said], *(one.values[one.live] for one in chunks)]
        )
        marks = [one.marks[one.live] for one in chunks if one.marks is not None]
        mark = np.concatenate([np.array([one for _, one in said], dtype=np.int64), *marks])
        order = np.argsort(place)
        at = unpacked(place[order])
        return HeldReadings(
            run=at[:, 0],
            part=at[:, 1],
            reading=at[:, 2],
            value=value[order].astype(np.float64),
            mark=mark[order],
        )

    def _agreed(self, outcome: str, place: int, claims: Claims[ReadingSaid]) -> ReadingSaid:
        if len(claims.last) == 1:
            return claims.latest[1]
        (key,) = _joined_readings(outcome, np.array([place]))
        return self._now(claims, reading_words(key))

    @property
    def run_numbers(self) -> set[int]:
        """Numbers of the runs of which anything is said."""
        return {run for run, *_ in self.attached}.union(self._runs_in(()))

    @property
    def runs_made(self) -> set[int]:
        """Numbers of the runs of which more is said than the lot that they were meant for."""
        return set(self._runs_in(BEFOREHAND))

    def _runs_in(self, but: tuple[str, ...]) -> list[int]:
        of_runs = [pile.keys() for what, pile in self.runs.piles.items() if what not in but]
        of_readings = [unpacked(pile.keys())[:, 0] for pile in self.readings.piles.values()]
        found = [np.zeros(0, dtype=np.int64), *of_runs, *of_readings]
        return [int(run) for run in distinct(np.concatenate(found)).tolist()]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeldReadings:
    """Readings (m,) of one outcome as they stand now, by run, part and reading."""

    run: NDArray[np.int64]
    part: NDArray[np.int64]
    reading: NDArray[np.int64]
    value: NDArray[np.float64]
    mark: NDArray[np.int64]


def reading_words(key: ReadingKey) -> str:
    """Return the place of a reading in words."""
    outcome, run, part, reading = key
    return f"Run {run}, {outcome}, part {part}, reading {reading}"
