"""Set points as a table: where to set, why, and what is foreseen there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.show.html_tables import html_table, name, number, words
from workbench.show.next_trial import place_words
from workbench.show.numbers import chance, short, with_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.set_points import Foreseen, SetPoint
    from workbench.define.trial import Trial
    from workbench.show.escape import Html


def set_points_table(points: Sequence[SetPoint], trial: Trial) -> Html:
    """Return the set points to choose from; intervals are those of a new part, 95 %."""
    columns = [
        name("set point"),
        words("settings, and why"),
        number("chance"),
        number("assured"),
        words("foreseen: mean, and 95 % of new parts"),
    ]
    rows = [
        (
            one.name,
            f"{place_words(one.settings, trial)}: {one.why}",
            chance(one.chance),
            chance(one.assured),
            "; ".join(
                foreseen_words(seen) for seen in one.foreseen if not isinstance(seen, Unavailable)
            ),
        )
        for one in points
    ]
    return html_table("Set points inside the window", columns, rows)


def foreseen_words(seen: Foreseen) -> str:
    """Return what is foreseen of one outcome, such as "peel force 31 N, new parts 27 to 35"."""
    mean = f"{seen.outcome} {with_unit(short(seen.mean, 3), seen.unit)}"
    low, high = seen.new_part_low, seen.new_part_high
    if isinstance(low, Unavailable) or isinstance(high, Unavailable):
        return f"{mean} ({short(seen.mean_low, 3)} to {short(seen.mean_high, 3)})"
    return f"{mean}, new parts {short(low, 3)} to {short(high, 3)}"
