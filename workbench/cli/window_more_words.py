"""What is asked beside a window, in words and plain tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.cli.tables import Table, folded, notes
from workbench.decide.windows import NoWindow
from workbench.define.written import fixed, limit_decimals, percent, with_unit
from workbench.errors import Unavailable

if TYPE_CHECKING:
    from workbench.decide import AssuranceCurve, WhatIf
    from workbench.decide.what_if import Lever
    from workbench.decide.windows import Limit, Window


def curve_text(found: AssuranceCurve | Unavailable) -> str:
    """Return the sides of the window at each confidence."""
    if isinstance(found, Unavailable):
        return folded(f"No curve over the confidence: {found.reason}")
    known = [one.window for one in found.points if not isinstance(one.window, NoWindow)]
    names = [limit.factor for limit in known[0].limits] if known else []
    rows = tuple(
        (
            f"{percent(one.confidence)}{' (asked)' if one.confidence == found.asked else ''}",
            "none" if isinstance(one.window, NoWindow) else f"{one.volume:.3g}",
            *_sides(one.window, len(names)),
        )
        for one in found.points
    )
    head = (
        "confidence",
        "volume",
        *(f"{one.name} [{one.unit}]" if one.unit else one.name for one in names),
    )
    said = (
        f"The window of the same share, {percent(found.share)} of new parts, as more or less "
        "confidence is asked:"
    )
    return f"{folded(said)}\n\n{Table(head=head, rows=rows, numbers=frozenset({1}))}"


def what_if_text(found: WhatIf | Unavailable) -> str:
    """Return what each change alone would buy."""
    if isinstance(found, Unavailable):
        return folded(f"What a change would buy is not known: {found.reason}")
    rows = tuple((one.change, _times(one)) for one in found.levers)
    table = Table(head=("with this change alone", "the window is"), rows=rows)
    parts = [folded(found.sentence), str(table) if rows else "", notes(found.notes)]
    return "\n\n".join(part for part in parts if part)


def _sides(one: Window | NoWindow, count: int) -> tuple[str, ...]:
    if isinstance(one, NoWindow):
        return ("",) * count
    return tuple(_side(limit) for limit in one.limits)


def _side(limit: Limit) -> str:
    decimals = limit_decimals(limit.factor, (limit.low, limit.high))
    return f"{fixed(limit.low, decimals)} to {with_unit(fixed(limit.high, decimals), '')}"


def _times(one: Lever) -> str:
    if isinstance(one.window, NoWindow):
        return "none"
    if isinstance(one.times, Unavailable):
        return "there"
    return f"{one.times:.2f} times as large"
