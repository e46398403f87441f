"""Do the fewer draws of the study flatter? Its windows judged again in many fresh draws.

Usage: python tests/studies/window_promise.py draws [N_TRIALS]

A window promises that at most 5 % of the processes drawn fail anywhere in it. Found in 256 draws
and judged in 1,024, it fails in a little more than that of the true posterior; the windows of the
product are judged in 16,384. So kept rates of the study are those of windows slightly too wide.
"""

import csv
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

import workbench as wb
from window import cells, quick, trials
from workbench.decide.windows import Window
from workbench.define.settings import Settings
from workbench.numerics.boxes import counts

PLACE = Path(__file__).with_name("draws.csv")
N_FRESH, SHARE = 16384, 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Failing:
    """Part of the processes drawn afresh that fail somewhere in a window, and its volume."""

    seed: int
    part: float
    volume: float


def failing(cell, seed, *, n_draws):
    """Return how a window fares in fresh draws, or None if there is none."""
    fits = trials.fits(cell, seed)
    one = wb.decide.window(
        fits, share=SHARE, confidence=trials.CONFIDENCE, seed=seed, n_draws=n_draws
    ).best
    if not isinstance(one, Window):
        return None
    sides = [np.linspace(limit.low, limit.high, 7) for limit in one.limits]
    points = np.column_stack([m.ravel() for m in np.meshgrid(*sides, indexing="ij")])
    sample = sys.modules["workbench.decide.sample"]
    fresh = sample.Sample(
        fits=fits,
        n_draws=N_FRESH,
        seed=10**6 + seed,
        model_form=one.model_form,
        ask=sample.Ask(share=SHARE, confidence=trials.CONFIDENCE),
    )
    bits = sample.failed_bits(fresh, Settings(factors=cell.factors, values=points))
    bad = int(counts(np.bitwise_or.reduce(bits, axis=0)))
    return Failing(seed=seed, part=bad / N_FRESH, volume=one.volume)


def run(n_trials):
    """Judge the windows of the first trials of one cell, store and print them."""
    cell = cells.BY_NAME["right 32"]
    with quick.quickened() as forget, quick.only_the_window():
        found = []
        for seed in range(1, n_trials + 1):
            found.append(failing(cell, seed, n_draws=quick.N_DRAWS))
            forget()
    given = [one for one in found if one is not None]
    with PLACE.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["seed", "failing part", "volume"])
        writer.writerows([one.seed, f"{one.part:.4f}", f"{one.volume:.4f}"] for one in given)
    parts = np.array([one.part for one in given])
    sys.stdout.write(
        f"{len(given)} windows of {n_trials} trials: {parts.mean():.4f} of fresh draws fail "
        f"(se {parts.std(ddof=1) / np.sqrt(parts.size):.4f}, most {parts.max():.4f}); "
        f"0.05 is allowed\n"
    )
