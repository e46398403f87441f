"""What figures draw that no fit holds by itself: predictions on a grid, filled by the steps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from workbench.define.factors import Factor, Numeric
    from workbench.define.outcomes import Outcome
    from workbench.fit.nouns import Effect


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runs:
    """Runs as marks: places `x` and `y` (n,), and for lines the line (n,) each belongs to.

    `parts` (n,) are the parts behind a mark that stands for what was seen, not moved to the held
    settings; `mark` (n,) is −1 where the value lies below what was read, +1 where above.
    """

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    line: NDArray[np.int64] | None = None
    parts: NDArray[np.float64] | None = None
    mark: NDArray[np.int64] | None = None

    @property
    def is_cut_off(self) -> bool:
        """Whether the value of some mark lies beyond what was read."""
        return self.mark is not None and bool(self.mark.any())

    def __post_init__(self) -> None:
        for array in (self.x, self.y, self.line, self.parts, self.mark):
            if array is not None:
                array.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lines:
    """Mean of an outcome along one factor, a line for each of a few settings of another.

    `x` (m,) are settings of `along` in its unit (level indices of a categorical one), `levels`
    name the k lines in words ("12 mm/s"); `mean`, `low`, `high` are (k, m) in the outcome's unit
    (a share of parts for pass/fail and for grades with a requirement) with the band of
    `confidence`. `held` says where the other factors are held, `effect` is the interaction
    itself, `runs` are runs: readings moved to the held settings by the fit, shares and counts as
    seen.
    """

    outcome: Outcome
    along: Factor
    by: Factor
    x: NDArray[np.float64]
    levels: tuple[str, ...]
    mean: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    confidence: float
    held: str
    effect: Effect | None = None
    runs: Runs | None = None

    def __post_init__(self) -> None:
        for array in (self.x, self.mean, self.low, self.high):
            array.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeanMap:
    """Mean (ny, nx) of an outcome over two numeric factors, in its unit.

    `inside` (ny, nx) says which points lie in the region tried; nothing is drawn beyond it.
    `held` says where the other factors are held; `runs` are the settings that were run.
    """

    outcome: Outcome
    x_factor: Numeric
    y_factor: Numeric
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    mean: NDArray[np.float64]
    inside: NDArray[np.bool_]
    held: str
    runs: Runs | None = None

    def __post_init__(self) -> None:
        for array in (self.x, self.y, self.mean, self.inside):
            array.setflags(write=False)
