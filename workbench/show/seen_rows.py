"""What was observed beside what the model expects, pooled where marks would hide one another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.outcomes import PassFail
from workbench.numerics.exact_share import exact_share_limits

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.fit.outcome_model import OutcomeModel, RunChecks
    from workbench.numerics.exact_share import ShareLimits

CONFIDENCE = 0.95
FINE = 9  # significant digits to which two expected values are the same place


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """Marks (m,): expected, observed, parts (or runs) behind each, and which are cut off.

    `limits` are exact 95 % limits of each observed share, where marks are shares. `words` says
    what each mark is.
    """

    expected: NDArray[np.float64]
    observed: NDArray[np.float64]
    weight: NDArray[np.float64]
    mark: NDArray[np.int64]
    limits: ShareLimits | None
    words: tuple[str, ...]

    def __post_init__(self) -> None:
        for array in (self.expected, self.observed, self.weight, self.mark):
            array.setflags(write=False)


def seen_rows(fit: OutcomeModel) -> Seen:
    """Return the marks of a fit: a cell of equal settings for pass/fail, else a run or part."""
    if isinstance(fit.outcome, PassFail):
        return _cells(fit)
    checks = fit.checks
    if checks.mark is not None or fit.kind == "measured":
        return _rows(checks)
    return _pooled(checks)


def _cells(fit: OutcomeModel) -> Seen:
    """Return the share that passed at each combination of settings."""
    checks = fit.checks
    parts = np.ones(checks.observed.size) if checks.parts is None else checks.parts
    _, of = np.unique(fit.settings.values, axis=0, return_inverse=True)
    of = of.reshape(-1)
    tried = np.bincount(of, weights=parts).astype(np.float64)
    passed = np.bincount(of, weights=parts * checks.observed).astype(np.float64)
    expected = np.bincount(of, weights=parts * checks.expected) / tried
    runs = [sorted({int(run) for run in checks.row_run[of == i]}) for i in range(tried.size)]
    return Seen(
        expected=expected,
        observed=passed / tried,
        weight=tried,
        mark=np.zeros(tried.size, dtype=np.int64),
        limits=exact_share_limits(passed, tried, confidence=CONFIDENCE),
        words=tuple(
            f"{round(ok)} of {round(n)} parts passed (run {', '.join(map(str, own))})"
            for ok, n, own in zip(passed, tried, runs, strict=True)
        ),
    )


def _rows(checks: RunChecks) -> Seen:
    n = checks.observed.size
    return Seen(
        expected=checks.expected.copy(),
        observed=checks.observed.copy(),
        weight=np.ones(n),
        mark=np.zeros(n, dtype=np.int64) if checks.mark is None else checks.mark.copy(),
        limits=None,
        words=tuple(f"run {run}" for run in checks.row_run),
    )


def _pooled(checks: RunChecks) -> Seen:
    """Return whole numbers (grades, counts of a part), one mark for all that fall together."""
    parts = np.ones(checks.observed.size) if checks.parts is None else checks.parts
    expected, observed = checks.expected / parts, checks.observed / parts
    near = np.array([float(f"{one:.{FINE}g}") for one in expected])
    places, of = np.unique(np.column_stack([near, observed]), axis=0, return_inverse=True)
    of = of.reshape(-1)
    runs = [sorted({int(run) for run in checks.row_run[of == i]}) for i in range(len(places))]
    return Seen(
        expected=places[:, 0].copy(),
        observed=places[:, 1].copy(),
        weight=np.bincount(of).astype(np.float64),
        mark=np.zeros(len(places), dtype=np.int64),
        limits=None,
        words=tuple(f"run {', '.join(map(str, own))}" for own in runs),
    )
