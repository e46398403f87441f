"""A noun in, a plotly figure or an HTML string out: takes finished numbers, writes nothing."""

from __future__ import annotations

from workbench.show.alias_arcs import alias_map
from workbench.show.candidate_table import candidates_table, left_out_table
from workbench.show.chance_bars import ChanceRow, ChanceRows, chance_to_detect
from workbench.show.chance_steps import chance_map
from workbench.show.effect_rows import effects
from workbench.show.escape import Html
from workbench.show.findings_table import findings_table
from workbench.show.fit_tables import (
    aliases_table,
    effects_table,
    levels_table,
    limits_table,
    promise_table,
    summary_table,
    tests_table,
)
from workbench.show.html_tables import html_table
from workbench.show.ladder import limits_ladder
from workbench.show.line_pairs import interaction
from workbench.show.mean_lines import contour_of_mean
from workbench.show.nouns import Lines, MeanMap, Runs
from workbench.show.precision_lines import HalfWidthMap, precision_lines
from workbench.show.report_page import report
from workbench.show.residuals import residuals_by_fitted, residuals_in_order
from workbench.show.scatter_line import half_normal
from workbench.show.sheet import run_sheet
from workbench.show.story import Decided, PlanFact, Promise, Story
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

__all__ = [
    "DARK",
    "LIGHT",
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
    "Story",
    "alias_map",
    "aliases_table",
    "candidates_table",
    "chance_map",
    "chance_to_detect",
    "constraints_table",
    "contour_of_mean",
    "dark_partners",
    "deviations_table",
    "effects",
    "effects_table",
    "factors_table",
    "findings_table",
    "half_normal",
    "held_table",
    "html_table",
    "interaction",
    "left_out_table",
    "levels_table",
    "limits_ladder",
    "limits_table",
    "outcomes_table",
    "plan_table",
    "precision_lines",
    "promise_table",
    "receipt_table",
    "record_table",
    "report",
    "residuals_by_fitted",
    "residuals_in_order",
    "run_sheet",
    "style_sheet",
    "summary_table",
    "template",
    "tests_table",
]
