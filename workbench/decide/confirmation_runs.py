"""The runs of a confirmation: one part a run, places mixed in an order drawn by lot."""

from __future__ import annotations

from importlib.metadata import version
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.rounding import resolution
from workbench.define.algebra import parse_terms
from workbench.define.factors import Categorical, Role, Stepped
from workbench.define.settings import settings
from workbench.plan.draft import DISTRIBUTION
from workbench.plan.plans import CONFIRMATION, Plan, Recipe

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.decide.confirmation import ConfirmationPlan
    from workbench.define.factors import Factor, Numeric
    from workbench.define.settings import Value
    from workbench.define.trial import Trial


def confirmation_runs(confirmation: ConfirmationPlan, trial: Trial) -> Plan:
    """Return the parts as a plan: a block for each sitting, one part a run, order by its seed.

    A slow factor is set once for each place of a sitting; the order of such setups is drawn too.
    """
    rng = np.random.default_rng(np.random.SeedSequence([confirmation.seed, 1]))
    factors = trial.planned_factors
    place_of, block = _parts(confirmation)
    order = _order(factors, place_of, block, rng=rng)
    place_of, block = place_of[order], block[order]
    rows = [_row(confirmation, factors, int(place), rng=rng) for place in place_of]
    return Plan(
        settings=settings(factors, rows),
        block=block,
        setup=_setups(factors, place_of, block),
        point=tuple(confirmation.places[int(place)].name for place in place_of),
        standard=order.astype(np.int64) + 1,
        parts_per_run=1,
        terms=parse_terms(trial.model or "first-order", factors),
        recipe=Recipe(
            kind=CONFIRMATION,
            options=(("places", str(len(confirmation.places))),),
            seed=confirmation.seed,
            version=version(DISTRIBUTION),
        ),
    )


def _parts(confirmation: ConfirmationPlan) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the place and block (n,) of every part, sitting by sitting, places as even as can be.

    Odd parts go to the sittings in turn, each place beginning with another one.
    """
    n_sittings = len(confirmation.sittings)
    place, block = [], []
    for i, one in enumerate(confirmation.places):
        place += [i] * one.parts
        block += [(k + i) % n_sittings + 1 for k in range(one.parts)]
    return np.array(place, dtype=np.int64), np.array(block, dtype=np.int64)


def _order(
    factors: tuple[Factor, ...],
    place_of: NDArray[np.int64],
    block: NDArray[np.int64],
    *,
    rng: np.random.Generator,
) -> NDArray[np.int64]:
    """Return the order of the parts: by block, within it by lot (setups, then their parts)."""
    lot = rng.permutation(place_of.size)
    if not _has_setups(factors):
        return np.lexsort((lot, block))
    n_places, n_blocks = int(place_of.max()) + 1, int(block.max()) + 1
    turns = np.array([rng.permutation(n_places) for _ in range(n_blocks)])
    return np.lexsort((lot, turns[block - 1, place_of], block))


def _setups(
    factors: tuple[Factor, ...], place_of: NDArray[np.int64], block: NDArray[np.int64]
) -> NDArray[np.int64]:
    n = place_of.size
    if not _has_setups(factors):
        return np.arange(1, n + 1)
    changed = np.ones(n, dtype=bool)
    changed[1:] = (np.diff(place_of) != 0) | (np.diff(block) != 0)
    return np.cumsum(changed)


def _has_setups(factors: tuple[Factor, ...]) -> bool:
    return any(one.slow for one in factors)


def _row(
    confirmation: ConfirmationPlan,
    factors: tuple[Factor, ...],
    place: int,
    *,
    rng: np.random.Generator,
) -> dict[str, Value]:
    row: dict[str, Value] = dict(confirmation.places[place].settings)
    for one in factors:
        if one.role is Role.NOISE and not isinstance(one, Categorical):
            row[one.name] = _as_in_production(one, rng)
    return {one.name: row[one.name] for one in factors}


def _as_in_production(factor: Numeric, rng: np.random.Generator) -> float:
    """Return a value of a noise factor drawn from its spread, to the third digit of its range."""
    spread = factor.spread
    if spread is None:
        return (factor.low + factor.high) / 2
    if spread.shape == "normal":
        drawn = float(rng.normal(spread.centre, spread.width))
    else:
        drawn = float(rng.uniform(spread.centre - spread.width, spread.centre + spread.width))
    if isinstance(factor, Stepped):
        return min(factor.steps, key=lambda step: abs(step - drawn))
    step = resolution(factor)
    return float(round(round(drawn / step) * step, 12))
