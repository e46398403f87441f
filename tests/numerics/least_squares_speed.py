"""Time the array core: `python tests/numerics/least_squares_speed.py` (a benchmark, no test)."""

from collections.abc import Callable
from statistics import median
from time import perf_counter

import numpy as np

from workbench.numerics.least_squares import factored, press_residuals, solved


def milliseconds(work: Callable[[], object], times: int = 200) -> float:
    """Return the median time of a call."""
    work()
    spent = []
    for _ in range(times):
        start = perf_counter()
        work()
        spent.append(1e3 * (perf_counter() - start))
    return median(spent)


def main() -> None:
    """Print the times of one fit and of a thousand outcomes on one matrix."""
    rng = np.random.default_rng(1)
    X, outcomes = rng.normal(size=(32, 15)), rng.normal(size=(32, 1000))

    def one() -> object:
        whole = factored(X)
        return solved(whole, outcomes[:, 0]), whole.unscaled_covariance(), whole.leverage()

    def thousand() -> object:
        whole = factored(X)
        return press_residuals(solved(whole, outcomes).residuals, whole.leverage())

    print(f"32 runs, 15 terms, one outcome: {milliseconds(one):.2f} ms (budget 2)")  # noqa: T201 - a script's answer
    print(f"the same, 1,000 outcomes, with PRESS: {milliseconds(thousand):.2f} ms (budget 20)")  # noqa: T201 - a script's answer


if __name__ == "__main__":
    main()
