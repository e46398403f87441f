"""What a mixed model says of itself: the model in a sentence, notes, one paragraph."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.aliasing import aliased
from workbench.fit.kind_reading import kind_reading
from workbench.fit.left_out_remarks import left_out
from workbench.fit.mixed_answers import MixedAnswers
from workbench.fit.plurals import plural
from workbench.fit.remarks import block_remarks, mixed_remarks, scale_remarks

if TYPE_CHECKING:
    from workbench.define.outcomes import Measured
    from workbench.fit.mixed_rows import MixedRows
    from workbench.fit.mixed_solving import Asked, Solved
    from workbench.fit.nouns import Effect, TermTest


def model_sentence(asked: Asked, rows: MixedRows, solved: Solved) -> str:
    """Return which model it is, and why."""
    levels = " and ".join(
        f"{one.n_levels} {plural(one.name)}" for one in rows.random if one.what != "run"
    )
    what = "parts, with the runs as a level" if rows.are_parts else "runs"
    scale = "" if asked.outcome.scale == "as read" else f" on the {asked.outcome.scale} scale"
    shared = f" that share {levels}" if levels else ""
    return (
        f"Mixed model of {what}{shared}{scale} by restricted maximum likelihood, judged by "
        f"{solved.method}'s method: what changes only between levels is judged by their scatter."
    )


def mixed_notes(asked: Asked, rows: MixedRows, solved: Solved) -> tuple[str, ...]:
    """Return what the fit cannot tell, in sentences."""
    structure, data = solved.structure, rows.data
    return (
        *data.notes,
        *asked.strata.notes,
        *_no_intervals(solved),
        *_at_zero(rows, solved),
        *_unseen(rows, solved),
        *mixed_remarks(structure),
        *scale_remarks(asked.outcome),
        *block_remarks(structure, data),
        *left_out(structure, data, asked.terms),
    )


def _no_intervals(solved: Solved) -> list[str]:
    return (
        [] if solved.reason is None else [f"No p-values and no intervals: {solved.reason.reason}."]
    )


def _at_zero(rows: MixedRows, solved: Solved) -> list[str]:
    ruled = solved.ruled
    if solved.reason is not None:
        return []
    names = [one.name for one, low in zip(rows.random, ruled.below_zero, strict=True) if low]
    if not names:
        return []
    shown = " and ".join(plural(name) for name in names)
    tests = (
        "Tests leave it out and judge by what is left"
        f" (the fit that allows less than zero had no sound answer: {ruled.reason}); if they do "
        "differ, these p-values are too small"
        if ruled.reason
        else "Tests use the estimate below zero, which keeps their error rate; predictions use 0"
    )
    return [f"The scatter of {shown} is estimated at or below zero, shown as 0. {tests}."]


def _unseen(rows: MixedRows, solved: Solved) -> list[str]:
    if solved.reason is not None:
        return []
    answers = solved.answers
    if not isinstance(answers, MixedAnswers):
        return []
    hidden = answers.hidden(np.eye(solved.structure.whole.kept.size))
    if hidden is None:
        return []
    names = [
        plural(one.name)
        for one, known in zip(rows.random, solved.ruled.estimable, strict=True)
        if not known
    ]
    return [
        (
            f"The model uses up all {' and '.join(names)}: how much they differ by themselves is "
            "not known, so what changes only between them has no test and no interval."
        )
    ]


def mixed_reading(
    outcome: Measured,
    tables: tuple[tuple[Effect, ...], tuple[TermTest, ...]],
    model: tuple[Asked, MixedRows, Solved],
) -> str:
    """Return the fit in one paragraph."""
    asked, rows, solved = model
    levels = [one for one in rows.random if one.what != "run"]
    before = tuple(
        f"{rows.data.run.size} {'parts' if rows.are_parts else 'runs'} share {one.n_levels} "
        f"{plural(one.name)}, so what changes only between {plural(one.name)} is judged by their "
        "scatter."
        for one in levels
    )
    noticed = tuple(
        f"{name} changed only between groups of consecutive runs; see the notes."
        for name in asked.strata.noticed
    )
    return kind_reading(
        outcome.name,
        tables,
        aliased=aliased(solved.structure),
        before=(*before, *noticed),
    )
