"""What a blending model says: how blends depart from the straight line between components."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.terms import Term
from workbench.errors import Unavailable
from workbench.fit.core import f_chance, linear, no_scatter, statistic_of, t_chance
from workbench.fit.nouns import Effect, TermTest
from workbench.fit.scales import unit_on_scale
from workbench.fit.term_tests import BETWEEN_RUNS, term_tests

if TYPE_CHECKING:
    from workbench.define.factors import Component
    from workbench.define.outcomes import Measured
    from workbench.define.settings import Settings
    from workbench.fit.core import Core

BLENDING = Term(powers=(("all blending terms", 1),))


def bends(core: Core, outcome: Measured, shares: tuple[Component, ...]) -> tuple[Effect, ...]:
    """Return for each product of two components how far the half-and-half blend departs.

    The coefficient over four, on the model scale: the blend of equal parts less the mean of the
    two pure components.
    """
    names = {one.name for one in shares}
    found = []
    for place, index in enumerate(core.matrix.term):
        term = core.matrix.terms[index]
        is_pair = term.order == 2 and len(names & set(term.factors)) == 2
        if not is_pair or not core.whole.kept[place]:
            continue
        weights = np.zeros(core.estimates.size)
        weights[place] = 0.25
        estimate = linear(core, weights)
        found.append(
            Effect(
                name=core.matrix.names[place],
                term=term,
                value=float(weights @ core.estimates),
                estimate=estimate,
                unit=unit_on_scale(outcome.unit, outcome.scale),
                is_ratio=False,
                from_to="equal parts of the two, above or below the straight blend"
                + ("" if outcome.scale == "as read" else f", on the {outcome.scale} scale"),
                p=t_chance(statistic_of(estimate), core.error_df),
            )
        )
    return tuple(found)


def blending_tests(core: Core, shares: tuple[Component, ...]) -> tuple[TermTest, ...]:
    """Return the test of all terms about the mean, then of each that is no pure component.

    That a single coefficient of a component is zero is no question anybody asks: it is the
    outcome of the pure component.
    """
    pure = {Term(powers=((one.name, 1),)) for one in shares}
    rest = tuple(one for one in term_tests(core) if one.term not in pure)
    return (_about_the_mean(core), *rest)


def _about_the_mean(core: Core) -> TermTest:
    df = core.whole.rank - 1
    squares = core.total - core.rss
    statistic: float | Unavailable
    if isinstance(core.variance, Unavailable):
        statistic = core.variance
    elif core.variance == 0:
        statistic = no_scatter()
    else:
        statistic = squares / df / core.variance
    return TermTest(
        term=BLENDING,
        df=df,
        error_df=core.error_df,
        sum_of_squares=squares,
        mean_square=squares / df,
        statistic=statistic,
        p=statistic
        if isinstance(statistic, Unavailable)
        else f_chance(statistic, df, core.error_df),
        stratum=BETWEEN_RUNS,
    )


def blending_notes(
    core: Core, shares: tuple[Component, ...], settings: Settings
) -> tuple[str, ...]:
    """Return what a blending model cannot tell, and what was met in the shares."""
    names = ", ".join(one.name for one in shares)
    sums = np.sum([settings.column(one.name) for one in shares], axis=0)
    total = shares[0].total
    notes = [
        (
            f"{names} add up, so none of them has an effect of its own: raising one lowers the "
            "others. R² is about the mean."
        )
    ]
    never_pure = [one.name for one in shares if settings.column(one.name).max() < 0.999 * total]
    if never_pure:
        notes.append(
            f"{', '.join(never_pure)} was never run pure: that coefficient is an extrapolation."
        )
    if np.abs(sums - total).max() > 1e-9 * total:
        notes.append(
            f"The shares as written add up to {sums.min():g} to {sums.max():g}, taken as rounding."
        )
    if core.matrix.n_block_columns:
        notes.append("Blocks shift every blend alike.")
    return tuple(notes)


def blending_reading(
    outcome: Measured, shares: tuple[Component, ...], effects: tuple[Effect, ...]
) -> str:
    """Return one paragraph: which pairs blend otherwise than a straight line would."""
    start = f"{outcome.name} is a blend of {', '.join(one.name for one in shares)}. "
    if not effects:
        return start + "The straight blend alone was fitted."
    known = [one for one in effects if not isinstance(one.p, Unavailable)]
    if not known:
        return start + "No run is left to judge the departures from the straight blend by."
    clear = [one for one in known if not isinstance(one.p, Unavailable) and one.p < 0.05]
    if not clear:
        return start + "No pair departs clearly from the straight blend of the two."
    said = "; ".join(
        f"{one.name} by {one.value:+.3g}{' ' + one.unit if one.unit else ''}" for one in clear
    )
    return start + f"Equal parts depart from the straight blend clearly for {said}."
