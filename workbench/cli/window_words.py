"""Windows in words and plain tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.cli.tables import Table, folded, notes
from workbench.decide.windows import NoWindow
from workbench.define.written import chance, fixed, limit_decimals, percent, setting, with_unit

if TYPE_CHECKING:
    from workbench.decide.windows import Limit, NearestMiss, Window
    from workbench.define.trial import Trial
    from workbench.steps.windows import WindowAnswer


def window_text(answer: WindowAnswer, trial: Trial) -> str:
    """Return the window as limits with what stops each side, or the reason for none."""
    best = answer.best
    said = _none(best, trial) if isinstance(best, NoWindow) else _window(best)
    parts = [said]
    if not isinstance(answer.decision, NoWindow):
        parts.append(_if_right(answer.decision.if_right))
        parts += [_by_level(answer)] if len(answer.decision.by_level) > 1 else []
    if answer.accepted:
        parts.append(f"Straight lines between two levels are accepted: {answer.accepted}")
    parts.append(notes(best.notes))
    return "\n\n".join(part for part in parts if part)


def _window(one: Window) -> str:
    head = (
        f"In this window at least {percent(one.share)} of new parts meet every requirement, "
        f"with {percent(one.confidence)} confidence."
    )
    levels = "".join(f"\n{name}: {level}" for name, level in one.levels)
    chances = (
        f"chance at the set point {chance(one.chance_at_set_point)}; "
        f"lowest share assured in the window {chance(one.lowest_share)}"
    )
    table = Table(
        head=("set", "from", "to", "set point", "unit", "stopped below by", "stopped above by"),
        rows=tuple(_limit_row(limit) for limit in one.limits),
        numbers=frozenset({1, 2, 3}),
    )
    return f"{head}{levels}\n\n{table}\n\n{chances}"


def _limit_row(one: Limit) -> tuple[str, ...]:
    decimals = limit_decimals(one.factor, (one.low, one.high, one.set_point))
    return (
        one.factor.name,
        fixed(one.low, decimals),
        fixed(one.high, decimals),
        fixed(one.set_point, decimals),
        one.factor.unit,
        one.limited_by_low,
        one.limited_by_high,
    )


def _none(one: NoWindow, trial: Trial) -> str:
    asked = f"(share {percent(one.share)}, confidence {percent(one.confidence)})"
    said = [folded(f"No window {asked}: {one.reason}")]
    if one.nearest_miss is not None:
        said.append(folded(_miss(one.nearest_miss, trial), hanging="  "))
    said.append(folded(f"next: {one.next_trial}", hanging="  "))
    return "\n".join(said)


def _miss(one: NearestMiss, trial: Trial) -> str:
    settings = []
    for name, value in one.settings:
        factor = trial.factor(name)
        shown = value if isinstance(value, str) else setting(factor, value)
        settings.append(f"{name} {with_unit(shown, factor.unit)}")
    return (
        f"nearest miss: {', '.join(settings)}: chance {chance(one.chance)}, "
        f"share assured {chance(one.assured_share)}, limited by {one.limited_by}"
    )


def _if_right(one: Window | NoWindow) -> str:
    if isinstance(one, NoWindow):
        return f"If the model form were exactly right there would be none either: {one.reason}"
    ends = "; ".join(
        f"{limit.factor.name} {fixed(limit.low, d)} to "
        f"{with_unit(fixed(limit.high, d), limit.factor.unit)}"
        for limit in one.limits
        for d in (limit_decimals(limit.factor, (limit.low, limit.high)),)
    )
    return f"Only if the model form is exactly right (an assumption): {ends}"


def _by_level(answer: WindowAnswer) -> str:
    if isinstance(answer.decision, NoWindow):
        return ""
    rows = tuple(
        (
            ", ".join(f"{name} {level}" for name, level in levels),
            "none" if isinstance(one, NoWindow) else "window",
            one.reason
            if isinstance(one, NoWindow)
            else "; ".join(f"{x.factor.name} {x.low:g} to {x.high:g}" for x in one.limits),
        )
        for levels, one in answer.decision.by_level
    )
    return str(Table(head=("for", "answer", "limits or reason"), rows=rows))
