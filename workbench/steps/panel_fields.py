"""The fields of the planning form: the keys of trial.toml in the order in which they are asked."""

from __future__ import annotations

from dataclasses import dataclass

from workbench.define.factors import Role
from workbench.define.outcomes import SCALES
from workbench.files.toml_fields import NOT_STATED
from workbench.files.toml_outcomes import OUTCOME_KEYS

FACTOR_KINDS = ("continuous", "stepped", "categorical", "component")
NUMERIC = ("continuous", "stepped")
RANGED = ("continuous", "component")
MEASURED, COUNTED, GRADED = ("measured",), ("counted",), ("graded",)


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelField:
    """One field of a section; `key` is its key in trial.toml.

    `kind` is "text", "long", "number", "limit" (a number, or the word of a grade), "choice",
    "flag", "words", "numbers", "lines", "weights" or "places". `of` are the kinds of the section
    that have it (empty: all), `is_more` says that it is seldom needed.
    """

    key: str
    label: str
    kind: str = "text"
    choices: tuple[str, ...] = ()
    hint: str = ""
    of: tuple[str, ...] = ()
    is_more: bool = False


_TRIAL = (
    PanelField(key="title", label="title"),
    PanelField(key="question", label="question", kind="long"),
    PanelField(
        key="share",
        label="share of parts",
        kind="number",
        hint="of new parts that must meet everything, such as 0.95",
    ),
    PanelField(
        key="confidence", label="confidence", kind="number", hint="how sure of that, such as 0.95"
    ),
    PanelField(
        key="model",
        label="model",
        kind="long",
        hint="first-order, interactions, second-order, or terms such as a, b, a * b, a^2",
    ),
    PanelField(key="seed", label="seed", kind="number", is_more=True),
    PanelField(key="stopping_rule", label="stop rule", kind="long", is_more=True),
    PanelField(key="hazards", label="hazards", kind="words", is_more=True),
    PanelField(key="cautions", label="cautions", kind="lines", is_more=True, hint="one a line"),
    PanelField(key="people", label="people", kind="words", is_more=True),
    PanelField(key="date", label="date", is_more=True),
    PanelField(
        key="invented", label="invented", kind="long", is_more=True, hint="where it is made up"
    ),
)
_BUDGET = (
    PanelField(key="parts", label="parts", kind="number"),
    PanelField(key="days", label="days", kind="number"),
    PanelField(key="parts_per_run", label="parts per run", kind="number"),
    PanelField(key="runs_per_day", label="runs a day", kind="number"),
    PanelField(key="resets_per_day", label="resets a day", kind="number"),
    PanelField(key="cost_per_part", label="cost of a part", kind="number"),
    PanelField(key="cost_per_reset", label="cost of a reset", kind="number"),
)
_FACTOR = (
    PanelField(key="name", label="name"),
    PanelField(key="kind", label="kind", kind="choice", choices=FACTOR_KINDS),
    PanelField(key="unit", label="unit", of=(*NUMERIC, "component")),
    PanelField(key="low", label="low", kind="number", of=RANGED),
    PanelField(key="high", label="high", kind="number", of=RANGED),
    PanelField(key="steps", label="steps", kind="numbers", of=("stepped",), hint="10; 20; 40"),
    PanelField(
        key="levels", label="levels", kind="words", of=("categorical",), hint="none, wiped"
    ),
    PanelField(
        key="setting_sd",
        label="setting error (sd)",
        kind="number",
        of=(*NUMERIC, "component"),
        hint=f'how well the line holds it; 0, or "{NOT_STATED}"',
    ),
    PanelField(
        key="slow",
        label="slow to change",
        kind="flag",
        of=("continuous", "stepped", "categorical"),
    ),
    PanelField(
        key="role",
        label="role",
        kind="choice",
        choices=tuple(map(str, Role)),
        of=("continuous", "stepped", "categorical"),
        is_more=True,
    ),
    PanelField(
        key="shape",
        label="varies in production",
        kind="choice",
        choices=("", "normal", "uniform"),
        of=NUMERIC,
        is_more=True,
    ),
    PanelField(key="centre", label="around", kind="number", of=NUMERIC, is_more=True),
    PanelField(
        key="width", label="by (sd or half-width)", kind="number", of=NUMERIC, is_more=True
    ),
    PanelField(key="reset_cost", label="what a reset costs", of=FACTOR_KINDS[:3], is_more=True),
    PanelField(key="hazards", label="hazards", kind="words", is_more=True),
)
_HELD = (
    PanelField(key="name", label="name"),
    PanelField(key="value", label="value", kind="limit"),
    PanelField(key="unit", label="unit"),
    PanelField(key="hazards", label="hazards", kind="words", is_more=True),
)
_JUDGED = (*MEASURED, *GRADED, *COUNTED)
_OUTCOME = (
    PanelField(key="name", label="name"),
    PanelField(key="kind", label="kind", kind="choice", choices=tuple(OUTCOME_KEYS)),
    PanelField(key="unit", label="unit", of=(*MEASURED, *COUNTED)),
    PanelField(key="passes", label="word that passes", of=("pass/fail",)),
    PanelField(key="fails", label="word that fails", of=("pass/fail",)),
    PanelField(key="grades", label="grades in order", kind="words", of=GRADED),
    PanelField(key="out_of", label="out of", kind="number", of=COUNTED),
    PanelField(key="at_least", label="at least", kind="limit", of=_JUDGED),
    PanelField(key="at_most", label="at most", kind="limit", of=_JUDGED),
    PanelField(key="target", label="target", kind="limit", of=_JUDGED, is_more=True),
    PanelField(
        key="tolerance",
        label="tolerance",
        kind="number",
        of=(*MEASURED, *COUNTED),
        is_more=True,
    ),
    PanelField(
        key="worth_finding",
        label="worth finding",
        kind="number",
        of=MEASURED,
        hint="the smallest difference that matters; on log a ratio",
    ),
    PanelField(
        key="expected_sd",
        label="expected scatter (sd)",
        kind="number",
        of=MEASURED,
        hint="from run to run; on log a ratio",
    ),
    PanelField(key="scale", label="scale", kind="choice", choices=SCALES, of=MEASURED),
    PanelField(key="method", label="method", kind="long", is_more=True),
    PanelField(key="wait", label="wait", is_more=True, hint="such as after 24 h"),
    PanelField(key="destructive", label="destroys the part", kind="flag", is_more=True),
    PanelField(key="gauge_low", label="gauge from", kind="number", of=MEASURED, is_more=True),
    PanelField(key="gauge_high", label="gauge to", kind="number", of=MEASURED, is_more=True),
    PanelField(key="resolution", label="resolution", kind="number", of=MEASURED, is_more=True),
    PanelField(key="too_low", label="word for too low", of=MEASURED, is_more=True),
    PanelField(key="too_high", label="word for too high", of=MEASURED, is_more=True),
)
_CONSTRAINT = (
    PanelField(key="kind", label="kind", kind="choice", choices=("forbidden", "limit")),
    PanelField(
        key="forbidden",
        label="never together",
        kind="places",
        of=("forbidden",),
        hint="dwell: 3 to 4; tip shape: chisel",
    ),
    PanelField(
        key="coefficients",
        label="weights",
        kind="weights",
        of=("limit",),
        hint="dwell: 1; feed: -2",
    ),
    PanelField(key="at_most", label="sum at most", kind="number", of=("limit",)),
    PanelField(key="reason", label="reason"),
)
FIELDS: dict[str, tuple[PanelField, ...]] = {
    "trial": _TRIAL,
    "budget": _BUDGET,
    "factor": _FACTOR,
    "held": _HELD,
    "outcome": _OUTCOME,
    "constraint": _CONSTRAINT,
}


def fields_of(section: str, kind: str) -> tuple[PanelField, ...]:
    """Return the fields that a section of some kind has."""
    return tuple(one for one in FIELDS[section] if not one.of or kind in one.of)
