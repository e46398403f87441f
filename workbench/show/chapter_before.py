"""The first chapters of a report: what was asked, what was planned."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.define.factors import Categorical
from workbench.show.alias_arcs import alias_map
from workbench.show.candidate_table import candidates_table
from workbench.show.chance_bars import chance_to_detect
from workbench.show.html_tables import html_table, name, number, verdict, words
from workbench.show.margin_words import margin_words
from workbench.show.numbers import in_hundred, percent, short
from workbench.show.page import Screen, described, figure, folded, said_open
from workbench.show.sentences import together
from workbench.show.tables import (
    constraints_table,
    factors_table,
    held_table,
    outcomes_table,
    plan_table,
)
from workbench.show.words import counted, listed, sentence

if TYPE_CHECKING:
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan
    from workbench.show.escape import Html
    from workbench.show.story import Story

MOST_EFFECTS = 40  # of an alias map on one screen; the table names the rest
UNPLANNED = (
    "Runs that were not planned as a trial can mislead: what changed together cannot be told "
    "apart, and an order that was not drawn by lot lets drift look like an effect."
)


def question_screen(story: Story) -> Screen:
    """Return what is asked: of which settings, against which requirements."""
    trial = story.trial
    asked = [one for one in trial.outcomes if getattr(one, "requirement", None) is not None]
    tables = [outcomes_table(trial), factors_table(trial)]
    if trial.held:
        tables.append(held_table(trial))
    if trial.constraints:
        tables.append(constraints_table(trial))
    return Screen(
        key="question",
        chapter="Question",
        step="Question",
        claim=trial.question or trial.title,
        say=tuple(one for one in (_promise_asked(trial), trial.invented) if one),
        number=f"{len(asked)} × {len(trial.factors)}",
        number_of=f"requirements × settings{_budget(trial)}",
        check=_setting_errors(trial),
        see=tuple(tables),
    )


def plan_screen(story: Story) -> Screen:
    """Return what was planned, what it can find, and what it cannot tell apart."""
    plan = story.plan
    if plan is None:
        return Screen(
            key="plan",
            chapter="Plan",
            step="Plan",
            claim="There is no plan on file",
            say=(UNPLANNED,),
            see=(said_open("Whether the order of the runs was random is not known."),),
        )
    return Screen(
        key="plan",
        chapter="Plan",
        step="Plan",
        claim=_plan_claim(story, plan),
        say=(_plan_words(plan), *_margin(story), *plan.recipe.notes),
        number=counted(len(plan), "run"),
        number_of=_order_words(plan),
        check=_plan_check(story),
        see=_plan_tables(story, plan),
    )


def _promise_asked(trial: Trial) -> str:
    if trial.share is None or trial.confidence is None:
        return (
            "Nobody has yet said what share of parts must meet the requirements and how sure we "
            "want to be, so no window can be asked for."
        )
    return (
        f"We look for the widest window of settings in which at least {in_hundred(trial.share)} "
        f"parts meet {together(trial.outcomes)}, with {percent(trial.confidence)} confidence, "
        "setting error and our own uncertainty counted in."
    )


def _budget(trial: Trial) -> str:
    said = []
    if trial.budget.parts is not None:
        said.append(counted(trial.budget.parts, "part"))
    if trial.budget.days is not None:
        said.append(f"{short(trial.budget.days)} days")
    return f"; {', '.join(said)} at most" if said else ""


def _setting_errors(trial: Trial) -> str:
    unknown = [
        one.name
        for one in trial.factors
        if not isinstance(one, Categorical) and one.setting_sd is None
    ]
    if not unknown:
        return (
            "How well the line holds each setting is stated; if it holds them worse, the window "
            "shrinks."
        )
    return (
        f"How well the line holds {listed(unknown)} is not stated: no window can be computed "
        "until it is."
    )


def _margin(story: Story) -> tuple[str, ...]:
    return () if story.margin is None else (margin_words(story.margin),)


def _plan_claim(story: Story, plan: Plan) -> str:
    runs = counted(len(plan), "run")
    if story.cannot_tell_apart:
        return f"{runs} answer the question, but some effects cannot be told apart"
    return f"{runs} can tell every effect that was asked for from every other"


def _plan_words(plan: Plan) -> str:
    options = ", ".join(f"{key} {value}" for key, value in plan.recipe.options)
    strength = f", resolution {plan.recipe.resolution}" if plan.recipe.resolution else ""
    model = plan.terms.asked or str(plan.terms)
    return sentence(
        f"{plan.recipe.kind}{strength}{f' ({options})' if options else ''}; "
        f"model asked for: {model}, {counted(len(plan.terms), 'term')}."
    )


def _order_words(plan: Plan) -> str:
    blocks = f" within {counted(plan.n_blocks, 'block')}" if plan.n_blocks > 1 else ""
    parts = f", {plan.parts_per_run} parts each" if plan.parts_per_run > 1 else ""
    return f"in random order{blocks}{parts}, seed {plan.recipe.seed}"


def _plan_check(story: Story) -> str:
    if story.cannot_tell_apart:
        return (
            f"{counted(len(story.cannot_tell_apart), 'group')} of effects share one number; a "
            "large one among them would need further runs to say which it is."
        )
    return "The pattern was computed from the runs themselves, not from the name of the plan."


def _plan_tables(story: Story, plan: Plan) -> tuple[Html, ...]:
    found: list[Html] = []
    if story.cannot_tell_apart:
        lines = [(verdict("unsure", "one number"), line) for line in story.cannot_tell_apart]
        found.append(
            html_table("Cannot be told apart", [words("so far"), words("effects")], lines)
        )
    if story.detectable:
        rows = [(one.term, one.difference, one.error_df) for one in story.detectable]
        caption = "Smallest effect this plan would find" + (
            f" {story.detectable_for}" if story.detectable_for else ""
        )
        columns = [name("effect of"), number("difference"), number("error df")]
        found.append(html_table(caption, columns, rows))
    found += _plan_figures(story, plan)
    if story.comparison is not None:
        found.append(
            folded("The plans that fit, side by side", candidates_table(story.comparison))
        )
    found.append(folded("The runs, in order", plan_table(plan)))
    return tuple(found)


def _plan_figures(story: Story, plan: Plan) -> list[Html]:
    drawn = [
        (f"chance-to-detect-{i}", chance_to_detect(one))
        for i, one in enumerate(story.chances_to_detect, start=1)
    ]
    if story.mixing is not None and 0 < len(story.plan_effects) <= MOST_EFFECTS:
        name_of_plan = f"{plan.recipe.kind}, {counted(len(plan), 'run')}"
        drawn.append(("alias-map", alias_map({name_of_plan: story.mixing}, story.plan_effects)))
    return [figure(key, one, described(one)) for key, one in drawn]
