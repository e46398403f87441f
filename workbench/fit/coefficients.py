"""Coefficients of the columns, in coded and in natural units."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.aliasing import held_by
from workbench.fit.core import linear, statistic_of, t_chance
from workbench.fit.nouns import Coefficient

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.terms import Term
    from workbench.fit.core import Core
    from workbench.fit.natural_units import NaturalColumns


def coded_coefficients(core: Core) -> tuple[Coefficient, ...]:
    """Return one coefficient a column: change for half the range of each factor in it."""
    unit = np.eye(len(core.matrix.names))
    found = []
    for place, name in enumerate(core.matrix.names):
        term = core.matrix.terms[core.matrix.term[place]]
        if core.whole.kept[place]:
            found.append(_coefficient(core, (name, term, "coded"), unit[place]))
        else:
            reason = Unavailable(reason=f"cannot be told apart from {held_by(core, place)}")
            found.append(_unknown((name, term, "coded"), reason))
    return tuple(found)


def natural_coefficients(core: Core, natural: NaturalColumns) -> tuple[Coefficient, ...]:
    """Return the same polynomial expanded in the units of the factors.

    Intervals follow from the covariance of the coded estimates, the map being linear.
    """
    found = []
    uncertain = core.mixed | ~core.whole.kept
    n_blocks = core.matrix.n_block_columns
    for place, (name, term) in enumerate(zip(natural.names, natural.terms, strict=True)):
        weights = np.append(natural.weights[place], np.zeros(n_blocks))
        said = (name, term, "natural")
        touched = (weights != 0) & uncertain
        own = touched & core.whole.kept & (np.arange(touched.size) == place)
        if (touched & ~own).any():
            found.append(_unknown(said, _spread_over(core, touched)))
        else:
            found.append(_coefficient(core, said, weights))
    return tuple(found)


def _coefficient(
    core: Core, said: tuple[str, Term, str], weights: NDArray[np.float64]
) -> Coefficient:
    name, term, scale = said
    estimate = linear(core, weights)
    statistic = statistic_of(estimate)
    return Coefficient(
        name=name,
        term=term,
        scale=scale,
        value=float(weights @ core.estimates),
        estimate=estimate,
        statistic=statistic,
        p=t_chance(statistic, core.error_df),
    )


def _unknown(said: tuple[str, Term, str], reason: Unavailable) -> Coefficient:
    name, term, scale = said
    return Coefficient(
        name=name,
        term=term,
        scale=scale,
        value=reason,
        estimate=reason,
        statistic=reason,
        p=reason,
    )


def _spread_over(core: Core, touched: NDArray[np.bool_]) -> Unavailable:
    names = " and ".join(core.matrix.names[i] for i in np.flatnonzero(touched))
    return Unavailable(
        reason=f"in natural units this number needs {names} one by one, "
        "and these runs cannot tell them apart"
    )
