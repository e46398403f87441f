"""What a mixed model of a measured outcome knows: the arrays and answers behind its methods."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.fit.outcome_model import OutcomeModel

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.errors import Unavailable
    from workbench.fit.core import Core
    from workbench.fit.mixed_answers import Method, MixedAnswers
    from workbench.fit.nouns import Coefficient, PartScatter
    from workbench.fit.strata import RandomTerm
    from workbench.numerics.random_terms import RandomTerms


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixedModel(OutcomeModel):
    """One measured outcome's model with random terms, solved.

    `response` (n,) is on `outcome.scale`, a row being a run mean or a part; `random` are the
    terms over the rows. `estimates` (p,) belong to `column_names`, 0 in aliased columns;
    `unscaled_covariance` (p, p) is that of least squares, for leverages. `structure` tells which
    columns the rows can tell. `method` names the small-sample theory of intervals and tests.
    `predicting` holds the model at its bounded variances, from which points are predicted, and
    `all_terms` every random term that can be told, from which processes are drawn; where the
    rows allow no prediction `no_points` says why. `part_scatter` is that of parts within runs
    where rows are means of several parts.
    """

    outcome: Measured
    structure: Core
    response: NDArray[np.float64]
    estimates: NDArray[np.float64]
    unscaled_covariance: NDArray[np.float64]
    random: tuple[RandomTerm, ...]
    noticed: tuple[str, ...]
    natural_coefficients: tuple[Coefficient, ...]
    part_scatter: PartScatter | None
    method: Method
    predicting: MixedAnswers | None
    all_terms: RandomTerms
    no_points: Unavailable | None

    @property
    def estimable(self) -> NDArray[np.bool_]:
        """Columns (p,) that have an estimate of their own."""
        return self.structure.whole.kept
