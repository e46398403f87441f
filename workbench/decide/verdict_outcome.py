"""What the parts of one place say of one outcome."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.capability import index, stability
from workbench.decide.confirmation_normal import limit_distances
from workbench.decide.confirmation_spots import SET_POINT
from workbench.decide.tolerance import tolerance_statement
from workbench.decide.verdict import SeenOutcome
from workbench.define.outcomes import Measured
from workbench.errors import Unavailable
from workbench.fit.scales import off_scale, on_scale

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.decide.capability import Index
    from workbench.decide.confirmation import ConfirmationPlan, Foreseen, Place
    from workbench.decide.tolerance import ToleranceStatement
    from workbench.decide.verdict_parts import OutcomeParts, PlaceParts

NOT_MEASURED = Unavailable(reason="not measured")
CUT_OFF = Unavailable(reason="a reading is cut off by the gauge, so parts are only counted")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scaled:
    """Plain values (n,) on the outcome's scale with the sitting of each."""

    values: NDArray[np.float64]
    sitting: NDArray[np.int64]

    @property
    def sd(self) -> float:
        """Standard deviation of the values; 0 where there are not two."""
        return float(self.values.std(ddof=1)) if self.values.size > 1 else 0.0


def scaled(one: OutcomeParts, parts: PlaceParts) -> Scaled | Unavailable:
    """Return the plain values of a measured outcome on its scale; Unavailable if cut off."""
    if not isinstance(one.outcome, Measured):
        return NOT_MEASURED
    if one.has_cut_off:
        return CUT_OFF
    used = one.is_plain & ~parts.lost & ~parts.untold
    values = one.value[used]
    if one.outcome.scale != "as read" and (values <= 0).any():
        return Unavailable(
            reason=f"a reading is not above zero, as the {one.outcome.scale} scale needs"
        )
    return Scaled(values=on_scale(values, one.outcome.scale), sitting=parts.sitting[used])


def seen_outcome(
    one: OutcomeParts, parts: PlaceParts, *, plan: ConfirmationPlan, place: Place
) -> SeenOutcome:
    """Return mean, tolerance interval and index of one outcome, against what was foreseen."""
    used = one.is_plain & ~parts.lost & ~parts.untold
    numbers = scaled(one, parts)
    foreseen = next((f for f in place.outcomes if f.outcome == one.outcome.name), None)
    mean = _mean(one, numbers, one.value[used])
    as_foreseen = _as_foreseen(mean, foreseen)
    return SeenOutcome(
        outcome=one.outcome.name,
        unit=foreseen.unit if foreseen is not None else "",
        tally=parts.tally_of(one),
        values=tuple(float(value) for value in one.value[used]),
        mean=mean,
        sd=numbers.sd if isinstance(numbers, Scaled) else numbers,
        mean_as_foreseen=as_foreseen,
        tolerance=_tolerance(plan, one, numbers),
        index=_index(one, numbers, plan=plan, place=place),
        sentences=_sentences(one, is_off=as_foreseen is False),
    )


def margins_seen(one: OutcomeParts, numbers: Scaled) -> tuple[tuple[int, float], ...]:
    """Return each limit's side and its distance from the mean of the parts, in their sd."""
    if not isinstance(one.outcome, Measured) or numbers.sd <= 0:
        return ()
    centre = float(numbers.values.mean())
    return tuple(
        (side, distance / numbers.sd) for side, distance in limit_distances(one.outcome, centre)
    )


def _mean(
    one: OutcomeParts, numbers: Scaled | Unavailable, values: NDArray[np.float64]
) -> float | Unavailable:
    if values.size == 0:
        return Unavailable(reason="no plain reading")
    if not isinstance(one.outcome, Measured):
        return float(values.mean())
    if isinstance(numbers, Unavailable):
        return numbers
    return float(off_scale(np.array([numbers.values.mean()]), one.outcome.scale)[0])


def _as_foreseen(mean: float | Unavailable, foreseen: Foreseen | None) -> bool | Unavailable:
    if isinstance(mean, Unavailable):
        return mean
    if foreseen is None:
        return Unavailable(reason="nothing was foreseen of it")
    low, high = foreseen.parts_mean_low, foreseen.parts_mean_high
    if isinstance(low, Unavailable) or isinstance(high, Unavailable):
        return low if isinstance(low, Unavailable) else NOT_MEASURED
    return low <= mean <= high


def _tolerance(
    plan: ConfirmationPlan, one: OutcomeParts, numbers: Scaled | Unavailable
) -> ToleranceStatement | Unavailable:
    if isinstance(numbers, Unavailable) or not isinstance(one.outcome, Measured):
        return numbers if isinstance(numbers, Unavailable) else NOT_MEASURED
    return tolerance_statement(
        numbers.values, one.outcome, share=plan.share, confidence=plan.confidence
    )


def _index(
    one: OutcomeParts, numbers: Scaled | Unavailable, *, plan: ConfirmationPlan, place: Place
) -> Index | Unavailable:
    if isinstance(numbers, Unavailable) or not isinstance(one.outcome, Measured):
        return numbers if isinstance(numbers, Unavailable) else NOT_MEASURED
    stable = stability(numbers.values, numbers.sitting, is_production=place.name == SET_POINT)
    return index(numbers.values, one.outcome, stable=stable, confidence=plan.confidence)


def _sentences(one: OutcomeParts, *, is_off: bool) -> tuple[str, ...]:
    said = []
    if one.has_cut_off:
        said.append(
            f"{one.outcome.name}: readings are cut off by the gauge; parts are judged by whether "
            "they meet the requirement, where that can be told."
        )
    if is_off:
        said.append(
            f"{one.outcome.name}: the mean lies outside the interval foreseen for it, so the "
            "model is off here."
        )
    return tuple(said)
