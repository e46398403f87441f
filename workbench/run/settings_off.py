"""Settings held against the plan: off it, unknown, or drifting away from it."""

from __future__ import annotations

from dataclasses import dataclass
from operator import itemgetter
from typing import TYPE_CHECKING

import numpy as np
import scipy  # its parts load when a function of theirs is first called

from workbench.define.factors import Categorical, Role
from workbench.run.finding import Finding, Kind, Weight
from workbench.run.order import rows_as_made
from workbench.run.record import Status
from workbench.run.words import count_words, run_words, signed, with_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.run.record import Record

ROUNDING = 1e-9  # relative to the range of a factor; a setting this near is the planned one
CHANCE = 0.05  # in a trial, of calling a steady factor drifting or a well-held setting far off
FEWEST_RUNS = 8  # the approximation by Student's t is poor below


@dataclass(frozen=True, slots=True, kw_only=True)
class Deviation:
    """A setting that was not run as planned, in the factor's unit or by level.

    `in_sd` is the distance in units of the factor's setting_sd; None where that is not stated,
    is 0, or the factor has levels.
    """

    run: int
    factor: str
    planned: float | str
    as_run: float | str
    in_sd: float | None


def deviations(record: Record) -> tuple[Deviation, ...]:
    """Return every setting of a run that was made which is not as planned, run by run."""
    if record.planned is None:
        return ()
    made = np.array([one is not Status.MISSING for one in record.status], dtype=bool)
    found = []
    for j, factor in enumerate(record.trial.factors):
        if factor.role is Role.OBSERVED:
            continue
        planned, as_run = record.planned.values[:, j], record.as_run.values[:, j]
        for i in np.flatnonzero(made & _differ(factor, planned, as_run)):
            pair = (float(planned[i]), float(as_run[i]))
            found.append((int(i), _deviation(factor, int(record.run[i]), pair)))
    return tuple(one for _, one in sorted(found, key=itemgetter(0)))


def setting_findings(record: Record, off: Sequence[Deviation]) -> tuple[Finding, ...]:
    """Return, factor by factor, settings off plan and settings that drifted away from it."""
    far = _far(record)
    findings = [
        _off_plan(factor, own, far=far)
        for factor in record.trial.factors
        if (own := [one for one in off if one.factor == factor.name])
    ]
    return (*findings, *_drifts(record, {one.factor for one in off}))


def unknown_setting_findings(record: Record) -> tuple[Finding, ...]:
    """Return the runs that do not count because a setting of theirs is not known."""
    done = np.array([one is Status.DONE for one in record.status], dtype=bool)
    unknown = done & ~np.isfinite(record.as_run.values).all(axis=1)
    if not unknown.any():
        return ()
    runs = tuple(record.run[unknown].tolist())
    known = np.isfinite(record.as_run.values[unknown])
    names = [f.name for f, own in zip(record.trial.factors, known.T, strict=True) if not own.all()]
    return (
        Finding(
            kind=Kind.SETTING_UNKNOWN,
            runs=runs,
            about=names[0] if len(names) == 1 else "",
            sentence=f"A setting was not recorded ({', '.join(names)}), so it does not count: "
            f"{run_words(runs)}.",
            next_step="Enter the setting if anybody wrote it down.",
            weight=Weight.CHECK,
        ),
    )


def _differ(
    factor: Factor, planned: NDArray[np.float64], as_run: NDArray[np.float64]
) -> NDArray[np.bool_]:
    slack = 0.0 if isinstance(factor, Categorical) else ROUNDING * (factor.high - factor.low)
    # A comparison with NaN is False: a setting that is not known is not off plan.
    return np.asarray(np.abs(as_run - planned) > slack)


def _deviation(factor: Factor, run: int, pair: tuple[float, float]) -> Deviation:
    planned, as_run = pair
    return Deviation(
        run=run,
        factor=factor.name,
        planned=_shown(factor, planned),
        as_run=_shown(factor, as_run),
        in_sd=_in_sd(factor, as_run - planned),
    )


def _shown(factor: Factor, value: float) -> float | str:
    return factor.levels[int(value)] if isinstance(factor, Categorical) else value


def _in_sd(factor: Factor, shift: float) -> float | None:
    if isinstance(factor, Categorical) or not factor.setting_sd:
        return None
    return shift / factor.setting_sd


def _far(record: Record) -> float:
    """Return how many setting_sd off no setting of a well-held trial would be (Bonferroni)."""
    return float(-scipy.special.ndtri(CHANCE / 2 / max(1, record.as_run.values.size)))


def _off_plan(factor: Factor, own: Sequence[Deviation], *, far: float) -> Finding:
    runs = tuple(one.run for one in own)
    if isinstance(factor, Categorical):
        return Finding(
            kind=Kind.OFF_PLAN,
            runs=runs,
            about=factor.name,
            sentence=f"{factor.name} was not at the planned level in {run_words(runs)}.",
            next_step=_AS_RUN,
            weight=Weight.CHECK,
        )
    shifts = [float(one.as_run) - float(one.planned) for one in own]
    furthest = max(range(len(own)), key=lambda i: abs(shifts[i]))
    in_sd = own[furthest].in_sd
    beside = f", {abs(in_sd):.2g} setting sd" if in_sd is not None else ""
    is_far = in_sd is not None and abs(in_sd) > far
    return Finding(
        kind=Kind.OFF_PLAN,
        runs=runs,
        about=factor.name,
        sentence=f"{factor.name} was off plan in {count_words(len(own), 'run')}: furthest "
        f"{_signed(shifts[furthest], factor.unit)}{beside} in run {own[furthest].run}, on average "
        f"{_signed(float(np.mean(shifts)), factor.unit)} over these.",
        next_step=_AS_RUN
        + (" So far off is no chance if setting_sd is right: check both." if is_far else ""),
        weight=Weight.CHECK if is_far else Weight.NOTE,
    )


_AS_RUN = "The fit uses what was really set."


def _signed(number: float, unit: str) -> str:
    return f"{signed(number, '.3g')} {unit}" if unit not in ("", "1") else signed(number, ".3g")


def _drifts(record: Record, off: set[str]) -> tuple[Finding, ...]:
    """Return numeric factors whose distance from the plan goes with the order of the runs.

    Spearman's rank correlation (1904, American Journal of Psychology 15, 72-101) with its
    approximation by Student's t (Kendall and Gibbons 1990, Rank Correlation Methods, section
    4.14), the chance divided by the number of factors looked at.
    """
    if record.planned is None:
        return ()
    rows = rows_as_made(record)
    looked_at = [
        (factor, j)
        for j, factor in enumerate(record.trial.factors)
        if factor.name in off and not isinstance(factor, Categorical)
    ]
    findings = []
    for factor, j in looked_at:
        shift = record.as_run.values[rows, j] - record.planned.values[rows, j]
        known = np.isfinite(shift)
        if known.sum() < FEWEST_RUNS:
            continue
        steps = np.round(shift[known] / (ROUNDING * (factor.high - factor.low)))
        if _chance_of_trend(steps) < CHANCE / len(looked_at):
            runs = record.run[rows][known]
            findings.append(_drift(factor, runs, shift[known]))
    return tuple(findings)


def _chance_of_trend(values: NDArray[np.float64]) -> float:
    n = values.size
    _, of, count = np.unique(values, return_inverse=True, return_counts=True)
    ranks = (np.cumsum(count) - (count - 1) / 2)[of]  # ties share the mean of their ranks
    places = np.arange(n, dtype=np.float64)
    if np.ptp(ranks) == 0:
        return 1.0
    r = float(np.corrcoef(ranks, places)[0, 1])
    t = abs(r) * np.sqrt((n - 2) / max(1 - r * r, 1e-12))
    return float(2 * scipy.special.stdtr(n - 2, -t))


def _drift(factor: Factor, runs: NDArray[np.int64], shift: NDArray[np.float64]) -> Finding:
    n_end = max(1, shift.size // 4)
    change = float(shift[-n_end:].mean() - shift[:n_end].mean())
    in_sd = _in_sd(factor, change)
    beside = f" ({abs(in_sd):.2g} setting sd)" if in_sd is not None else ""
    return Finding(
        kind=Kind.DRIFTED,
        runs=(int(runs[0]), int(runs[-1])),
        about=factor.name,
        sentence=f"{factor.name} drifted away from its planned settings over the runs: by "
        f"{with_unit(abs(change), factor.unit)}{beside} {'up' if change > 0 else 'down'} from the "
        "first quarter of the runs to the last.",
        next_step="The fit uses what was really set; find what moves it before the line runs.",
        weight=Weight.CHECK,
    )
