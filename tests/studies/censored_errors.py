"""Are the small-sample limits of censored regression honest? A simulation, run by hand.

Usage: python tests/studies/censored_errors.py N_SETS SEED

Readings are normal or smallest-extreme-value about a straight model; those above a gauge limit
(or above a limit of each part's own, as where the substrate breaks first) are cut off. For each
design it prints the share of sets in which the true value lies in the 95 % profile interval of
one effect that is there and of one that is not, by two thresholds: chi square, and
h log(1 + t²/(h − p)) with h = (n + u)/2; the size of the joint F test of the effects that are
not there; and the mean of the estimated sigma (true: 1), as maximum likelihood gives it and times
√(h/(h − p)). Sets without a fit are counted ("none").
"""

import sys
from itertools import product

import numpy as np

from workbench.errors import Unavailable
from workbench.numerics.censored import Rows, censored
from workbench.numerics.censored_profile import (
    CensoredProblem,
    log_likelihood_at,
    ratio_test,
    sigma_in_small_samples,
    threshold,
)
from workbench.numerics.location_scale import NORMAL, SMALLEST, quantile

CHI_SQUARE = 3.841458820694124


def two_level(k, repeats=1):
    """Return mean and main effects (n, 1 + k) of a full two-level plan."""
    x = np.array(list(product((-1.0, 1.0), repeat=k)) * repeats)
    return np.column_stack([np.ones(len(x)), x])


def with_pairs(k, repeats):
    """Return mean, main effects and products of pairs."""
    x = two_level(k, repeats)
    pairs = [x[:, i] * x[:, j] for i in range(1, k + 1) for j in range(i + 1, k + 1)]
    return np.column_stack([x, *pairs])


def three_levels(repeats):
    """Return mean, slope and bend of three levels, and a second factor of two levels."""
    a = np.repeat([-1.0, 0.0, 1.0], 2 * repeats)
    b = np.tile([-1.0, 1.0], 3 * repeats)
    return np.column_stack([np.ones(a.size), a, b, a**2 - 2 / 3])


DESIGNS = {
    "16 runs, 4 main effects": two_level(4),
    "24 runs, 3 factors, pairs": with_pairs(3, 3),
    "18 runs, 3 levels x 2": three_levels(3),
    "32 runs, 5 main effects": two_level(5),
}


def simulated(rng, X, *, family, share, own_limits):
    """Return rows about a model with one effect of 0.75, and a share of them cut off above."""
    mean = 0.75 * X[:, 1]
    noise = quantile(rng.random(len(X)), family)
    mixed = (mean[:, None] + quantile(np.linspace(0.005, 0.995, 100), family)).ravel()
    spread = 0.7 if own_limits else 0.0
    mixed = (
        mixed
        - spread
        * np.tile(quantile(np.linspace(0.005, 0.995, 100), NORMAL), len(X))[
            rng.permutation(mixed.size)
        ]
    )
    limit = np.quantile(mixed, 1 - share) + spread * rng.standard_normal(len(X))
    y = mean + noise
    return Rows(low=np.minimum(y, limit), high=np.where(y > limit, np.inf, y))


def judged(X, rows, family):
    """Return what one set says: covered by each threshold, joint test below 5 %, sigmas."""
    solution = censored(X, rows, family=family)
    if isinstance(solution, Unavailable):
        return None
    problem = CensoredProblem(X=X, rows=rows, family=family, solution=solution)
    if problem.error_df < 1:
        return None
    allowed = threshold(problem, confidence=0.95)
    falls = []
    for place, truth in ((1, 0.75), (2, 0.0)):
        weights = np.eye(X.shape[1])[place]
        held = log_likelihood_at(problem, weights, value=truth)
        falls.append(2 * (solution.log_likelihood - held))
    joint = ratio_test(problem, np.arange(2, X.shape[1]))
    return [
        *(fall <= allowed for fall in falls),
        *(fall <= CHI_SQUARE for fall in falls),
        not isinstance(joint, Unavailable) and joint.p < 0.05,
        solution.sigma,
        sigma_in_small_samples(problem),
        float((~rows.exact).mean()),
    ]


def say(line):
    """Write one line at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main(n_sets, seed):
    """Print one line a design, family and share cut off."""
    say(
        f"{n_sets} sets a line, seed {seed}; standard error of a share about "
        f"{np.sqrt(0.05 * 0.95 / n_sets):.3f}"
    )
    say(
        "design | family | cut off | own limits | covered (effect, none) | by chi square "
        "(effect, none) | joint F size | sigma | sigma corrected | none"
    )
    cases = product(
        DESIGNS.items(),
        (NORMAL, SMALLEST),
        ((0.0, False), (0.2, False), (0.45, False), (0.3, True)),
    )
    for (name, X), family, (share, own) in cases:
        rng = np.random.default_rng([seed, *name.encode(), *family.encode(), int(100 * share)])
        found = [
            judged(X, simulated(rng, X, family=family, share=share, own_limits=own), family)
            for _ in range(n_sets)
        ]
        told = np.array([one for one in found if one is not None], dtype=float).mean(axis=0)
        none = sum(one is None for one in found)
        say(
            f"{name} | {family} | {told[7]:.2f} | {'yes' if own else 'no'} | {told[0]:.3f} "
            f"{told[1]:.3f} | {told[2]:.3f} {told[3]:.3f} | {told[4]:.3f} | {told[5]:.2f} | "
            f"{told[6]:.2f} | {none}",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
