"""Feed the workbench damaged files for as long as you like: `python tests/studies/fuzz.py`.

Every input is made from a small sound one by a seed and a number, so each can be made again:
`--kind journal --seed 1 --first 4711 --count 1 --show`. Each batch runs in a forked worker with
1 GiB of memory and 10 s an input. What may come out is an error of the project or an answer;
anything else is a failure and is printed. Use a folder in memory (`--place /dev/shm`), since each
input writes files and syncs them.
"""

import argparse
import importlib.util
import sys
import tempfile
import time
from pathlib import Path

FUZZ = Path(__file__).parents[1] / "fuzz"


def load(name):
    """Load a module of the fuzz tests by its file."""
    spec = importlib.util.spec_from_file_location(f"fuzz_{name}", FUZZ / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def options():
    """Return what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kind", action="append", help="kinds of input (default: all)")
    parser.add_argument("--count", type=int, default=9000, help="inputs of each kind")
    parser.add_argument("--first", type=int, default=0, help="number of the first input")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--batch", type=int, default=500, help="inputs a worker")
    parser.add_argument("--seconds", type=float, default=1e9, help="stop after so many")
    parser.add_argument("--place", default=None, help="folder to work in")
    parser.add_argument("--show", action="store_true", help="print the inputs")
    return parser.parse_args()


def main():
    """Run, and print what came of it."""
    asked = options()
    targets, mutate, harness = load("targets"), load("mutate"), load("harness")
    with tempfile.TemporaryDirectory(dir=asked.place) as place:
        bench = targets.bench(Path(place))
        whole = harness.Tally()
        until = time.monotonic() + asked.seconds
        for kind in asked.kind or targets.KINDS:
            tally = harness.Tally()
            for first in range(asked.first, asked.first + asked.count, asked.batch):
                if time.monotonic() > until:
                    break
                last = min(first + asked.batch, asked.first + asked.count)
                numbers = range(first, last)
                if asked.show:
                    for number in numbers:
                        data = harness.damaged_input(
                            bench,
                            kind,
                            seed=asked.seed,
                            number=number,
                            targets=targets,
                            mutate=mutate,
                        )
                        say(f"{number} {data[:2000]!r}")
                tally.add(
                    harness.forked_batch(
                        bench, kind, numbers, seed=asked.seed, targets=targets, mutate=mutate
                    )
                )
            report(kind, tally)
            whole.add(tally)
        report("all", whole)
    return 1 if whole.failures else 0


def say(line):
    """Print a line at once, since a run takes long and may be watched."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def report(kind, tally):
    """Print the figures of a kind, and each way to fail once."""
    say(
        f"{kind}: {tally.inputs} inputs, {tally.refused} refused, {len(tally.failures)} failures, "
        f"slowest {tally.slowest:.2f} s ({tally.slowest_at}), "
        f"most memory {tally.most_bytes / 2**20:.0f} MiB"
    )
    if kind == "all":
        return
    ways = {}
    for one in tally.failures:
        ways.setdefault(one.said.strip().splitlines()[-1][:80] + one.said[-500:-200], one)
    for one in ways.values():
        say(f"--- {one.kind} --seed {one.seed} --first {one.number}\n{one.said[-3000:]}")


if __name__ == "__main__":
    sys.exit(main())
