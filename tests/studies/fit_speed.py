"""Time the array core of each kind of fit beside statsmodels' nearest call, run by hand.

Usage: python tests/studies/fit_speed.py > tests/studies/fit_speed.txt

Processor time of one thread, the best of several turns, in milliseconds. "nearest" is not the same
model: statsmodels has no restricted likelihood with small-sample covariance, no penalised fit and
no censored regression; what it has is named. Set OMP_NUM_THREADS=1 before.
"""

import sys
import time
import warnings
from itertools import product

import numpy as np
import statsmodels.api as sm
from scipy.special import chdtri
from statsmodels.miscmodels.ordinal_model import OrderedModel

from workbench.numerics.censored import Rows, censored
from workbench.numerics.kenward_roger import kenward_roger_each
from workbench.numerics.location_scale import NORMAL
from workbench.numerics.mixed_model import mixed_solution
from workbench.numerics.ordered_likelihood import grades
from workbench.numerics.pass_counts import pass_counts
from workbench.numerics.penalised_logistic import penalised_logistic
from workbench.numerics.penalised_profile import profile_limits
from workbench.numerics.proportional_odds import ordered_limits, proportional_odds
from workbench.numerics.random_terms import random_terms
from workbench.numerics.reml import reml


def milliseconds(work, turns):
    """Return the least processor time of a call."""
    work()
    spent = []
    for _ in range(turns):
        start = time.process_time()
        work()
        spent.append(1e3 * (time.process_time() - start))
    return min(spent)


def factorial(repeats):
    """Return coded settings of a 2^4 plan, `repeats` times over."""
    return np.array(list(product((-1.0, 1.0), repeat=4)) * repeats)


def with_pairs(x):
    """Return the columns of a constant, main effects and all pairs (11 for four factors)."""
    pairs = [x[:, i] * x[:, j] for i in range(4) for j in range(i + 1, 4)]
    return np.column_stack([np.ones(len(x)), x, *pairs])


def split_plot(rng):
    """Return lines for 32 runs in 8 setups, 11 coefficients."""
    x, setup = factorial(2), np.repeat(np.arange(8), 4)
    X = with_pairs(x)
    y = X @ rng.normal(size=11) + rng.normal(size=8)[setup] + rng.normal(size=32)
    terms = random_terms(X, [setup])
    found = reml(terms, y, negative=False)
    return [
        ("restricted maximum, one term, 32 runs", 3, lambda: reml(terms, y, negative=True), 50),
        (
            "Kenward-Roger, 11 coefficients",
            5,
            lambda: kenward_roger_each(mixed_solution(terms, y, found), np.eye(11)),
            50,
        ),
        (
            "  nearest: MixedLM, z tests only",
            None,
            lambda: sm.MixedLM(y, X, setup).fit(reml=True),
            3,
        ),
    ]


def passes(rng):
    """Return lines for 16 runs of 3 parts, four main effects."""
    X = np.column_stack([np.ones(16), factorial(1)])
    passed = rng.binomial(3, 1 / (1 + np.exp(-(1.2 + 0.8 * X[:, 1])))).astype(float)
    parts = np.full(16, 3.0)
    counts = pass_counts(X, passed, parts)
    fit = penalised_logistic(counts)
    both = np.column_stack([passed, parts - passed])
    return [
        ("penalised logistic, 16 runs", 3, lambda: penalised_logistic(counts), 30),
        (
            "  profiles of all 5 coefficients",
            150,
            lambda: profile_limits(fit, range(5), threshold=float(chdtri(1, 0.05))),
            5,
        ),
        (
            "  nearest: GLM binomial, no penalty",
            None,
            lambda: sm.GLM(both, X, family=sm.families.Binomial()).fit(),
            10,
        ),
    ]


def pulls(rng):
    """Return lines for 32 pulls of which a third stopped early."""
    X = np.column_stack([np.ones(32), factorial(2)])
    strength = 26 + 4 * X[:, 1] + 2 * rng.standard_normal(32)
    seen = np.minimum(strength, 28.0)
    rows = Rows(low=seen, high=np.where(strength > 28, np.inf, seen))
    return [
        ("censored regression, 32 runs", 5, lambda: censored(X, rows, family=NORMAL), 30),
        ("  nearest: OLS on the limits", None, lambda: sm.OLS(strength, X).fit(), 10),
    ]


def looks(rng):
    """Return lines for 24 runs in four grades, three main effects."""
    x = np.array(list(product((-1.0, 1.0), repeat=3)) * 3)
    noise = np.log(1 / rng.random(24) - 1)
    grade = np.digitize(1.5 * x[:, 0] - noise, [-1.0, 0.5, 2.0])
    _, seen = np.unique(grade, return_inverse=True)
    data = grades(x, seen.reshape(-1).astype(np.int64))
    fit = proportional_odds(data)
    allowed = float(chdtri(1, 0.05))

    def profiles():
        return [ordered_limits(fit, way, fall_allowed=allowed) for way in np.eye(3)]

    return [
        ("grades, 24 runs", None, lambda: proportional_odds(data), 10),
        ("  with profiles of all 3 slopes", 100, profiles, 5),
        (
            "  nearest: OrderedModel, no penalty",
            None,
            lambda: OrderedModel(seen.reshape(-1), x).fit(method="bfgs", disp=False),
            3,
        ),
    ]


def main():
    """Print one line a call: milliseconds, the budget, and what it was."""
    warnings.simplefilter("ignore")
    sys.stdout.write("ms | budget | call\n")
    for part in (split_plot, passes, pulls, looks):
        for name, budget, work, turns in part(np.random.default_rng(1)):
            spent = milliseconds(work, turns)
            sys.stdout.write(f"{spent:.2f} | {'' if budget is None else budget} | {name}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
