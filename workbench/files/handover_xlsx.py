"""The hand-over as a workbook: work instruction, control plan and evidence, a sheet each."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from openpyxl import Workbook

from workbench.decide.handover_words import percent
from workbench.define.cautions import DEFERRAL, cautions_for
from workbench.define.hazards import hazards_of
from workbench.files import sheet_look as look
from workbench.files.atomic import write_bytes_atomically
from workbench.files.handover_lines import Lines

if TYPE_CHECKING:
    from pathlib import Path

    from openpyxl.worksheet.worksheet import Worksheet

    from workbench.decide.handover import Assured, ControlRow, HandOver, SetLine

NAME = "handover.xlsx"
INSTRUCTION, CONTROL, EVIDENCE = "work instruction", "control plan", "evidence"
SIGNERS = ("process", "quality", "line")
SET_WIDTHS = (22.0, 10.0, 11.0, 10.0, 9.0, 16.0, 34.0, 34.0)
CONTROL_WIDTHS = (24.0, 12.0, 30.0, 32.0, 12.0, 14.0, 58.0)
EVIDENCE_WIDTHS = (30.0, 24.0, 20.0, 24.0, 30.0)


def write_handover_xlsx(folder: Path, made: HandOver) -> Path:
    """Write handover.xlsx into the folder, whole or not at all, and return its path.

    Raises
    ------
    FileError
        If it cannot be written.
    """
    path = folder / NAME
    write_bytes_atomically(path, handover_bytes(made))
    return path


def handover_bytes(made: HandOver) -> bytes:
    """Return the workbook; every text in it is text, whatever sign it begins with."""
    book = Workbook()
    first = book.active
    first.title = INSTRUCTION
    _instruction(first, made)
    _control(book.create_sheet(CONTROL), made)
    _evidence(book.create_sheet(EVIDENCE), made)
    book.properties.title = look.clean(_heading(made))
    book.properties.creator = "Trial Workbench"
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _heading(made: HandOver) -> str:
    said = "confirmed" if made.proof.is_confirmed else "not confirmed"
    return f"Hand-over, {said}: {made.trial.title}"


def _begin(sheet: Worksheet, widths: tuple[float, ...], made: HandOver, *, what: str) -> Lines:
    lines = Lines(sheet, widths)
    lines.heading(_heading(made), size=15)
    lines.text(what)
    if made.trial.invented:
        lines.text(made.trial.invented)
    look.on_paper(
        sheet, letters=sum(widths), title=_heading(made), foot=made.written, top=made.standing
    )
    return lines


def _instruction(sheet: Worksheet, made: HandOver) -> None:
    lines = _begin(sheet, SET_WIDTHS, made, what=made.standing)
    lines.text(made.promise)
    lines.head(
        "set", "low", "set point", "high", "unit", "step of the bench", "below it", "above it"
    )
    for one in made.instruction.settings:
        lines.row(*_set(one), blanks=() if one.steps or one.low is None else (6,))
    _list(lines, "Keep", made.instruction.keep)
    _list(lines, "Do", made.instruction.do)
    lines.blank("Steps of the work itself:")
    lines.heading("Look for")
    lines.head_over((1, 3, "how it looks"), (4, 6, "how it reads"), (7, 8, "comes with"))
    for sign in made.instruction.look_for:
        driven = " or ".join(sign.comes_with) or "no side of the window ends here"
        lines.spread((1, 3, sign.sign), (4, 6, sign.reading), (7, 8, driven))
    _list(lines, "Stop if", made.instruction.stop_if)
    _cautions(lines, made)
    lines.heading("Released by: name, signature, date")
    for who in SIGNERS:
        lines.blank(who)
    sheet.page_setup.fitToHeight = 1  # it hangs at the bench: one sheet of paper


def _set(one: SetLine) -> tuple[float | str, ...]:
    if one.low is None or one.high is None:
        return (one.name, "", one.set_to, "", "", "", "no other was found as good", "")
    steps = f"only {', '.join(f'{step:g}' for step in one.steps)}" if one.steps else ""
    ends = (one.low, one.set_to, one.high)
    return (one.name, *ends, one.unit, steps, one.below_low, one.above_high)


def _list(lines: Lines, title: str, said: tuple[str, ...]) -> None:
    if not said:
        return
    lines.heading(title)
    for one in said:
        lines.text(one)


def _cautions(lines: Lines, made: HandOver) -> None:
    known = cautions_for(hazards_of(made.trial))
    lines.heading("Cautions")
    for one in known:
        lines.text(f"{one.title}. {one.text} ({one.basis})", warns=True)
    for own in made.trial.cautions:
        lines.text(own, warns=True)
    if not known and not made.trial.cautions:
        lines.text(
            "No hazard has been named for this trial. That does not mean that there is none.",
            warns=True,
        )
    lines.text(DEFERRAL)


def _control(sheet: Worksheet, made: HandOver) -> None:
    lines = _begin(sheet, CONTROL_WIDTHS, made, what=made.standing)
    lines.text("Boxes stay open for people: what the trial does not know is filled in here.")
    lines.head(
        "characteristic",
        "what",
        "specification",
        "how it is read",
        "parts",
        "how often",
        "if it is off",
    )
    for one in made.control:
        lines.row(*_control_cells(one), blanks=_open(one))


def _control_cells(one: ControlRow) -> tuple[str, ...]:
    return (
        one.characteristic,
        str(one.checked),
        one.specification,
        one.method,
        one.sample,
        one.frequency,
        one.reaction,
    )


def _open(one: ControlRow) -> tuple[int, ...]:
    """Return the columns, from 1, that people fill in."""
    asked = ((4, one.method), (5, one.sample), (6, one.frequency))
    return tuple(column for column, said in asked if not said)


def _evidence(sheet: Worksheet, made: HandOver) -> None:
    lines = _begin(sheet, EVIDENCE_WIDTHS, made, what=made.standing)
    lines.heading("What the window promises for a new part")
    lines.head("requirement", "limit", "chance at set point", "lowest in the window", "")
    for one in made.assured:
        lines.row(*_assured(one))
    for chapter in made.evidence:
        lines.heading(chapter.title)
        if chapter.says:
            lines.text(chapter.says)
        for fact in chapter.facts:
            lines.spread((1, 1, fact.what), (2, 5, fact.found))
    lines.heading("Not tested")
    for gap in made.not_tested:
        lines.text(gap)


def _assured(one: Assured) -> tuple[str, ...]:
    # In words: a chance of 0.99998 as a number would be shown as 100 %.
    shares = (percent(one.chance), percent(one.lowest))
    return (one.outcome or "all together", one.requirement, *shares, "")
