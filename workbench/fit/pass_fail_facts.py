"""Numbers that describe a pass/fail fit as a whole, and effects per step of the line's scatter."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.errors import Unavailable
from workbench.fit.outcome_model import Fact

if TYPE_CHECKING:
    from workbench.define.factors import Factor
    from workbench.fit.nouns import Effect
    from workbench.fit.pass_fail_rows import PassRuns


def facts(runs: PassRuns, effects: tuple[Effect, ...], *, dispersion: float) -> tuple[Fact, ...]:
    """Return parts, failures, how runs differ, and the odds ratio of one setting_sd."""
    found = [
        Fact(name="parts", value=float(runs.n_parts), words="Parts tried in the runs used."),
        Fact(name="failures", value=float(runs.n_failed), words="Parts that failed."),
        Fact(
            name="share that passed",
            value=1 - runs.n_failed / runs.n_parts,
            words="Over all parts, whatever their settings.",
        ),
    ]
    if runs.has_parts:
        found.append(
            Fact(
                name="dispersion of runs",
                value=dispersion,
                words="1 where parts of one run scatter by chance alone; above 1 runs differ by "
                "more, and tests and intervals are widened for it (Fletcher 2012).",
            )
        )
    factors = {factor.name: factor for factor in runs.rows.settings.factors}
    steps = [_per_setting_sd(one, factors) for one in effects]
    return (*found, *(one for one in steps if one is not None))


def _per_setting_sd(effect: Effect, factors: dict[str, Factor]) -> Fact | None:
    if len(effect.term.powers) != 1 or effect.term.powers[0][1] != 1:
        return None
    factor = factors[effect.term.factors[0]]
    if isinstance(factor, Categorical) or not factor.setting_sd:
        return None
    estimate, share = effect.estimate, factor.setting_sd / (factor.high - factor.low)
    if not isinstance(estimate, Unavailable):
        logs = share * np.log([estimate.value, estimate.low, estimate.high])
        value, low, high = (float(one) for one in np.exp(logs))
        estimate = replace(
            estimate, value=value, low=low, high=high, std_error=share * estimate.std_error
        )
    unit = f" {factor.unit}" if factor.unit else ""
    return Fact(
        name=f"{effect.name} per setting_sd",
        value=estimate,
        unit="odds of passing",
        words=f"Odds ratio for {factor.setting_sd:g}{unit}, the scatter with which the line "
        f"holds {factor.name}.",
    )
