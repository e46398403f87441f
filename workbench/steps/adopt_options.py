"""Options of `adopt`: what the user says about the columns of a table."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from workbench.errors import OptionError
from workbench.files.read_options import AS_FOUND

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping
    from pathlib import Path

    from workbench.files.read_options import ReadOptions

    _Reader = Callable[[str, str, str], object]

OUTCOME_KINDS = ("measured", "pass-fail", "graded", "counted")
FACTOR_KINDS = ("continuous", "stepped", "categorical", "component")
FACTOR_ROLES = ("control", "noise", "observed", "held")
REPEATS = ("parts", "readings", "runs")
SCALES = ("as read", "log", "square root", "inverse")
YES = ("yes", "true", "1", "on")
NO = ("no", "false", "0", "off")


@dataclass(frozen=True, slots=True, kw_only=True)
class OutcomeWish:
    """What the user says of an outcome column; None or empty where nothing is said.

    `status` names a column of marks; `cut_off` is the mark there of a reading that is cut off
    above, such as a part that had not failed when the test ended.
    """

    name: str
    kind: str = ""
    unit: str = ""
    scale: str = ""
    at_least: float | None = None
    at_most: float | None = None
    target: float | None = None
    tolerance: float | None = None
    out_of: int | None = None
    censored_above: float | None = None
    censored_below: float | None = None
    status: str = ""
    cut_off: str = ""
    passes: str = ""
    grades: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorWish:
    """What the user says of a factor column; None or empty where nothing is said."""

    name: str
    kind: str = ""
    unit: str = ""
    low: float | None = None
    high: float | None = None
    slow: bool = False
    setting_sd: float | None = None
    role: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Exclusion:
    """A run left out, with the reason; its number counts within `block` if that is stated."""

    run: int
    reason: str
    block: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AdoptOptions:
    """Everything that is said about a table on taking it in; what is not said is proposed.

    `columns` and `planned` are files, `sheet` the sheet of a workbook, `read` says how the table
    is written, `repeats` what rows of the same settings are that follow one another. `who` is the
    person and `writer` the name of the journal file (from `who` and the machine if empty).
    """

    outcomes: tuple[OutcomeWish, ...] = ()
    factors: tuple[FactorWish, ...] = ()
    run: str = ""
    blocks: tuple[str, ...] = ()
    setup: str = ""
    part: str = ""
    reading: str = ""
    ignore: tuple[str, ...] = ()
    exclude: tuple[Exclusion, ...] = ()
    planned: Path | None = None
    columns: Path | None = None
    terms: str = ""
    sheet: str | None = None
    read: ReadOptions = AS_FOUND
    repeats: str = ""
    title: str = ""
    who: str = ""
    writer: str = ""


def parse_outcome(text: str) -> OutcomeWish:
    """Return the wish in `NAME[:KEY=VALUE,…]`.

    Examples
    --------
    >>> parse_outcome("pull force:unit=N,at_least=40").at_least
    40.0

    Raises
    ------
    OptionError
        If the name is empty, or a key is unknown, stands twice or has a value that cannot be.
    """
    name, pairs = _name_and_pairs(text, option="--outcome")
    return outcome_wish(name, pairs, place=f"--outcome {text}")


def parse_factor(text: str) -> FactorWish:
    """Return the wish in `NAME[:KEY=VALUE,…]`.

    Examples
    --------
    >>> parse_factor("dwell:unit=s,low=1,high=3,slow=yes").slow
    True

    Raises
    ------
    OptionError
        If the name is empty, or a key is unknown, stands twice or has a value that cannot be.
    """
    name, pairs = _name_and_pairs(text, option="--factor")
    return factor_wish(name, pairs, place=f"--factor {text}")


def parse_exclusion(text: str) -> Exclusion:
    """Return the exclusion in `RUN=REASON`, or `BLOCK/RUN=REASON` where runs count in blocks.

    Examples
    --------
    >>> parse_exclusion("2/5=bad quality").block
    '2'

    Raises
    ------
    OptionError
        If the run is no number or the reason is empty.
    """
    named, sign, reason = text.partition("=")
    block, _, run = named.rpartition("/")
    if not re.fullmatch(r"[0-9]{1,9}", run.strip()):
        raise OptionError(
            f"{run.strip()!r} is not a run number.",
            why="A run is left out by its number.",
            next_step='Write --exclude 7="housing cracked"; or --exclude LOT/7="…" where runs are '
            "numbered within their lot.",
            place=f"--exclude {text}",
        )
    if not sign or not reason.strip():
        raise OptionError(
            f"Run {named.strip()} is excluded without a reason.",
            why="A run left out after looking can turn any result.",
            next_step=f'Say why: --exclude {named.strip()}="…".',
            place=f"--exclude {text}",
        )
    return Exclusion(run=int(run), reason=reason.strip(), block=block.strip())


def outcome_wish(name: str, pairs: Iterable[tuple[str, str]], *, place: str) -> OutcomeWish:
    """Return the wish for an outcome from (key, value as text) pairs."""
    return replace(OutcomeWish(name=name), **_understood(pairs, _OUTCOME_KEYS, place))


def factor_wish(name: str, pairs: Iterable[tuple[str, str]], *, place: str) -> FactorWish:
    """Return the wish for a factor from (key, value as text) pairs."""
    return replace(FactorWish(name=name), **_understood(pairs, _FACTOR_KEYS, place))


def _understood(
    pairs: Iterable[tuple[str, str]], known: Mapping[str, _Reader], place: str
) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key not in known:
            raise OptionError(
                f"The key {key!r} is not known.",
                why="A key that is not understood would be lost without a word.",
                next_step=f"Use: {', '.join(known)}.",
                place=place,
            )
        if key in found:
            raise OptionError(
                f"The key {key!r} stands twice.",
                why="Only one of the values can hold.",
                next_step="Keep one of them.",
                place=place,
            )
        found[key] = known[key](key, value, place)
    return found


def _name_and_pairs(text: str, *, option: str) -> tuple[str, list[tuple[str, str]]]:
    name, colon, rest = text.partition(":")
    if not name.strip():
        raise OptionError(
            "No column is named.",
            why="The option says what one column is.",
            next_step=f"Write {option} NAME or {option} NAME:unit=N.",
            place=f"{option} {text}".strip(),
        )
    pairs = []
    for piece in rest.split(",") if colon else []:
        key, sign, value = piece.partition("=")
        if not sign or not value.strip():
            raise OptionError(
                f"{piece.strip()!r} is not KEY=VALUE.",
                why="After the name and a colon stand keys with values, with commas between.",
                next_step=f"Write {option} NAME:unit=N,kind=…; a name with : , or = "
                "goes into the file of --columns.",
                place=f"{option} {text}",
            )
        pairs.append((key.strip(), value.strip()))
    return name.strip(), pairs


def _text(_key: str, value: str, _place: str) -> str:
    return value


def _grades(_key: str, value: str, _place: str) -> tuple[str, ...]:
    return tuple(one.strip() for one in value.split("|"))


def _choice(known: tuple[str, ...]) -> _Reader:
    def read(key: str, value: str, place: str) -> str:
        return _one_of(key, value, known, place=place)

    return read


def _one_of(key: str, value: str, known: tuple[str, ...], *, place: str) -> str:
    if value not in known:
        raise OptionError(
            f"{key} is {value!r}.",
            why="It must be one that the workbench knows.",
            next_step=f"Use one of: {', '.join(known)}.",
            place=place,
        )
    return value


def _number(key: str, value: str, place: str) -> float:
    if not re.fullmatch(r"[-+−]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?", value):
        raise _not_number(key, value, place)
    number = float(value.replace("−", "-"))
    if not math.isfinite(number):
        raise _not_number(key, value, place)
    return number


def _not_number(key: str, value: str, place: str) -> OptionError:
    return OptionError(
        f"{key} is {value!r}, which is not a number.",
        why="A limit or setting is a finite number in the unit of its column.",
        next_step=f"Write {key}=2.5, with a point as decimal mark and without the unit.",
        place=place,
    )


def _whole(key: str, value: str, place: str) -> int:
    if not re.fullmatch(r"[0-9]{1,9}", value):
        raise OptionError(
            f"{key} is {value!r}, which is not a whole number.",
            why="Places are counted.",
            next_step=f"Write {key}=100.",
            place=place,
        )
    return int(value)


def _yes(key: str, value: str, place: str) -> bool:
    return _one_of(key, value.lower(), YES + NO, place=place) in YES


_OUTCOME_KEYS: Mapping[str, _Reader] = {
    "kind": _choice(OUTCOME_KINDS),
    "unit": _text,
    "scale": _choice(SCALES),
    "at_least": _number,
    "at_most": _number,
    "target": _number,
    "tolerance": _number,
    "out_of": _whole,
    "censored_above": _number,
    "censored_below": _number,
    "status": _text,
    "cut_off": _text,
    "passes": _text,
    "grades": _grades,
}
_FACTOR_KEYS: Mapping[str, _Reader] = {
    "kind": _choice(FACTOR_KINDS),
    "unit": _text,
    "low": _number,
    "high": _number,
    "slow": _yes,
    "setting_sd": _number,
    "role": _choice(FACTOR_ROLES),
}
