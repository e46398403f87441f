"""What a pass/fail fit says in words: the model, what was never seen, and what has no answer."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.errors import Unavailable
from workbench.numerics.pass_counts import pass_counts
from workbench.numerics.separation import separation

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.outcomes import PassFail
    from workbench.define.terms import Terms
    from workbench.fit.pass_fail_rows import PassRuns
    from workbench.numerics.penalised_logistic import PenalisedLogistic

MOST_LEVELS = 5  # numeric settings that are counted as levels
FEW_A_COLUMN = 2.0  # of the rarer result a column, below which the penalty speaks loudly


@dataclass(frozen=True, slots=True, kw_only=True)
class Unseen:
    """Where no failure, or no pass, was seen; empty `words` if plain estimates would be finite."""

    is_separated: bool
    words: tuple[str, ...]


def one_sided_record(outcome: PassFail, runs: PassRuns) -> Unavailable:
    """Return what can be said where every part passed, or every part failed.

    Exact limits (Clopper and Pearson 1934, Biometrika 26, 404-413), one side being known.
    """
    n = runs.n_parts
    seen, other = ("passed", "failures") if runs.n_failed == 0 else ("failed", "passes")
    verb = "fail" if runs.n_failed == 0 else "pass"
    most = 1 - 0.05 ** (1 / n)
    each = "part" if n == 1 else "parts"
    chance = (
        "if each part were a try of its own (parts of one run share its setting, so it is more)"
        if runs.has_parts
        else "on the average of the settings that were run"
    )
    return Unavailable(
        reason=f"{outcome.name}: no {other} seen in {n} {each} of {runs.parts.size} runs, all "
        f"{seen}; so no setting can be said to matter. With 95 % confidence at most "
        f"{100 * most:.3g} % {verb}, {chance}. Try settings where some parts are expected to "
        f"{verb}, or measure the size behind the verdict"
    )


def model_sentence(slow: tuple[str, ...], dispersion: float) -> str:
    """Return one sentence: which model this is, and why."""
    said = (
        "Logistic regression with Firth's penalty on passes of parts tried, run by run: the "
        "outcome is pass or fail, and some settings may see no failure at all"
    )
    if dispersion > 1:
        said += f"; runs differ by more than chance (dispersion {dispersion:.2f}), so the widths "
        said += "are those of a quasi-likelihood"
    if slow:
        said += (
            f"; runs share setups of {' and '.join(slow)}, so what changes only between setups is "
            "judged by one empirical logit a setup, what changes within them with each setup as a "
            "level of its own (intervals of the former are cautious: wider than 95 %)"
        )
    return f"{said}."


def notes(runs: PassRuns, fitted: PenalisedLogistic, gone: Unseen) -> tuple[str, ...]:
    """Return the notes of a pass/fail fit."""
    said = list(gone.words)
    if gone.is_separated:
        said.append(
            "There plain maximum likelihood runs off without end; the penalised estimates and "
            "their profile intervals stay finite and hold."
        )
    if runs.has_parts:
        said.append("Parts of one run share its setting; only runs replicate.")
    rarer = min(runs.n_failed, runs.n_parts - runs.n_failed)
    columns = fitted.estimates.size
    if rarer < FEW_A_COLUMN * columns:
        word = "failures" if runs.n_failed == rarer else "passes"
        said.append(
            f"Only {rarer} {word} for {columns} columns: intervals are wide, and tests cautious."
        )
    return tuple(said)


def unseen(runs: PassRuns, X: NDArray[np.float64], terms: Terms) -> Unseen:
    """Return where no failure or no pass was seen, if that leaves estimates without end."""
    found = separation(pass_counts(X, runs.passed, runs.parts))
    if not found.is_separated:
        return Unseen(is_separated=False, words=())
    said = _one_sided_levels(runs, terms) or _one_sided_pairs(runs, terms)
    if not said:
        said = ["Some combination of the settings parts runs without failures from the rest."]
    return Unseen(is_separated=True, words=tuple(said))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Level:
    words: str
    rows: NDArray[np.bool_]


def _one_sided_levels(runs: PassRuns, terms: Terms) -> list[str]:
    each = [level for levels in _levels(runs, terms) for level in levels]
    return [word for level in each if (word := _told(runs, level))]


def _one_sided_pairs(runs: PassRuns, terms: Terms) -> list[str]:
    pairs = combinations(_levels(runs, terms), 2)
    both = (
        _Level(words=f"{one.words} with {other.words}", rows=one.rows & other.rows)
        for first, second in pairs
        for one, other in product(first, second)
    )
    return [word for level in both if (word := _told(runs, level))]


def _levels(runs: PassRuns, terms: Terms) -> list[list[_Level]]:
    in_model = {name for term in terms.terms for name in term.factors}
    settings = runs.rows.settings
    found = []
    for factor in settings.factors:
        column = settings.column(factor.name)
        values = np.unique(column)
        if factor.name in in_model and 1 < values.size <= MOST_LEVELS:
            found.append(
                [_Level(words=_level_words(factor, one), rows=column == one) for one in values]
            )
    return found


def _level_words(factor: Factor, value: float) -> str:
    if isinstance(factor, Categorical):
        return f"{factor.name} {factor.levels[int(value)]}"
    unit = f" {factor.unit}" if factor.unit else ""
    return f"{factor.name} {value:g}{unit}"


def _told(runs: PassRuns, level: _Level) -> str:
    parts, passed = runs.parts[level.rows].sum(), runs.passed[level.rows].sum()
    if parts == 0 or 0 < passed < parts:
        return ""
    word = "failures" if passed else "passes"
    return f"No {word} seen at {level.words} ({int(parts)} part{'s' if parts > 1 else ''})."
