"""Does the window keep its promise? A simulation, run by hand: not collected by pytest.

Usage: python tests/studies/window_promise.py N_TRIALS [N_RUNS] [SHARE] [FIRST_SEED]

Each trial simulates an invented process of three factors (two quadratic outcomes, scatter 1,
set values held to 3 % of their range) in a face-centred plan of 20 or 32 runs, fits the full
second-order model, asks for a window with confidence 0.95 and looks at the true share on a
lattice inside it. "Kept" is a window whose lowest true share is at least the share asked, or no
window; "width" the cube root of its volume over that of the widest box of the true process.
"""

import sys
from itertools import product

import numpy as np
from scipy.special import ndtr

import workbench as wb
from workbench.decide.windows import Window
from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured, at_least, between
from workbench.define.settings import from_coded
from workbench.define.trial import Trial
from workbench.numerics.boxes import largest_box, packed
from workbench.run.record import Readings, Record, Status

NAMES = ("volume", "height", "speed")
SETTING_SD = 0.06  # coded
CONFIDENCE = 0.95
FACTORS = tuple(
    Continuous(name=name, low=-1.0, high=1.0, unit="coded", setting_sd=SETTING_SD)
    for name in NAMES
)
GAP = Measured(name="gap", unit="sd", requirement=between(-4.5, 4.5))
FORCE = Measured(name="force", unit="sd", requirement=at_least(0.0))


def truth(x):
    """Return the true means (n, 2), quadratic in coded settings (n, 3)."""
    a, b, c = x.T
    gap = 1.8 * a - 1.2 * b + 0.5 * c + 0.9 * a**2 - 0.6 * a * b + 0.4 * b * c
    force = 4.2 - 1.0 * a + 0.6 * b + 1.6 * c - 0.8 * a**2 - 1.1 * c**2 + 0.5 * a * c
    return np.column_stack([gap, force])


def true_share(x):
    """Return the true share (n,), setting error by three Gauss points a factor."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(3)
    weights = weights / weights.sum()
    share = np.zeros(len(x))
    for chosen in product(range(3), repeat=3):
        mean = truth(x + SETTING_SD * nodes[list(chosen)])
        met = (ndtr(4.5 - mean[:, 0]) - ndtr(-4.5 - mean[:, 0])) * ndtr(mean[:, 1])
        share += weights[list(chosen)].prod() * met
    return share


def plan(n_runs):
    """Return a face-centred plan of 20 (once, 6 centre) or 32 runs (twice, 4 centre)."""
    corners = np.array(list(product([-1.0, 1.0], repeat=3)))
    axial = np.vstack([s * np.eye(3)[j] for j in range(3) for s in (-1, 1)])
    once = np.vstack([corners, axial])
    copies, centre = {20: (1, 6), 32: (2, 4)}[n_runs]
    return np.vstack([*[once] * copies, np.zeros((centre, 3))])


def fits(x, seed):
    """Return fits of one simulated trial."""
    n = len(x)
    rng = np.random.default_rng([seed, 2026])
    y = truth(x + SETTING_SD * rng.standard_normal(x.shape)) + rng.standard_normal((n, 2))
    chosen = from_coded(FACTORS, x)
    trial = Trial(
        title="study",
        question="kept?",
        factors=FACTORS,
        outcomes=(GAP, FORCE),
        model="second-order",
    )
    one = {"row": np.arange(n), "part": np.ones(n, dtype=np.int64)}
    rest = {"reading": np.ones(n, dtype=np.int64), "mark": np.zeros(n, dtype=np.int64)}
    record = Record(
        trial=trial,
        plan=None,
        run=np.arange(1, n + 1),
        planned=chosen,
        as_run=chosen,
        block=np.zeros(n, dtype=np.int64),
        block_labels=("all",),
        setup=np.arange(1, n + 1),
        status=(Status.DONE,) * n,
        reason=("",) * n,
        readings={
            outcome.name: Readings(value=y[:, j].copy(), **one, **rest)
            for j, outcome in enumerate((GAP, FORCE))
        },
    )
    terms = wb.define.parse_terms("second-order", FACTORS)
    # The line's setting error is in the scatter of the runs, so it is not added again.
    return [
        wb.fit.outcome(record, outcome.name, terms=terms, uses_as_run=False)
        for outcome in (GAP, FORCE)
    ]


def widest_true_box(share, lines=21):
    """Return the volume of the widest box in which the true share is kept, on a grid."""
    side = np.linspace(-1, 1, lines)
    x = np.column_stack([m.ravel() for m in np.meshgrid(side, side, side, indexing="ij")])
    bits = packed((true_share(x) < share)[None, :]).reshape(lines, lines, lines, -1)
    cells = np.full(lines, 1 / (lines - 1))
    cells[[0, -1]] /= 2
    usable = np.ones((lines, lines, lines), dtype=bool)
    return largest_box(bits, usable, budget=0, widths=[cells] * 3).size


def lowest_true_share(window):
    """Return the lowest true share on a lattice of 13 points a side."""
    sides = [np.linspace(one.low, one.high, 13) for one in window.limits]
    mesh = np.meshgrid(*sides, indexing="ij")
    return true_share(np.column_stack([m.ravel() for m in mesh])).min()


def summary(name, rows, share):
    """Say what a list of (lowest true share or None, width) came to."""
    rate = float(np.mean([low is None or low >= share for low, _ in rows]))
    error = np.sqrt(rate * (1 - rate) / len(rows))
    found = [low >= share for low, _ in rows if low is not None]
    of_those = f", kept of those {np.mean(found):.3f}" if found else ""
    width = np.median([width for _, width in rows])
    say(
        f"{name}: kept {rate:.3f} (se {error:.3f}), windows given {len(found)} of {len(rows)}"
        f"{of_those}, median width {width:.2f}"
    )


def say(line):
    """Print a line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main(n_trials, n_runs=32, share=0.95, first_seed=1):
    """Run the study and print it."""
    x, oracle = plan(n_runs), widest_true_box(share)
    say(f"process a, {n_runs} runs, share {share:g}; widest true box {oracle:.3f}")
    rows = {"model form 0.3": [], "taken as right": []}
    for seed in range(first_seed, first_seed + n_trials):
        answer = wb.decide.window(fits(x, seed), share=share, confidence=CONFIDENCE, seed=seed)
        for name, one in zip(rows, (answer.best, answer.if_right), strict=True):
            given = isinstance(one, Window)
            width = (one.volume / oracle) ** (1 / 3) if given else 0.0
            rows[name].append((lowest_true_share(one) if given else None, width))
        if (seed - first_seed) % 10 == 9 or seed == first_seed + n_trials - 1:
            for name, some in rows.items():
                summary(f"{seed - first_seed + 1} trials, {name}", some, share)


if __name__ == "__main__":
    given = sys.argv[1:]
    main(
        int(given[0]),
        int(given[1]) if len(given) > 1 else 32,
        float(given[2]) if len(given) > 2 else 0.95,
        int(given[3]) if len(given) > 3 else 1,
    )
