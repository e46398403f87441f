"""Confirmations and verdicts in words and plain tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.cli.tables import Table, folded, notes
from workbench.define.written import chance, decimals_for_width, fixed, percent
from workbench.errors import Unavailable
from workbench.show.verdict_tables import index_words, setting_words, tolerance_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.confirmation import ConfirmationPlan, Foreseen, Place
    from workbench.decide.verdict import SeenOutcome, SeenPlace, Verdict
    from workbench.define.trial import Trial


def confirmation_text(plan: ConfirmationPlan, trial: Trial) -> str:
    """Return what is to be shown, where, by how many parts, and what is foreseen."""
    head = (
        f"To be shown at each place: at least {percent(plan.share)} of parts meet every "
        f"requirement, with {percent(plan.confidence)} confidence; judged by "
        f"{plan.judged_by.value}. {plan.n_parts} parts in all."
    )
    places = Table(
        head=("place", "parts", "chance", "assured", "chance to show it", "why there"),
        rows=tuple(_place_row(one) for one in plan.places),
        numbers=frozenset({1, 2, 3, 4}),
    )
    where = "\n".join(
        folded(f"{one.name}: {setting_words(trial, one.settings)}", hanging="  ")
        for one in plan.places
    )
    foreseen = Table(
        head=("foreseen", "at the", "mean", "a new part", "mean of the parts", "unit", "chance"),
        rows=tuple(_foreseen_row(p, one) for p in plan.places for one in p.outcomes),
        numbers=frozenset({2, 3, 4, 6}),
    )
    made = "\n".join(
        folded(f"block {i}: {one}", hanging="  ") for i, one in enumerate(plan.sittings, 1)
    )
    why = "\n".join(folded(one) for one in (*plan.number, *plan.fewer))
    parts = (folded(head), str(places), where, made, why, str(foreseen), notes(plan.notes))
    return "\n\n".join(one for one in parts if one)


def verdict_text(verdict: Verdict) -> str:
    """Return the verdict: the answer, each place, each outcome, what to do."""
    head = f"Verdict: {verdict.answer.value}. {' '.join(verdict.reasons)}"
    changed = "\n".join(folded(f"! {one}", hanging="  ") for one in verdict.changed)
    places = Table(
        head=("place", "verdict", "parts", "met", "failed", "lost", "not told", "shown", "by"),
        rows=tuple(_seen_row(one) for one in verdict.places),
        numbers=frozenset({2, 3, 4, 5, 6, 7}),
    )
    outcomes = Table(
        head=("outcome", "at the", "met", "mean", "as foreseen", "tolerance interval", "index"),
        rows=tuple(_outcome_row(p, one) for p in verdict.places for one in p.outcomes),
        numbers=frozenset({2, 3}),
    )
    reasons = "\n".join(
        folded(f"{one.name}: {' '.join(one.reasons)}", hanging="  ") for one in verdict.places
    )
    indices = notes(_index_reasons(verdict.places))
    to_do = "what to do:\n" + "\n".join(folded(f"- {one}", hanging="  ") for one in verdict.to_do)
    parts = (
        folded(head),
        changed,
        str(places),
        reasons,
        str(outcomes),
        indices,
        to_do,
        notes(verdict.notes),
    )
    return "\n\n".join(one for one in parts if one)


def _place_row(one: Place) -> tuple[str, ...]:
    return (
        one.name,
        str(one.parts),
        chance(one.chance),
        chance(one.assured_share),
        chance(one.chance_to_confirm),
        one.why,
    )


def _foreseen_row(place: Place, one: Foreseen) -> tuple[str, ...]:
    decimals = decimals_for_width(one.mean_high - one.mean_low)
    return (
        one.outcome,
        place.name,
        fixed(one.mean, decimals),
        _ends(one.new_part_low, one.new_part_high, decimals),
        _ends(one.parts_mean_low, one.parts_mean_high, decimals),
        one.unit or "share",
        chance(one.chance),
    )


def _ends(low: float | Unavailable, high: float | Unavailable, decimals: int) -> str:
    if isinstance(low, Unavailable) or isinstance(high, Unavailable):
        return "none"
    return f"{fixed(low, decimals)} to {fixed(high, decimals)}"


def _seen_row(one: SeenPlace) -> tuple[str, ...]:
    tally = one.tally
    counts = (tally.planned, tally.met, tally.failed, tally.lost, tally.unknown)
    return (
        one.name,
        one.answer.value,
        *(str(count) for count in counts),
        chance(one.shown),
        one.judged_by.value,
    )


def _outcome_row(place: SeenPlace, one: SeenOutcome) -> tuple[str, ...]:
    as_foreseen = one.mean_as_foreseen
    told = "not told" if isinstance(as_foreseen, Unavailable) else "yes" if as_foreseen else "NO"
    unit = f" {one.unit}" if one.unit else ""
    return (
        one.outcome,
        place.name,
        f"{one.tally.met} of {one.tally.planned}",
        "none" if isinstance(one.mean, Unavailable) else f"{one.mean:.3g}{unit}",
        told,
        tolerance_words(one.tolerance, one.unit),
        index_words(one.index),
    )


def _index_reasons(places: Sequence[SeenPlace]) -> tuple[str, ...]:
    return tuple(
        f"{place.name}: {one.index.why}."
        for place in places
        for one in place.outcomes
        if not isinstance(one.index, Unavailable)
    )
