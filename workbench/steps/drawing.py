"""What figures draw that no fit holds by itself: its predictions along lines and over maps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.define.outcomes import Counted, Graded, Measured
from workbench.define.settings import Settings
from workbench.errors import Unavailable
from workbench.fit.measured import MeasuredFit
from workbench.fit.outcome_model import OutcomeModel
from workbench.fit.scales import off_scale, on_scale
from workbench.show.nouns import Lines, MeanMap, Runs
from workbench.show.numbers import setting, with_unit

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from workbench.define.factors import Factor, Numeric
    from workbench.define.settings import Value
    from workbench.fit.faces import Fit, Prediction

CONFIDENCE = 0.95
ALONG = 41  # points of a line, and of a side of a map
NEAR = 0.15  # of the range: a run this near a line's setting is drawn on it


def middle(factors: Sequence[Factor]) -> dict[str, Value]:
    """Return the middle of every range, and the first level of every category."""
    return {
        f.name: f.levels[0] if isinstance(f, Categorical) else (f.low + f.high) / 2
        for f in factors
    }


def lines_of(
    fit: Fit, *, along: str, by: str, at: Mapping[str, Value] | None = None
) -> Lines | Unavailable:
    """Return the mean along one factor for a few settings of another.

    A category gives a line for each level, a numeric factor one for its low and its high end;
    `at` holds the other factors (by default at the middle of their ranges).
    """
    factors = {f.name: f for f in fit.settings.factors}
    one, other = factors[along], factors[by]
    held = middle(fit.settings.factors) | dict(at or {})
    stands = _stands(other)
    there = _points(one)
    grid = _row(fit, held, len(stands) * there.size)
    grid[:, _place(fit, along)] = np.tile(there, len(stands))
    grid[:, _place(fit, by)] = np.repeat(stands, there.size)
    found = _predicted(fit, grid)
    if isinstance(found, Unavailable):
        return found
    shape = (len(stands), there.size)
    return Lines(
        outcome=fit.outcome,
        along=one,
        by=other,
        x=there,
        levels=tuple(_in_words(other, value) for value in stands),
        mean=found.mean.reshape(shape),
        low=found.mean_low.reshape(shape),
        high=found.mean_high.reshape(shape),
        confidence=CONFIDENCE,
        held=_held_words(fit, held, apart_from=(along, by)),
        effect=next((e for e in fit.effects if set(e.term.factors) == {along, by}), None),
        runs=_runs_on_lines(fit, held, along=along, by=by),
    )


def mean_map_of(
    fit: Fit, *, x: str, y: str, at: Mapping[str, Value] | None = None
) -> MeanMap | Unavailable:
    """Return the mean over two numeric factors, the others held at `at` (by default midway)."""
    held = middle(fit.settings.factors) | dict(at or {})
    across, up = _numeric(fit, x), _numeric(fit, y)
    xs, ys = _points(across), _points(up)
    grid = _row(fit, held, xs.size * ys.size)
    grid[:, _place(fit, x)] = np.tile(xs, ys.size)
    grid[:, _place(fit, y)] = np.repeat(ys, xs.size)
    found = _predicted(fit, grid)
    if isinstance(found, Unavailable):
        return found
    shape = (ys.size, xs.size)
    return MeanMap(
        outcome=fit.outcome,
        x_factor=across,
        y_factor=up,
        x=xs,
        y=ys,
        mean=found.mean.reshape(shape),
        inside=found.inside.reshape(shape),
        held=_held_words(fit, held, apart_from=(x, y)),
        runs=Runs(x=np.array(fit.settings.column(x)), y=np.array(fit.settings.column(y))),
    )


def _numeric(fit: Fit, name: str) -> Numeric:
    factor = fit.settings.factors[_place(fit, name)]
    if isinstance(factor, Categorical):
        raise TypeError(f"{name} has no scale to draw a map over")
    return factor


def _points(factor: Factor) -> NDArray[np.float64]:
    if isinstance(factor, Categorical):
        return np.arange(len(factor.levels), dtype=np.float64)
    return np.linspace(factor.low, factor.high, ALONG)


def _stands(factor: Factor) -> list[float]:
    if isinstance(factor, Categorical):
        return [float(i) for i in range(len(factor.levels))]
    return [factor.low, factor.high]


def _row(fit: Fit, held: Mapping[str, Value], copies: int) -> NDArray[np.float64]:
    stored = [_stored(factor, held[factor.name]) for factor in fit.settings.factors]
    return np.tile(np.array(stored, dtype=np.float64), (copies, 1))


def _stored(factor: Factor, value: Value) -> float:
    return float(factor.index(str(value))) if isinstance(factor, Categorical) else float(value)


def _factor(fit: Fit, name: str) -> Factor:
    return fit.settings.factors[_place(fit, name)]


def _place(fit: Fit, name: str) -> int:
    return fit.settings.names.index(name)


def _predicted(fit: Fit, grid: NDArray[np.float64]) -> Prediction | Unavailable:
    settings = Settings(factors=fit.settings.factors, values=grid)
    return fit.predict(settings, confidence=CONFIDENCE)


def _in_words(factor: Factor, value: float) -> str:
    return with_unit(setting(factor, value), factor.unit)


def _held_words(fit: Fit, held: Mapping[str, Value], *, apart_from: tuple[str, str]) -> str:
    in_model = {name for term in fit.terms.terms for name in term.factors}
    return ", ".join(
        f"{f.name} {_in_words(f, _stored(f, held[f.name]))}"
        for f in fit.settings.factors
        if f.name in in_model and f.name not in apart_from
    )


def _runs_on_lines(fit: Fit, held: Mapping[str, Value], *, along: str, by: str) -> Runs | None:
    if isinstance(fit.outcome, Measured):
        return _moved_runs(fit, held, along=along, by=by)
    return _seen_runs(fit, along=along, by=by)


def _moved_runs(fit: Fit, held: Mapping[str, Value], *, along: str, by: str) -> Runs | None:
    """Move each run to the held settings by the fit: its residual stays what it was."""
    moved = _row(fit, held, len(fit.settings))
    for name in (along, by):
        moved[:, _place(fit, name)] = fit.settings.column(name)
    found = _predicted(fit, moved)
    left = _left_over(fit)
    if isinstance(found, Unavailable) or left is None:
        return None
    scale = getattr(fit.outcome, "scale", "as read")
    return Runs(
        x=np.array(fit.settings.column(along)),
        y=off_scale(on_scale(found.mean, scale) + left, scale),
        line=_nearest_line(_factor(fit, by), fit.settings.column(by)),
        mark=_marks(fit),
    )


def _left_over(fit: Fit) -> NDArray[np.float64] | None:
    """Return what each row lies above the mean of the model, on its scale (n,)."""
    if isinstance(fit, MeasuredFit):
        return fit.diagnostics.residuals
    if not isinstance(fit, OutcomeModel):
        return None
    there = fit.predict(fit.settings, confidence=CONFIDENCE)
    if isinstance(there, Unavailable):
        return None
    scale = getattr(fit.outcome, "scale", "as read")
    return np.asarray(on_scale(fit.checks.observed, scale) - on_scale(there.mean, scale))


def _marks(fit: Fit) -> NDArray[np.int64] | None:
    mark = fit.checks.mark if isinstance(fit, OutcomeModel) else None
    return None if mark is None or not mark.any() else mark.copy()


def _seen_runs(fit: Fit, *, along: str, by: str) -> Runs | None:
    """Return what was seen at each pair of settings, over all parts and whatever else was set.

    Shares and counts cannot be moved to other settings by a residual, as readings can.
    """
    if not isinstance(fit, OutcomeModel):
        return None
    parts, seen = _seen(fit)
    x, line = fit.settings.column(along), _nearest_line(_factor(fit, by), fit.settings.column(by))
    places, of = np.unique(np.column_stack([x, line]), axis=0, return_inverse=True)
    of = of.reshape(-1)
    tried = np.bincount(of, weights=parts).astype(np.float64)
    return Runs(
        x=places[:, 0].copy(),
        y=np.bincount(of, weights=parts * seen) / tried,
        line=places[:, 1].astype(np.int64),
        parts=tried,
    )


def _seen(fit: OutcomeModel) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the parts behind each row (n,) and what was seen of one of them, as it is drawn."""
    checks = fit.checks
    parts = np.ones(checks.observed.size) if checks.parts is None else checks.parts
    match fit.outcome:
        case Counted():
            return parts, checks.observed / parts
        case Graded(requirement=asked) if asked is not None:
            low = -np.inf if asked.low is None else asked.low
            high = np.inf if asked.high is None else asked.high
            passes = (checks.observed >= low) & (checks.observed <= high)
            return parts, passes.astype(np.float64)
        case _:
            return parts, checks.observed


def _nearest_line(factor: Factor, values: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the line (n,) on which each run stands, −1 for one between the lines."""
    stands = np.array(_stands(factor))
    apart = np.abs(values[:, None] - stands)
    nearest = np.argmin(apart, axis=1).astype(np.int64)
    reach = 0.5 if isinstance(factor, Categorical) else NEAR * (factor.high - factor.low)
    return np.where(apart.min(axis=1) <= reach, nearest, -1)
