"""Candidate plans in words and a plain table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.cli.tables import Table, folded
from workbench.define.written import fixed, percent, short, with_unit
from workbench.errors import Unavailable
from workbench.plan.candidate_facts import model_name
from workbench.plan.margin import Margin
from workbench.show.aims import found_size_with_unit
from workbench.steps.margins import margin_of

if TYPE_CHECKING:
    from workbench.plan.candidate_nouns import Aim, Candidate, Detects
    from workbench.steps.choosing import Choice

UNKNOWN = "unknown"
MOST_LEFT_OUT = 6


def choice_text(choice: Choice) -> str:
    """Return the candidates as a table, what each gives up, and which one to take."""
    found = choice.comparison
    stated = " (assumed: trial.toml states none)" if found.is_assumed else ""
    best = found.recommended
    parts = [
        folded(f"Plans that fit, for the model: {found.asked}{stated}", hanging="  "),
        _assumed(choice),
        str(_table(choice)),
        "\n".join(_sentence(one) for one in found.candidates),
        folded(f"Recommended: {best.name}. {best.why} {best.gives_up}", hanging="  "),
        _margins(choice),
        _left_out(found.left_out),
    ]
    return "\n\n".join(part for part in parts if part)


def _table(choice: Choice) -> Table:
    found = choice.comparison.candidates
    aims = _aims(found)
    has_resets = any(one.resets for one in found)
    has_days = any(not isinstance(one.days, Unavailable) for one in found)
    has_cost = any(not isinstance(one.cost, Unavailable) for one in found)
    head = ["", "plan", "runs"]
    head += ["resets"] if has_resets else []
    head += ["days"] if has_days else []
    head += ["cost"] if has_cost else []
    numbers = range(2, len(head) + len(aims))
    head += [f"finds in {aim.outcome}" for aim in aims]
    rows = []
    for one in found:
        row = ["→" if one.recommended else "", one.name, str(len(one.plan))]
        row += [str(one.resets)] if has_resets else []
        row += [_known(one.days, 1)] if has_days else []
        row += [_known(one.cost, 0)] if has_cost else []
        row += [_finds(detects) for detects in _detects(one)]
        rows.append((*row, _carries(one), f"{one.standard_error:.2f} sd"))
    return Table(
        head=(*head, "carries", "mean known to"),
        rows=tuple(rows),
        numbers=frozenset((*numbers, len(head) + 1)),
    )


def _margins(choice: Choice) -> str:
    """Return how far within its limits the best setting must lie for each plan."""
    found = [(one.name, margin_of(choice.trial, one.plan)) for one in choice.comparison.candidates]
    known = [(name, one) for name, one in found if isinstance(one, Margin)]
    said = [f"{name} {fixed(one.needed, 1)} sd" for name, one in known]
    said += [f"{name} cannot: {one.reason}" for name, one in found if isinstance(one, Unavailable)]
    if not said:
        return ""
    least = f" ({fixed(known[0][1].if_known, 1)} sd if the process were known)" if known else ""
    return folded(
        "To give a window at all, the mean of each measured outcome must lie this far within its "
        f"limit at the best setting, in sd of a part{least}: {'; '.join(said)}. A window with "
        "some width needs more.",
        hanging="  ",
    )


def _sentence(one: Candidate) -> str:
    why = "" if one.recommended else f" {one.why}"
    return folded(f"{one.name}: {one.gives_up}{why}", hanging="  ")


def _assumed(choice: Choice) -> str:
    found = choice.comparison
    aims = _aims(found.candidates)
    first = found.candidates[0].detects
    if isinstance(first, Unavailable):
        return folded(f"What they would find is unknown: {first.reason}.", hanging="  ")
    said = [
        f"{aim.outcome}: runs scatter by {_plain(aim, aim.sd)}, worth finding: "
        + ("not said" if aim.worth_finding is None else _plain(aim, aim.worth_finding))
        for aim in aims
    ]
    test = (
        f"finds: the main effect that is found with a chance of {percent(found.chance)} "
        f"(two-sided test at {percent(found.alpha)}); ✕ more than is worth finding"
    )
    known = "mean known to: its standard error in sd of a run, not exceeded in 90 % of the region"
    return "\n".join(folded(line, hanging="  ") for line in (*said, test, known))


def _plain(aim: Aim, size: float) -> str:
    return f"×{short(size)}" if aim.as_ratio else with_unit(short(size), aim.unit)


def _carries(one: Candidate) -> str:
    return f"{model_name(one.carries)}, {one.error_df} error df"


def _aims(found: tuple[Candidate, ...]) -> list[Aim]:
    return [one.aim for one in _detects(found[0])]


def _detects(one: Candidate) -> tuple[Detects, ...]:
    return () if isinstance(one.detects, Unavailable) else one.detects


def _finds(detects: Detects) -> str:
    worst = detects.worst_main_effect
    if isinstance(worst, Unavailable):
        return UNKNOWN
    sign = {True: "", False: "✕ ", None: ""}[detects.finds]
    return f"{sign}{found_size_with_unit(detects.aim, worst)}"


def _known(value: float | Unavailable, decimals: int) -> str:
    return UNKNOWN if isinstance(value, Unavailable) else fixed(value, decimals)


def _left_out(left_out: tuple[tuple[str, str], ...]) -> str:
    if not left_out:
        return ""
    lines = [folded(f"- {name}: {why}", hanging="  ") for name, why in left_out[:MOST_LEFT_OUT]]
    more = len(left_out) - MOST_LEFT_OUT
    rest = [f"- and {more} more"] if more > 0 else []
    return "\n".join(["Looked at and left out:", *lines, *rest])
