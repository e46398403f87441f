"""Statistics that people write below a column, by the words they use, and whether they agree."""

from __future__ import annotations

import re
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


class Statistic(StrEnum):
    """What a row below the runs may hold."""

    SUM = "sum"
    MEAN = "mean"
    SD = "standard deviation"
    ERROR = "standard error"
    VARIANCE = "variance"
    LEAST = "least value"
    MOST = "greatest value"
    MEDIAN = "median"
    COUNT = "count"
    RANGE = "range"
    SHARE = "coefficient of variation"


_WORDS = {
    Statistic.SUM: ("sum", "total", "totals", "subtotal", "grand total", "summe", "gesamt",
                    "zwischensumme", "somme", "suma", "totale", "totaal", "som", "σ", "∑"),
    Statistic.MEAN: ("mean", "average", "avg", "ave", "mittelwert", "mittel", "durchschnitt",
                     "mw", "moyenne", "media", "promedio", "gemiddelde", "x̄", "x-bar", "xbar"),
    Statistic.SD: ("sd", "s.d.", "std", "stdev", "st dev", "std dev", "std. dev.", "stddev",
                   "standard deviation", "s", "standardabweichung", "stabw", "écart type",
                   "écart-type", "desviación estándar", "deviazione standard"),
    Statistic.ERROR: ("se", "sem", "standard error", "std error", "standardfehler"),
    Statistic.VARIANCE: ("variance", "var", "varianz"),
    Statistic.LEAST: ("min", "minimum", "lowest"),
    Statistic.MOST: ("max", "maximum", "highest"),
    Statistic.MEDIAN: ("median", "médiane", "mediana"),
    Statistic.COUNT: ("n", "count", "anzahl", "number"),
    Statistic.RANGE: ("range", "spannweite", "r"),
    Statistic.SHARE: ("cv", "rsd", "cv%", "cv %", "vk", "variationskoeffizient"),
}  # fmt: skip
_BY_WORD = {word: statistic for statistic, words in _WORDS.items() for word in words}
_LONG = tuple(word for word in _BY_WORD if len(word) > 2)
_AFTER = re.compile(r"[^\w%].*")


def statistic_named(text: str) -> Statistic | None:
    """Return the statistic that a label names, alone or first ("Mean of 1-8:"); None if none."""
    plain = text.casefold().strip(" :=.")
    if plain in _BY_WORD:
        return _BY_WORD[plain]
    first = next((word for word in _LONG if plain.startswith(word)), None)
    if first is None or not _AFTER.fullmatch(plain[len(first) :]):
        return None
    longest = max((word for word in _LONG if plain.startswith(word)), key=len)
    return _BY_WORD[longest] if _AFTER.fullmatch(plain[len(longest) :]) else _BY_WORD[first]


def agrees(statistic: Statistic, values: NDArray[np.float64], *, text: str, stated: float) -> bool:
    """Whether a stated number is that statistic of values (n,), to the digits it is written with.

    Values that are NaN do not count.
    """
    seen = values[np.isfinite(values)]
    if not seen.size:
        return False
    tolerance = 0.51 * 10.0 ** -_decimals(text) if _decimals(text) < 9 else 0.0
    tolerance = max(tolerance, 1e-9 * abs(stated))
    return any(abs(value - stated) <= tolerance for value in _candidates(statistic, seen))


def _decimals(text: str) -> int:
    digits = re.search(r"[.,]([0-9]+)", text)
    return len(digits[1]) if digits else 0


def _candidates(statistic: Statistic, seen: NDArray[np.float64]) -> list[float]:
    """Return what the word may mean; a deviation may be of a sample or of the whole."""
    n = seen.size
    mean = float(seen.mean())
    sample = float(seen.std(ddof=1)) if n > 1 else 0.0
    by_statistic = {
        Statistic.SUM: [float(seen.sum())],
        Statistic.MEAN: [mean],
        Statistic.SD: [sample, float(seen.std())],
        Statistic.ERROR: [sample / n**0.5],
        Statistic.VARIANCE: [sample**2, float(seen.var())],
        Statistic.LEAST: [float(seen.min())],
        Statistic.MOST: [float(seen.max())],
        Statistic.MEDIAN: [float(np.median(seen))],
        Statistic.COUNT: [float(n)],
        Statistic.RANGE: [float(np.ptp(seen))],
        Statistic.SHARE: [sample / mean, 100 * sample / mean] if mean else [],
    }
    return by_statistic[statistic]
