"""Plan a confirmation: places, parts, predictions; to be locked before the first part is made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide import confirmation_number as number
from workbench.decide.confirmation import ConfirmationPlan, JudgedBy, Place
from workbench.decide.confirmation_foreseen import INTERVAL, foreseen, predicted
from workbench.decide.confirmation_normal import margins, normal_at
from workbench.decide.confirmation_said import notes_of
from workbench.decide.confirmation_spots import CORNERS, sample_of, spots
from workbench.define.factors import Role
from workbench.define.outcomes import Measured, is_judged
from workbench.errors import DecisionError, Unavailable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.confirmation_normal import Margin
    from workbench.decide.confirmation_number import Number
    from workbench.decide.confirmation_spots import Spot
    from workbench.decide.sample import Sample
    from workbench.decide.windows import Window
    from workbench.fit.faces import Fit

SITTINGS = (
    "a fresh lot of every material, the usual operator",
    "another fresh lot, another operator, another shift",
)
MOST_PARTS = 5000
TAIL = (1 - INTERVAL) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfirmationWish:
    """What is asked of a confirmation; None where the workbench is to choose.

    `parts` at each place, `corners` of the window beside the set point, `failures` that may
    occur where parts are counted, `judged_by` measure or counting, `sittings` how parts are made.
    """

    parts: int | None = None
    corners: int = CORNERS
    failures: int = 0
    judged_by: JudgedBy | None = None
    sittings: tuple[str, ...] = SITTINGS


def confirmation_plan(
    fits: Sequence[Fit], window: Window, *, seed: int, wish: ConfirmationWish | None = None
) -> ConfirmationPlan:
    """Return where and how many parts are to be made, with everything foreseen of them.

    Parts are judged by measure if every outcome is measured with plain readings, else by
    counting. Each place is to hold on its own at full confidence, so all together do (Berger
    1982, Technometrics 24, 295-300).

    Raises
    ------
    DecisionError
        If the numbers asked for cannot be, or an outcome is not foreseen somewhere.
    """
    asked = ConfirmationWish() if wish is None else wish
    _check(asked)
    sample = sample_of([fit for fit in fits if is_judged(fit.outcome)], window)
    there = spots(sample, window, corners=asked.corners)
    edges = [_margins(sample, spot) for spot in there]
    judged_by = asked.judged_by or _usual(edges)
    if judged_by is JudgedBy.MEASURE:
        _check_measurable(edges)
    wanted = number.wanted_at_each(len(there))
    numbers = [
        number.by_measure(edge, sample.ask, parts=asked.parts, wanted=wanted)
        if judged_by is JudgedBy.MEASURE and not isinstance(edge, Unavailable)
        else number.by_counting(spot, sample.ask, parts=asked.parts, failures=asked.failures)
        for spot, edge in zip(there, edges, strict=True)
    ]
    rng = np.random.default_rng(np.random.SeedSequence([seed, len(there)]))
    setting_up = _Setting(sample=sample, n_sittings=len(asked.sittings), rng=rng)
    places = tuple(_place(setting_up, spot, one) for spot, one in zip(there, numbers, strict=True))
    why = (
        number.number_by_measure(sample.ask, numbers)
        if judged_by is JudgedBy.MEASURE
        else number.number_by_counting(sample.ask, numbers, there)
    )
    return ConfirmationPlan(
        places=places,
        share=window.share,
        confidence=window.confidence,
        interval_confidence=INTERVAL,
        judged_by=judged_by,
        sittings=asked.sittings,
        number=why,
        fewer=number.fewer_parts(sample.ask, numbers),
        seed=seed,
        model_form=window.model_form,
        notes=notes_of(sample.fits, judged_by, n_sittings=len(asked.sittings)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Setting:
    sample: Sample
    n_sittings: int
    rng: np.random.Generator

    def n_means(self, parts: int) -> int:
        """Return how many independent parts stand behind a mean: setups where some are slow."""
        factors = self.sample.fits[0].settings.factors
        is_slow = any(one.slow and one.role is Role.CONTROL for one in factors)
        return min(parts, self.n_sittings) if is_slow else parts


def _place(made: _Setting, spot: Spot, one: Number) -> Place:
    failures = made.rng.binomial(one.parts, spot.failing)
    low, high = np.quantile(failures, [TAIL, 1 - TAIL], method="nearest")
    rank = made.sample.n_draws - 1 - made.sample.budget
    return Place(
        name=spot.name,
        settings=spot.set_values(),
        why=spot.why,
        parts=one.parts,
        failures_allowed=one.failures_allowed,
        chance=float(1 - spot.failing.mean()),
        assured_share=float(1 - np.partition(spot.failing, rank)[rank]),
        failures_low=int(low),
        failures_high=int(high),
        chance_to_confirm=one.chance_to_confirm,
        outcomes=foreseen(
            made.sample,
            spot,
            n_means=made.n_means(one.parts),
            allowed=one.allowed,
            rng=made.rng,
        ),
    )


def _margins(sample: Sample, spot: Spot) -> tuple[Margin, ...] | Unavailable:
    """Return the distance of every limit from the mean there; Unavailable if parts are counted."""
    found: list[Margin] = []
    for fit in sample.fits:
        if not isinstance(fit.outcome, Measured):
            return Unavailable(reason=f"{fit.outcome.name} is not measured")
        if fit.kind == "censored":
            return Unavailable(reason=f"readings of {fit.outcome.name} are cut off")
        normal = normal_at(fit.outcome, predicted(fit, spot))
        if isinstance(normal, Unavailable):
            return normal
        found += margins(normal)
    return tuple(found)


def _usual(edges: Sequence[tuple[Margin, ...] | Unavailable]) -> JudgedBy:
    told = all(not isinstance(one, Unavailable) for one in edges)
    return JudgedBy.MEASURE if told else JudgedBy.COUNTING


def _check_measurable(edges: Sequence[tuple[Margin, ...] | Unavailable]) -> None:
    for one in edges:
        if isinstance(one, Unavailable):
            raise DecisionError(
                f"Parts cannot be judged by measure: {one.reason}.",
                why="How far inside its limit a part lies is known of plain readings alone.",
                next_step="Ask for --by counting, or leave it out.",
            )


def _check(asked: ConfirmationWish) -> None:
    if asked.parts is not None and not 2 <= asked.parts <= MOST_PARTS:
        raise DecisionError(
            f"{asked.parts} parts at each place are asked for.",
            why="One part shows no scatter, and more than 5000 are no confirmation any more.",
            next_step="Ask for 2 parts or more, or leave the number out.",
        )
    if asked.corners < 0 or asked.failures < 0:
        raise DecisionError(
            f"{asked.corners} corners and {asked.failures} failures are asked for.",
            why="Both are counts.",
            next_step="Ask for 0 or more.",
        )
    if not any(one.strip() for one in asked.sittings):
        raise DecisionError(
            "Nothing says how the parts are made.",
            why="A confirmation shows what holds beyond the lot and operator of the trial.",
            next_step='Say it: --sitting "fresh lot, other operator, late shift".',
        )
