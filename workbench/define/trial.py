"""The trial: what is asked, of which settings, against which requirements."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.factors import Role
from workbench.errors import DefinitionError

if TYPE_CHECKING:
    from workbench.define.constraints import Constraint
    from workbench.define.factors import Factor, Held
    from workbench.define.outcomes import Outcome

RESERVED = ("run", "block", "setup", "part", "reading", "status", "reason")


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What the trial may cost; None where nobody has said."""

    parts: int | None = None
    days: float | None = None
    parts_per_run: int = 1

    def __post_init__(self) -> None:
        for name, value in (("parts", self.parts), ("days", self.days)):
            if value is not None and value <= 0:
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
        for name, value in (("share", self.share), ("confidence", self.confidence)):
            if value is not None and not 0.5 <= value < 1:
                raise DefinitionError(
                    f"The {name} is {value:g}.",
                    why="It is a part of one, such as 0.95; at 1 no trial could promise it.",
                    next_step="Write a number from 0.5 to below 1.",
                )

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
    for name in names:
        if names.count(name) > 1:
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
    known = [one.name for one in trial.factors]
    for constraint in trial.constraints:
        for name in constraint.factors:
            if name not in known:
                raise _unknown("factor", name, known)


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
