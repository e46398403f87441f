"""Two programs that enter results at once: run by hand, not collected by pytest.

Usage: python tests/studies/two_writers.py [N_ENTRIES]

Half of the entries each, first into the files of two writers, then into one and the same file.
Afterwards each entry must be there once, in the order in which its program made it, and the whole
must open; the times are printed.
"""

import os
import sys
import tempfile
import time
from pathlib import Path

from workbench.files import append, read_journal
from workbench.files.entries import ReadingEntry

MOST_AT_ONCE = 7  # entries in one call, from 1 up in turn


def entered_at_once(folder, n_entries, writers):
    """Let two forked programs enter n entries in all; return the numbers found, by program."""
    children = [_start(folder, n_entries // 2, who, writer) for who, writer in enumerate(writers)]
    for child in children:
        _, status = os.waitpid(child, 0)
        assert status == 0, "a program met an error"
    found = {0: [], 1: []}
    for one in read_journal(folder).entries:
        found[one.entry.part - 1].append(one.entry.reading)
    return found


def _start(folder, n_entries, program, writer):
    child = os.fork()
    if child:
        return child
    status = 1
    try:
        done, size = 0, 1
        while done < n_entries:
            some = [_reading(program, done + i) for i in range(min(size, n_entries - done))]
            append(folder, some, writer=writer, who=f"program {program}")
            done += len(some)
            size = size % MOST_AT_ONCE + 1
        status = 0
    finally:
        os._exit(status)


def _reading(program, number):
    return ReadingEntry(
        run=1,
        part=program + 1,
        reading=number + 1,
        outcome="force",
        text=f"{number}",
        value=number,
        unit="N",
    )


def _study(n_entries, writers):
    with tempfile.TemporaryDirectory() as place:
        start = time.perf_counter()
        found = entered_at_once(Path(place), n_entries, writers)
        entering = time.perf_counter() - start
        start = time.perf_counter()
        read_journal(Path(place))
        opening = time.perf_counter() - start
    expected = list(range(1, n_entries // 2 + 1))
    assert found == {0: expected, 1: expected}, "an entry is lost, doubled or out of its order"
    n_files = len(set(writers))
    sys.stdout.write(
        f"{n_entries} entries of two programs into {n_files} file{'s' * (n_files > 1)}: all there "
        f"once; entered in {entering:.1f} s, opened in {opening:.2f} s\n"
    )


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    _study(number, ("a", "b"))
    _study(number, ("a", "a"))
