"""The work instruction on one page: set, do, look for, stop if, cautions, signatures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.show.cautions import caution_blocks, caution_count, deferral
from workbench.show.decision_tables import rail
from workbench.show.escape import Html, text
from workbench.show.html_tables import html_table, name, number, unit, words
from workbench.show.numbers import fixed, limit_decimals, short, with_unit
from workbench.show.rails import stop_words
from workbench.show.style import MARK

if TYPE_CHECKING:
    from workbench.decide.handover import HandOver, LookLine, SetLine
    from workbench.decide.windows import Limit

BLANK = Html('<span class="fill" role="img" aria-label="to fill in"></span>')
SIGNERS = ("process", "quality", "line")


def instruction_leaf(made: HandOver, heading: str) -> Html:
    """Return the first page, which hangs at the bench."""
    what = made.instruction
    kept = f"<p><b>Keep:</b> {text('; '.join(what.keep))}.</p>" if what.keep else ""
    return Html(
        f'<section class="leaf"><div class="foot top"><span>{MARK}</span>'
        f"<span>{text(made.written)}</span></div><h1>{text(heading)}</h1>"
        f"{_invented(made)}{standing(made)}<p>{text(made.promise)}</p>"
        f"{_set_table(made)}{kept}"
        f'<div class="columns"><div><h2>Do</h2><ol>{_items(what.do)}'
        f"<li>Steps of the work itself: {BLANK}</li></ol></div>"
        f"<div><h2>Stop if</h2><ul>{_items(what.stop_if)}</ul></div></div>"
        f"{_look_table(what.look_for)}{_cautions(made)}{_signatures()}</section>"
    )


def standing(made: HandOver) -> Html:
    """Return whether the limits were confirmed, loud where they were not."""
    if made.proof.is_confirmed:
        return Html(f'<p class="proved"><span class="v meets">{text(made.standing)}</span></p>')
    return Html(f'<p class="unproved">{text(made.standing)}</p>')


def _invented(made: HandOver) -> str:
    return f'<p class="invented">{text(made.trial.invented)}</p>' if made.trial.invented else ""


def _items(lines: tuple[str, ...]) -> str:
    return "".join(f"<li>{text(one)}</li>" for one in lines)


def _set_table(made: HandOver) -> Html:
    columns = [
        name("set"),
        number("low"),
        number("set point"),
        number("high"),
        unit(),
        words("step of the bench"),
        words("inside the range tried"),
        unit("beyond it (low / high)"),
    ]
    limits = {one.factor.name: one for one in made.window.limits}
    rows = [
        _level(one) if one.low is None else _range(one, limits[one.name])
        for one in made.instruction.settings
    ]
    return html_table("", columns, rows)


def _range(line: SetLine, limit: Limit) -> tuple[object, ...]:
    values = (limit.low, limit.set_point, limit.high)
    decimals = limit_decimals(limit.factor, values)
    low, centre, high = (fixed(value, decimals) for value in values)
    stops = f"{stop_words(line.below_low)} / {stop_words(line.above_high)}"
    set_point = Html(f"<b>{text(centre)}</b>")
    steps = f"only {', '.join(short(one) for one in line.steps)}" if line.steps else BLANK
    return (line.name, low, set_point, high, line.unit, steps, rail(limit), stops)


def _level(line: SetLine) -> tuple[object, ...]:
    chosen = Html(f"<b>{text(with_unit(str(line.set_to), line.unit))}</b>")
    return (line.name, "", chosen, "", "", "", "no other was found as good", "")


def _look_table(lines: tuple[LookLine, ...]) -> Html:
    columns = [name("look for"), words("how a part that fails reads"), words("comes with")]
    rows = [
        (
            one.sign or BLANK,
            one.reading,
            " or ".join(one.comes_with) or "no side of the window ends here",
        )
        for one in lines
    ]
    return html_table("", columns, rows)


def _cautions(made: HandOver) -> str:
    if not caution_count(made.trial):
        return (
            '<p class="gap">No hazard has been named for this trial. That does not mean that '
            f"there is none.</p>{deferral()}"
        )
    return f'<section class="before">{caution_blocks(made.trial)}{deferral()}</section>'


def _signatures() -> str:
    lines = "".join(f"<div>{text(one)}, name and date</div>" for one in SIGNERS)
    return f'<div class="sign">{lines}</div>'
