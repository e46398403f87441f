"""Numbers, runs and counts in words, as the sentences of findings need them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

MOST_RUNS = 12


def run_words(runs: Sequence[int]) -> str:
    """Return run numbers in words, long lists cut short.

    Examples
    --------
    >>> run_words([4]), run_words([2, 5, 9])
    ('run 4', 'runs 2, 5, 9')
    """
    shown = ", ".join(str(run) for run in runs[:MOST_RUNS])
    more = len(runs) - MOST_RUNS
    return f"run{'s' if len(runs) > 1 else ''} {shown}" + (f" and {more} more" if more > 0 else "")


def count_words(count: int, noun: str, plural: str = "") -> str:
    """Return a count with its noun.

    Examples
    --------
    >>> count_words(1, "reading"), count_words(3, "reading")
    ('1 reading', '3 readings')
    """
    return f"{count} {noun if count == 1 else plural or f'{noun}s'}"


def with_unit(number: float, unit: str) -> str:
    """Return a number to four digits with its unit."""
    return f"{number:.4g} {unit}".rstrip() if unit not in ("", "1") else f"{number:.4g}"


def signed(number: float, spec: str) -> str:
    """Return a number with its sign, a true minus in front of those below zero.

    Examples
    --------
    >>> signed(-5.71, ".1f"), signed(0.06, ".3g")
    ('−5.7', '+0.06')
    """
    return f"{number:+{spec}}".replace("-", "−", 1)


def listed(words: Iterable[str]) -> str:
    """Return words joined by commas and a last "and".

    Examples
    --------
    >>> listed(["bead volume", "humidity"])
    'bead volume and humidity'
    """
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last
