"""Do tests and intervals of split plots keep their error rates? A simulation, run by hand.

Usage: python tests/studies/strata_errors.py [N_TRIALS] [N_INTERVALS] [SEED]

Each trial has W setups of four runs: one factor changes between setups only, two within them (a
2 × 2 square in each), all main effects and two-factor interactions are fitted and none is real.
The scatter between setups is `ratio` times that between runs. With "lost" 15 % of the runs drop
out at random. Printed (and stored beside this script as strata_errors.csv): how often the 5 %
test of each kind of term is significant among the trials where it is given at all ("tested"; it
is refused below 1.5 error df), which is also one minus the coverage of the 95 % interval; how
often the unbounded fit was left; how often the 95 % intervals of the two variances hold the
truth, among N_INTERVALS trials.
"""

import csv
import sys
from dataclasses import asdict, dataclass
from itertools import product
from pathlib import Path

import numpy as np

from workbench.numerics.kenward_roger import kenward_roger_each
from workbench.numerics.mixed_rule import ruled_fit
from workbench.numerics.random_terms import random_terms
from workbench.numerics.variance_profile import variance_limits_by_profile

SETUPS = (4, 5, 6, 8, 10, 12)
RATIOS = (0.0, 0.25, 1.0, 4.0)
LOST = 0.15
FEWEST_DF = 1.5  # as in fit.mixed_answers; every layout leaves two setups for error
WHOLE, SUB, BOTH = 1, 2, 4  # columns of the model: between, within, and their product


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """Error rates of one layout; `None` where no trial of it was tested."""

    setups: int
    lost: str
    ratio: float
    n_trials: int
    tested_whole: float
    size_whole: float | None
    size_sub: float
    size_product: float
    fallback: float
    n_intervals: int
    cover_setup: float | None
    cover_run: float | None


def layout(setups):
    """Return the model matrix (4 W, 7) of a split plot and the setup of each run."""
    square = np.array(list(product([-1.0, 1.0], repeat=2)))
    slow = np.repeat(np.resize([-1.0, 1.0], setups), 4)
    b, c = np.tile(square, (setups, 1)).T
    X = np.column_stack([np.ones(slow.size), slow, b, c, slow * b, slow * c, b * c])
    return X, np.repeat(np.arange(setups), 4)


def simulated(rng, design, ratio, *, lost):
    """Return one trial: rows kept, their setups and readings."""
    X, setup = design
    y = np.sqrt(ratio) * rng.normal(size=setup.max() + 1)[setup] + rng.normal(size=setup.size)
    if not lost:
        return X, setup, y
    while True:
        kept = rng.random(setup.size) > LOST
        if np.linalg.matrix_rank(X[kept]) == X.shape[1]:
            return X[kept], setup[kept], y[kept]


def cell(rng, shape, counts):
    """Return the error rates of one layout."""
    (setups, lost, ratio), (n_trials, n_intervals) = shape, counts
    design, found, held = layout(setups), [], []
    for trial in range(n_trials):
        X, setup, y = simulated(rng, design, ratio, lost=lost)
        terms = random_terms(X, [setup])
        ruled = ruled_fit(terms, y)
        if ruled.solution is None:
            continue
        tests = kenward_roger_each(ruled.solution, np.eye(7)[[WHOLE, SUB, BOTH]])
        found.append([*tests.p, tests.df[0], bool(ruled.reason)])
        if trial < n_intervals and ruled.estimable.all():
            spans = variance_limits_by_profile(
                ruled.bounded_terms, y, fit=ruled.bounded, confidence=0.95
            )
            held.append([s.low <= v <= s.high for s, v in zip(spans, (ratio, 1.0), strict=True)])
    table = np.array(found, dtype=float)
    tested = table[:, 3] >= FEWEST_DF
    sizes = (table[:, :3] < 0.05).mean(axis=0)
    covered = np.mean(held, axis=0) if held else None
    return Cell(
        setups=setups,
        lost="15 %" if lost else "none",
        ratio=ratio,
        n_trials=n_trials,
        tested_whole=round(float(tested.mean()), 4),
        size_whole=round(float((table[tested, 0] < 0.05).mean()), 4) if tested.any() else None,
        size_sub=round(float(sizes[1]), 4),
        size_product=round(float(sizes[2]), 4),
        fallback=round(float(table[:, 4].mean()), 4),
        n_intervals=len(held),
        cover_setup=None if covered is None else round(float(covered[0]), 4),
        cover_run=None if covered is None else round(float(covered[1]), 4),
    )


def main():
    """Print and store the error rates of all layouts."""
    given = [int(one) for one in sys.argv[1:]]
    n_trials, n_intervals, seed = [*given, *(1000, 300, 20261125)[len(given) :]]
    shapes = list(product(SETUPS, (False, True), RATIOS))
    streams = np.random.default_rng(seed).spawn(len(shapes))
    rows = []
    for rng, shape in zip(streams, shapes, strict=True):
        rows.append(asdict(cell(rng, shape, (n_trials, n_intervals))))
        print(*rows[-1].values(), sep="\t", flush=True)  # noqa: T201 (a script's answer)
    with Path(__file__).with_suffix(".csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
