"""The window: set values between which a line can hold every requirement."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.define.factors import Factor
    from workbench.define.settings import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """Window of one numeric factor in its unit: set values from `low` to `high`.

    `limited_by_low` and `limited_by_high` say in words what stops each side: an outcome
    ("peel force below 22 N") or "edge of the range tried".
    """

    factor: Factor
    low: float
    high: float
    set_point: float
    limited_by_low: str
    limited_by_high: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A box of set values in which at least `share` of new parts meet every requirement.

    The statement is joint over the box: P(lowest share inside ≥ share) ≥ confidence. Two
    numbers are told apart. The *assured share* is the share that a process reaches in all but
    1 − confidence of the draws, like the content of a tolerance interval (Krishnamoorthy and
    Mathew 2009, Statistical Tolerance Regions, chapter 1). The *chance* is the share averaged
    over the draws: the posterior probability that one new part meets every requirement (Peterson
    2004, Journal of Quality Technology 36, 139-153; Peterson, Miró-Quesada and del Castillo 2009,
    Quality Technology and Quantitative Management 6, 353-369). A chance says nothing of how sure
    it is, and is the larger of the two.
    `levels` are the categorical settings of this box, `chance_at_set_point` the share averaged
    over what is not known, `lowest_share` the `1 − confidence` quantile of the lowest share in
    the box, `volume` the product of the sides, each as a part of its factor's range (of a
    stepped factor: of its number of steps) or in its setting error, as `size_in` says, to the
    power of its weight if one was asked for. `held` are numeric factors kept at one value.
    `model_form` is kappa of the model-form term (0: taken as right).
    """

    limits: tuple[Limit, ...]
    levels: tuple[tuple[str, str], ...]
    share: float
    confidence: float
    chance_at_set_point: float
    lowest_share: float
    volume: float
    model_form: float
    seed: int
    n_draws: int
    notes: tuple[str, ...]
    held: tuple[tuple[str, float], ...] = ()
    size_in: str = "range"

    def set_point(self) -> dict[str, Value]:
        """Return the set point, factor name to value or level."""
        point: dict[str, Value] = {one.factor.name: one.set_point for one in self.limits}
        return point | dict(self.held) | dict(self.levels)


@dataclass(frozen=True, slots=True, kw_only=True)
class NearestMiss:
    """The best point when no window exists: its settings, its chance and what limits it."""

    settings: tuple[tuple[str, Value], ...]
    chance: float
    assured_share: float
    limited_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NoWindow:
    """No box holds: the reason, the nearest miss, and what to run next in words."""

    reason: str
    share: float
    confidence: float
    nearest_miss: NearestMiss | None
    next_trial: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The answer to "where do we run?": a window for each level of the categories, or none.

    `best` is the widest of `windows` (one an attempted combination of levels). `if_right` is the
    window if the model form is taken as right (kappa 0), shown beside it, never instead.
    """

    best: Window | NoWindow
    by_level: tuple[tuple[tuple[tuple[str, str], ...], Window | NoWindow], ...]
    if_right: Window | NoWindow
