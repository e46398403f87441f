"""The columns of a fit: mean, terms, and fixed blocks last."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.model_matrix import model_matrix
from workbench.define.terms import MEAN, Term

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.settings import Settings
    from workbench.define.terms import Terms

BLOCKS = Term(powers=(("block", 1),))  # no factor can have this name: it is a column of every run


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FitMatrix:
    """Columns X (n, p): `term` (p,) indexes `terms`, mean first, blocks (if any) last.

    Block columns sum to zero over the blocks, so the mean is that of equally weighted blocks.
    """

    X: NDArray[np.float64]
    names: tuple[str, ...]
    term: NDArray[np.int64]
    terms: tuple[Term, ...]
    n_block_columns: int

    def __post_init__(self) -> None:
        self.X.setflags(write=False)
        self.term.setflags(write=False)

    def places(self, term: Term) -> NDArray[np.intp]:
        """Return the columns of one term."""
        return np.flatnonzero(self.term == self.terms.index(term))

    @property
    def tested(self) -> tuple[Term, ...]:
        """Every term but the mean."""
        return tuple(one for one in self.terms if one != MEAN)


def fit_matrix(
    terms: Terms, settings: Settings, blocks: tuple[NDArray[np.int64], tuple[str, ...]]
) -> FitMatrix:
    """Return the columns for the terms at the settings, with those of the blocks behind them.

    `blocks` are the index (n,) of each run's block and the labels of the blocks.
    """
    base = model_matrix(terms, settings)
    index, labels = blocks
    if len(labels) < 2:
        return FitMatrix(
            X=base.X, names=base.names, term=base.term, terms=base.terms, n_block_columns=0
        )
    last = len(labels) - 1
    own = (index[:, None] == np.arange(last)).astype(float) - (index == last)[:, None]
    return FitMatrix(
        X=np.hstack([base.X, own]),
        names=(*base.names, *(f"block [{label}]" for label in labels[:-1])),
        term=np.concatenate([base.term, np.full(last, len(base.terms))]),
        terms=(*base.terms, BLOCKS),
        n_block_columns=last,
    )
