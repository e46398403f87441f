"""Columns that are factors and outcomes to nouns and numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical, Component, Continuous, Held, Role, Stepped
from workbench.define.outcomes import Counted, Graded, Measured, PassFail, Requirement
from workbench.define.units import normal_unit
from workbench.errors import FileError, OptionError, WorkbenchError
from workbench.files.number_columns import number_column
from workbench.files.plain_numbers import PlainNumbers
from workbench.files.reading_columns import reading_column
from workbench.run.receipt import ReceiptLine
from workbench.steps.adopt_censoring import with_cut_off
from workbench.steps.adopt_facts import are_counts, counts_things, values_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.define.factors import Factor, Numeric
    from workbench.define.outcomes import Outcome
    from workbench.files.raw_table import RawTable
    from workbench.files.reading_columns import CellReading
    from workbench.steps.adopt_facts import Facts
    from workbench.steps.adopt_options import FactorWish, OutcomeWish

FEW_LEVELS = 3
PASSING = ("pass", "passed", "ok", "good", "yes", "true")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FactorColumn:
    """A factor, its settings (n,) row by row (NaN where not recorded), what was assumed."""

    factor: Factor
    values: NDArray[np.float64]
    lines: tuple[ReceiptLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OutcomeColumn:
    """An outcome, its readings row by row, what was assumed."""

    outcome: Outcome
    readings: tuple[CellReading | None, ...]
    lines: tuple[ReceiptLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What a planned file says of one factor: its numbers, or its levels."""

    numbers: tuple[float, ...] = ()
    levels: tuple[str, ...] = ()


def factor_column(
    table: RawTable, facts: Facts, wish: FactorWish, *, planned: Planned | None
) -> FactorColumn:
    """Return the factor in a column.

    Low and high are those stated, or else the ends of the planned settings, or else those of the
    table.

    Raises
    ------
    FileError, OptionError, DefinitionError
        If a cell is no setting, or what is stated of the factor cannot be.
    """
    place = f"--factor {wish.name}"
    if wish.role == Role.HELD:
        raise OptionError(
            f"{wish.name!r} is to be held but takes {facts.n_distinct} values.",
            why="A held setting is the same in every run.",
            next_step="Give it another role, or leave the option away.",
            place=place,
        )
    if is_categorical(facts, wish):
        return _categorical(table, facts, wish, planned=planned)
    return _numeric(table, facts, wish, planned=planned)


def is_categorical(facts: Facts, wish: FactorWish) -> bool:
    """Whether a factor's levels are names: so said, words, or bare numbers 1 to m."""
    if wish.kind:
        return wish.kind == "categorical"
    is_scaled = bool(wish.unit) or any(
        one is not None for one in (wish.low, wish.high, wish.setting_sd)
    )
    return facts.number_share == 0 or (counts_things(facts) and not is_scaled)


def outcome_column(
    table: RawTable, facts: Facts, wish: OutcomeWish, *, settings: NDArray[np.int64]
) -> OutcomeColumn:
    """Return the outcome in a column with its readings; `settings` (n,) numbers the settings.

    Raises
    ------
    FileError, OptionError, DefinitionError
        If a cell is no reading, or what is stated of the outcome cannot be.
    """
    place = f"--outcome {wish.name}"
    try:
        outcome, lines = _outcome(table, facts, wish)
    except WorkbenchError as met:
        raise met.at(place) from None
    column = reading_column(table, facts.heading, outcome, written_in=facts.unit)
    cut_off = with_cut_off(table, wish, column.readings, settings=settings)
    if all(one is None for one in cut_off.readings):
        raise FileError(
            "The column holds no reading.",
            why="There is nothing to learn from it.",
            next_step="Name another column as the outcome.",
            place=table.column_place(facts.heading),
        )
    return OutcomeColumn(
        outcome=outcome,
        readings=cut_off.readings,
        lines=(*lines, *column.lines, *cut_off.lines),
    )


def held_setting(facts: Facts) -> Held:
    """Return the setting of a column that holds one value."""
    return Held(name=facts.name, value=next(t for t in facts.texts if t), unit=facts.unit)


def _categorical(
    table: RawTable, facts: Facts, wish: FactorWish, *, planned: Planned | None
) -> FactorColumn:
    for key in ("unit", "low", "high", "setting_sd"):
        if getattr(wish, key) not in ("", None):
            raise OptionError(
                f"{key} is stated for {wish.name!r}, whose levels are names.",
                why="Only a numeric factor has a scale.",
                next_step=f"Leave {key} away, or state kind=continuous.",
                place=f"--factor {wish.name}",
            )
    seen = (*(planned.levels if planned else ()), *(text for text in facts.texts if text))
    levels = _levels(facts, seen)
    factor = Categorical(
        name=facts.name, levels=levels, role=Role(wish.role or Role.CONTROL), slow=wish.slow
    )
    place = {text: float(i) for i, text in enumerate(levels)}
    values = [place[text] if text else np.nan for text in facts.texts]
    is_sure = bool(wish.kind) or facts.number_share == 0
    otherwise = f'; --factor "{facts.name}:kind=continuous" decides otherwise'
    line = ReceiptLine(
        where=table.column_place(facts.heading),
        met=f"{len(levels)} levels: {_listed(levels)}",
        understood="a categorical factor" + ("" if is_sure else otherwise),
        sure=is_sure,
    )
    return FactorColumn(
        factor=factor,
        values=np.array(values),
        lines=(line, *_unknown_settings(table, facts, np.array(values))),
    )


def _levels(facts: Facts, seen: tuple[str, ...]) -> tuple[str, ...]:
    levels = tuple(dict.fromkeys(seen))
    if facts.numbers is None:
        return levels
    number = dict(zip(facts.texts, facts.numbers.tolist(), strict=True))
    return tuple(sorted(levels, key=lambda text: number.get(text, math.inf)))


def _numeric(
    table: RawTable, facts: Facts, wish: FactorWish, *, planned: Planned | None
) -> FactorColumn:
    unit = normal_unit(wish.unit) or facts.unit
    try:
        column = number_column(table, facts.heading, unit=unit, written_in=facts.unit)
    except FileError as met:
        raise FileError(
            met.wrong,
            why=met.why,
            next_step=f"{met.next_step} If the column holds names of levels, say so: "
            f'--factor "{facts.name}:kind=categorical".',
            place=met.place,
        ) from None
    _check_no_marks(table, facts, column.numbers)
    values = values_of(column.numbers)
    known = np.array(planned.numbers) if planned and planned.numbers else values
    factor = _numeric_factor(facts, wish, unit=column.unit, known=known)
    lines = [line for line in column.lines if line.met != "nothing, or a sign for nothing"]
    return FactorColumn(
        factor=factor,
        values=values,
        lines=(
            *lines,
            _numeric_line(table, facts, factor, wish=wish, from_plan=planned is not None),
            *_unknown_settings(table, facts, values),
        ),
    )


def _numeric_factor(
    facts: Facts, wish: FactorWish, *, unit: str, known: NDArray[np.float64]
) -> Numeric:
    role = Role(wish.role or Role.CONTROL)
    try:
        if wish.kind == "stepped":
            steps = tuple(np.unique(known[np.isfinite(known)]).tolist())
            return Stepped(
                name=facts.name,
                steps=steps,
                unit=unit,
                setting_sd=wish.setting_sd,
                role=role,
                slow=wish.slow,
            )
        low = float(np.nanmin(known)) if wish.low is None else wish.low
        high = float(np.nanmax(known)) if wish.high is None else wish.high
        if wish.kind == "component":
            return _component(facts, wish, unit=unit, ends=(low, high))
        return Continuous(
            name=facts.name,
            low=low,
            high=high,
            unit=unit,
            setting_sd=wish.setting_sd,
            role=role,
            slow=wish.slow,
        )
    except WorkbenchError as met:
        raise met.at(f"--factor {wish.name}") from None


def _component(
    facts: Facts, wish: FactorWish, *, unit: str, ends: tuple[float, float]
) -> Component:
    # Shares that are parts of a hundred say so only by their size.
    per_cent = unit == "%" or (not unit and ends[1] > 1)
    return Component(
        name=facts.name,
        low=ends[0],
        high=ends[1],
        unit="%" if per_cent else unit,
        setting_sd=wish.setting_sd,
    )


def _numeric_line(
    table: RawTable, facts: Facts, factor: Numeric, *, wish: FactorWish, from_plan: bool
) -> ReceiptLine:
    few = facts.n_distinct <= FEW_LEVELS and not wish.kind
    ends = "stated" if wish.low is not None and wish.high is not None else "found"
    source = "of the plan" if from_plan else "of the table" if ends == "found" else ends
    unit = factor.unit or "unit not stated"
    decides = f'; --factor "{facts.name}:kind=categorical" decides otherwise' if few else ""
    kind = {Stepped: "stepped", Component: "component"}.get(type(factor), "continuous")
    return ReceiptLine(
        where=table.column_place(facts.heading),
        met=f"{facts.n_distinct} different numbers",
        understood=f"a {kind} factor from {factor.low:g} to {factor.high:g} ({unit}; ends {source}"
        f"){decides}",
        sure=not few,
    )


def _check_no_marks(table: RawTable, facts: Facts, numbers: Sequence[object]) -> None:
    if isinstance(numbers, PlainNumbers):
        return
    for row, one in enumerate(numbers):
        if getattr(one, "mark", 0):
            raise FileError(
                f"{facts.texts[row]!r} is no setting.",
                why="A setting is one number, not a limit.",
                next_step="Write what was set, or leave the cell empty.",
                place=table.place(row, facts.heading),
            )


def _unknown_settings(
    table: RawTable, facts: Facts, values: NDArray[np.float64]
) -> tuple[ReceiptLine, ...]:
    unknown = [str(table.rows[int(i)].number) for i in np.flatnonzero(~np.isfinite(values))]
    if not unknown:
        return ()
    return (
        ReceiptLine(
            where=f"{table.source}, row {', '.join(unknown)}, column {facts.heading!r}",
            met="no setting",
            understood="not recorded; the run does not count",
            sure=False,
        ),
    )


def _outcome(
    table: RawTable, facts: Facts, wish: OutcomeWish
) -> tuple[Outcome, tuple[ReceiptLine, ...]]:
    match wish.kind or "measured":
        case "pass-fail":
            return _pass_fail(facts, wish), ()
        case "graded":
            grades = wish.grades or tuple(sorted({text for text in facts.texts if text}))
            line = _line(
                table,
                facts,
                met=f"{len(grades)} grades",
                understood=f"in the order {_listed(grades)}",
            )
            return (
                Graded(name=facts.name, grades=grades, requirement=_requirement(wish)),
                () if wish.grades else (line,),
            )
        case "counted":
            unit = wish.unit or facts.unit
            return Counted(
                name=facts.name, unit=unit, out_of=wish.out_of, requirement=_requirement(wish)
            ), ()
        case _:
            return _measured(table, facts, wish)


def _measured(
    table: RawTable, facts: Facts, wish: OutcomeWish
) -> tuple[Outcome, tuple[ReceiptLine, ...]]:
    if facts.number_share == 0 and not wish.kind:
        raise OptionError(
            f"The column holds words such as {next(t for t in facts.texts if t)!r}, no numbers.",
            why="It may be pass or fail, or a grade.",
            next_step=f'Say which: --outcome "{facts.name}:kind=pass-fail,passes=…" or '
            "kind=graded,grades=low|middle|high.",
        )
    unit = normal_unit(wish.unit) or facts.unit
    unit = unit or number_column(table, facts.heading, unit="").unit
    outcome = Measured(
        name=facts.name,
        unit=unit,
        requirement=_requirement(wish),
        scale=wish.scale or "as read",
    )
    maybe = not wish.kind and not unit and are_counts(facts)
    otherwise = f'; if they are counts: --outcome "{facts.name}:kind=counted,out_of=…"'
    line = _line(
        table,
        facts,
        met=f"{facts.n_filled} readings" + (", all whole numbers" if maybe else ""),
        understood=f"a measured outcome, unit {unit or 'not stated'}" + (otherwise * maybe),
        sure=not maybe,
    )
    return outcome, (line,)


def _line(
    table: RawTable, facts: Facts, *, met: str, understood: str, sure: bool = False
) -> ReceiptLine:
    return ReceiptLine(
        where=table.column_place(facts.heading), met=met, understood=understood, sure=sure
    )


def _pass_fail(facts: Facts, wish: OutcomeWish) -> PassFail:
    words = sorted({text.casefold(): text for text in facts.texts if text}.values())
    passes = wish.passes or next((w for w in words if w.casefold() in PASSING), "")
    others = [word for word in words if word.casefold() != passes.casefold()]
    if not passes or len(others) > 1:
        raise OptionError(
            f"The column holds {_listed(words)}.",
            why="Pass or fail has two words, and one of them is passing.",
            next_step="State the passing word: kind=pass-fail,passes=….",
        )
    return PassFail(name=facts.name, passes=passes, fails=others[0] if others else "fail")


def _requirement(wish: OutcomeWish) -> Requirement | None:
    low, high = wish.at_least, wish.at_most
    if wish.target is not None and wish.tolerance is not None:
        low, high = wish.target - wish.tolerance, wish.target + wish.tolerance
    if wish.target is not None and low is None and high is None:
        raise OptionError(
            f"The target is {wish.target:g}, without limits.",
            why="Every reading misses a target by a little; limits say how much may be.",
            next_step="Add tolerance=…, or at_least=… and at_most=….",
        )
    if low is None and high is None:
        return None
    return Requirement(low=low, high=high, target=wish.target)


def _listed(words: tuple[str, ...] | list[str]) -> str:
    return ", ".join(words[:8]) + (" …" if len(words) > 8 else "")
