"""Which two-level fraction: the one that has the runs, the resolution and the model asked."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import PlanError
from workbench.numerics.words import generators
from workbench.plan.aliases import refuse_mixed
from workbench.plan.fraction_table import fractions_of
from workbench.plan.pieces import Layout, masks
from workbench.plan.verify import refuse_too_many

if TYPE_CHECKING:
    from workbench.define.factors import Factor
    from workbench.define.terms import Term, Terms
    from workbench.plan.asked import AskedModel
    from workbench.plan.fraction_table import TwoLevelFraction

TRIES = 2000  # ways of giving the factors to the columns, the plain one first
ROMAN = ("", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X")


def chosen_fraction(
    factors: tuple[Factor, ...],
    model: AskedModel,
    *,
    runs: int | None,
    resolution: int | None,
) -> Layout:
    """Return the fraction with these runs and at least this resolution that carries the model.

    Without `runs` it is the smallest that does; without either, the smallest of resolution IV
    or more, so that no main effect is mixed with a product of two.

    Raises
    ------
    PlanError
        If there is none; the message names the nearest that works.
    """
    rows = fractions_of(len(factors))
    if not rows:
        raise _no_fractions(len(factors))
    refuse_curves(model.terms)
    if runs is not None:
        return _of_runs(factors, model, (_row_of(rows, runs), resolution))
    least = resolution or 4
    high_enough = [row for row in rows if row.resolution >= least]
    for row in high_enough:
        layout = carrying(_layout(factors, row), model.terms)
        if layout is not None:
            return layout
    raise _none_carries(factors, model, (rows, least))


def carrying(layout: Layout, terms: Terms) -> Layout | None:
    """Return the layout with factors given to columns so that the terms can be told apart.

    None if none of the ways tried does it. The ways are the same whatever the factors are
    called, the plain order first.
    """
    if len(terms) + 1 > layout.runs:
        return None
    rng = np.random.Generator(np.random.PCG64(0))
    order = np.arange(len(layout.columns))
    for _ in range(TRIES):
        tried = replace(layout, columns=tuple(layout.columns[j] for j in order))
        names = masks(tried, terms)
        if len(set(names)) == len(names):
            return tried
        order = rng.permutation(len(layout.columns))
    return None


def generator_lines(layout: Layout) -> tuple[str, ...]:
    """Return each factor that follows from others, such as `dwell = tip × feed × lot`."""
    order = sorted(range(len(layout.columns)), key=lambda j: _standard_place(layout.columns[j]))
    names = [layout.factors[j].name for j in order]
    columns = tuple(layout.columns[j] for j in order)
    return tuple(
        f"{names[place]} = {' × '.join(names[i] for i in members)}"
        for place, members in generators(columns, layout.n_basic)
    )


def fraction_notes(layout: Layout, row: TwoLevelFraction) -> tuple[str, ...]:
    """Return what a fraction gives up, in words."""
    level = roman(row.resolution)
    said = {
        3: "main effects are mixed with products of two factors",
        4: "main effects are clear of products of two; these are mixed with one another",
        5: "main effects and products of two are clear of one another, "
        "products of two are mixed with those of three",
    }.get(row.resolution, "main effects and products of two are clear of one another and of three")
    proved = "no" if row.proved else "no known"
    return (
        f"Resolution {level}: {said}.",
        (
            f"Of {layout.runs} runs for {row.k} factors {proved} fraction mixes less "
            "(least aberration)."
        ),
    )


def roman(resolution: int) -> str:
    """Return a resolution as it is written, III for 3."""
    return ROMAN[resolution] if 0 < resolution < len(ROMAN) else str(resolution)


def row_of(k: int, runs: int) -> TwoLevelFraction:
    """Return the fraction of k factors in these runs.

    Raises
    ------
    PlanError
        If there is none.
    """
    return _row_of(fractions_of(k), runs)


def _layout(factors: tuple[Factor, ...], row: TwoLevelFraction) -> Layout:
    return Layout(
        factors=factors, columns=row.columns, n_basic=row.n_basic, resolution=row.resolution
    )


def _of_runs(
    factors: tuple[Factor, ...],
    model: AskedModel,
    wish: tuple[TwoLevelFraction, int | None],
) -> Layout:
    row, resolution = wish
    if resolution is not None and row.resolution < resolution:
        raise _too_weak(row, resolution)
    plain = _layout(factors, row)
    layout = carrying(plain, model.terms)
    if layout is not None:
        return layout
    try:
        refuse_too_many(len(model.terms) + 1, row.runs)
        refuse_mixed(_mixed(plain, model.terms))
    except PlanError as problem:
        larger = chosen_or_full(factors, model)
        raise PlanError(problem.wrong, why=problem.why, next_step=larger) from None
    raise AssertionError("a fraction was refused, yet its terms are distinct")


def chosen_or_full(factors: tuple[Factor, ...], model: AskedModel) -> str:
    """Return in words which two-level plan carries the model, for a message."""
    for row in fractions_of(len(factors)):
        if carrying(_layout(factors, row), model.terms) is not None:
            return f"Ask for {row.runs} runs, which carry it, or for fewer terms."
    return f"Ask for all {2 ** len(factors)} runs (wb.plan.full), or for fewer terms."


def _mixed(layout: Layout, terms: Terms) -> tuple[tuple[Term | str, ...], ...]:
    together: dict[int, list[Term | str]] = {}
    owners: tuple[Term | str, ...] = ("mean", *terms.terms)
    for name, one in zip(masks(layout, terms), owners, strict=True):
        together.setdefault(name, []).append(one)
    return tuple(tuple(group) for group in together.values() if len(group) > 1)


def _row_of(rows: tuple[TwoLevelFraction, ...], runs: int) -> TwoLevelFraction:
    for row in rows:
        if row.runs == runs:
            return row
    k = rows[0].k
    if runs == 2**k:
        raise PlanError(
            f"{runs} runs of {k} factors are no fraction.",
            why="They are all combinations of low and high.",
            next_step="Ask for the full factorial (wb.plan.full).",
        )
    raise PlanError(
        f"There is no two-level fraction of {k} factors in {runs} runs.",
        why="Fractions have 4, 8, 16, 32, 64 or 128 runs, more than they have factors.",
        next_step=f"Ask for {_listed([str(row.runs) for row in rows])} runs.",
    )


def refuse_curves(terms: Terms) -> None:
    """Refuse squares and higher powers in the model of a two-level plan.

    Raises
    ------
    PlanError
        If there are any.
    """
    curves = [str(t) for t in terms.terms if any(power > 1 for _, power in t.powers)]
    if curves:
        raise PlanError(
            f"A two-level plan cannot carry {_listed(curves, last='and')}.",
            why="Two levels show no bend, and centre points only that there is one.",
            next_step="Ask for a composite plan (wb.plan.composite), or leave these terms out: "
            'terms="interactions" or terms="first-order".',
        )


def _too_weak(row: TwoLevelFraction, resolution: int) -> PlanError:
    enough = [one for one in fractions_of(row.k) if one.resolution >= resolution]
    nearest = (
        f"{enough[0].runs} runs for resolution {roman(enough[0].resolution)}"
        if enough
        else f"all {2**row.k} runs (wb.plan.full)"
    )
    return PlanError(
        f"{row.runs} runs of {row.k} factors carry resolution {roman(row.resolution)} at most, "
        f"not {roman(resolution)}.",
        why="A weaker plan would mix effects that you asked to keep apart.",
        next_step=f"Ask for {nearest}, or for resolution {roman(row.resolution)}.",
    )


def _none_carries(
    factors: tuple[Factor, ...],
    model: AskedModel,
    wish: tuple[tuple[TwoLevelFraction, ...], int],
) -> PlanError:
    rows, least = wish
    best = max(row.resolution for row in rows)
    if best < least:
        return PlanError(
            f"No fraction of {len(factors)} factors in up to {rows[-1].runs} runs has "
            f"resolution {roman(least)}.",
            why=f"The best has resolution {roman(best)}.",
            next_step=f"Ask for resolution {roman(best)}, or for the full factorial "
            f"(wb.plan.full, {2 ** len(factors)} runs).",
        )
    return PlanError(
        f"No fraction of {len(factors)} factors in up to {rows[-1].runs} runs carries the model "
        f"{model.terms.asked!r}.",
        why="In each of them two of its terms are one and the same column.",
        next_step=chosen_or_full(factors, model),
    )


def _no_fractions(k: int) -> PlanError:
    if k < 3:
        return PlanError(
            f"There is no fraction for {k} factor{'' if k == 1 else 's'}.",
            why="Half of the corners would leave a main effect out.",
            next_step="Ask for the full factorial (wb.plan.full).",
        )
    return PlanError(
        f"There is no fraction for {k} factors here.",
        why="The table of fractions ends at 32 factors in 128 runs.",
        next_step="Hold the factors that matter least, or split the trial in two.",
    )


def _standard_place(column: int) -> tuple[bool, int]:
    return column.bit_count() > 1, column


def _listed(words: list[str], *, last: str = "or") -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}"
