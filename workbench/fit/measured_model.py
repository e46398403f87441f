"""What a fit of a measured outcome knows: the arrays and answers behind every method of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.define.settings import Settings
    from workbench.define.terms import Terms
    from workbench.errors import Unavailable
    from workbench.fit.nouns import (
        Aliased,
        Coefficient,
        Diagnostics,
        Effect,
        LackOfFit,
        PartScatter,
        PowerFamily,
        PseudoError,
        ScaleCheck,
        TermTest,
    )
    from workbench.fit.scatter import ScatterFit


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeasuredModel:
    """One measured outcome's model, solved.

    The model is on `outcome.scale`; `response` (n,) are run means on that scale (on the scale
    first, then averaged over parts). `estimates` (p,) belong to `column_names` (fixed block
    columns last), with 0 in aliased columns, and `unscaled_covariance` (p, p) is (X′X)⁻¹ with
    zeros there, so that the covariance of estimates is residual variance × it.
    `residual_variance` is that of a run mean; Unavailable when `error_df` is 0. Block columns
    sum to zero over the blocks, so a prediction is for the average of the blocks tried.
    `combination` (p, p) writes each column as a sum of estimated ones (the identity where no
    column is aliased). `as_read` (n,) are run means in the outcome's unit. `scatter` is there
    where repeats show clearly that some settings make it wider: shares then follow it.
    """

    outcome: Measured
    settings: Settings
    uses_as_run: bool
    run: NDArray[np.int64]
    block: NDArray[np.int64]
    block_labels: tuple[str, ...]
    response: NDArray[np.float64]
    terms: Terms
    column_names: tuple[str, ...]
    n_block_columns: int
    estimates: NDArray[np.float64]
    unscaled_covariance: NDArray[np.float64]
    estimable: NDArray[np.bool_]
    error_df: int
    residual_variance: float | Unavailable
    part_scatter: PartScatter | None
    r_squared: float | Unavailable
    adjusted_r_squared: float | Unavailable
    predicted_r_squared: float | Unavailable
    coefficients: tuple[Coefficient, ...]
    natural_coefficients: tuple[Coefficient, ...]
    effects: tuple[Effect, ...]
    tests: tuple[TermTest, ...]
    lack_of_fit: LackOfFit | Unavailable
    pseudo_error: PseudoError | Unavailable
    aliased: tuple[Aliased, ...]
    diagnostics: Diagnostics
    power_family: PowerFamily | Unavailable
    scale_checks: tuple[ScaleCheck, ...]
    n_excluded: int
    notes: tuple[str, ...]
    combination: NDArray[np.float64] | None = None
    as_read: NDArray[np.float64] | None = None
    scatter: ScatterFit | None = None

    def __post_init__(self) -> None:
        for array in (self.run, self.block, self.response, self.estimates, self.estimable):
            array.setflags(write=False)
        self.unscaled_covariance.setflags(write=False)
