"""Predict every outcome at chosen settings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench import decide, define
from workbench.define.outcomes import is_judged
from workbench.errors import OptionError, Unavailable

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.settings import Settings, Value
    from workbench.fit.faces import Prediction
    from workbench.steps.fitting import OutcomeFit

CONFIDENCE = 0.95  # of the intervals shown with every estimate


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutcomePrediction:
    """One outcome at the points asked: its intervals, and the chance (n,) that a part passes."""

    fitted: OutcomeFit
    prediction: Prediction | Unavailable
    chance: NDArray[np.float64] | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Predictions:
    """All outcomes at the settings (n,) asked; `confidence` is that of the intervals."""

    settings: Settings
    outcomes: tuple[OutcomePrediction, ...]
    confidence: float

    @property
    def any_answer(self) -> bool:
        """Whether at least one outcome could be predicted."""
        return any(not isinstance(one.prediction, Unavailable) for one in self.outcomes)


def predict_all(
    fits: Sequence[OutcomeFit], settings: Settings, *, seed: int, confidence: float = CONFIDENCE
) -> Predictions:
    """Predict the fitted outcomes at the settings.

    The chance is that of a new part under the line's setting error, with the model-form term in.
    """
    return Predictions(
        settings=settings,
        outcomes=tuple(_predict(one, settings, seed=seed, confidence=confidence) for one in fits),
        confidence=confidence,
    )


def points(factors: Sequence[Factor], pairs: Sequence[str]) -> Settings:
    """Return the settings written as NAME=VALUE, a new point beginning where a name comes again.

    Raises
    ------
    WorkbenchError
        If a pair is not understood or a point lacks a factor.
    """
    rows: list[dict[str, Value]] = [{}]
    for pair in pairs:
        name, value = _split(factors, pair)
        if name in rows[-1]:
            rows.append({})
        rows[-1][name] = value
    return define.settings(factors, rows)


def _split(factors: Sequence[Factor], pair: str) -> tuple[str, str]:
    """Split at the sign that follows a known name, since a name may hold the sign itself."""
    known = sorted((f.name for f in factors), key=len, reverse=True)
    for name in known:
        if pair.startswith(f"{name}="):
            return name, pair.removeprefix(f"{name}=").strip()
    raise OptionError(
        f"{pair!r} names no factor of this trial.",
        why="A point is written NAME=VALUE for each factor.",
        next_step=f"Use the names: {', '.join(f.name for f in factors)}.",
        place="--at",
    )


def _predict(
    fitted: OutcomeFit, settings: Settings, *, seed: int, confidence: float
) -> OutcomePrediction:
    if isinstance(fitted.fit, Unavailable):
        return OutcomePrediction(fitted=fitted, prediction=fitted.fit, chance=fitted.fit)
    if not is_judged(fitted.outcome):
        chance: NDArray[np.float64] | Unavailable = Unavailable(
            reason=f"{fitted.outcome.name} has no requirement in trial.toml"
        )
    else:
        chance = decide.chance((fitted.fit,), settings, seed=seed)
    prediction = fitted.fit.predict(settings, confidence=confidence)
    return OutcomePrediction(fitted=fitted, prediction=prediction, chance=chance)
