"""Are tests and intervals of counts and grades honest? A simulation, run by hand.

Usage: python tests/studies/count_and_grade_errors.py N_SETS SEED

Sixteen runs, four main effects. Counts have mean 5 (or 3 of 20 places) and are Poisson
(binomial) or have a rate that varies from run to run (negative binomial with spread 0.5, or
beta-binomial with correlation 0.1); grades have four levels of about equal share. For each it
prints the size of the 5 % test of one effect that is not there, of the joint test of three, and
the share of sets in which the true value of an effect that is there lies in its 95 % interval.
"""

import sys
from itertools import product

import numpy as np

from workbench.numerics.count_tests import CountProblem, quasi_limits, quasi_test
from workbench.numerics.counts import CountRows, count_regression
from workbench.numerics.ordered_likelihood import grades
from workbench.numerics.proportional_odds import fall_at, ordered_test, proportional_odds

X = np.column_stack([np.ones(16), np.array(list(product((-1.0, 1.0), repeat=4)))])
EFFECT = 0.4
CHI_SQUARE = 3.841458820694124


def poisson(rng, spread):
    """Return counts about 5 with a rate that varies by the spread."""
    mean = 5 * np.exp(EFFECT * X[:, 1])
    rate = mean if spread == 0 else mean * rng.gamma(1 / spread, spread, 16)
    return CountRows(count=rng.poisson(rate).astype(float), offset=np.zeros(16))


def binomial(rng, together):
    """Return counts out of 20 places with about 15 % counted."""
    share = 1 / (1 + np.exp(1.7 - EFFECT * X[:, 1]))
    if together:
        size = 1 / together - 1
        share = rng.beta(share * size, (1 - share) * size)
    count = rng.binomial(20, share).astype(float)
    return CountRows(count=count, offset=np.zeros(16), trials=np.full(16, 20.0))


def judged_counts(rows):
    """Return test of one, joint test, and whether the interval holds the truth."""
    if (rows.count == 0).all():
        return None
    solution = count_regression(X, rows)
    problem = CountProblem(X=X, rows=rows, solution=solution, dispersion=solution.dispersion)
    span = quasi_limits(problem, np.eye(5)[1], confidence=0.95)
    return [
        quasi_test(problem, np.array([2])).p < 0.05,
        quasi_test(problem, np.array([2, 3, 4])).p < 0.05,
        span.low <= EFFECT <= span.high,
    ]


def judged_grades(rng, effect):
    """Return the same for four grades under proportional odds."""
    noise = np.log(1 / rng.random(16) - 1)
    grade = np.digitize(effect * X[:, 1] - noise, [-1.1, 0.0, 1.1])
    used, seen = np.unique(grade, return_inverse=True)
    if used.size < 2:
        return None
    solution = proportional_odds(grades(X[:, 1:], seen.reshape(-1)))
    return [
        ordered_test(solution, np.array([1])).p < 0.05,
        ordered_test(solution, np.array([1, 2, 3])).p < 0.05,
        fall_at(solution, np.eye(4)[0], value=effect) <= CHI_SQUARE,
    ]


def say(line):
    """Write one line at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main(n_sets, seed):
    """Print one line a kind of outcome."""
    say(f"{n_sets} sets a line, seed {seed}")
    say("outcome | size, one effect | size, three together | interval covers | without a fit")
    cases = {
        "Poisson": lambda rng: judged_counts(poisson(rng, 0.0)),
        "negative binomial, spread 0.5": lambda rng: judged_counts(poisson(rng, 0.5)),
        "binomial out of 20": lambda rng: judged_counts(binomial(rng, 0.0)),
        "beta-binomial, correlation 0.1": lambda rng: judged_counts(binomial(rng, 0.1)),
        "four grades, no effect": lambda rng: judged_grades(rng, 0.0),
        "four grades, slope 1": lambda rng: judged_grades(rng, 1.0),
        "four grades, slope 2": lambda rng: judged_grades(rng, 2.0),
    }
    for name, one in cases.items():
        rng = np.random.default_rng([seed, *name.encode()])
        found = [one(rng) for _ in range(n_sets)]
        told = np.array([each for each in found if each is not None], dtype=float).mean(axis=0)
        none = sum(each is None for each in found)
        say(f"{name} | {told[0]:.3f} | {told[1]:.3f} | {told[2]:.3f} | {none}")


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
