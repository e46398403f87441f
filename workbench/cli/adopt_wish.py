"""What the options of `adopt` say about the columns."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.cli.read_wish import read_options
from workbench.steps.adopt_options import (
    AdoptOptions,
    parse_exclusion,
    parse_factor,
    parse_outcome,
)
from workbench.steps.people import who_is_it

if TYPE_CHECKING:
    from argparse import Namespace


def adopt_options(chosen: Namespace) -> AdoptOptions:
    """Return what was said about the columns.

    Raises
    ------
    OptionError
        If a wish is not understood.
    """
    return AdoptOptions(
        outcomes=tuple(parse_outcome(text) for text in chosen.outcome),
        factors=tuple(parse_factor(text) for text in chosen.factor),
        run=chosen.run or "",
        blocks=tuple(chosen.block),
        setup=chosen.setup or "",
        part=chosen.part or "",
        reading=chosen.reading or "",
        ignore=tuple(chosen.ignore),
        exclude=tuple(parse_exclusion(text) for text in chosen.exclude),
        planned=chosen.planned,
        columns=chosen.columns,
        terms=chosen.terms or "",
        read=read_options(chosen),
        repeats=chosen.repeats or "",
        title=chosen.title or "",
        who=who_is_it(chosen.who),
    )
