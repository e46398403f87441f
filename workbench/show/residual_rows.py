"""What a fit leaves over, row by row, whichever kind it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.measured import MeasuredFit
from workbench.fit.mixed_model import MixedModel
from workbench.fit.outcome_model import OutcomeModel
from workbench.fit.plurals import plural

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.fit.faces import Fit

ODD = 3.0  # standardised residuals beyond this are called odd: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Residuals:
    """Rows (n,) in the order made: their run, what is left over, and its size in its own SDs.

    `strip` (n,) numbers what consecutive rows share (blocks, setups), `strips` is what that is
    (empty: nothing), `strip_labels` its names. `kind` says which residual it is (empty for the
    plain one, in the unit of the outcome).
    """

    run: NDArray[np.int64]
    residual: NDArray[np.float64]
    size: NDArray[np.float64]
    undefined: NDArray[np.bool_]
    strip: NDArray[np.int64]
    strips: str
    strip_labels: tuple[str, ...]
    kind: str

    @property
    def odd(self) -> NDArray[np.bool_]:
        """Rows (n,) that lie far from the fit."""
        return np.asarray(~self.undefined & (np.abs(self.size) > ODD))


def residuals_of(fit: Fit | OutcomeModel) -> Residuals | None:
    """Return what a fit leaves over; None for one that keeps no rows."""
    if isinstance(fit, MeasuredFit):
        checks = fit.diagnostics
        return Residuals(
            run=fit.run,
            residual=checks.residuals,
            size=checks.studentised,
            undefined=checks.undefined,
            strip=fit.block,
            strips="blocks",
            strip_labels=fit.block_labels if len(fit.block_labels) > 1 else (),
            kind="",
        )
    return _of_model(fit) if isinstance(fit, OutcomeModel) else None


def _of_model(fit: OutcomeModel) -> Residuals:
    residual = fit.checks.residual
    strip, strips, labels = fit.block, "blocks", fit.block_labels
    if isinstance(fit, MixedModel) and fit.random:
        shared = fit.random[0]
        _, strip = np.unique(shared.levels, return_inverse=True)
        strips = plural(shared.name)
        labels = tuple(str(i + 1) for i in range(shared.n_levels))
    return Residuals(
        run=fit.checks.row_run,
        residual=residual,
        size=residual,
        undefined=np.zeros(residual.size, dtype=bool),
        strip=np.asarray(strip, dtype=np.int64).reshape(-1),
        strips=strips,
        strip_labels=labels if len(labels) > 1 else (),
        kind=fit.checks.residual_kind,
    )
