"""The structure of a record's randomisation: which runs share a setup or a lot, and of what.

A block is a lot, shift or day; a setup is one reset of the slow factors. Runs of one setup share
its error, so terms that change only between setups are judged by the scatter between setups.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from workbench.errors import FitError
from workbench.fit.matrix import fit_matrix
from workbench.fit.reset_groups import level_codes, noticed_groups, stretches
from workbench.fit.run_means import in_words
from workbench.numerics.least_squares import factored
from workbench.run.record import NOT_RESET, Status

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.terms import Terms
    from workbench.fit.run_means import RunMeans
    from workbench.run.record import Record

AS_RUN, AS_PLANNED, INDEPENDENT = "as run", "as planned", "independent"
IN_GROUPS = "in groups"
STRUCTURES = (AS_RUN, AS_PLANNED, IN_GROUPS, INDEPENDENT)
MOST_FIXED = 5  # lots: up to so many say too little of the scatter among lots


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RandomTerm:
    """One level of the structure: `levels` (n,) number what each row shares with others.

    `what` is "block", "setup" or "run" (several parts a run, in differing numbers); `name` is
    for people, such as "humidity setup".
    """

    name: str
    what: Literal["block", "setup", "run"]
    levels: NDArray[np.int64]

    def __post_init__(self) -> None:
        self.levels.setflags(write=False)

    @property
    def n_levels(self) -> int:
        """Number of levels."""
        return int(np.unique(self.levels).size)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strata:
    """The random terms of an analysis, outermost first, for the runs (n,) of a fit.

    `fixed_blocks` says whether blocks stand as columns instead. `noticed` are factors that were
    reset only between groups of consecutive runs although nobody had said so. `notes` say in
    sentences which analysis holds and what would change it.
    """

    random: tuple[RandomTerm, ...]
    fixed_blocks: bool
    noticed: tuple[str, ...]
    notes: tuple[str, ...]


def strata(record: Record, data: RunMeans, terms: Terms, *, structure: str = AS_RUN) -> Strata:
    """Return which runs share a setup or a lot.

    `structure` is "as run" (as the record shows it), "as planned" (as the plan says, whatever was
    run), "in groups" (a factor that nobody called slow, but that changed only between groups of
    consecutive runs, was left alone within them) or "independent" (every run was set afresh and
    no lot differs at random).

    Raises
    ------
    FitError
        If `structure` is none of these.
    """
    _check(structure)
    rows = _rows_of(record, data)
    has_blocks = len(data.block_labels) > 1
    parts = _parts(data, terms)
    if structure == INDEPENDENT:
        notes = _overruled(record, rows)
        return Strata(random=parts, fixed_blocks=has_blocks, noticed=(), notes=notes)
    setups = _setups(record, rows, structure)
    blocks = _blocks(record, data, terms)
    random = _merged(blocks.random, setups.random)
    shared = tuple(one for one in random if one.n_levels < rows.size)
    return Strata(
        random=(*shared, *parts),
        fixed_blocks=has_blocks and not blocks.random,
        noticed=setups.noticed,
        notes=(*blocks.notes, *setups.notes),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SharedSetups:
    """The setup (n,) of each run, numbered from 0, and the factors that it sets.

    There are no such factors where every run is its own setup. `notes` say where the setups come
    from.
    """

    levels: NDArray[np.int64]
    factors: tuple[str, ...]
    notes: tuple[str, ...]


def shared_setups(record: Record, rows: NDArray[np.intp], structure: str) -> SharedSetups:
    """Return which runs, at `rows` (n,) of the record, share a setup (`structure` as in `strata`).

    Raises
    ------
    FitError
        If `structure` is none of those.
    """
    _check(structure)
    alone = np.arange(rows.size, dtype=np.int64)
    if structure == INDEPENDENT:
        return SharedSetups(levels=alone, factors=(), notes=_overruled(record, rows))
    found = _setups(record, rows, structure)
    if not found.random:
        return SharedSetups(levels=alone, factors=(), notes=found.notes)
    levels = found.random[0].levels
    slow = tuple(one.name for one in record.trial.factors if one.slow)
    named = slow or found.noticed or _held_within(record, rows, levels)
    return SharedSetups(levels=levels, factors=named, notes=found.notes)


def _parts(data: RunMeans, terms: Terms) -> tuple[RandomTerm, ...]:
    """Return the runs as a level of their own, where they have parts in differing numbers."""
    if data.n_parts is None or np.ptp(data.n_parts) == 0:
        return ()
    whole = fit_matrix(terms, data.settings, (data.block, data.block_labels))
    if factored(whole.X).error_df == 0:
        return ()
    return (RandomTerm(name="run", what="run", levels=np.arange(data.run.size)),)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Found:
    random: tuple[RandomTerm, ...] = ()
    noticed: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def _check(structure: str) -> None:
    if structure not in STRUCTURES:
        raise FitError(
            f"The structure of the runs is given as {structure!r}.",
            why="Which runs share a setup decides by which scatter a term is judged.",
            next_step=f"Use one of: {', '.join(STRUCTURES)}.",
        )


def _rows_of(record: Record, data: RunMeans) -> NDArray[np.intp]:
    place = {int(number): i for i, number in enumerate(record.run)}
    return np.array([place[int(number)] for number in data.run], dtype=np.intp)


def _setups(record: Record, rows: NDArray[np.intp], structure: str) -> _Found:
    planned = structure == AS_PLANNED and record.plan is not None
    numbers = _planned_setups(record) if planned else np.array(record.setup)
    slow = tuple(one.name for one in record.trial.factors if one.slow)
    if np.unique(numbers[rows]).size < rows.size:
        return _numbered(record, rows, (numbers, slow))
    if structure == AS_PLANNED:
        return _Found()
    if slow:
        return _in_stretches(record, rows, slow)
    return _noticed(record, rows, structure)


def _planned_setups(record: Record) -> NDArray[np.int64]:
    numbers = np.array(record.setup)
    if record.plan is not None:
        for i, run in enumerate(record.run):
            if run <= len(record.plan):
                numbers[i] = record.plan.setup[run - 1]
    return numbers


def _numbered(
    record: Record,
    rows: NDArray[np.intp],
    known: tuple[NDArray[np.int64], tuple[str, ...]],
) -> _Found:
    """Return the setups by their numbers, one with several slow settings as several."""
    numbers, slow = known
    codes = level_codes(record)
    keys = np.column_stack([numbers, *(codes[name] for name in slow)])
    levels = _renumbered(keys)[rows]
    held = _held_within(record, rows, levels)
    named = slow or held
    before, after = np.unique(numbers[rows]).size, np.unique(levels).size
    notes = []
    if after > before:
        notes.append(
            f"Setup numbers come back with another setting of {' and '.join(slow)}: each is "
            f"counted as a setup of its own, {after} in all."
        )
    if not slow and held:
        notes.append(_undeclared(held, after, rows.size))
    return _Found(random=(_setup_term(named, levels),), notes=tuple(notes))


def _in_stretches(record: Record, rows: NDArray[np.intp], slow: tuple[str, ...]) -> _Found:
    codes = level_codes(record)
    groups = stretches(np.column_stack([codes[name] for name in slow]), _made(record))[rows]
    if np.unique(groups).size == rows.size:
        return _Found()
    note = (
        f"No setups were numbered; {' and '.join(slow)} is slow, so consecutive runs at the same "
        f"setting are taken as one setup, {np.unique(groups).size} in all. If it was reset for "
        'every run, number the setups so, or analyse with structure = "independent".'
    )
    return _Found(random=(_setup_term(slow, groups),), notes=(note,))


def _noticed(record: Record, rows: NDArray[np.intp], structure: str) -> _Found:
    """Return groups that the order of the runs shows, as setups only where somebody says so.

    An order alone proves nothing: a table may be sorted. So it is said, and asked.
    """
    found = noticed_groups(record, _made(record))
    if found is None:
        return _Found()
    levels = found.groups[rows]
    count = np.unique(levels).size
    if count == rows.size:
        return _Found()
    names = " and ".join(found.factors)
    start = (
        f"{names} changed only between {count} groups of consecutive runs, though nobody said "
        "that it is slow. "
    )
    if structure != IN_GROUPS and not _said_not_reset(record, found.factors):
        note = (
            "Was it left alone within a group? This analysis takes every run as set afresh: if it "
            f"was left alone, what {names} does looks surer here than it is. Then analyse with "
            'structure = "in groups", or number the setups.'
        )
        return _Found(noticed=found.factors, notes=(start + note,))
    note = (
        "It was left alone within a group: each group is one setup, and what it does is judged "
        "by the scatter between groups (two setups in a row at one setting cannot be told from "
        "one: number the setups). If it was set afresh for every run, analyse with structure = "
        '"independent".'
    )
    return _Found(
        random=(_setup_term(found.factors, levels),),
        noticed=found.factors,
        notes=(start + note,),
    )


def _said_not_reset(record: Record, factors: tuple[str, ...]) -> bool:
    places = [record.as_run.names.index(name) for name in factors]
    return bool((record.resets[:, places] == NOT_RESET).any())


def _blocks(record: Record, data: RunMeans, terms: Terms) -> _Found:
    count = len(data.block_labels)
    if count <= MOST_FIXED or _confounded(data, terms):
        return _Found()
    name = record.blocked_by or "block"
    note = (
        f"{count} levels of {name} are taken as a sample of those to come: their scatter is "
        "estimated, and a new part comes from a new one."
    )
    return _Found(
        random=(RandomTerm(name=name, what="block", levels=data.block.copy()),), notes=(note,)
    )


def _confounded(data: RunMeans, terms: Terms) -> bool:
    whole = fit_matrix(terms, data.settings, (data.block, data.block_labels))
    model = whole.X[:, : whole.X.shape[1] - whole.n_block_columns]
    return factored(whole.X).rank < factored(model).rank + whole.n_block_columns


def _merged(
    blocks: tuple[RandomTerm, ...], setups: tuple[RandomTerm, ...]
) -> tuple[RandomTerm, ...]:
    if not blocks or not setups:
        return (*blocks, *setups)
    (block,), (setup,) = blocks, setups
    levels = _renumbered(np.column_stack([block.levels, setup.levels]))
    if np.unique(levels).size == block.n_levels:
        name = f"{block.name} with its {setup.name}"
        return (RandomTerm(name=name, what="block", levels=block.levels.copy()),)
    return (block, RandomTerm(name=setup.name, what="setup", levels=levels))


def _setup_term(factors: tuple[str, ...], levels: NDArray[np.int64]) -> RandomTerm:
    named = " and ".join(factors)
    name = f"{named} setup" if 0 < len(factors) <= 3 else "setup"
    return RandomTerm(name=name, what="setup", levels=_renumbered(levels[:, None]))


def _held_within(
    record: Record, rows: NDArray[np.intp], levels: NDArray[np.int64]
) -> tuple[str, ...]:
    """Return the factors that change, but never within a setup."""
    found = []
    for name, codes in level_codes(record).items():
        own = codes[rows]
        pairs = np.unique(np.column_stack([levels, own]), axis=0)
        if np.unique(own).size > 1 and pairs.shape[0] == np.unique(levels).size:
            found.append(name)
    return tuple(found)


def _undeclared(held: tuple[str, ...], count: int, n_runs: int) -> str:
    names = " and ".join(held)
    return (
        f"The {n_runs} runs were made in {count} setups, and {names} never changed within one: "
        f"what {names} does is judged by the scatter between setups."
    )


def _overruled(record: Record, rows: NDArray[np.intp]) -> tuple[str, ...]:
    if np.unique(record.setup[rows]).size == rows.size:
        return ()
    shared, count = np.unique(record.setup[rows], return_counts=True)
    first = record.run[rows][record.setup[rows] == shared[count > 1][0]]
    return (
        (
            "Analysed as if every run had been set afresh, although the record says that runs "
            f"shared setups (such as {in_words(first)}): p-values of slow factors are too small "
            "if it is right."
        ),
    )


def _made(record: Record) -> NDArray[np.bool_]:
    return np.array([one is not Status.MISSING for one in record.status], dtype=bool)


def _renumbered(keys: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return numbers (n,) from 0 for the distinct rows of `keys` (n, k)."""
    found = np.unique(keys, axis=0, return_inverse=True)[1]
    return np.asarray(found.reshape(-1), dtype=np.int64)
