"""Renderers: each noun as a short line of text and as tables, registered with IPython."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import numpy as np
from IPython.core.getipython import get_ipython

from workbench import show
from workbench.decide.next_trial import NextTrials
from workbench.decide.windows import Decision, NoWindow
from workbench.define.trial import Trial
from workbench.errors import Unavailable
from workbench.fit.measured import MeasuredFit
from workbench.fit.outcome_model import OutcomeModel
from workbench.fit.scatter import ScatterFit
from workbench.fit.second_order import Ascent, LevelPoint
from workbench.fit.selection import Selection
from workbench.fit.sensitivity import Sensitivity
from workbench.jupyter.facts import facts, line
from workbench.jupyter.more_renderers import (
    SPECIAL,
    answer_tables,
    nouns_of_layers,
    tuple_tables,
)
from workbench.plan.candidate_nouns import Comparison
from workbench.plan.plans import Plan
from workbench.run import Receipt, Record
from workbench.show.escape import Html, text
from workbench.steps import ANSWERS

if TYPE_CHECKING:
    from collections.abc import Callable

    from workbench.fit.faces import Fit


@dataclass(frozen=True, slots=True, kw_only=True)
class Renderer:
    """How one kind of noun is shown: `line` as plain text, `tables` as markup."""

    kind: type
    line: Callable[[Any], str]
    tables: Callable[[Any], tuple[str, ...]]


def register() -> None:
    """Show nouns as tables from now on, in the IPython session that is running."""
    shell = get_ipython()
    if shell is None or shell.display_formatter is None:
        return  # plain Python shows the plain text of a noun, and needs no renderer
    as_html, as_text = (shell.display_formatter.formatters[f"text/{k}"] for k in ("html", "plain"))
    for one in all_renderers():
        as_html.for_type(one.kind, _as_html(one))
        as_text.for_type(one.kind, _as_text(one))
    as_html.for_type(tuple, _several)
    for name, home in ANSWERS.items():  # their modules load when a step is first used
        as_html.for_type_by_name(f"workbench.steps.{home}", name, _answer)


def all_renderers() -> tuple[Renderer, ...]:
    """Return a renderer for every public noun: its own, or a table of what it holds."""
    own = {one.kind for one in RENDERERS}
    plain = [kind for kind in dict.fromkeys(nouns_of_layers()) if kind not in own]
    return (*RENDERERS, *(Renderer(kind=kind, line=line, tables=facts) for kind in plain))


def _several(nouns: tuple[object, ...]) -> str | None:
    inside = tuple_tables(nouns, _inside)
    return None if inside is None else _styled(inside)


def _answer(answer: object) -> str:
    return _styled("".join(answer_tables(answer, _inside)))


def _inside(noun: object) -> str | None:
    if isinstance(noun, tuple):
        return tuple_tables(noun, _inside)
    for one in all_renderers():
        if isinstance(noun, one.kind):
            return "".join(one.tables(noun))
    return "".join(answer_tables(noun, _inside)) if type(noun).__name__ in ANSWERS else None


def markup(noun: object) -> str:
    """Return what a notebook shows of a noun, style included.

    Raises
    ------
    TypeError
        If there is no renderer for it.
    """
    inside = _inside(noun)
    if inside is not None:
        return _styled(inside)
    raise TypeError(f"no renderer for {type(noun).__name__}")


def _as_html(one: Renderer) -> Callable[[object], str]:
    def shown(noun: object) -> str:
        return _styled("".join(one.tables(noun)))

    return shown


def _styled(inside: str) -> str:
    return f'<div class="workbench-output"><style>{_style()}</style>{inside}</div>'


def _as_text(one: Renderer) -> Callable[[object, Any, bool], None]:
    def shown(noun: object, printer: Any, _cycle: bool) -> None:  # noqa: FBT001 - IPython's call
        printer.text(one.line(noun))

    return shown


@cache
def _style() -> str:
    return files("workbench.jupyter").joinpath("notebook.css").read_text(encoding="utf-8")


def _paragraph(words: str) -> str:
    return f"<p>{text(words)}</p>"


def _trial_tables(trial: Trial) -> tuple[str, ...]:
    said = [_paragraph(words) for words in (trial.question, trial.invented) if words]
    tables = [show.factors_table(trial), show.outcomes_table(trial)]
    return (*said, *tables, *([show.held_table(trial)] if trial.held else []))


def _fit_tables(fit: Fit) -> tuple[str, ...]:
    notes = [_paragraph(note) for note in fit.notes]
    aliased = [show.aliases_table(fit)] if fit.aliased else []
    return (show.effects_table(fit), *aliased, show.summary_table(fit), *notes)


def _model_tables(fit: Fit) -> tuple[str, ...]:
    aliased = [show.aliases_table(fit)] if fit.aliased else []
    shared = [show.components_table(fit)] if isinstance(fit, OutcomeModel) and fit.scatter else []
    return (
        _paragraph(fit.model),
        show.effects_table(fit),
        *aliased,
        show.tests_table(fit),
        *shared,
        show.summary_table(fit),
        *map(_paragraph, fit.notes),
    )


def _ascent_tables(found: Ascent) -> tuple[str, ...]:
    return (show.ascent_table(found), _paragraph(show.cone_words(found)))


def _point_line(found: LevelPoint) -> str:
    where = ", ".join(
        f"{one.name} {at:.4g} {one.unit}".strip()
        for one, at in zip(found.factors, found.at, strict=True)
    )
    return f"{found.shape} at {where}{'' if found.is_inside else ' (outside the ranges tried)'}"


def _comparison_tables(found: Comparison) -> tuple[str, ...]:
    best = found.recommended
    said = _paragraph(f"Recommended: {best.name}. {best.why} {best.gives_up}")
    return (show.candidates_table(found), said)


def _decision_tables(decision: Decision) -> tuple[str, ...]:
    levels = [show.levels_table(decision)] if len(decision.by_level) > 1 else []
    return (show.limits_table(decision), *levels, *map(_paragraph, decision.best.notes))


def _decision_line(decision: Decision) -> str:
    best = decision.best
    if isinstance(best, NoWindow):
        return f"no window: {best.reason}"
    limits = ", ".join(
        f"{one.factor.name} {one.low:.4g} to {one.high:.4g} {one.factor.unit}"
        for one in best.limits
    )
    return f"window: {limits}"


def _fit_line(fit: Fit) -> str:
    runs = np.unique(fit.run).size
    kind = "" if isinstance(fit, MeasuredFit) else f" ({fit.kind})"
    return f"fit of {fit.outcome.name}{kind}: {runs} runs, {len(fit.terms)} terms"


RENDERERS = (
    Renderer(kind=Html, line=lambda _: "a table", tables=lambda table: (table,)),
    Renderer(kind=Trial, line=lambda trial: f"trial: {trial.title}", tables=_trial_tables),
    Renderer(
        kind=Plan,
        line=lambda plan: f"plan: {len(plan)} runs, {plan.recipe.kind}",
        tables=lambda plan: (show.plan_table(plan),),
    ),
    Renderer(
        kind=Comparison,
        line=lambda found: f"{len(found.candidates)} plans, recommended: {found.recommended.name}",
        tables=_comparison_tables,
    ),
    Renderer(
        kind=Record,
        line=lambda record: f"record: {int(record.used().sum())} runs that count",
        tables=lambda record: (show.record_table(record),),
    ),
    Renderer(
        kind=Receipt,
        line=lambda receipt: f"receipt: {receipt.n_rows} rows, {len(receipt.columns)} columns",
        tables=lambda receipt: (show.receipt_table(receipt),),
    ),
    Renderer(kind=MeasuredFit, line=_fit_line, tables=_fit_tables),
    Renderer(kind=OutcomeModel, line=_fit_line, tables=_model_tables),
    Renderer(
        kind=Selection,
        line=lambda found: found.words(),
        tables=lambda found: (_paragraph(found.words()), show.selection_table(found)),
    ),
    Renderer(
        kind=Sensitivity,
        line=lambda found: found.words(),
        tables=lambda found: (_paragraph(found.words()), show.sensitivity_table(found)),
    ),
    Renderer(
        kind=ScatterFit,
        line=show.spread_sentence,
        tables=lambda found: (show.spread_table(found), *map(_paragraph, found.notes)),
    ),
    Renderer(
        kind=LevelPoint,
        line=_point_line,
        tables=lambda found: (show.level_point_table(found), show.axes_table(found)),
    ),
    Renderer(
        kind=Ascent,
        line=lambda found: f"path of {len(found.path)} settings",
        tables=_ascent_tables,
    ),
    Renderer(
        kind=NextTrials,
        line=lambda found: f"{len(found.trials)} next trials; in the way: {found.obstacle.value}",
        tables=lambda found: (show.next_trials_table(found),),
    ),
    Renderer(kind=Decision, line=_decision_line, tables=_decision_tables),
    Renderer(
        kind=Unavailable,
        line=lambda answer: f"cannot be told: {answer.reason}",
        tables=lambda answer: (_paragraph(f"Cannot be told: {answer.reason}"),),
    ),
    *(Renderer(kind=kind, line=said, tables=tables) for kind, said, tables in SPECIAL),
)
