"""Where to run: chances, the window with its set point, and what stops each side."""

from workbench.decide.assurance import AssuranceCurve, AssurancePoint, assurance_curve
from workbench.decide.chances import ChanceMap, chance, chance_map
from workbench.decide.confirmation import ConfirmationPlan, JudgedBy
from workbench.decide.confirmation_made import ConfirmationWish, confirmation_plan
from workbench.decide.confirmation_runs import confirmation_runs
from workbench.decide.desirability import Desire, desirability, usual_desire
from workbench.decide.goals import Goal, goals_of
from workbench.decide.kept_rates import KeptRate, kept_rates
from workbench.decide.made_up import (
    MadeUpProcess,
    lowest_true_share,
    true_mean,
    true_share,
)
from workbench.decide.made_up_runs import simulate
from workbench.decide.means_box import MeansBox, means_box
from workbench.decide.next_trial import (
    Gain,
    Kind,
    MovedRange,
    NextTrial,
    NextTrials,
    Obstacle,
)
from workbench.decide.next_trials import next_trials
from workbench.decide.set_points import Foreseen, SetPoint, set_points
from workbench.decide.straightness import two_level_factors
from workbench.decide.trade_off import Front, trade_off_front
from workbench.decide.verdict import Answer, Verdict
from workbench.decide.verdict_made import confirmation_verdict
from workbench.decide.what_if import Lever, WhatIf, what_if
from workbench.decide.window import window
from workbench.decide.windows import Decision, Limit, NearestMiss, NoWindow, Window
from workbench.decide.wishes import BoxWish
from workbench.decide.zero_failures import counting

__all__ = [
    "Answer",
    "AssuranceCurve",
    "AssurancePoint",
    "BoxWish",
    "ChanceMap",
    "ConfirmationPlan",
    "ConfirmationWish",
    "Decision",
    "Desire",
    "Foreseen",
    "Front",
    "Gain",
    "Goal",
    "JudgedBy",
    "KeptRate",
    "Kind",
    "Lever",
    "Limit",
    "MadeUpProcess",
    "MeansBox",
    "MovedRange",
    "NearestMiss",
    "NextTrial",
    "NextTrials",
    "NoWindow",
    "Obstacle",
    "SetPoint",
    "Verdict",
    "WhatIf",
    "Window",
    "assurance_curve",
    "chance",
    "chance_map",
    "confirmation_plan",
    "confirmation_runs",
    "confirmation_verdict",
    "counting",
    "desirability",
    "goals_of",
    "kept_rates",
    "lowest_true_share",
    "means_box",
    "next_trials",
    "set_points",
    "simulate",
    "trade_off_front",
    "true_mean",
    "true_share",
    "two_level_factors",
    "usual_desire",
    "what_if",
    "window",
]
