"""Tables of a mixed model: tests with their stratum, variance components, natural units."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.aliasing import held_by
from workbench.fit.core import CONFIDENCE
from workbench.fit.linear_answers import Joint, Weighted
from workbench.fit.nouns import Coefficient, TermTest
from workbench.fit.outcome_model import Fact, VarianceComponent
from workbench.fit.plurals import plural
from workbench.numerics.least_squares import joint_sum_of_squares
from workbench.numerics.variance_limits import variance_limits
from workbench.numerics.variance_profile import variance_limits_by_profile
from workbench.numerics.variance_tests import level_test

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.terms import Term
    from workbench.fit.core import Core
    from workbench.fit.linear_answers import Answers
    from workbench.fit.mixed_rows import MixedRows
    from workbench.fit.natural_units import NaturalColumns
    from workbench.fit.nouns import PartScatter
    from workbench.fit.strata import RandomTerm
    from workbench.numerics.kenward_roger import JointTest
    from workbench.numerics.mixed_rule import RuledFit

CONSTANT = 1e-9  # a column that moves less within a level does not change there


def mixed_tests(
    structure: Core, answers: Answers, random: tuple[RandomTerm, ...]
) -> tuple[TermTest, ...]:
    """Return the test of each term adjusted for all others, with the stratum that judges it.

    Sums of squares are those of least squares, as in the table of a balanced plan; the F is that
    of the mixed model.
    """
    return tuple(_test(structure, answers, (term, random)) for term in structure.matrix.tested)


def stratum(X: NDArray[np.float64], random: tuple[RandomTerm, ...]) -> str:
    """Return between or within which levels the columns X (n, q) change.

    The outermost level within which they stay constant is the one whose scatter judges them.
    """
    for one in random:
        if _is_constant(X, one.levels):
            return f"between {plural(one.name)}"
    return f"within {plural(random[-1].name)}" if random else "between runs"


def components(
    rows: MixedRows, ruled: RuledFit, y: NDArray[np.float64]
) -> tuple[VarianceComponent, ...]:
    """Return the scatter of each level that the rows can tell, the residual last.

    Limits by restricted profile likelihood; a component below zero is shown as 0.
    """
    spans = variance_limits_by_profile(
        ruled.bounded_terms, y, fit=ruled.bounded, confidence=CONFIDENCE
    )
    told = [one for one, known in zip(rows.random, ruled.estimable, strict=True) if known]
    names = [(one.name, one.n_levels) for one in told]
    scatter = rows.data.part_scatter
    last = "part" if rows.are_parts else ("run mean" if scatter is not None else "run")
    below = [*ruled.below_zero[ruled.estimable], False]
    found = [
        VarianceComponent(
            level=name,
            value=0.0 if under else float(value),
            low=span.low if np.isfinite(span.low) else _endless(),
            high=span.high if np.isfinite(span.high) else _endless(),
            n_levels=count,
            below_zero=bool(under),
        )
        for (name, count), value, span, under in zip(
            [*names, (last, rows.data.run.size)],
            ruled.bounded.variances,
            spans,
            below,
            strict=True,
        )
    ]
    return (*found, *_parts(scatter))


def level_facts(rows: MixedRows, structure: Core, y: NDArray[np.float64]) -> tuple[Fact, ...]:
    """Return for each random term the F test that its levels differ beyond what lies below."""
    levels = [one.levels.astype(np.intp) for one in rows.random]
    found = []
    for place, one in enumerate(rows.random):
        test = level_test(structure.matrix.X, y, levels=levels, which=place)
        if test is not None:
            found.append(_level_fact(one, test))
    return tuple(found)


def natural_coefficients(
    structure: Core, answers: Answers, natural: NaturalColumns
) -> tuple[Coefficient, ...]:
    """Return the polynomial expanded in the units of the factors."""
    found = []
    kept = structure.whole.kept
    uncertain = structure.mixed | ~kept
    for place, (name, term) in enumerate(zip(natural.names, natural.terms, strict=True)):
        weights = np.append(natural.weights[place], np.zeros(structure.matrix.n_block_columns))
        touched = (weights != 0) & uncertain
        own = touched & kept & (np.arange(touched.size) == place)
        if (touched & ~own).any():
            reason = _spread_over(structure, touched)
            told = Weighted(value=reason, estimate=reason, statistic=reason, p=reason)
        else:
            told = answers.weighted(weights[kept])
        found.append(
            Coefficient(
                name=name,
                term=term,
                scale="natural",
                value=told.value,
                estimate=told.estimate,
                statistic=told.statistic,
                p=told.p,
            )
        )
    return tuple(found)


def _test(
    structure: Core, answers: Answers, asked: tuple[Term, tuple[RandomTerm, ...]]
) -> TermTest:
    term, random = asked
    places = structure.matrix.places(term)
    kept = places[structure.whole.kept[places]]
    squares = 0.0
    told: Joint | Unavailable
    if kept.size:
        covariance = structure.unscaled[np.ix_(kept, kept)]
        squares = float(joint_sum_of_squares(structure.estimates[kept], covariance))
        told = answers.joint(np.searchsorted(np.flatnonzero(structure.whole.kept), kept))
    else:
        first = held_by(structure, int(places[0]))
        told = Unavailable(reason=f"cannot be told apart from {first}")
    return TermTest(
        term=term,
        df=int(kept.size),
        error_df=told.error_df if isinstance(told, Joint) else 0.0,
        sum_of_squares=squares,
        mean_square=squares / kept.size if kept.size else 0.0,
        statistic=told.statistic if isinstance(told, Joint) else told,
        p=told.p if isinstance(told, Joint) else told,
        stratum=stratum(structure.matrix.X[:, kept], random) if kept.size else "",
    )


def _is_constant(X: NDArray[np.float64], levels: NDArray[np.int64]) -> bool:
    order = np.argsort(levels, kind="stable")
    same = np.diff(levels[order]) == 0
    return bool((np.abs(np.diff(X[order], axis=0))[same] < CONSTANT).all())


def _parts(scatter: PartScatter | None) -> tuple[VarianceComponent, ...]:
    if scatter is None:
        return ()
    span = variance_limits(scatter.variance, scatter.df, confidence=CONFIDENCE)
    return (
        VarianceComponent(
            level="part",
            value=scatter.variance,
            low=span.low,
            high=span.high,
            n_levels=scatter.df,
        ),
    )


def _level_fact(one: RandomTerm, test: JointTest) -> Fact:
    return Fact(
        name=f"{plural(one.name)} differ, p",
        value=test.p,
        words=f"F({test.df}, {test.error_df:.4g}) = {test.statistic:.4g} against what lies below: "
        f"whether {plural(one.name)} differ at all.",
    )


def _endless() -> Unavailable:
    return Unavailable(reason="these rows set no such limit")


def _spread_over(structure: Core, touched: NDArray[np.bool_]) -> Unavailable:
    names = " and ".join(structure.matrix.names[i] for i in np.flatnonzero(touched))
    return Unavailable(
        reason=f"in natural units this number needs {names} one by one, "
        "and these runs cannot tell them apart"
    )
