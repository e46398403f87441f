"""A noun in, a plotly figure or an HTML string out: takes finished numbers, writes nothing."""

from __future__ import annotations

from workbench.show.alias_arcs import alias_map
from workbench.show.asked_again import selection_table, sensitivity_table, support_table
from workbench.show.assurance_marks import assurance_marks
from workbench.show.candidate_table import candidates_table, left_out_table
from workbench.show.chance_bars import ChanceRow, ChanceRows, chance_to_detect
from workbench.show.chance_steps import chance_map
from workbench.show.confirmation_sheet import confirmation_sheet
from workbench.show.decision_tables import levels_table, limits_table, promise_table
from workbench.show.effect_rows import effects, spread_effects
from workbench.show.escape import Html
from workbench.show.findings_table import findings_table
from workbench.show.fit_tables import (
    aliases_table,
    components_table,
    effects_table,
    spread_table,
    summary_table,
    tests_table,
)
from workbench.show.handover import hand_over
from workbench.show.html_tables import html_table
from workbench.show.ladder import limits_ladder
from workbench.show.line_pairs import interaction
from workbench.show.mean_lines import contour_of_mean
from workbench.show.next_trial import next_runs_table, next_trials_table
from workbench.show.nouns import Lines, MeanMap, Runs
from workbench.show.precision_lines import HalfWidthMap, precision_lines
from workbench.show.print_tables import print_table
from workbench.show.report_page import report
from workbench.show.residuals import residuals_by_fitted, residuals_in_order
from workbench.show.scatter_line import half_normal
from workbench.show.seen_expected import observed_beside_expected
from workbench.show.set_points import set_points_table
from workbench.show.several import shared_table, trade_offs_table
from workbench.show.shape_tables import ascent_table, axes_table, cone_words, level_point_table
from workbench.show.sheet import run_sheet
from workbench.show.spread_words import spread_sentence
from workbench.show.story import (
    AskedAgain,
    Decided,
    PlanFact,
    Promise,
    Several,
    Shape,
    Story,
)
from workbench.show.style import style_sheet
from workbench.show.tables import (
    constraints_table,
    deviations_table,
    factors_table,
    held_table,
    outcomes_table,
    plan_table,
    receipt_table,
    record_table,
)
from workbench.show.theme import DARK, LIGHT, Palette, dark_partners, template
from workbench.show.trade_off import trade_off
from workbench.show.verdict_figure import parts_against_limits
from workbench.show.verdict_page import verdict_page
from workbench.show.verdict_tables import verdict_table

__all__ = [
    "DARK",
    "LIGHT",
    "AskedAgain",
    "ChanceRow",
    "ChanceRows",
    "Decided",
    "HalfWidthMap",
    "Html",
    "Lines",
    "MeanMap",
    "Palette",
    "PlanFact",
    "Promise",
    "Runs",
    "Several",
    "Shape",
    "Story",
    "alias_map",
    "aliases_table",
    "ascent_table",
    "assurance_marks",
    "axes_table",
    "candidates_table",
    "chance_map",
    "chance_to_detect",
    "components_table",
    "cone_words",
    "confirmation_sheet",
    "constraints_table",
    "contour_of_mean",
    "dark_partners",
    "deviations_table",
    "effects",
    "effects_table",
    "factors_table",
    "findings_table",
    "half_normal",
    "hand_over",
    "held_table",
    "html_table",
    "interaction",
    "left_out_table",
    "level_point_table",
    "levels_table",
    "limits_ladder",
    "limits_table",
    "next_runs_table",
    "next_trials_table",
    "observed_beside_expected",
    "outcomes_table",
    "parts_against_limits",
    "plan_table",
    "precision_lines",
    "print_table",
    "promise_table",
    "receipt_table",
    "record_table",
    "report",
    "residuals_by_fitted",
    "residuals_in_order",
    "run_sheet",
    "selection_table",
    "sensitivity_table",
    "set_points_table",
    "shared_table",
    "spread_effects",
    "spread_sentence",
    "spread_table",
    "style_sheet",
    "summary_table",
    "support_table",
    "template",
    "tests_table",
    "trade_off",
    "trade_offs_table",
    "verdict_page",
    "verdict_table",
]
