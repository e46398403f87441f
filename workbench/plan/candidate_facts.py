"""What a plan costs, what it finds of each outcome, and what its taker goes without."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import is_numeric
from workbench.define.outcomes import Measured
from workbench.define.terms import PRESETS, Terms
from workbench.errors import Unavailable
from workbench.plan.aliases import aliases
from workbench.plan.candidate_nouns import APART, Aim, Detects, Leaning
from workbench.plan.mixing import second_order_terms
from workbench.plan.power import detectable

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.trial import Trial
    from workbench.plan.mixing import Mixing
    from workbench.plan.plans import Plan

FEW_ERROR_DF = 3  # below this a t limit is 4.3 or more: scatter is hardly known
SCALES = ("as read", "log")
EDGE = 1e-6  # of half a range


def model_name(model: str) -> str:
    """Return a preset by its name, a list of terms as "stated"."""
    return model if model in PRESETS else "stated"


def aims_of(trial: Trial) -> tuple[Aim, ...]:
    """Return what has to be found: every measured outcome that states its expected_sd."""
    return tuple(
        Aim(
            outcome=one.name,
            unit=one.unit,
            sd=one.expected_sd,
            worth_finding=one.worth_finding,
            as_ratio=one.scale == "log",
        )
        for one in trial.outcomes
        if isinstance(one, Measured) and one.expected_sd is not None and one.scale in SCALES
    )


def detected(
    plan: Plan, aims: tuple[Aim, ...], *, alpha: float, chance: float
) -> tuple[Detects, ...] | Unavailable:
    """Return what is detectable in each outcome; Unavailable where no scatter is stated."""
    if not aims:
        return Unavailable(
            reason="no scatter is stated: write expected_sd of a measured outcome in trial.toml, "
            "or give --sd"
        )
    return tuple(
        Detects(
            aim=aim,
            terms=detectable(
                plan,
                sd=aim.sd,
                alpha=alpha,
                chance=chance,
                setup_sd=aim.setup_sd,
                as_ratio=aim.as_ratio,
            ),
        )
        for aim in aims
    )


def detectable_in_sd(plan: Plan, *, alpha: float, chance: float) -> float:
    """Return the largest detectable main effect in units of one sd for runs and resets."""
    found = detectable(plan, sd=1.0, setup_sd=1.0, alpha=alpha, chance=chance)
    sizes = [one.difference for one in found if one.term.order == 1]
    return max((inf if isinstance(one, Unavailable) else one for one in sizes), default=inf)


def parts_of(plan: Plan) -> int:
    """Return the parts that a plan uses up."""
    return len(plan) * plan.parts_per_run


def resets_of(plan: Plan) -> int:
    """Return how often slow settings are reset; 0 where there are none."""
    return int(plan.setup.max()) if any(f.slow for f in plan.settings.factors) else 0


def days_of(trial: Trial, plan: Plan) -> float | Unavailable:
    """Return the days that the runs and the resets take, whichever is longer."""
    budget, resets = trial.budget, resets_of(plan)
    rates = [(len(plan), budget.runs_per_day), (resets, budget.resets_per_day)]
    needs = [count / rate for count, rate in rates if count and rate is not None]
    if not needs:
        return Unavailable(reason="state runs_per_day under [budget] in trial.toml to see days")
    return float(max(needs))


def cost_of(trial: Trial, plan: Plan) -> float | Unavailable:
    """Return the cost of the parts and resets, in the currency of the budget."""
    budget, resets = trial.budget, resets_of(plan)
    if budget.cost_per_part is None and (budget.cost_per_reset is None or not resets):
        return Unavailable(reason="state cost_per_part under [budget] in trial.toml to see cost")
    by_part = 0.0 if budget.cost_per_part is None else budget.cost_per_part
    by_reset = 0.0 if budget.cost_per_reset is None else budget.cost_per_reset
    return parts_of(plan) * by_part + resets * by_reset


def leaning_of(plan: Plan) -> Leaning | None:
    """Return the worst that products of two and squares outside the model do to a main effect.

    It is the largest entry of the alias matrix (Box and Wilson 1951) in a row of a main effect.
    """
    every = second_order_terms(plan.settings.factors)
    left_out = Terms(
        terms=tuple(one for one in every.terms if one not in plan.terms.terms), asked="left out"
    )
    if not left_out.terms:
        return None
    found = [
        Leaning(main_effect=one.term, left_out=other, size=size)
        for one in aliases(plan.terms, plan.settings, left_out)
        if one.term.order == 1
        for other, size in one.with_terms
    ]
    return max(found, key=lambda one: abs(one.size), default=None)


def stays_in_range(plan: Plan) -> bool:
    """Return whether every setting lies between the low and high that the trial states."""
    return bool((np.abs(_numeric(plan)) <= 1 + EDGE).all())


def is_blind_to_bends(plan: Plan) -> bool:
    """Return whether no numeric factor has a setting between low and high."""
    coded = _numeric(plan)
    return coded.shape[1] > 0 and not (np.abs(coded) < 1 - EDGE).any()


def gives_up(
    plan: Plan, mixed: Mixing, leaning: Leaning | None, *, carries: str, asked: str, error_df: int
) -> str:
    """Return in one sentence what a taker of the plan goes without."""
    said = [
        *(_main_effects(leaning) or _overlap(mixed)),
        *_groups(mixed),
        *_bends(plan, carries),
        *_products(mixed, carries, asked),
        *_places(plan),
    ]
    if carries != asked and not said:
        said.append(f"the {model_name(asked)} model (squares and products lean on one another)")
    if error_df < FEW_ERROR_DF:
        said.append(f"a good yardstick for scatter ({_counted(error_df)} left for error)")
    if not said:
        return (
            f"It gives up nothing of the {model_name(asked)} model; its price is {len(plan)} runs."
        )
    return f"It gives up {'; '.join(said)}."


def _main_effects(leaning: Leaning | None) -> list[str]:
    if leaning is None or abs(leaning.size) < 0.005:
        return []
    main, other, size = leaning.main_effect, leaning.left_out, abs(leaning.size)
    if size > 1 - EDGE:
        return [f"clear main effects ({main} cannot be told from {other})"]
    return [f"wholly clear main effects (at worst {main} takes up {size:.2f} of {other})"]


def _overlap(mixed: Mixing) -> list[str]:
    touching = [o for o in mixed.partly if 1 in (o.one.order, o.other.order)]
    if not touching or abs(touching[0].size) < APART:
        return []
    worst = touching[0]
    return [f"sharp main effects ({worst.one} overlaps {abs(worst.size):.2f} with {worst.other})"]


def _groups(mixed: Mixing) -> list[str]:
    products = [g for g in mixed.groups if all(len(t.factors) > 1 for t in g)]
    if not products:
        return []
    first = " = ".join(map(str, products[0]))
    more = f" and {len(products) - 1} more such groups" if len(products) > 1 else ""
    return [f"telling products apart ({first}{more.replace('1 more such groups', '1 more')})"]


def _bends(plan: Plan, carries: str) -> list[str]:
    coded = _numeric(plan)
    if (
        carries == "second-order"
        or not coded.shape[1]
        or any(t.powers[0][1] > 1 for t in plan.terms.terms)
    ):
        return []
    if is_blind_to_bends(plan):
        return ["seeing whether anything bends between low and high"]
    inner = np.abs(coded) < 1 - EDGE
    together = bool((inner.all(axis=1) == inner.any(axis=1)).all())
    return ["telling which factor bends"] if together and coded.shape[1] > 1 else []


def _products(mixed: Mixing, carries: str, asked: str) -> list[str]:
    if carries != "first-order" or asked == "first-order":
        return []
    if mixed.groups and any(len(t.factors) > 1 for g in mixed.groups for t in g):
        return []
    return ["a model with all products of two (it names a few active ones at most)"]


def _places(plan: Plan) -> list[str]:
    coded = _numeric(plan)
    if not coded.shape[1]:
        return []
    if not stays_in_range(plan):
        far = float(np.abs(coded).max())
        return [f"staying between low and high (some runs stand {far:.2f} half ranges out)"]
    if coded.shape[1] > 1 and not (np.abs(coded) >= 1 - EDGE).all(axis=1).any():
        return ["runs at the corners"]
    return []


def _numeric(plan: Plan) -> NDArray[np.float64]:
    places = [j for j, f in enumerate(plan.settings.factors) if is_numeric(f)]
    return plan.settings.coded()[:, places]


def _counted(error_df: int) -> str:
    words = {0: "nothing is", 1: "1 degree of freedom is", 2: "2 degrees of freedom are"}
    return words.get(error_df, f"{error_df} degrees of freedom are")
