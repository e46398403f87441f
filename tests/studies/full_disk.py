"""A disk that fills up while results are entered: run by hand, not collected by pytest.

Usage: python tests/studies/full_disk.py DIR

DIR is an empty folder on a file system of its own, a few hundred kilobytes large, such as one
from `mount -t tmpfs -o size=256k tmpfs DIR`. It is filled up twenty times while results, plan and
trial are written; each time every acknowledged entry must be there once, the folder must open,
and after room was made the next entry must go in.
"""

import os
import runpy
import sys
from dataclasses import replace
from pathlib import Path

import workbench as wb
from workbench.errors import WorkbenchError
from workbench.files import append, read_journal, read_plan, read_record, write_plan, write_results
from workbench.files.trial_write import write_trial
from workbench.steps.trials import open_trial

KILLED = runpy.run_path(str(Path(__file__).parent / "killed_writers.py"))
TRIAL, reading = KILLED["TRIAL"], KILLED["_reading"]
TIMES = 20


def study(place):
    """Fill the disk again and again; return how many entries were acknowledged, and refusals."""
    folder, ballast = place / "trial", place / "ballast"
    write_trial(folder, TRIAL)
    write_plan(folder, wb.plan.full(TRIAL, seed=1))
    acknowledged, refused = [], {}
    for time in range(TIMES):
        fill(ballast)
        first = 1_000 * time + 1
        for move in (
            lambda first=first: enter(folder, first, acknowledged),
            lambda: write_results(folder, read_record(folder, TRIAL, read_plan(folder, TRIAL))),
            lambda time=time: write_trial(folder, replace(TRIAL, title="x" * 4000 + f"{time}")),
            lambda: write_plan(folder, wb.plan.full(TRIAL, seed=3)),
        ):
            attempt(move, refused)
        open_trial(folder)
        found = [one.entry.reading for one in read_journal(folder).entries]
        assert len(found) == len(set(found)), "an entry is there twice"
        assert set(acknowledged) <= set(found), "an acknowledged entry is lost"
        ballast.unlink()
        append(folder, [reading(first - 1)], writer="a", who="A")
        acknowledged.append(first - 1)
    return len(acknowledged), refused


def enter(folder, first, acknowledged):
    """Enter results until the disk refuses one."""
    for number in range(first, first + 900, 3):
        some = [reading(number + i) for i in range(3)]
        append(folder, some, writer="a", who="A")
        acknowledged += [one.reading for one in some]


def attempt(move, refused):
    """Make a move; count what was said if it was refused."""
    try:
        move()
    except WorkbenchError as met:
        refused[met.wrong] = refused.get(met.wrong, 0) + 1


def fill(path):
    """Write until the disk is full."""
    with path.open("ab", buffering=0) as stream:
        try:
            while True:
                os.write(stream.fileno(), b"x" * 512)
        except OSError:
            return


if __name__ == "__main__":
    sys.stdout.write("{} acknowledged; refused: {}\n".format(*study(Path(sys.argv[1]))))
