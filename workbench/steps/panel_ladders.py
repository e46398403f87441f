"""One ladder an outcome: where new parts fall at a setting, against what they must meet."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.outcomes import Measured, PassFail
from workbench.errors import Unavailable
from workbench.show.numbers import chance, requirement, short, unit_of, with_unit

if TYPE_CHECKING:
    from workbench.define.outcomes import Outcome, Requirement
    from workbench.define.settings import Settings
    from workbench.fit.faces import Fit, Prediction

BANDS = (0.95, 0.8, 0.5)  # of new parts, widest first
ROOM = 0.12  # of the width, beyond what was seen and what is asked
TICKS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """How a ladder is drawn: from `low` to `high` in the outcome's unit, by ratio if `is_log`."""

    low: float
    high: float
    is_log: bool

    def at(self, value: float) -> float:
        """Return where a value stands, 0 at the low end and 1 at the high one, cut off there."""
        if self.is_log:
            low, high = math.log(self.low), math.log(self.high)
            value = math.log(max(value, self.low * 1e-6))
        else:
            low, high = self.low, self.high
        return min(1.0, max(0.0, (value - low) / (high - low)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Where this share of new parts falls, as places on the ladder and in words."""

    share: float
    low: float
    high: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """What is drawn of one outcome; every place is from 0 to 1 along the ladder.

    `low_wall` and `high_wall` are the limits (None: open). Where a single part has no place
    (it passes or it does not) the ladder is of the share that passes, and has no bands.
    """

    outcome: str
    unit: str
    asks: str
    low_wall: float | None
    high_wall: float | None
    ticks: tuple[tuple[float, str], ...]
    mean: float | None
    mean_low: float | None
    mean_high: float | None
    bands: tuple[Band, ...]
    words: str
    chance: str


def scale_of(fit: Fit) -> Scale:
    """Return a scale on which everything foreseen within the region of the runs finds room."""
    outcome = fit.outcome
    if not _has_parts(outcome):
        return Scale(low=0.0, high=1.0, is_log=False)
    is_log = isinstance(outcome, Measured) and outcome.scale == "log"
    seen = fit.predict(fit.settings, confidence=BANDS[0])
    ends = list(_limits(outcome))
    if not isinstance(seen, Unavailable):
        for values in (seen.new_part_low, seen.new_part_high, seen.mean):
            ends += [] if isinstance(values, Unavailable) else [*map(float, values)]
    known = [one for one in ends if math.isfinite(one) and (one > 0 or not is_log)]
    low, high = (min(known), max(known)) if known else (0.0, 1.0)
    if is_log:
        room = (high / low) ** ROOM if high > low else 2.0
        return Scale(low=low / room, high=high * room, is_log=True)
    room = ROOM * (high - low) or 1.0
    return Scale(low=low - room, high=high + room, is_log=False)


def _has_parts(outcome: Outcome) -> bool:
    return isinstance(outcome, Measured)


def _limits(outcome: Outcome) -> tuple[float, ...]:
    asked = None if isinstance(outcome, PassFail) else outcome.requirement
    if asked is None or not _has_parts(outcome):
        return ()
    return tuple(one for one in (asked.low, asked.high) if one is not None)


def ladder_of(
    fit: Fit,
    settings: Settings,
    scale: Scale,
    *,
    widest: Prediction | Unavailable,
    share: float | None,
) -> Ladder:
    """Return the ladder of an outcome at one setting; `share` of new parts meets it.

    `widest` is what the fit predicts there at the widest of the bands.
    """
    outcome = fit.outcome
    asked = None if isinstance(outcome, PassFail) else outcome.requirement
    is_of_parts = _has_parts(outcome)
    inner = [fit.predict(settings, confidence=one) for one in BANDS[1:]] if is_of_parts else []
    bands = tuple(_bands([widest, *inner], scale, unit_of(outcome))) if is_of_parts else ()
    return Ladder(
        outcome=outcome.name,
        unit=unit_of(outcome) if is_of_parts else "share of parts",
        asks=_asks(outcome),
        low_wall=_wall(asked.low if asked and is_of_parts else None, scale),
        high_wall=_wall(asked.high if asked and is_of_parts else None, scale),
        ticks=tuple(_ticks(scale, is_share=not is_of_parts)),
        mean=_place(widest, "mean", scale),
        mean_low=_place(widest, "mean_low", scale),
        mean_high=_place(widest, "mean_high", scale),
        bands=bands,
        words=_words(widest, unit_of(outcome), bands, is_share=not is_of_parts),
        chance="" if share is None else chance(share),
    )


def _asks(outcome: Outcome) -> str:
    if isinstance(outcome, PassFail):
        return f"must be {outcome.passes}"
    asked = outcome.requirement
    if asked is None:
        return "no requirement"
    grades: tuple[str, ...] = getattr(outcome, "grades", ())
    return _grades(asked, grades) if grades else with_unit(requirement(asked), unit_of(outcome))


def _grades(asked: Requirement, grades: tuple[str, ...]) -> str:
    ends = [grades[int(one)] for one in (asked.low, asked.high) if one is not None]
    if len(ends) == 2:
        return f"{ends[0]} to {ends[1]}"
    return f"at {'least' if asked.high is None else 'most'} {ends[0]}"


def _wall(limit: float | None, scale: Scale) -> float | None:
    return None if limit is None else scale.at(limit)


def _place(seen: Prediction | Unavailable, what: str, scale: Scale) -> float | None:
    if isinstance(seen, Unavailable):
        return None
    return scale.at(float(getattr(seen, what)[0]))


def _bands(seen: list[Prediction | Unavailable], scale: Scale, unit: str) -> list[Band]:
    found = []
    for share, one in zip(BANDS, seen, strict=True):
        if isinstance(one, Unavailable):
            continue
        ends = (one.new_part_low, one.new_part_high)
        if isinstance(ends[0], Unavailable) or isinstance(ends[1], Unavailable):
            continue
        low, high = float(ends[0][0]), float(ends[1][0])
        ends_in_words = f"{short(low, 3)} to {with_unit(short(high, 3), unit)}"
        words = f"{share * 100:.0f} % of new parts: {ends_in_words}"
        found.append(Band(share=share, low=scale.at(low), high=scale.at(high), words=words))
    return found


def _words(
    seen: Prediction | Unavailable, unit: str, bands: tuple[Band, ...], *, is_share: bool
) -> str:
    if isinstance(seen, Unavailable):
        return f"Not known: {seen.reason}"
    ends = [float(one[0]) for one in (seen.mean, seen.mean_low, seen.mean_high)]
    if is_share and ends[2] <= 1:
        mean, low, high = (chance(one) for one in ends)
        return f"share that meets it: {mean} ({low} to {high})"
    mean, low, high = (short(one, 3) for one in ends)
    parts = f"; {bands[0].words}" if bands else ""
    return f"mean {with_unit(mean, unit)} ({low} to {high}){parts}"


def _ticks(scale: Scale, *, is_share: bool) -> list[tuple[float, str]]:
    if is_share:
        return [(one, f"{one * 100:.0f} %") for one in (0.0, 0.25, 0.5, 0.75, 1.0)]
    if scale.is_log:
        first, last = (math.floor(math.log10(one)) for one in (scale.low, scale.high))
        found = [lead * 10.0**power for power in range(first, last + 1) for lead in (1, 2, 5)]
        inside = [one for one in found if scale.low <= one <= scale.high]
        return [(scale.at(one), short(one)) for one in inside[:: max(1, len(inside) // TICKS)]]
    step = _step((scale.high - scale.low) / TICKS)
    first = math.ceil(scale.low / step)
    values = np.arange(first, math.floor(scale.high / step) + 1) * step
    return [(scale.at(float(one)), short(float(one))) for one in values]


def _step(rough: float) -> float:
    power = 10.0 ** math.floor(math.log10(rough))
    return next(lead * power for lead in (1, 2, 5, 10) if lead * power >= rough)
