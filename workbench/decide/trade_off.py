"""The trade-off front: settings that no other setting beats in every goal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.goals import fit_named, means
from workbench.decide.region import grid, regions
from workbench.errors import DecisionError, Unavailable
from workbench.numerics.front import non_dominated

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.decide.goals import Goal
    from workbench.decide.region import Region
    from workbench.decide.windows import Window
    from workbench.define.constraints import Constraint
    from workbench.define.settings import Settings
    from workbench.fit.faces import Fit

GOALS = (2, 3)  # how many goals a front is drawn for


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Front:
    """Settings (n, k) of the front, fitted means (n, goals) there, the first goal's best first.

    `in_window` (n,) says which lie in the window, if one was given. `others` (m, goals) are means
    at the settings of the grid that are beaten, to be seen behind the front. Means alone: neither
    their doubt nor the scatter of parts stands in a front.
    """

    goals: tuple[Goal, ...]
    units: tuple[str, ...]
    settings: Settings
    means: NDArray[np.float64]
    in_window: NDArray[np.bool_]
    others: NDArray[np.float64]

    def __post_init__(self) -> None:
        for array in (self.means, self.in_window, self.others):
            array.setflags(write=False)

    def __len__(self) -> int:
        return len(self.settings)


def trade_off_front(
    fits: Sequence[Fit],
    goals: Sequence[Goal],
    *,
    constraints: tuple[Constraint, ...] = (),
    window: Window | None = None,
) -> Front | Unavailable:
    """Return the settings of the region's grid that no other beats in every one of 2 or 3 goals.

    All levels of the categories compete, or those of the window if one is given.

    Raises
    ------
    DecisionError
        If there are not two or three goals, or one names an outcome without a fit.
    """
    if len(goals) not in GOALS:
        raise DecisionError(
            f"A front for {len(goals)} goals was asked for.",
            why="With one goal there is nothing to trade; of more than three no picture is left.",
            next_step="Name two or three.",
        )
    chosen = tuple(fit_named(fits, one.outcome) for one in goals)
    places = [one for one in regions(tuple(fits), constraints) if _level_fits(one, window)]
    looked_at = [_usable(one) for one in places]
    points = _joined([one for one in looked_at if len(one)])
    if points is None:
        return Unavailable(reason="no setting of the grid may be used")
    columns = []
    for fit in chosen:
        found = means(fit, points)
        if isinstance(found, Unavailable):
            return Unavailable(reason=f"{fit.outcome.name}: {found.reason}")
        columns.append(found)
    seen = np.column_stack(columns)
    merits = np.column_stack(
        [one.merit(column) for one, column in zip(goals, columns, strict=True)]
    )
    on_front = non_dominated(merits)
    rows = np.flatnonzero(on_front)
    rows = rows[np.argsort(-merits[rows, 0], kind="stable")]
    kept = points.rows(rows)
    return Front(
        goals=tuple(goals),
        units=tuple(str(getattr(fit.outcome, "unit", "")) for fit in chosen),
        settings=kept,
        means=seen[rows],
        in_window=_in_window(kept, window),
        others=seen[~on_front],
    )


def _level_fits(region: Region, window: Window | None) -> bool:
    return window is None or region.levels == window.levels


def _usable(region: Region) -> Settings:
    points = grid(region.lines())
    inside = region.is_allowed(points) & region.is_inside(points)
    return region.settings(points[inside])


def _joined(parts: list[Settings]) -> Settings | None:
    if not parts:
        return None
    values = np.vstack([one.values for one in parts])
    return type(parts[0])(factors=parts[0].factors, values=values)


def _in_window(settings: Settings, window: Window | None) -> NDArray[np.bool_]:
    found = np.full(len(settings), window is not None)
    if window is not None:
        for one in window.limits:
            column = settings.column(one.factor.name)
            found &= (column >= one.low) & (column <= one.high)
    return found
