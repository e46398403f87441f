"""Set points and the trade-off front in words and plain tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.cli.tables import Table, folded
from workbench.define.written import chance, short, with_unit
from workbench.errors import Unavailable
from workbench.show.next_trial import place_words

if TYPE_CHECKING:
    from workbench.decide.set_points import Foreseen, SetPoint
    from workbench.decide.trade_off import Front
    from workbench.define.trial import Trial
    from workbench.steps.set_points import SetPointAnswer

SHOWN = 12  # settings of a front: enough to see where it bends


def set_points_text(found: SetPointAnswer, trial: Trial) -> str:
    """Return the set points with what is foreseen there, and the front."""
    goals = ", ".join(one.words() for one in found.goals)
    parts = [folded(f"Goals: {goals}.")] if goals else []
    if isinstance(found.points, Unavailable):
        parts.append(folded(f"No set point: {found.points.reason}."))
    else:
        parts += [_point(one, trial) for one in found.points]
    parts.append(_front(found.front, trial))
    return "\n\n".join(part for part in parts if part)


def _point(one: SetPoint, trial: Trial) -> str:
    overall = "" if one.overall is None else f"; desirability {one.overall:.3f}"
    rows = tuple(_foreseen(seen) for seen in one.foreseen if not isinstance(seen, Unavailable))
    table = Table(
        head=("outcome", "mean", "95 % from", "to", "new part from", "to", "unit"),
        rows=rows,
        numbers=frozenset(range(1, 6)),
    )
    return "\n".join(
        [
            folded(f"{one.name}: {place_words(one.settings, trial)}", hanging="  "),
            folded(f"  {one.why}", hanging="  "),
            f"  chance {chance(one.chance)}, assured {chance(one.assured)}{overall}",
            str(table),
        ]
    )


def _foreseen(seen: Foreseen) -> tuple[str, ...]:
    ends = [
        "" if isinstance(end, Unavailable) else short(end)
        for end in (seen.new_part_low, seen.new_part_high)
    ]
    inner = (short(seen.mean), short(seen.mean_low), short(seen.mean_high))
    return (seen.outcome, *inner, *ends, seen.unit)


def _front(front: Front | Unavailable, trial: Trial) -> str:
    if isinstance(front, Unavailable):
        return folded(f"No trade-off front: {front.reason}.")
    step = max(1, -(-len(front) // SHOWN))
    rows = tuple(
        (
            *(short(float(mean)) for mean in front.means[i]),
            "in the window" if front.in_window[i] else "",
            place_words(front.settings.as_dicts()[i].items(), trial),
        )
        for i in range(0, len(front), step)
    )
    heads = (with_unit(g.outcome, u) for g, u in zip(front.goals, front.units, strict=True))
    head = (*heads, "window", "settings")
    title = (
        f"Trade-off front: {len(front)} settings that no other beats in every goal"
        f"{f', every {step}. of them' if step > 1 else ''} (fitted means alone)"
    )
    numbers = frozenset(range(len(front.goals)))
    return f"{title}\n{Table(head=head, rows=rows, numbers=numbers)}"
