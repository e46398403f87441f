"""The chapter on what happened: runs made, what was found about them, what was set aside."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.run.finding import Weight
from workbench.run.outliers import RULE
from workbench.run.record import Status
from workbench.show.findings_table import findings_table
from workbench.show.html_tables import html_table, number, verdict, words
from workbench.show.page import Screen, folded, said_open
from workbench.show.sentences import runs_sentence
from workbench.show.tables import deviations_table, record_table
from workbench.show.words import counted, listed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.run.finding import Finding
    from workbench.run.record import Record
    from workbench.show.escape import Html
    from workbench.show.story import Story

MOST_DEVIATIONS = 12  # rows of a table that still lies open


def happened_screen(story: Story) -> Screen:
    """Return what became of the runs."""
    record = story.record
    if record is None or len(record) == 0:
        return Screen(
            key="what-happened",
            chapter="What happened",
            step="What happened",
            claim="Nothing has been run yet",
            say=("Everything below this line waits for results.",),
            see=(said_open("What matters and where to run are open until runs are taken in."),),
        )
    excluded = sum(one is Status.EXCLUDED for one in record.status)
    see: list[Html] = []
    if story.findings:
        see += _findings(story.findings)
    if story.deviations:
        see.append(_off_plan(story))
    if any(one not in (Status.DONE, Status.MISSING) for one in record.status):
        see.append(_set_aside(record))
    see.append(folded("All runs, as run and as read", record_table(record), printed=True))
    return Screen(
        key="what-happened",
        chapter="What happened",
        step="What happened",
        claim=runs_sentence(record),
        say=(*_happened_words(story, record), *record.notes),
        number=f"{excluded} of {len(record)}",
        number_of="runs excluded",
        check=_excluded_check(excluded, record),
        see=tuple(see),
    )


def _off_plan(story: Story) -> Html:
    table = deviations_table(story.deviations, story.trial)
    if len(story.deviations) <= MOST_DEVIATIONS:
        return table
    summary = f"{counted(len(story.deviations), 'setting')} not as planned"
    return folded(summary, table, printed=True)


def _findings(findings: Sequence[Finding]) -> list[Html]:
    """Return what asks for an eye on the page, and what is only to be known folded away."""
    first = [one for one in findings if one.weight is not Weight.NOTE]
    notes = [one for one in findings if one.weight is Weight.NOTE]
    found = [findings_table("Found in the record", first, note=RULE)] if first else []
    if notes:
        table = findings_table("For the record", notes)
        found.append(folded(f"{counted(len(notes), 'note')} for the record", table, printed=True))
    return found


def _happened_words(story: Story, record: Record) -> list[str]:
    said = []
    if story.deviations:
        runs = {one.run for one in story.deviations}
        said.append(
            f"{counted(len(runs), 'run')} {'was' if len(runs) == 1 else 'were'} not set as "
            "planned; the fit uses what was really set."
        )
    elif record.planned is not None:
        said.append("Every run was set as planned, as far as anyone wrote down.")
    else:
        said.append("There is no plan to hold the runs against; settings are as recorded.")
    said += _asked_words(story.findings)
    if record.blocked_by:
        labels = listed(list(record.block_labels), most=6)
        what = "" if record.blocked_by == "block" else f" are {record.blocked_by}"
        said.append(f"Blocks{what}: {labels}.")
    return said


def _asked_words(findings: Sequence[Finding]) -> list[str]:
    check = sum(one.weight is Weight.CHECK for one in findings)
    ask = sum(one.weight is Weight.ASK for one in findings)
    said = (
        [f"{counted(check, 'finding')} to check before the answers are trusted"] if check else []
    )
    said += [f"{counted(ask, 'question')} to whoever was there"] if ask else []
    if not said:
        return ["Nothing in the record asks for a second look."] if findings else []
    return [f"{'; '.join(said)}. None of them has changed or left out a number."]


def _excluded_check(excluded: int, record: Record) -> str:
    if excluded:
        return "Each answer below is given twice: without these runs, and with them put back."
    if any(one is Status.MISSING for one in record.status):
        return "Missing runs are not guessed; the answers stand on the runs that were made."
    return "No run was left out, so no answer depends on leaving one out."


def _set_aside(record: Record) -> Html:
    rows = [
        (int(run), verdict("fails", status.value), reason or "no reason given")
        for run, status, reason in zip(record.run, record.status, record.reason, strict=True)
        if status not in (Status.DONE, Status.MISSING)
    ]
    return html_table(
        "Runs that do not count, and why", [number("run"), words("status"), words("reason")], rows
    )
