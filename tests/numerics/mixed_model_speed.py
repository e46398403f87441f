"""Time mixed models: `python tests/numerics/mixed_model_speed.py` (a benchmark, no test)."""

import itertools
import warnings
from collections.abc import Callable
from statistics import median
from time import perf_counter

import numpy as np
from statsmodels.regression.mixed_linear_model import MixedLM

from workbench.numerics.kenward_roger import kenward_roger_each
from workbench.numerics.mixed_model import mixed_solution
from workbench.numerics.mixed_rule import ruled_fit
from workbench.numerics.random_terms import RandomTerms, random_terms
from workbench.numerics.reml import reml


def milliseconds(work: Callable[[], object], times: int = 100) -> float:
    """Return the median time of a call."""
    work()
    spent = []
    for _ in range(times):
        start = perf_counter()
        work()
        spent.append(1e3 * (perf_counter() - start))
    return median(spent)


def split_plot() -> tuple[np.ndarray, np.ndarray]:
    """Return the matrix (32, 11) of four factors and their pairs, and the setups (32,)."""
    corners = np.array(list(itertools.product([-1.0, 1.0], repeat=4)))
    whole = np.vstack([corners, corners])
    pairs = [whole[:, a] * whole[:, b] for a, b in itertools.combinations(range(4), 2)]
    return np.column_stack([np.ones(32), whole, *pairs]), np.repeat(np.arange(8), 4)


def judged(terms: RandomTerms, y: np.ndarray) -> object:
    """Return tests of all coefficients at the restricted maximum."""
    solution = mixed_solution(terms, y, reml(terms, y, negative=False))
    assert solution is not None
    return kenward_roger_each(solution, np.eye(11))


def main() -> None:
    """Print the times of one split plot of 32 runs beside those of statsmodels."""
    rng = np.random.default_rng(1)
    X, setup = split_plot()
    y = X @ rng.normal(size=11) + rng.normal(size=8)[setup] + rng.normal(size=32)
    terms = random_terms(X, [setup])
    three = [setup, rng.integers(0, 5, 32), rng.integers(0, 6, 32)]
    crossed = random_terms(X, three)

    def other() -> object:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return MixedLM(y, X, setup).fit(reml=True)

    lines = {
        "layout taken apart": lambda: random_terms(X, [setup]),
        "restricted maximum, one term (budget 3)": lambda: reml(terms, y, negative=True),
        "restricted maximum, three terms (budget 3)": lambda: reml(crossed, y, negative=False),
        "the same with 11 coefficients judged (budget 8)": lambda: judged(terms, y),
        "with the rule for variances at zero": lambda: ruled_fit(terms, y),
        "statsmodels MixedLM (z tests only)": other,
    }
    for name, work in lines.items():
        print(f"{milliseconds(work):8.2f} ms  {name}")  # noqa: T201 - a script's answer


if __name__ == "__main__":
    main()
