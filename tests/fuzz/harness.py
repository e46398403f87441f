"""Damaged inputs in a worker that may not grow beyond its memory nor take longer than allowed."""

import multiprocessing
import os
import resource
import shutil
import signal
import sys
import time
import traceback
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from workbench.errors import WorkbenchError

SECONDS_ALLOWED = 10
BYTES_ALLOWED = 1 << 30  # 1 GiB


class TooLongError(BaseException):
    """An input took longer than allowed; nothing in the package may swallow it."""


@dataclass(frozen=True, kw_only=True)
class Failure:
    """An input after which something else than an error of the project came out."""

    kind: str
    seed: int
    number: int
    said: str


@dataclass(kw_only=True)
class Tally:
    """What came of a batch."""

    inputs: int = 0
    refused: int = 0
    slowest: float = 0.0
    slowest_at: str = ""
    most_bytes: int = 0
    failures: list = field(default_factory=list)

    def add(self, other):
        """Take in another batch."""
        self.inputs += other.inputs
        self.refused += other.refused
        self.most_bytes = max(self.most_bytes, other.most_bytes)
        if other.slowest > self.slowest:
            self.slowest, self.slowest_at = other.slowest, other.slowest_at
        self.failures += other.failures


def damaged_input(bench, kind, *, seed, number, targets, mutate):
    """Return the damaged bytes of a kind; the same for the same seed and number."""
    rng = np.random.default_rng([seed, number])
    others = [data for name, data in bench.sound.items() if name not in targets.PACKED]
    how = mutate.damaged_zip if kind in targets.PACKED else mutate.damaged
    return how(bench.sound[kind], rng, others=others)


def run_one(bench, kind, data, *, number, targets):
    """Read one input by what reads its kind; return how many refused it."""
    refused = 0
    for read in targets.readers(bench, kind, data, number):
        try:
            read()
        except WorkbenchError:
            refused += 1
    return refused


def _too_long(_number, _frame):
    raise TooLongError


def batch(bench, kind, numbers, *, seed, targets, mutate):
    """Run a batch of inputs in this process, each under the clock."""
    tally = Tally()
    signal.signal(signal.SIGALRM, _too_long)
    for number in numbers:
        data = damaged_input(bench, kind, seed=seed, number=number, targets=targets, mutate=mutate)
        start = time.perf_counter()
        signal.setitimer(signal.ITIMER_REAL, SECONDS_ALLOWED)
        try:
            tally.refused += bool(run_one(bench, kind, data, number=number, targets=targets))
        except BaseException:  # noqa: BLE001 - whatever comes out is what we are after
            said = traceback.format_exc(limit=-6)
            tally.failures.append(Failure(kind=kind, seed=seed, number=number, said=said))
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0)
        seconds = time.perf_counter() - start
        if seconds > tally.slowest:
            tally.slowest, tally.slowest_at = seconds, f"{kind} {number}"
        tally.inputs += 1
    tally.most_bytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    return tally


def forked_batch(bench, kind, numbers, *, seed, targets, mutate):
    """Run a batch in a forked worker with its memory bounded; a worker that dies is a failure."""
    here, there = multiprocessing.Pipe(duplex=False)
    child = os.fork()
    if child == 0:
        here.close()
        with Path(os.devnull).open("w") as silent:
            sys.stdout = sys.stderr = silent
            resource.setrlimit(resource.RLIMIT_AS, (BYTES_ALLOWED, BYTES_ALLOWED))
            there.send(batch(bench, kind, numbers, seed=seed, targets=targets, mutate=mutate))
        os._exit(0)
    there.close()
    try:
        tally = here.recv()
    except EOFError:
        said = "the worker died"
        failure = Failure(kind=kind, seed=seed, number=numbers[0], said=said)
        tally = Tally(inputs=len(numbers), failures=[failure])
    os.waitpid(child, 0)
    return tally


def clean(place):
    """Remove a bench."""
    shutil.rmtree(place, ignore_errors=True)
