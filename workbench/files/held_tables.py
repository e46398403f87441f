"""What a whole table says, placed a column at a time where nobody has spoken before."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.files.held_claims import BEFOREHAND
from workbench.files.held_units import reset_of, setting_of
from workbench.files.piles import Chunk
from workbench.files.table_entry import NO_SETUP, RESET_UNSAID

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.files.entries import Value
    from workbench.files.held_claims import Held, ReadingSaid
    from workbench.files.held_units import TrialUnits
    from workbench.files.journal import Stamped
    from workbench.files.table_entry import SettingColumn, TableEntry, TableReadings, TableRuns

SAID_AS = {"blocked_by": "blocked by", "made_at": "made at"}  # where a field is called otherwise


class TablePlacing:
    """Places tables into what is held."""

    def __init__(self, held: Held, units: TrialUnits) -> None:
        self.held = held
        self.units = units

    def together(self, stamped: Stamped, entry: TableEntry) -> TableEntry:
        """Place what nobody has spoken of before; return the rest of the table."""
        runs, readings = self._are_new_runs(entry), self._are_new_readings(entry)
        new = entry.part(runs, readings)
        self._runs_together(stamped, new.runs)
        self._readings_together(stamped, new.readings)
        return entry.part(~runs, ~readings)

    def _are_new_runs(self, entry: TableEntry) -> NDArray[np.bool_]:
        runs = entry.runs
        new = np.full(len(runs), not entry.settles)
        things = [SAID_AS.get(one.what, one.what) for one in runs.words]
        things += [setting_of(one.factor) for one in runs.settings]
        things += [reset_of(one.factor) for one in runs.resets]
        for thing in (*things, "setup"):
            pile = self.held.runs.piles.get(thing)
            if pile is not None:
                new &= ~pile.are_claimed(runs.run)
        return new

    def _are_new_readings(self, entry: TableEntry) -> NDArray[np.bool_]:
        new = np.full(len(entry.readings), not entry.settles)
        for one in entry.readings.outcomes:
            pile = self.held.readings.piles.get(one.outcome)
            if pile is not None:
                new &= ~pile.are_claimed(entry.readings.place)
        return new

    def _runs_together(self, stamped: Stamped, runs: TableRuns) -> None:
        together = _Together(self.held, stamped, runs.run)
        for one in runs.words:
            words = np.array(one.words, dtype=object)
            together.say(SAID_AS.get(one.what, one.what), words != "", words)
        if runs.setup is not None:
            together.say("setup", runs.setup != NO_SETUP, runs.setup.astype(object))
        for setting in runs.settings:
            together.say(setting_of(setting.factor), setting.said, self._settings(setting))
        for reset in runs.resets:
            self.units.of(reset.factor)
            answers = np.where(reset.answers == 1, "yes", "no").astype(object)
            together.say(reset_of(reset.factor), reset.answers != RESET_UNSAID, answers)

    def _settings(self, column: SettingColumn) -> NDArray[np.float64] | NDArray[np.object_]:
        self.units.of(column.factor)
        if not isinstance(column.values, np.ndarray):
            return np.array(column.values, dtype=object)
        return self.units.values(column.values, column.unit, name=column.factor)

    def _readings_together(self, stamped: Stamped, readings: TableReadings) -> None:
        place = readings.place
        order = np.argsort(place)
        for one in readings.outcomes:
            said = order[one.said[order]]
            chunk: Chunk[ReadingSaid] = Chunk(
                stamped=stamped,
                keys=place[said],
                values=self.units.values(
                    one.values[said], one.unit, name=one.outcome, runs=readings.run[said]
                ),
                marks=one.marks[said],
                live=np.ones(said.size, dtype=np.bool_),
            )
            if said.size:
                self.held.readings.pile(one.outcome).chunks.append(chunk)
            for run in readings.run[said].tolist():
                self.held.entered.setdefault(run, stamped.when)


class _Together:
    """Places what a table says of new runs (n,), a column at a time."""

    def __init__(self, held: Held, stamped: Stamped, runs: NDArray[np.int64]) -> None:
        self.held = held
        self.stamped = stamped
        self.runs = runs
        self.order = np.argsort(runs)

    def say(
        self,
        what: str,
        said: NDArray[np.bool_],
        values: NDArray[np.float64] | NDArray[np.object_],
    ) -> None:
        """Place one column where it says anything."""
        rows = self.order[said[self.order]]
        if not rows.size:
            return
        chunk: Chunk[Value | None] = Chunk(
            stamped=self.stamped,
            keys=self.runs[rows],
            values=values[rows],
            marks=None,
            live=np.ones(rows.size, dtype=np.bool_),
        )
        self.held.runs.pile(what).chunks.append(chunk)
        if what not in BEFOREHAND:
            for run in chunk.keys.tolist():
                self.held.entered.setdefault(run, self.stamped.when)
