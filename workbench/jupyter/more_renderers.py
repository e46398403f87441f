"""Renderers of what the steps answer, of later decisions, and of every noun without a table."""

from __future__ import annotations

import inspect
from dataclasses import is_dataclass
from typing import TYPE_CHECKING, Any

from workbench import decide, define, fit, plan, run, show
from workbench.decide import NextTrial
from workbench.decide.verdict import Verdict
from workbench.decide.windows import Decision, NearestMiss, NoWindow, Window
from workbench.jupyter.facts import facts, heading, in_words, line
from workbench.run.finding import Finding
from workbench.show.escape import Html, text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    Tables = Callable[[Any], tuple[str, ...]]

LAYERS = (define, plan, run, fit, decide)


def nouns_of_layers() -> Iterator[type]:
    """Yield every public class of the core that holds something."""
    for layer in LAYERS:
        for name in layer.__all__:
            thing = getattr(layer, name)
            if inspect.isclass(thing) and is_dataclass(thing):
                yield thing


def window_tables(one: Window) -> tuple[str, ...]:
    """Return the limits of a window, as those of the decision that it is."""
    whole = Decision(best=one, by_level=((one.levels, one),), if_right=one)
    return (show.limits_table(whole), *(paragraph(note) for note in one.notes))


def no_window_tables(one: NoWindow) -> tuple[str, ...]:
    """Return why there is no window, how near it came, and what to try next."""
    nearest = facts(one.nearest_miss) if isinstance(one.nearest_miss, NearestMiss) else ()
    said = (one.reason, one.next_trial, *one.notes)
    return (*map(paragraph, said[:2]), *nearest, *map(paragraph, said[2:]))


def next_runs(one: NextTrial) -> tuple[str, ...]:
    """Return the runs of a next trial."""
    return (show.next_runs_table(one),)


def verdict_tables(one: Verdict) -> tuple[str, ...]:
    """Return the answer of each place of a confirmation."""
    return (show.verdict_table(one),)


def findings_tables(found: tuple[Finding, ...]) -> tuple[str, ...]:
    """Return findings as one table."""
    return (show.findings_table("What was found", found),)


def paragraph(words: object) -> str:
    """Return words as a paragraph."""
    return f"<p>{text(words)}</p>"


def tuple_tables(
    several: tuple[object, ...], tables_of: Callable[[object], str | None]
) -> str | None:
    """Return a tuple of nouns one below the other; None for any other tuple."""
    if not several or not all(is_dataclass(one) for one in several):
        return None
    if all(isinstance(one, Finding) for one in several):
        return "".join(findings_tables(several))  # type: ignore[arg-type]  # each was just asked
    shown = [tables_of(one) for one in several]
    return None if None in shown else "".join(one for one in shown if one is not None)


def answer_tables(answer: object, tables_of: Callable[[object], str | None]) -> tuple[str, ...]:
    """Return the tables of each noun that the answer of a step holds, and its plain fields."""
    parts = []
    for key in getattr(type(answer), "__dataclass_fields__", {}):
        value = getattr(answer, key)
        shown = tables_of(value) if is_dataclass(value) or isinstance(value, tuple) else None
        if shown:
            parts.append(shown)
        elif value not in (None, "", ()):
            said = key.replace("_", " ")
            parts.append(paragraph(f"{said}: {in_words(value)}"))
    return (Html("".join(parts)),)


SPECIAL: tuple[tuple[type, Callable[[Any], str], Tables], ...] = (
    (Window, lambda one: f"window of {len(one.limits)} settings", window_tables),
    (NoWindow, lambda one: f"no window: {one.reason}", no_window_tables),
    (NextTrial, line, next_runs),
    (Verdict, heading, verdict_tables),
)
