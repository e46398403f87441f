"""Candidate plans side by side, as one table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.plan.candidate_facts import model_name
from workbench.show.aims import found_size
from workbench.show.html_tables import html_table, name, number, verdict, words
from workbench.show.numbers import fixed, percent

if TYPE_CHECKING:
    from workbench.plan.candidate_nouns import Aim, Candidate, Comparison, Detects
    from workbench.show.escape import Html
    from workbench.show.html_tables import Cell, Column

UNKNOWN = "not known"


def candidates_table(found: Comparison) -> Html:
    """Return a row for each plan: what it takes, finds and gives up, and why to take it or not."""
    aims = _aims(found.candidates)
    takes = _what_it_takes(found.candidates)
    columns: list[Column] = [name("plan"), number("runs"), *map(number, takes)]
    columns += [number(_finds_head(aim)) for aim in aims]
    columns += [number("mean known to, sd"), words("model, error df"), words("what it gives up")]
    columns += [words("take it?")]
    rows = [_row(one, takes) for one in found.candidates]
    chance = (
        f"; found: with a chance of {percent(found.chance)}, test at {percent(found.alpha)}"
        if aims
        else ""
    )
    assumed = ", assumed" if found.is_assumed else ""
    caption = f"Plans that fit, for the {model_name(found.asked)} model{assumed}{chance}"
    return html_table(caption, columns, rows)


def left_out_table(found: Comparison) -> Html:
    """Return the plans that were looked at and left out, with the reason."""
    return html_table("Looked at and left out", [name("plan"), words("why")], found.left_out)


def _row(one: Candidate, takes: list[str]) -> tuple[Cell, ...]:
    price = {"resets": float(one.resets), "days": one.days, "cost": one.cost}
    detects = () if isinstance(one.detects, Unavailable) else one.detects
    return (
        one.name,
        len(one.plan),
        *(_known(price[key], 1 if key == "days" else 0) for key in takes),
        *map(_found, detects),
        fixed(one.standard_error, 2),
        f"{model_name(one.carries)}, {one.error_df}",
        one.gives_up.removeprefix("It gives up ").rstrip("."),
        verdict("meets", "recommended") if one.recommended else one.why,
    )


def _what_it_takes(found: tuple[Candidate, ...]) -> list[str]:
    takes = ["resets"] if any(one.resets for one in found) else []
    takes += ["days"] if any(not isinstance(one.days, Unavailable) for one in found) else []
    takes += ["cost"] if any(not isinstance(one.cost, Unavailable) for one in found) else []
    return takes


def _aims(found: tuple[Candidate, ...]) -> list[Aim]:
    first = found[0].detects
    return [] if isinstance(first, Unavailable) else [one.aim for one in first]


def _finds_head(aim: Aim) -> str:
    worth = (
        ""
        if aim.worth_finding is None
        else f" (worth finding: {found_size(aim, aim.worth_finding)})"
    )
    unit = f", {aim.unit}" if aim.unit and not aim.as_ratio else ""
    return f"found in {aim.outcome}{unit}{worth}"


def _found(detects: Detects) -> Cell:
    worst = detects.worst_main_effect
    if isinstance(worst, Unavailable):
        return UNKNOWN
    size = found_size(detects.aim, worst)
    if detects.finds is None:
        return size
    return verdict("meets" if detects.finds else "fails", size)


def _known(value: float | Unavailable, decimals: int) -> str:
    return UNKNOWN if isinstance(value, Unavailable) else fixed(value, decimals)
