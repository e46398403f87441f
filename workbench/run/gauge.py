"""Readings held against the gauge: beyond it, cut off by it, finer or coarser than its steps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.run.finding import Finding, Kind, Weight
from workbench.run.means import by_run, measured_outcomes
from workbench.run.words import count_words, run_words, with_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.run.record import Readings, Record

OF_A_STEP = 1e-4  # of a step: what rounding of decimal numbers leaves
ENOUGH = 12  # readings; chance puts this many onto every second step with 2⁻¹² = 0.02 %
SEVERAL = 2


def gauge_findings(record: Record) -> tuple[Finding, ...]:
    """Return what the readings say against the limits and the steps of their gauges."""
    findings: list[Finding] = []
    for outcome in measured_outcomes(record):
        readings = record.readings[outcome.name]
        plain = (readings.mark == 0) & np.isfinite(readings.value)
        findings += _beyond(record, outcome, plain)
        findings += _cut_off(record, outcome, plain)
        findings += _too_fine(record, outcome, plain)
        findings += _coarse(record, outcome, readings.value[plain])
    return tuple(findings)


def _beyond(record: Record, outcome: Measured, plain: NDArray[np.bool_]) -> tuple[Finding, ...]:
    readings = record.readings[outcome.name]
    low = -np.inf if outcome.gauge_low is None else outcome.gauge_low
    high = np.inf if outcome.gauge_high is None else outcome.gauge_high
    beyond = plain & ((readings.value < low) | (readings.value > high))
    if not beyond.any():
        return ()
    runs = _runs(record, readings, beyond)
    ends = " to ".join(
        with_unit(end, outcome.unit) if np.isfinite(end) else "anything" for end in (low, high)
    )
    return (
        Finding(
            kind=Kind.BEYOND_GAUGE,
            runs=runs,
            about=outcome.name,
            sentence=f"{outcome.name} has {count_words(int(beyond.sum()), 'reading')} beyond what "
            f"the gauge reads, {ends} ({run_words(runs)}).",
            next_step="Check unit and decimal point. Off the gauge is written "
            f"{_off_gauge(outcome)}; or correct the gauge's range in trial.toml.",
            weight=Weight.CHECK,
        ),
    )


def _off_gauge(outcome: Measured) -> str:
    ends = [f"<{outcome.gauge_low:g}"] if outcome.gauge_low is not None else []
    ends += [f">{outcome.gauge_high:g}"] if outcome.gauge_high is not None else []
    return " or ".join(ends)


def _cut_off(record: Record, outcome: Measured, plain: NDArray[np.bool_]) -> tuple[Finding, ...]:
    readings = record.readings[outcome.name]
    findings = []
    for end, sign in ((outcome.gauge_low, "<"), (outcome.gauge_high, ">")):
        if end is None:
            continue
        at_end = plain & (readings.value == end)
        if at_end.sum() < SEVERAL:
            continue
        runs = _runs(record, readings, at_end)
        findings.append(
            Finding(
                kind=Kind.CUT_OFF,
                runs=runs,
                about=outcome.name,
                sentence=f"{outcome.name} stands exactly at the end of the gauge, "
                f"{with_unit(end, outcome.unit)}, in {count_words(int(at_end.sum()), 'reading')} "
                f"({run_words(runs)}): this looks cut off.",
                next_step=f"If the gauge could go no further, write {sign}{end:g}: the fit then "
                "knows that the true value lies beyond.",
                weight=Weight.CHECK,
            )
        )
    return tuple(findings)


def _too_fine(record: Record, outcome: Measured, plain: NDArray[np.bool_]) -> tuple[Finding, ...]:
    step = outcome.resolution
    if step is None:
        return ()
    readings = record.readings[outcome.name]
    between = plain & ~_on_steps(readings.value, step)
    if not between.any():
        return ()
    runs = _runs(record, readings, between)
    return (
        Finding(
            kind=Kind.TOO_FINE,
            runs=runs,
            about=outcome.name,
            sentence=f"{outcome.name} has {count_words(int(between.sum()), 'reading')} finer than "
            f"the gauge's steps of {with_unit(step, outcome.unit)} ({run_words(runs)}).",
            next_step="Are they means, converted values, or of another gauge? Enter what was "
            "read, or correct the resolution in trial.toml.",
            weight=Weight.ASK,
        ),
    )


def _coarse(record: Record, outcome: Measured, values: NDArray[np.float64]) -> tuple[Finding, ...]:
    """Return steps that are large beside the scatter, or larger than the gauge's own.

    Wheeler and Lyday (1989), Evaluating the Measurement Process: steps beyond one standard
    deviation hide it.
    """
    step = _step(values, outcome.resolution)
    if step is None:
        return ()
    scatter = _scatter(record, outcome)
    words = with_unit(step, outcome.unit)
    if outcome.resolution is not None and step > 1.5 * outcome.resolution:
        sentence = (
            f"{outcome.name} was read in steps of {words}, though the gauge shows "
            f"{with_unit(outcome.resolution, outcome.unit)}."
        )
    elif scatter is not None and step > scatter:
        sentence = (
            f"{outcome.name} comes in steps of {words}, but parts of one run scatter by only "
            f"{with_unit(scatter, outcome.unit)} (1 SD)."
        )
    else:
        return ()
    return (
        Finding(
            kind=Kind.COARSE,
            about=outcome.name,
            sentence=sentence,
            next_step="So coarse a reading hides how much parts differ; read finer if the gauge "
            "can.",
            weight=Weight.CHECK if scatter is not None and step > scatter else Weight.ASK,
        ),
    )


def _step(values: NDArray[np.float64], resolution: float | None) -> float | None:
    """Return the step of which all values are whole multiples, None if there is none to tell."""
    if values.size < ENOUGH or not values.any():
        return None
    if resolution is not None:
        fitting = (k * resolution for k in (10, 5, 2) if _on_steps(values, k * resolution).all())
        return next(fitting, resolution)
    distinct = np.unique(values)
    if distinct.size < 3 or 2 * distinct.size > values.size:
        return None
    step = float(np.diff(distinct).min())
    return step if _on_steps(distinct, step).all() else None


def _scatter(record: Record, outcome: Measured) -> float | None:
    """Return the standard deviation of parts within runs, None if there is none to tell."""
    if outcome.scale != "as read":
        return None
    runs = by_run(record, outcome)
    df = int((runs.count - 1).sum())
    if df < ENOUGH // 2:
        return None
    return float(np.sqrt(((runs.value - runs.mean[runs.of]) ** 2).sum() / df))


def _on_steps(values: NDArray[np.float64], step: float) -> NDArray[np.bool_]:
    steps = values / step
    return np.abs(steps - np.round(steps)) <= np.maximum(OF_A_STEP, np.abs(steps) * 1e-12)


def _runs(record: Record, readings: Readings, chosen: NDArray[np.bool_]) -> tuple[int, ...]:
    return tuple(np.unique(record.run[readings.row[chosen]]).tolist())
