"""Words that the pages of a hand-over share: limits with units, requirements, lists."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.define.outcomes import Graded, PassFail

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.windows import Limit, Window
    from workbench.define.outcomes import Outcome


def with_unit(value: float | str, unit: str) -> str:
    """Return a value with its unit.

    >>> with_unit(350.0, "mm³"), with_unit("chisel", "")
    ('350 mm³', 'chisel')
    """
    shown = value if isinstance(value, str) else f"{value:.6g}".replace("-", "\u2212")
    return f"{shown} {unit}" if unit not in ("", "1") else shown


def listed(words: Sequence[str]) -> str:
    """Return words in a row.

    >>> listed(["bead volume", "nozzle speed", "humidity"])
    'bead volume, nozzle speed and humidity'
    """
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last


def counted(number: int, word: str) -> str:
    """Return a count with its word.

    >>> counted(1, "run"), counted(3, "run")
    ('1 run', '3 runs')
    """
    return f"{number} {word}{'' if number == 1 else 's'}"


def percent(share: float) -> str:
    """Return a share as per cent, never rounded up to all.

    >>> percent(0.95), percent(0.99996)
    ('95 %', '> 99.9 %')
    """
    return "> 99.9 %" if share > 0.9995 else f"{100 * share:.3g} %"


def range_words(limit: Limit) -> str:
    """Return the window of one setting, such as "328 to 372 mm³"."""
    low = with_unit(limit.low, "")
    return f"{low} to {with_unit(limit.high, limit.factor.unit)}"


def required(outcome: Outcome) -> str:
    """Return what a part must meet, with its unit; for words, the words that pass."""
    if isinstance(outcome, PassFail):
        return f"“{outcome.passes}”, never “{outcome.fails}”"
    limits = outcome.requirement
    if limits is None:
        return ""
    if isinstance(outcome, Graded):
        first = 0 if limits.low is None else int(limits.low)
        last = len(outcome.grades) - 1 if limits.high is None else int(limits.high)
        return " or ".join(f"“{one}”" for one in outcome.grades[first : last + 1])
    return with_unit(limits.words().replace("-", "\u2212"), outcome.unit)


def promise_words(window: Window) -> str:
    """Return what the window is to keep, in one sentence."""
    return (
        f"Set between these limits, at least {100 * window.share:g} of 100 new parts meet every "
        f"requirement, wherever in the window the line stands; the trial assures it with "
        f"{100 * window.confidence:g} % confidence."
    )
