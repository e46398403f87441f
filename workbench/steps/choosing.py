"""Compare the plans that fit a trial: read what is assumed, weigh them, say why."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from workbench import files, plan
from workbench.define.outcomes import Measured
from workbench.errors import OptionError, PlanError
from workbench.plan.candidates import ALPHA, CHANCE
from workbench.steps.trials import check_is_trial

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from workbench.define.trial import Trial
    from workbench.plan.candidate_nouns import Aim, Comparison


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceWish:
    """What is asked of a comparison; None or empty where trial.toml or custom decides.

    `sd` holds texts such as "2.5" (of the only measured outcome) or "peel force=2.5".
    """

    sd: tuple[str, ...] = ()
    alpha: float = ALPHA
    chance: float = CHANCE
    runs_at_most: int | None = None
    seed: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choice:
    """The plans of a trial side by side."""

    trial: Trial
    comparison: Comparison


def compare_plans(folder: Path, wish: ChoiceWish | None = None) -> Choice:
    """Return the plans that fit the trial in a folder, one of them recommended; writes nothing.

    Raises
    ------
    WorkbenchError
        If the folder is no trial or an option cannot be.
    NothingFitsError
        If no plan fits the budget.
    """
    wish = wish or ChoiceWish()
    check_is_trial(folder)
    trial = files.read_trial(folder)
    return Choice(trial=trial, comparison=compared(trial, wish))


def compared(trial: Trial, wish: ChoiceWish) -> Comparison:
    """Return the plans of a trial side by side, scatter as stated in the wish or the trial."""
    seed = trial.seed if wish.seed is None else wish.seed
    if seed < 0:  # else every plan would be refused in turn, and none seem to fit
        raise OptionError(
            f"The seed is {seed}.",
            why="Random streams start from a whole number, 0 or above.",
            next_step="Give another seed.",
            place="--seed",
        )
    return plan.candidates(
        trial,
        seed=seed,
        aims=_aims(trial, wish.sd),
        alpha=_share("--alpha", wish.alpha),
        chance=_chance(wish),
        runs_at_most=wish.runs_at_most,
    )


def _aims(trial: Trial, said: Sequence[str]) -> tuple[Aim, ...]:
    """Return what has to be found, `said` standing instead of expected_sd."""
    stated = dict(_stated(trial, one) for one in said)
    if not stated:
        return plan.aims_of(trial)
    told = [
        replace(one, expected_sd=stated[one.name])
        if isinstance(one, Measured) and one.name in stated
        else one
        for one in trial.outcomes
    ]
    return plan.aims_of(replace(trial, outcomes=tuple(told)))


def _stated(trial: Trial, said: str) -> tuple[str, float]:
    measured = [one for one in trial.outcomes if isinstance(one, Measured)]
    name, equals, number = said.rpartition("=")
    if not equals:
        if len(measured) != 1:
            raise _sd_error(
                f"The sd {said} could be that of {len(measured)} measured outcomes.",
                why="Each outcome scatters in its own unit.",
                next_step="Name it: " + _examples(measured),
            )
        name, number = measured[0].name, said
    outcome = next((one for one in measured if one.name == name), None)
    if outcome is None:
        raise _sd_error(
            f"There is no measured outcome {name!r}.",
            why="Scatter as a standard deviation belongs to a measured outcome.",
            next_step=_examples(measured),
        )
    return name, _above(number, outcome)


def _above(number: str, outcome: Measured) -> float:
    floor = 1.0 if outcome.scale == "log" else 0.0
    try:
        value = float(number)
    except ValueError:
        value = floor
    if floor < value < float("inf"):
        return value
    wanted = "a ratio above 1, such as 1.3" if outcome.scale == "log" else "a number above 0"
    raise _sd_error(
        f"The sd of {outcome.name!r} is {number!r}.",
        why="It is the scatter between runs"
        + (", by ratio on the log scale." if outcome.scale == "log" else f" in {outcome.unit}."),
        next_step=f"Write {wanted}.",
    )


def _sd_error(wrong: str, *, why: str, next_step: str) -> OptionError:
    return OptionError(wrong, why=why, next_step=next_step, place="--sd")


def _examples(measured: Sequence[Measured]) -> str:
    if not measured:
        return "Add a measured outcome to trial.toml."
    return " or ".join(f'--sd "{one.name}=…"' for one in measured) + "."


def _share(option: str, value: float) -> float:
    if 0 < value < 1:
        return value
    raise OptionError(
        f"{option[2:].capitalize()} is {value:g}.",
        why="It is a chance, a part of one.",
        next_step="Write a number between 0 and 1, such as 0.05 for alpha or 0.8 for chance.",
        place=option,
    )


def _chance(wish: ChoiceWish) -> float:
    chance = _share("--chance", wish.chance)
    if chance > wish.alpha:
        return chance
    raise PlanError(
        f"A chance of {chance:g} was asked for at alpha {wish.alpha:g}.",
        why="With no effect at all the test already rings that often.",
        next_step="Ask for a chance above alpha, such as 0.8.",
        place="--chance",
    )
