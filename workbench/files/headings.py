"""Headings of tables: a name, and the unit in brackets behind it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from workbench.define.units import normal_unit, unit_kind

# Signs with which a cell begins that a spreadsheet program would run, full-width ones included.
INJECTION = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")

_BRACKETS = re.compile(r"(?P<name>.*\S)\s*(?:\((?P<round>[^()]*)\)|\[(?P<square>[^\[\]]*)\])")


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading taken apart; `unit` is empty where none stands in brackets."""

    name: str
    unit: str


def heading(text: str) -> Heading:
    """Return the name and the unit of a heading; brackets that hold no known unit stay.

    Examples
    --------
    >>> heading("Print speed (mm/min)").unit
    'mm/min'
    >>> heading("gloss (by eye)").name
    'gloss (by eye)'
    """
    parts = in_brackets(text)
    if unit_kind(parts.unit) is None:
        return Heading(name=text.strip(), unit="")
    return Heading(name=parts.name, unit=normal_unit(parts.unit))


def in_brackets(text: str) -> Heading:
    """Return the name and whatever stands in brackets behind it, a unit or not."""
    found = _BRACKETS.fullmatch(text.strip())
    if found is None:
        return Heading(name=text.strip(), unit="")
    return Heading(name=found["name"], unit=(found["round"] or found["square"] or "").strip())


def with_unit(name: str, unit: str) -> str:
    """Return a heading: the name with its unit in brackets, or alone where there is none."""
    return f"{name} ({unit})" if unit else name


def guarded(text: str) -> str:
    """Return text that no spreadsheet program takes for a formula.

    An apostrophe of the text's own before such a sign gets one more, so that it comes back.

    >>> guarded("=1+1"), guarded("'=1+1"), guarded("plain")
    ("'=1+1", "''=1+1", 'plain')
    """
    return f"'{text}" if text.lstrip("'").startswith(INJECTION) else text


def unguarded(text: str) -> str:
    """Return the text that was guarded.

    >>> unguarded(guarded("=1+1")), unguarded(guarded("'=1+1"))
    ('=1+1', "'=1+1")
    """
    is_guarded = text.startswith("'") and text.lstrip("'").startswith(INJECTION)
    return text[1:] if is_guarded else text
