"""The cells of the study: what is simulated, how it is fitted, what is true."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.special import expit, ndtr

from window import plans, truths
from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured, PassFail, at_least, between

SETTING_SD = 0.06  # coded: 3 % of the range
SECOND, FIRST = "second-order", "first-order"
NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(3)
ACROSS, ACROSS_WEIGHTS = np.polynomial.legendre.leggauss(16)

GAP = Measured(name="gap", unit="sd", requirement=between(-4.5, 4.5))
FORCE = Measured(name="force", unit="sd", requirement=at_least(0.0))
WETTED, UNBURNT = PassFail(name="wetted"), PassFail(name="insulation whole")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One kind of trial.

    `location` gives true locations (n, outcomes) at coded settings (n, 3). A measured outcome
    scatters by `sd`, of whose square `setup` is shared by a setup and `parts` belongs to the
    part; errors of outcomes have correlation `rho`. Readings of force end at `gauge_end`.
    """

    name: str
    words: str
    runs: Callable[[], np.ndarray]
    location: Callable[[np.ndarray], np.ndarray] = truths.quadratic
    outcomes: tuple = ((GAP, SECOND), (FORCE, SECOND))
    sd: float = 1.0
    setup: float = 0.0
    parts: float = 0.0
    n_parts: int = 1
    rho: float = 0.0
    gauge_end: float = np.inf
    is_slow: bool = False

    @property
    def factors(self):
        """The three settings; the first is slow in a split plot."""
        names = ("volume", "height", "speed")
        return tuple(
            Continuous(
                name=name,
                low=-1.0,
                high=1.0,
                unit="coded",
                setting_sd=SETTING_SD,
                slow=self.is_slow and name == names[0],
            )
            for name in names
        )

    def setups(self, x):
        """Return the number (n,) of each run's setup."""
        return 1 + np.arange(len(x)) // 4 if self.is_slow else np.arange(1, len(x) + 1)

    def true_share(self, x):
        """Return the true share (n,) of new parts that meet everything, setting error included."""
        weights = WEIGHTS / WEIGHTS.sum()
        share = np.zeros(len(x))
        for chosen in product(range(3), repeat=3):
            where = x + SETTING_SD * NODES[list(chosen)]
            share += weights[list(chosen)].prod() * self._met(self.location(where))
        return share

    def _met(self, location):
        if self.outcomes[0][0] is WETTED:
            pull = ndtr(location[:, 2] / self.sd)
            return expit(location[:, 0]) * expit(location[:, 1]) * pull
        gap, force = location.T / self.sd
        ends = np.array([[-4.5], [4.5]]) / self.sd - gap
        if self.rho == 0:
            return (ndtr(ends[1]) - ndtr(ends[0])) * ndtr(force)
        return _both(np.clip(ends, -7, 7), force, self.rho)

    def readings(self, x, seed):
        """Return readings (n, parts, outcomes) of one simulated trial and which were cut off."""
        rng = np.random.default_rng([seed, *self.name.encode()])
        n, m, k = len(x), self.n_parts, len(self.outcomes)
        setup = self.setups(x) - 1
        error = SETTING_SD * rng.standard_normal((n, 3))
        if self.is_slow:  # a slow setting is set once a setup
            error[:, 0] = SETTING_SD * rng.standard_normal(n)[setup]
        location = self.location(x + error)
        of_setup = rng.standard_normal((n, k))[setup]
        of_run, of_part = rng.standard_normal((n, k)), rng.standard_normal((n, m, k))
        if self.rho:
            of_run[:, 1] = self.rho * of_run[:, 0] + np.sqrt(1 - self.rho**2) * of_run[:, 1]
        between_runs = 1 - self.setup - self.parts
        scatter = np.sqrt(self.setup) * of_setup + np.sqrt(between_runs) * of_run
        value = location[:, None, :] + self.sd * (
            scatter[:, None, :] + np.sqrt(self.parts) * of_part
        )
        for j, (outcome, _) in enumerate(self.outcomes):
            if isinstance(outcome, PassFail):
                value[:, :, j] = rng.random((n, m)) < expit(location[:, None, j])
        above = value > self.gauge_end
        above &= np.array([outcome is FORCE for outcome, _ in self.outcomes])
        return np.where(above, self.gauge_end, value), above


def _both(ends, force, rho):
    """Return the share of two correlated normals inside: Gauss and Legendre over the first."""
    middle, half = ends.mean(axis=0), (ends[1] - ends[0]) / 2
    share = np.zeros(force.size)
    for node, weight in zip(ACROSS, ACROSS_WEIGHTS, strict=True):
        z = middle + half * node
        density = np.exp(-z * z / 2) / np.sqrt(2 * np.pi)
        share += weight * half * density * ndtr((force + rho * z) / np.sqrt(1 - rho**2))
    return share


def _centred(n_runs):
    return lambda: plans.face_centred(n_runs)


SOLDERING = ((WETTED, FIRST), (UNBURNT, FIRST), (FORCE, SECOND))
CELLS = (
    *(
        Cell(name=f"right {n}", words=f"right model, {n} runs", runs=_centred(n))
        for n in (20, 32, 48, 64)
    ),
    *(
        Cell(
            name=f"bent {n}",
            words=f"mildly wrong model, {n} runs",
            runs=_centred(n),
            location=truths.bent,
        )
        for n in (20, 32, 64)
    ),
    Cell(
        name="correlated 32",
        words="right model, 32 runs, errors of the outcomes correlated by 0.7",
        runs=_centred(32),
        rho=0.7,
    ),
    Cell(
        name="opposed 32",
        words="right model, 32 runs, errors of the outcomes correlated by −0.7",
        runs=_centred(32),
        rho=-0.7,
    ),
    Cell(
        name="pass/fail 36×3",
        words="two opposite pass/fail outcomes and a pull, 36 runs of 3 parts",
        runs=_centred(36),
        location=truths.soldering,
        outcomes=SOLDERING,
        n_parts=3,
        parts=0.6,
    ),
    Cell(
        name="split plot 8×4",
        words="8 setups of a slow setting with 4 runs each, a third of the variance theirs",
        runs=plans.split_plot,
        setup=1 / 3,
        is_slow=True,
    ),
    Cell(name="tight 32", words="right model, 32 runs, scatter 1.4", runs=_centred(32), sd=1.4),
    Cell(
        name="parts 32×3",
        words="right model, 32 runs of 3 parts, half the variance within runs",
        runs=_centred(32),
        parts=0.5,
        n_parts=3,
    ),
    Cell(
        name="censored 32",
        words="right model, 32 runs, a quarter of the forces cut off above",
        runs=_centred(32),
        gauge_end=5.0,
    ),
    *(
        Cell(
            name=f"roomy {n}",
            words=f"roomy process, {n} runs",
            runs=_centred(n),
            location=truths.roomy,
        )
        for n in (20, 32)
    ),
    Cell(
        name="roomy split plot",
        words="roomy process, 8 setups with 4 runs each",
        runs=plans.split_plot,
        location=truths.roomy,
        setup=1 / 3,
        is_slow=True,
    ),
)
BY_NAME = {one.name: one for one in CELLS}
