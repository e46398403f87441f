"""The made-up process behind a demo trial, as written in its process.toml."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any, TypedDict

from workbench.decide.made_up import MadeUpProcess, Wandering
from workbench.decide.made_up_surfaces import (
    AtLevel,
    Breaking,
    GradeSurface,
    PassSurface,
    Surface,
)
from workbench.define.factors import Categorical
from workbench.define.outcomes import Graded, Measured, PassFail
from workbench.define.terms import term
from workbench.errors import FileError

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.decide.made_up_surfaces import Truth
    from workbench.define.terms import Term
    from workbench.define.trial import Trial

NAME = "process.toml"


class _Where(TypedDict):
    """What every kind of surface has."""

    coefficients: tuple[tuple[Term, float], ...]
    at_levels: tuple[AtLevel, ...]
    run_sd: float
    setup_sd: float
    lot_sd: float


def read_process(folder: Path, trial: Trial) -> MadeUpProcess:
    """Return the made-up process behind a demo trial, from its process.toml.

    Raises
    ------
    FileError
        If the folder has no process.toml, or it names a counted outcome or a level of a factor
        that has none.
    DefinitionError
        If it names a factor, level or outcome that the trial has not.
    """
    path = folder / NAME
    if not path.is_file():
        raise FileError(
            f"{path.name} is not in {folder.name}.",
            why="The truth of a demo trial is written there.",
            next_step="Copy the demo again.",
        )
    written = tomllib.loads(path.read_text(encoding="utf-8"))
    return MadeUpProcess(
        trial=trial,
        surfaces=tuple(_surface(one, trial) for one in written["surface"]),
        wandering=tuple(_wandering(one, trial) for one in written.get("observed", [])),
    )


def _wandering(written: dict[str, Any], trial: Trial) -> Wandering:
    return Wandering(
        factor=trial.factor(written["factor"]).name,
        centre=float(written["centre"]),
        sd=float(written["sd"]),
        carry=float(written["carry"]),
    )


def _surface(written: dict[str, Any], trial: Trial) -> Truth:
    outcome = trial.outcome(written["outcome"])
    where = _Where(
        coefficients=_coefficients(written["coefficients"], trial),
        at_levels=tuple(_at_level(one, trial) for one in written.get("at_level", [])),
        run_sd=float(written["run_sd"]),
        setup_sd=float(written.get("setup_sd", 0.0)),
        lot_sd=float(written.get("lot_sd", 0.0)),
    )
    match outcome:
        case PassFail():
            return PassSurface(outcome=outcome, **where)
        case Graded():
            thresholds = tuple(float(one) for one in written["thresholds"])
            return GradeSurface(outcome=outcome, thresholds=thresholds, **where)
        case Measured():
            breaks = _breaking(written.get("breaks_first"))
            part_sd = float(written["part_sd"])
            return Surface(outcome=outcome, part_sd=part_sd, breaks=breaks, **where)
        case _:
            raise FileError(
                f"{outcome.name!r} is a counted outcome.",
                why="A made-up process makes measured, pass/fail and graded outcomes.",
                next_step="Leave it out of process.toml.",
            )


def _breaking(written: dict[str, Any] | None) -> Breaking | None:
    if written is None:
        return None
    return Breaking(
        what=str(written["what"]), mean=float(written["mean"]), sd=float(written["sd"])
    )


def _at_level(written: dict[str, Any], trial: Trial) -> AtLevel:
    factor = trial.factor(written["factor"])
    if not isinstance(factor, Categorical):
        raise FileError(
            f"{factor.name!r} has no levels.",
            why="What is added at a level needs a category.",
            next_step="Write a coefficient of the factor instead.",
        )
    return AtLevel(
        factor=factor.name,
        level=factor.index(written["level"]),
        coefficients=_coefficients(written["coefficients"], trial),
    )


def _coefficients(written: list[list[Any]], trial: Trial) -> tuple[tuple[Term, float], ...]:
    return tuple(
        (term(*((name, 1) for name in names), factors=trial.factors), float(size))
        for size, *names in written
    )
