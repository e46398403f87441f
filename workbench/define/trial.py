"""The trial: what is asked, of which settings, against which requirements."""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.algebra import parse_terms
from workbench.define.constraints import LinearLimit
from workbench.define.factors import Categorical, Role, components
from workbench.errors import DefinitionError

if TYPE_CHECKING:
    from workbench.define.constraints import Constraint
    from workbench.define.factors import Factor, Held
    from workbench.define.outcomes import Outcome

RATES = (
    "parts",
    "days",
    "runs_per_day",
    "resets_per_day",
    "cost_per_part",
    "cost_per_reset",
)
RESERVED = ("run", "block", "setup", "part", "reading", "status", "reason")


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What the trial may cost; None where nobody has said.

    `cost_per_part` and `cost_per_reset` (of slow settings) are in any one currency.
    """

    parts: int | None = None
    days: float | None = None
    parts_per_run: int = 1
    runs_per_day: float | None = None
    resets_per_day: float | None = None
    cost_per_part: float | None = None
    cost_per_reset: float | None = None

    def __post_init__(self) -> None:
        for name in RATES:
            value = getattr(self, name)
            if value is not None and not 0 < value < math.inf:
                raise _not_positive(name, value)
        if self.parts_per_run < 1:
            raise _not_positive("parts_per_run", self.parts_per_run)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """A question, the factors that may answer it, and the outcomes that judge it.

    `share` is the share of new parts that must meet every requirement and `confidence` how sure
    the team wants to be of that; both are stated by the user and None until then. `model` is the
    model asked for (a preset or a list of terms), `seed` starts every random choice and is
    written down with each answer.
    """

    title: str
    question: str
    factors: tuple[Factor, ...]
    outcomes: tuple[Outcome, ...]
    constraints: tuple[Constraint, ...] = ()
    held: tuple[Held, ...] = ()
    budget: Budget = Budget()
    share: float | None = None
    confidence: float | None = None
    model: str = ""
    stopping_rule: str = ""
    hazards: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    date: str = ""
    invented: str = ""
    seed: int = 1

    def __post_init__(self) -> None:
        if not self.factors:
            raise DefinitionError(
                "The trial has no factors.",
                why="Without something to vary there is nothing to learn.",
                next_step="Add at least one factor.",
            )
        if not self.outcomes:
            raise DefinitionError(
                "The trial has no outcomes.",
                why="Without something to read there is nothing to learn from.",
                next_step="Add at least one outcome.",
            )
        _check_names(self)
        _check_mixture(self)
        for constraint in self.constraints:
            _check_constraint(self, constraint)
        for name, value in (("share", self.share), ("confidence", self.confidence)):
            if value is not None and not 0.5 <= value < 1:
                raise DefinitionError(
                    f"The {name} is {value:g}.",
                    why="It is a part of one, such as 0.95; at 1 no trial could promise it.",
                    next_step="Write a number from 0.5 to below 1.",
                )
        if self.seed < 0:
            raise DefinitionError(
                f"The seed is {self.seed}.",
                why="Random numbers start from a whole number that is not negative.",
                next_step="Write any whole number from 0 up.",
            )
        if self.model:
            parse_terms(self.model, self.factors)

    def factor(self, name: str) -> Factor:
        """Return the factor of that name.

        Raises
        ------
        DefinitionError
            If there is none.
        """
        for one in self.factors:
            if one.name == name:
                return one
        raise _unknown("factor", name, [one.name for one in self.factors])

    def outcome(self, name: str) -> Outcome:
        """Return the outcome of that name.

        Raises
        ------
        DefinitionError
            If there is none.
        """
        for one in self.outcomes:
            if one.name == name:
                return one
        raise _unknown("outcome", name, [one.name for one in self.outcomes])

    @property
    def planned_factors(self) -> tuple[Factor, ...]:
        """The factors that are set on purpose (control and noise): those that a plan varies."""
        return tuple(f for f in self.factors if f.role in (Role.CONTROL, Role.NOISE))


def _check_names(trial: Trial) -> None:
    names = [one.name for one in (*trial.factors, *trial.held, *trial.outcomes)]
    # Letters with accents have two spellings in Unicode that no reader can tell apart.
    looks = [unicodedata.normalize("NFC", name) for name in names]
    for name, look in zip(names, looks, strict=True):
        if looks.count(look) > 1:
            raise DefinitionError(
                f"The name {name!r} stands twice.",
                why="Factors, held settings and outcomes share one table, each its own column.",
                next_step="Give one of them another name.",
            )
        if name in RESERVED:
            raise DefinitionError(
                f"The name {name!r} is used for a column of every run table.",
                why="A factor or outcome of that name could not be told from it.",
                next_step="Give it a longer name.",
            )


def _check_mixture(trial: Trial) -> None:
    shares = components(trial.factors)
    if not shares:
        return
    total = shares[0].total
    least, most = sum(one.low for one in shares), sum(one.high for one in shares)
    if len(shares) < 2 or len({one.total for one in shares}) > 1 or not least <= total <= most:
        raise DefinitionError(
            f"The shares {', '.join(one.name for one in shares)} can add up to {least:g} to "
            f"{most:g}.",
            why=f"The components of a mixture add up to {total:g}, all in one unit.",
            next_step="Name every component, each with the least and the most that is tried.",
        )


def _check_constraint(trial: Trial, constraint: Constraint) -> None:
    if isinstance(constraint, LinearLimit):
        ranged: tuple[str, ...] = constraint.factors
        levels: tuple[tuple[str, str], ...] = ()
    else:
        ranged = tuple(name for name, _, _ in constraint.where)
        levels = constraint.levels
    for name in ranged:
        if isinstance(trial.factor(name), Categorical):
            raise DefinitionError(
                f"A constraint holds the levels of {name!r} against numbers.",
                why="Its levels are names.",
                next_step=f'Forbid a level: forbidden = {{"{name}" = "the level"}}.',
            )
    for name, level in levels:
        factor = trial.factor(name)
        if not isinstance(factor, Categorical):
            raise DefinitionError(
                f"A constraint forbids the level {level!r} of {name!r}, which is numeric.",
                why="Numeric factors are forbidden over a range.",
                next_step=f'Write both ends: forbidden = {{"{name}" = [low, high]}}.',
            )
        factor.index(level)


def _unknown(kind: str, name: str, known: list[str]) -> DefinitionError:
    return DefinitionError(
        f"There is no {kind} {name!r}.",
        why=f"Only a {kind} of this trial can be meant.",
        next_step=f"Use one of: {', '.join(known)}.",
    )


def _not_positive(name: str, value: float) -> DefinitionError:
    return DefinitionError(
        f"The budget states {value:g} {name}.",
        why="A trial needs at least something to run on.",
        next_step="Write a number above zero, or leave it out.",
    )
