"""The job on a trial folder, step by step: what the command line and the notebooks call."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.steps.choosing import Choice, ChoiceWish, compare_plans
    from workbench.steps.confirm import ConfirmWish, lock_confirmation
    from workbench.steps.confirm_parts import judge_confirmation, take_parts
    from workbench.steps.deciding import decisions_of, keep_decision, keep_question
    from workbench.steps.demo import run_demo
    from workbench.steps.drawing import lines_of, mean_map_of
    from workbench.steps.fitting import OutcomeFit, fit_all
    from workbench.steps.handover import confirmation_so_far, hand_over_of, write_handover
    from workbench.steps.new import start_trial
    from workbench.steps.next_trial import NextAnswer, next_after, propose_next, take_next
    from workbench.steps.plan_figures import chance_rows, half_width_map
    from workbench.steps.plan_wish import PlanWish
    from workbench.steps.planning import PlanAnswer, make_plan
    from workbench.steps.predicting import Predictions, points, predict_all
    from workbench.steps.print_again import beside_print, record_of_table
    from workbench.steps.report_figures import interaction_lines
    from workbench.steps.reporting import report_with, story_of, write_report
    from workbench.steps.set_points import SetPointAnswer, find_set_points
    from workbench.steps.sheets import write_sheet
    from workbench.steps.so_far import (
        cautions_so_far,
        decision_so_far,
        drawn_so_far,
        fits_so_far,
        ladder_so_far,
        plan_so_far,
        plans_so_far,
        record_so_far,
        to_fill_in,
        trial_so_far,
        window_so_far,
    )
    from workbench.steps.take import take_table
    from workbench.steps.trials import OpenTrial, open_trial
    from workbench.steps.windows import WindowAnswer, find_window

# A step loads the layers it needs when it is first used, so that one command pays for one step.
_HOMES = {
    "Choice": "choosing",
    "ChoiceWish": "choosing",
    "ConfirmWish": "confirm",
    "NextAnswer": "next_trial",
    "OpenTrial": "trials",
    "OutcomeFit": "fitting",
    "PlanAnswer": "planning",
    "PlanWish": "plan_wish",
    "Predictions": "predicting",
    "SetPointAnswer": "set_points",
    "WindowAnswer": "windows",
    "beside_print": "print_again",
    "cautions_so_far": "so_far",
    "chance_rows": "plan_figures",
    "compare_plans": "choosing",
    "confirmation_so_far": "handover",
    "decision_so_far": "so_far",
    "decisions_of": "deciding",
    "drawn_so_far": "so_far",
    "find_set_points": "set_points",
    "find_window": "windows",
    "fit_all": "fitting",
    "fits_so_far": "so_far",
    "half_width_map": "plan_figures",
    "hand_over_of": "handover",
    "interaction_lines": "report_figures",
    "judge_confirmation": "confirm_parts",
    "keep_decision": "deciding",
    "keep_question": "deciding",
    "ladder_so_far": "so_far",
    "lines_of": "drawing",
    "lock_confirmation": "confirm",
    "make_plan": "planning",
    "mean_map_of": "drawing",
    "next_after": "next_trial",
    "open_trial": "trials",
    "plan_so_far": "so_far",
    "plans_so_far": "so_far",
    "points": "predicting",
    "predict_all": "predicting",
    "propose_next": "next_trial",
    "record_of_table": "print_again",
    "record_so_far": "so_far",
    "report_with": "reporting",
    "run_demo": "demo",
    "start_trial": "new",
    "story_of": "reporting",
    "take_next": "next_trial",
    "take_parts": "confirm_parts",
    "take_table": "take",
    "to_fill_in": "so_far",
    "trial_so_far": "so_far",
    "window_so_far": "so_far",
    "write_handover": "handover",
    "write_report": "reporting",
    "write_sheet": "sheets",
}

__all__ = [
    "Choice",
    "ChoiceWish",
    "ConfirmWish",
    "NextAnswer",
    "OpenTrial",
    "OutcomeFit",
    "PlanAnswer",
    "PlanWish",
    "Predictions",
    "SetPointAnswer",
    "WindowAnswer",
    "beside_print",
    "cautions_so_far",
    "chance_rows",
    "compare_plans",
    "confirmation_so_far",
    "decision_so_far",
    "decisions_of",
    "drawn_so_far",
    "find_set_points",
    "find_window",
    "fit_all",
    "fits_so_far",
    "half_width_map",
    "hand_over_of",
    "interaction_lines",
    "judge_confirmation",
    "keep_decision",
    "keep_question",
    "ladder_so_far",
    "lines_of",
    "lock_confirmation",
    "make_plan",
    "mean_map_of",
    "next_after",
    "open_trial",
    "plan_so_far",
    "plans_so_far",
    "points",
    "predict_all",
    "propose_next",
    "record_of_table",
    "record_so_far",
    "report_with",
    "run_demo",
    "start_trial",
    "story_of",
    "take_next",
    "take_parts",
    "take_table",
    "to_fill_in",
    "trial_so_far",
    "window_so_far",
    "write_handover",
    "write_report",
    "write_sheet",
]

# What a step answers: homes by name, for whoever shows answers without loading every step.
ANSWERS = {name: _HOMES[name] for name in _HOMES if name[0].isupper()}


def __getattr__(name: str) -> object:
    """Load the module of a step when it is first asked for."""
    if name in _HOMES:
        return getattr(import_module(f"workbench.steps.{_HOMES[name]}"), name)
    raise AttributeError(f"module 'workbench.steps' has no attribute {name!r}")
