"""A trial as plain keys and values, in the order in which trial.toml is written."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from workbench.define.constraints import LinearLimit
from workbench.define.factors import Categorical, Component, Continuous, Role
from workbench.define.outcomes import Graded, Measured, PassFail, target
from workbench.errors import DefinitionError
from workbench.files.toml_fields import NOT_STATED
from workbench.files.trial_toml import SCHEMA

if TYPE_CHECKING:
    from collections.abc import Callable

    from workbench.define.constraints import Constraint
    from workbench.define.factors import Factor, Held
    from workbench.define.outcomes import Outcome, Requirement
    from workbench.define.trial import Budget, Trial

    Document = dict[str, Any]

_LARGEST_EXACT = 2**53  # whole numbers up to here are the same as text and as a double


def trial_document(trial: Trial) -> Document:
    """Return the keys and values of a trial; what is at its default is left out."""
    said: Document = {
        "title": trial.title,
        "question": trial.question,
        "share": trial.share,
        "confidence": trial.confidence,
        "model": trial.model,
        "stopping_rule": trial.stopping_rule,
        "hazards": trial.hazards,
        "cautions": trial.cautions,
        "people": trial.people,
        "date": trial.date,
        "invented": trial.invented,
    }
    return {
        "schema": SCHEMA,
        "title": trial.title,
        **_stated(said),
        "seed": trial.seed,
        **_stated({"budget": _budget(trial.budget)}),
        "factor": [_factor(one) for one in trial.factors],
        **_stated({"held": [_held(one) for one in trial.held]}),
        "outcome": [_outcome(one) for one in trial.outcomes],
        **_stated({"constraint": [_constraint(one) for one in trial.constraints]}),
    }


def _stated(said: Document) -> Document:
    return {
        key: _plain(value)
        for key, value in said.items()
        if value is not None and value is not False and value not in ("", (), [], {})
    }


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    if isinstance(value, float) and value.is_integer() and abs(value) < _LARGEST_EXACT:
        return int(value)
    return value


def _budget(budget: Budget) -> Document:
    per_run = budget.parts_per_run
    return _stated(
        {
            "parts": budget.parts,
            "days": budget.days,
            "parts_per_run": None if per_run == 1 else per_run,
            "runs_per_day": budget.runs_per_day,
            "resets_per_day": budget.resets_per_day,
            "cost_per_part": budget.cost_per_part,
            "cost_per_reset": budget.cost_per_reset,
        }
    )


def _factor(factor: Factor) -> Document:
    document: Document = {"name": factor.name}
    if isinstance(factor, Categorical):
        document |= {"kind": "categorical", "levels": list(factor.levels)}
    elif isinstance(factor, Continuous | Component):
        kind = "component" if isinstance(factor, Component) else "continuous"
        document |= {"kind": kind, "low": _plain(factor.low), "high": _plain(factor.high)}
    else:
        document |= {"kind": "stepped", "steps": _plain(factor.steps)}
    if not isinstance(factor, Categorical):
        document |= {"unit": factor.unit or NOT_STATED} | _setting_sd(
            factor.setting_sd, factor.role
        )
        if factor.spread is not None:
            document["varies"] = {
                "shape": factor.spread.shape,
                "centre": _plain(factor.spread.centre),
                "width": _plain(factor.spread.width),
            }
    return document | _stated(
        {
            "role": None if factor.role is Role.CONTROL else str(factor.role),
            "slow": factor.slow,
            "reset_cost": factor.reset_cost,
            "hazards": factor.hazards,
        }
    )


def _setting_sd(value: float | None, role: Role) -> Document:
    if value is None:
        return {} if role is Role.OBSERVED else {"setting_sd": NOT_STATED}
    return {"setting_sd": _plain(value)}


def _held(held: Held) -> Document:
    rest = _stated({"unit": held.unit, "hazards": held.hazards})
    return {"name": held.name, "value": held.value} | rest


def _outcome(outcome: Outcome) -> Document:
    rest = {"method": outcome.method, "destructive": outcome.destructive, "wait": outcome.wait}
    return {"name": outcome.name} | _own_keys(outcome) | _stated(rest)


def _own_keys(outcome: Outcome) -> Document:
    if isinstance(outcome, Measured):
        return _measured(outcome)
    if isinstance(outcome, PassFail):
        return {"kind": "pass/fail", "passes": outcome.passes, "fails": outcome.fails}
    if isinstance(outcome, Graded):
        grades = outcome.grades
        limits = _limits(outcome.requirement, lambda i: grades[int(i)])
        return {"kind": "graded", "grades": list(grades)} | limits
    own = _stated({"unit": outcome.unit, "out_of": outcome.out_of})
    return {"kind": "counted"} | own | _requirement(outcome.requirement)


def _measured(outcome: Measured) -> Document:
    first = {"kind": "measured", "unit": outcome.unit or NOT_STATED}
    return (
        first
        | _requirement(outcome.requirement)
        | _stated(
            {
                "scale": "" if outcome.scale == "as read" else outcome.scale,
                "worth_finding": outcome.worth_finding,
                "expected_sd": outcome.expected_sd,
                "gauge_low": outcome.gauge_low,
                "gauge_high": outcome.gauge_high,
                "resolution": outcome.resolution,
                "too_low": outcome.too_low,
                "too_high": outcome.too_high,
            }
        )
    )


def _requirement(requirement: Requirement | None) -> Document:
    tolerance = None if requirement is None else _tolerance(requirement)
    if requirement is None or tolerance is None:
        return _limits(requirement, _plain)
    return {"target": _plain(requirement.target), "tolerance": _plain(tolerance)}


def _limits(requirement: Requirement | None, shown: Callable[[float], Any]) -> Document:
    if requirement is None:
        return {}
    said = {
        "at_least": requirement.low,
        "at_most": requirement.high,
        "target": requirement.target,
    }
    limits = {key: shown(value) for key, value in said.items() if value is not None}
    if "at_least" not in limits or "at_most" not in limits:
        return limits
    return {"between": [limits.pop("at_least"), limits.pop("at_most")]} | limits


def _tolerance(requirement: Requirement) -> float | None:
    """Return the tolerance that gives exactly these limits around the target, if there is one."""
    low, high, aim = requirement.low, requirement.high, requirement.target
    if low is None or high is None or aim is None:
        return None
    for guess in (high - aim, aim - low):
        try:
            if target(aim, tolerance=guess) == requirement:
                return guess
        except DefinitionError:
            continue
    return None


def _constraint(constraint: Constraint) -> Document:
    if isinstance(constraint, LinearLimit):
        return {
            "coefficients": {name: _plain(weight) for name, weight in constraint.coefficients},
            "at_most": _plain(constraint.at_most),
            "reason": constraint.reason,
        }
    forbidden = {name: [_plain(low), _plain(high)] for name, low, high in constraint.where}
    return {"forbidden": forbidden | dict(constraint.levels), "reason": constraint.reason}
