"""Which figures a report shows: the pairs of settings that matter."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench import decide
from workbench.decide.windows import NoWindow, Window
from workbench.define.factors import Categorical
from workbench.errors import Unavailable
from workbench.fit import clear_terms
from workbench.steps.drawing import lines_of, mean_map_of

if TYPE_CHECKING:
    from workbench.decide import ChanceMap
    from workbench.define.settings import Value
    from workbench.fit.faces import Fit
    from workbench.show.nouns import Lines, MeanMap
    from workbench.steps.windows import WindowAnswer

MOST_LINES = 4  # interaction figures of one outcome
MOST_MAPS = 2  # chance maps of one report


def interaction_lines(fit: Fit, *, at: dict[str, Value] | None = None) -> tuple[Lines, ...]:
    """Return the lines of every clear interaction of two factors, the clearest first."""
    pairs = [one for one in clear_terms(fit) if [p for _, p in one.term.powers] == [1, 1]]
    pairs.sort(key=lambda one: 1.0 if isinstance(one.p, Unavailable) else one.p)
    factors = {f.name: f for f in fit.settings.factors}
    found = []
    for one in pairs[:MOST_LINES]:
        first, second = one.term.factors
        if isinstance(factors[first], Categorical):
            first, second = second, first
        drawn = lines_of(fit, along=first, by=second, at=at)
        if not isinstance(drawn, Unavailable):
            found.append(drawn)
    return tuple(found)


def mean_maps(fit: Fit, *, at: dict[str, Value]) -> tuple[MeanMap, ...]:
    """Return the map of the mean over the two numeric factors that matter most; none below two."""
    pair = _by_weight(fit)[:2]
    if len(pair) < 2:
        return ()
    drawn = mean_map_of(fit, x=pair[0], y=pair[1], at=at)
    return () if isinstance(drawn, Unavailable) else (drawn,)


def chance_maps(answer: WindowAnswer, *, at: dict[str, Value], seed: int) -> tuple[ChanceMap, ...]:
    """Return maps of the chance over pairs of numeric factors, those that matter most first.

    With a window, the chance is the worst over the other factors' limits; without one they stand
    at `at`.
    """
    if isinstance(answer.decision, NoWindow):
        return ()
    best = answer.best
    box = best if isinstance(best, Window) else None
    found = [
        decide.chance_map(
            answer.judged,
            x=x,
            y=y,
            seed=seed,
            confidence=best.confidence,
            box=box,
            at=None if box else at,
        )
        for x, y in _pairs(answer)
    ]
    return tuple(one for one in found if not isinstance(one, Unavailable))


def _by_weight(fit: Fit) -> list[str]:
    """Return the numeric factors of the model, those with most of the variation first."""
    weight = {f.name: 0.0 for f in fit.settings.factors if not isinstance(f, Categorical)}
    for test in fit.tests:
        for name in test.term.factors:
            if name in weight:
                weight[name] += test.sum_of_squares
    return sorted((name for name in weight if weight[name] > 0), key=lambda name: -weight[name])


def _pairs(answer: WindowAnswer) -> list[tuple[str, str]]:
    rank: dict[str, int] = {}
    for fit in answer.fits:
        for place, name in enumerate(_by_weight(fit)):
            rank[name] = min(rank.get(name, place), place)
    names = sorted(rank, key=lambda name: rank[name])
    pairs = [(names[i], names[j]) for j in range(1, len(names)) for i in range(j)]
    return pairs[:MOST_MAPS]
