"""One paragraph on a fit of any kind, from its tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.matrix import BLOCKS

if TYPE_CHECKING:
    from workbench.fit.nouns import Aliased, Effect, TermTest

CLEAR = 0.05  # the usual line, common practice; the p stands beside each claim


def kind_reading(
    name: str,
    tables: tuple[tuple[Effect, ...], tuple[TermTest, ...]],
    *,
    aliased: tuple[Aliased, ...],
    before: tuple[str, ...] = (),
) -> str:
    """Return what matters, interactions first, then what cannot be told."""
    effects, tests = tables
    own = [one for one in tests if one.term != BLOCKS]
    clear = [one for one in own if _is_clear(one)]
    said = [*before, *_interactions(name, clear), *_averages(effects, clear)]
    if not clear:
        said.append(f"Nothing tried is told from scatter in {name}.")
    said += _untold(own)
    if aliased:
        said.append(f"Cannot be told apart: {'; '.join(one.line for one in aliased)}.")
    return " ".join(said)


def _interactions(name: str, clear: list[TermTest]) -> list[str]:
    said = []
    for one in clear:
        first, *others = one.term.factors
        if others:
            said.append(
                f"What {first} does to {name} depends on {' and '.join(others)} ({_p(one.p)}), so "
                "read them together, not by their averages."
            )
    return said


def _averages(effects: tuple[Effect, ...], clear: list[TermTest]) -> list[str]:
    terms = {one.term for one in clear}
    return [
        f"{one.name} {one.from_to}: {_size(one)}."
        for one in effects
        if one.term in terms and len(one.term.factors) == 1
    ]


def _untold(tests: list[TermTest]) -> list[str]:
    unclear = [
        str(one.term) for one in tests if not isinstance(one.p, Unavailable) and not _is_clear(one)
    ]
    untested = [str(one.term) for one in tests if isinstance(one.p, Unavailable) and one.df]
    said = []
    if unclear:
        said.append(
            f"Not told from scatter: {', '.join(unclear)} (which is no proof of no effect; the "
            "intervals say how large each may still be)."
        )
    if untested:
        said.append(f"Without a test: {', '.join(untested)}.")
    return said


def _size(one: Effect) -> str:
    unit = f" {one.unit}" if one.unit else ""
    if isinstance(one.estimate, Unavailable):
        return one.estimate.reason
    shown = f"×{one.value:.3g}" if one.is_ratio else _minus(f"{one.value:+.3g}")
    low, high = (_minus(f"{end:.3g}") for end in (one.estimate.low, one.estimate.high))
    return f"{shown}{unit} (95 % {low} to {high})"


def _is_clear(one: TermTest) -> bool:
    return not isinstance(one.p, Unavailable) and bool(np.less(one.p, CLEAR))


def _minus(number: str) -> str:
    return number.replace("-", "−")


def _p(p: float | Unavailable) -> str:
    if isinstance(p, Unavailable):
        return "p not known"
    return f"p = {p:.2g}" if p >= 0.0001 else "p < 0.0001"
