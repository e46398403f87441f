"""A fit in one paragraph: what matters, what cannot be told, what to run next."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.core import t_quantile
from workbench.fit.crossings import crossings
from workbench.fit.matrix import BLOCKS
from workbench.fit.measured import MeasuredFit
from workbench.fit.outcome_model import OutcomeModel

if TYPE_CHECKING:
    from workbench.fit.crossings import Crossing
    from workbench.fit.faces import Fit
    from workbench.fit.nouns import Effect, PseudoError, TermTest

CLEAR = 0.05  # the usual line, common practice; the p stands beside each claim
MORE_RUNS = 4
POWERS = {"as read": 1.0, "square root": 0.5, "log": 0.0, "inverse": -1.0}


def reading(fit: Fit) -> str:
    """Return one paragraph: interactions before averages, then what cannot be told, then next."""
    if isinstance(fit, OutcomeModel):
        return fit.reading
    return _measured(fit) if isinstance(fit, MeasuredFit) else fit.model


def _measured(fit: MeasuredFit) -> str:
    if fit.error_df == 0:
        said = _without_error(fit)
    elif _nothing_varies(fit):
        said = [f"{fit.outcome.name} did not change from run to run beyond the model."]
    else:
        said = [*_interactions(fit), *_averages(fit), *_untold(fit), *_doubts(fit)]
    return " ".join([*said, *_mixed(fit)])


def clear_terms(fit: Fit) -> tuple[TermTest, ...]:
    """Return the tests with p below 5 %, blocks left out."""
    return tuple(one for one in _tests(fit) if _is_clear(one))


def _interactions(fit: MeasuredFit) -> list[str]:
    found = [one for one in clear_terms(fit) if len(one.term.factors) > 1]
    said = []
    for one in found:
        first, *others = one.term.factors
        said.append(
            f"What {first} does to {fit.outcome.name} depends on {' and '.join(others)} "
            f"({_p(one.p)}), so read them together, not by their averages."
        )
    pairs = {frozenset(one.term.factors) for one in found}
    return said + [
        _crossing_words(one)
        for one in crossings(fit)
        if one.inside and frozenset((one.along.name, one.between.name)) in pairs
    ]


def _crossing_words(one: Crossing) -> str:
    unit = f" {one.along.unit}" if one.along.unit else ""
    said = f"The lines of {one.between.name} {one.levels[0]} and {one.levels[1]} cross at "
    said += f"{one.along.name} {one.value:.1f}{unit}"
    if not isinstance(one.interval, Unavailable):
        said += f" (95 % {one.interval.low:.1f} to {one.interval.high:.1f})"
    return f"{said}: which of the two is higher changes there."


def _averages(fit: MeasuredFit) -> list[str]:
    clear = {one.term for one in clear_terms(fit)}
    interacting = {name for term in clear if len(term.factors) > 1 for name in term.factors}
    said = []
    for one in fit.effects:
        if one.term not in clear or len(one.term.factors) > 1:
            continue
        averaged = " on the average of the others" if one.term.factors[0] in interacting else ""
        said.append(f"{one.name} {one.from_to}: {_size(one)}{averaged}.")
    return said


def _untold(fit: MeasuredFit) -> list[str]:
    unclear = [one for one in _tests(fit) if not _is_clear(one) and one.df]
    if not unclear:
        return []
    names = ", ".join(str(one.term) for one in unclear)
    return [
        (
            f"Not told from scatter: {names} (which is no proof of no effect; "
            "the intervals say how large each may still be)."
        )
    ]


def _doubts(fit: MeasuredFit) -> list[str]:
    said = []
    lack = fit.lack_of_fit
    if not isinstance(lack, Unavailable) and lack.p < CLEAR:
        said.append(
            f"The model does not follow the runs (lack of fit {_p(lack.p)}): something bends "
            "or is missing."
        )
    predicted = fit.predicted_r_squared
    if not isinstance(predicted, Unavailable) and predicted <= 0:
        said.append("For a new run the model predicts no better than the plain mean.")
    return said + _turning_on_scale(fit)


def _turning_on_scale(fit: MeasuredFit) -> list[str]:
    said = _uneven(fit)
    supported = _supported_scales(fit)
    for place, test in enumerate(fit.tests):
        shown = [(check.scale, check.p[place][1]) for check in fit.scale_checks]
        known = [(scale, p) for scale, p in shown if not isinstance(p, Unavailable)]
        calls = {p < CLEAR for scale, p in known if scale in supported}
        if test.term != BLOCKS and len(calls) > 1:
            each = ", ".join(f"{scale} {_p(p)}" for scale, p in known)
            said.append(f"Whether {test.term} counts depends on the scale: {each}.")
    return said


def _uneven(fit: MeasuredFit) -> list[str]:
    family = fit.power_family
    own = POWERS[fit.outcome.scale]
    if isinstance(family, Unavailable) or family.low <= own <= family.high:
        return []
    return [
        (
            f"Scatter is not even on this scale ({fit.outcome.scale}): the readings speak for a "
            f"power of {_minus(f'{family.best:.2g}')} (95 % {_minus(f'{family.low:.2g}')} to "
            f"{_minus(f'{family.high:.2g}')}; 1 is as "
            "read, 0 the log, −1 the inverse)."
        )
    ]


def _supported_scales(fit: MeasuredFit) -> set[str]:
    # A scale that the readings speak against can call anything clear; it is no reason for doubt.
    family = fit.power_family
    if isinstance(family, Unavailable):
        return set(POWERS)
    within = {scale for scale, power in POWERS.items() if family.low <= power <= family.high}
    return within | {fit.outcome.scale}


def _without_error(fit: MeasuredFit) -> list[str]:
    pseudo = fit.pseudo_error
    said = ["No error estimate: every run was used up by the model, so there are no p-values."]
    if isinstance(pseudo, Unavailable):
        said.append(f"Nor a pseudo error: {pseudo.reason}.")
    else:
        said += _standing_out(pseudo)
    return [*said, _what_more_runs_buy(fit)]


def _standing_out(pseudo: PseudoError) -> list[str]:
    if not pseudo.standing_out:
        return [
            (
                f"No effect stands out from the others (beyond ±{pseudo.margin:.3g}, 5 % for one "
                "effect by Lenth's pseudo error)."
            )
        ]
    return [
        (
            f"By Lenth's pseudo error {', '.join(pseudo.standing_out)} "
            f"stand{'s' if len(pseudo.standing_out) == 1 else ''} out beyond ±{pseudo.margin:.3g} "
            f"(5 % for one effect; ±{pseudo.simultaneous_margin:.3g} for the largest of "
            f"{pseudo.n_effects})."
        )
    ]


def _what_more_runs_buy(fit: MeasuredFit) -> str:
    last = fit.estimates.size - fit.n_block_columns
    variances = np.diagonal(fit.unscaled_covariance)[1:last]
    reach = 2 * t_quantile(MORE_RUNS) * float(np.sqrt(variances.max(initial=0.0)))
    said = (
        f"{MORE_RUNS} more runs at settings already run (repeats, or the middle of all numeric "
        f"factors if the model is straight) would give an error estimate with {MORE_RUNS} degrees "
        "of freedom"
    )
    if reach == 0:
        return f"{said}."
    return (
        f"{said}; an effect from low to high would then be known to within about ±{reach:.2g} "
        "run-to-run standard deviations, or better."
    )


def _mixed(fit: MeasuredFit) -> list[str]:
    if not fit.aliased:
        return []
    return [f"Cannot be told apart: {'; '.join(one.line for one in fit.aliased)}."]


def _nothing_varies(fit: MeasuredFit) -> bool:
    return not isinstance(fit.residual_variance, Unavailable) and fit.residual_variance == 0


def _tests(fit: Fit) -> list[TermTest]:
    return [one for one in fit.tests if one.term != BLOCKS]


def _is_clear(one: TermTest) -> bool:
    return not isinstance(one.p, Unavailable) and one.p < CLEAR


def _size(one: Effect) -> str:
    unit = f" {one.unit}" if one.unit else ""
    shown = f"×{one.value:.3g}" if one.is_ratio else _minus(f"{one.value:+.3g}")
    if isinstance(one.estimate, Unavailable):
        return f"{shown}{unit}"
    low, high = (_minus(f"{end:.3g}") for end in (one.estimate.low, one.estimate.high))
    return f"{shown}{unit} (95 % {low} to {high})"


def _minus(number: str) -> str:
    return number.replace("-", "−")


def _p(p: float | Unavailable) -> str:
    if isinstance(p, Unavailable):
        return "p not known"
    return f"p = {p:.2g}" if p >= 0.0001 else "p < 0.0001"
