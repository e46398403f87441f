"""The model matrix: terms and settings in, columns of numbers out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.define.terms import MEAN, raised

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.settings import Settings
    from workbench.define.terms import Term, Terms


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ModelMatrix:
    """Columns X (n, p) of a model in coded units, mean first.

    `names` (p,) are for people; `term` (p,) indexes `terms`, in which the mean stands first.
    Numeric factors run from −1 (low) to +1 (high). A category of L levels has L − 1 columns
    that sum to zero over its levels (+1 at their own level, −1 at the last), so that a main
    effect compares equally weighted cell means.
    """

    X: NDArray[np.float64]
    names: tuple[str, ...]
    term: NDArray[np.int64]
    terms: tuple[Term, ...]

    def __post_init__(self) -> None:
        self.X.setflags(write=False)
        self.term.setflags(write=False)

    def columns_of(self, term: Term) -> NDArray[np.intp]:
        """Return the indices of the columns of one term."""
        return np.flatnonzero(self.term == self.terms.index(term))


def model_matrix(terms: Terms, settings: Settings) -> ModelMatrix:
    """Return the model matrix (n, p) of the mean and the terms at the settings."""
    coded = settings.coded()
    wanted = (MEAN, *terms.terms)
    columns: list[NDArray[np.float64]] = []
    names: list[str] = []
    owner: list[int] = []
    for index, one in enumerate(wanted):
        block, labels = _columns(one, settings.factors, coded)
        columns.append(block)
        names += labels
        owner += [index] * len(labels)
    return ModelMatrix(
        X=np.hstack(columns),
        names=tuple(names),
        term=np.array(owner, dtype=np.int64),
        terms=wanted,
    )


def _columns(
    term: Term, factors: tuple[Factor, ...], coded: NDArray[np.float64]
) -> tuple[NDArray[np.float64], list[str]]:
    columns = np.ones((coded.shape[0], 1))
    labels = [""]
    place = {factor.name: i for i, factor in enumerate(factors)}
    for name, power in term.powers:
        factor = factors[place[name]]
        basis, words = _basis(factor, coded[:, place[name]], power)
        columns = (columns[:, :, None] * basis[:, None, :]).reshape(coded.shape[0], -1)
        labels = [f"{a} × {b}" if a else b for a in labels for b in words]
    return columns, [label or "mean" for label in labels]


def _basis(
    factor: Factor, values: NDArray[np.float64], power: int
) -> tuple[NDArray[np.float64], list[str]]:
    if not isinstance(factor, Categorical):
        return (values**power)[:, None], [factor.name + raised(power)]
    last = len(factor.levels) - 1
    own = (values[:, None] == np.arange(last)).astype(float)
    # A level that was not recorded is NaN here as well: zeros would pass for an average level.
    own[np.isnan(values)] = np.nan
    return own - (values == last)[:, None], [
        f"{factor.name} [{level}]" for level in factor.levels[:last]
    ]
