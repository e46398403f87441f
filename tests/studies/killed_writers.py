"""Writers killed at random while they enter results: run by hand, not collected by pytest.

Usage: python tests/studies/killed_writers.py [N_KILLS] [SEED]

Each child (forked, not a fresh interpreter) works on one trial folder as an engineer would:
results into the journal, singly or as tables, with `results.csv` rebuilt, now and then the plan or
trial.toml written anew, a decision added. What was acknowledged it says over a pipe. It is killed
with SIGKILL after a random time. Then the folder must open, hold every acknowledged entry once,
and none of its files may be half-written. The children of one round share a folder, so that each
starts from what a killed one left.
"""

import os
import signal
import struct
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

import workbench as wb
from workbench.define import Continuous, Measured, Trial
from workbench.files import (
    append,
    check_results_untouched,
    read_journal,
    read_plan,
    read_record,
    read_trial,
    write_plan,
    write_results,
    write_trial,
)
from workbench.files.decisions import DecisionEntry, add_decision, read_decisions
from workbench.files.entries import ReadingEntry
from workbench.files.table_entry import TableEntry
from workbench.files.table_singles import single_entries, tabled
from workbench.steps.trials import open_trial

DWELL = Continuous(name="dwell", low=1, high=4, unit="s", setting_sd=0)
GAP = Continuous(name="gap", low=0.1, high=0.3, unit="mm", setting_sd=0)
TRIAL = Trial(
    title="invented",
    question="?",
    factors=(DWELL, GAP),
    outcomes=(Measured(name="force", unit="N"),),
)
LONGEST = 0.25  # seconds until a child is killed; the first entry may take 0.1 on a busy machine
KILLS_A_FOLDER = 50
NUMBER = struct.Struct("<q")


@dataclass(frozen=True)
class Tally:
    """What the study saw."""

    kills: int = 0
    acknowledged: int = 0
    unconfirmed: int = 0
    torn: int = 0
    plans: int = 0

    def __add__(self, other):
        """Return the sum of two."""
        return Tally(*(getattr(self, k) + getattr(other, k) for k in Tally.__dataclass_fields__))


def study(n_kills, seed, *, folder=None):
    """Kill that many writers and return the tally; an AssertionError says what was lost."""
    rng = np.random.default_rng(seed)
    total = Tally()
    plans = (wb.plan.full(TRIAL, seed=1), wb.plan.full(TRIAL, seed=3))
    while total.kills < n_kills:
        with tempfile.TemporaryDirectory(dir=folder) as place:
            total += _one_folder(
                Path(place), min(KILLS_A_FOLDER, n_kills - total.kills), rng, plans
            )
    return total


def _one_folder(folder, kills, rng, plans):
    write_trial(folder, TRIAL)
    tally, known, plan_now = Tally(), set(), None
    for kill in range(kills):
        # The plan is written anew as long as there is no result; then results are entered.
        enters = kill >= kills // 4
        acknowledged = _killed(folder, rng, plans, first=1000 * kill, enters=enters)
        known |= acknowledged
        plan_now = read_plan(folder, read_trial(folder))
        found = _looked_at(folder, known, plans, plan_now)
        known = found.values
        tally += Tally(
            kills=1,
            acknowledged=len(acknowledged),
            unconfirmed=found.unconfirmed,
            torn=found.torn,
            plans=plan_now is not None and not enters,
        )
    return tally


def _killed(folder, rng, plans, *, first, enters):
    """Let a child work, kill it, and return what it had been told is recorded."""
    reading, writing = os.pipe()
    seed = int(rng.integers(2**63))
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            _work(folder, np.random.default_rng(seed), plans, writing, first=first, enters=enters)
        finally:
            os._exit(1)
    os.close(writing)
    time.sleep(rng.uniform(0, LONGEST))
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), "the child stopped by itself: it met an error"
    with os.fdopen(reading, "rb") as stream:
        said = stream.read()
    whole = len(said) - len(said) % NUMBER.size
    return {number for (number,) in NUMBER.iter_unpack(said[:whole])}


def _work(folder, rng, plans, writing, *, first, enters):
    number = first
    while True:
        trial = read_trial(folder)
        if not enters:
            write_plan(folder, plans[rng.integers(len(plans))])
            write_trial(folder, replace(trial, title=f"invented {number}"), read_as=trial)
            number += 1
            continue
        some = [_reading(number + i) for i in range(int(rng.choice((1, 1, 1, 40))))]
        is_table = len(some) > 1 and rng.random() < 0.5
        append(folder, [tabled(some)] if is_table else some, writer="bench", who="Mira")
        number += len(some)
        os.write(writing, b"".join(NUMBER.pack(one.reading) for one in some))
        if rng.random() < 0.3:
            write_results(folder, read_record(folder, trial, read_plan(folder, trial)))
        if rng.random() < 0.1:
            add_decision(
                folder, DecisionEntry(what=f"{number}", reason="r", by="Mira", at="today")
            )


def _reading(number):
    # Each entry is a reading of its own, so that a lost or doubled one shows in the record.
    return ReadingEntry(
        run=1, part=1, reading=number, outcome="force", text=f"{number}", value=number, unit="N"
    )


def _readings(entry):
    return single_entries(entry) if isinstance(entry, TableEntry) else (entry,)


@dataclass(frozen=True)
class _Found:
    values: set
    unconfirmed: int
    torn: int


def _looked_at(folder, known, plans, plan_now):
    opened = open_trial(folder)
    journal = read_journal(folder)
    numbers = [one.reading for stamped in journal.entries for one in _readings(stamped.entry)]
    assert len(numbers) == len(set(numbers)), "an entry is there twice"
    lost = known - set(numbers)
    assert not lost, f"{len(lost)} acknowledged entries are lost"
    assert sorted(opened.record.readings["force"].value) == sorted(numbers)
    check_results_untouched(folder)
    read_decisions(folder)
    if plan_now is not None:
        kept = [one.settings.values.tolist() for one in plans]
        assert plan_now.settings.values.tolist() in kept, "the plan is neither of the two"
    return _Found(
        values=set(numbers),
        unconfirmed=sum("never confirmed" in note for note in journal.notes),
        torn=sum("breaks off" in note for note in journal.notes),
    )


if __name__ == "__main__":
    asked = [int(one) for one in sys.argv[1:]]
    found = study(asked[0] if asked else 1000, asked[1] if len(asked) > 1 else 1)
    sys.stdout.write(f"{found}\n")
