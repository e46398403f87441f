"""Old analysis beside or below the data, told by its words or by being all formulas."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from workbench.files.grid import At

if TYPE_CHECKING:
    from workbench.files.grid_areas import Area

WORDS = frozenset(
    (
        "mean", "means", "average", "effect", "effects", "coefficient", "coefficients", "estimate",
        "ss", "df", "ms", "f", "p", "t", "p-value", "p value", "r²", "r2", "r-squared", "sd",
        "std", "stdev", "std dev", "standard deviation", "standard error", "se", "s", "n", "sum",
        "anova", "variance", "var", "cv", "source", "regression", "residual", "residuals",
        "error",
        "total", "grand total", "count", "slope", "intercept", "max", "min", "maximum", "minimum",
        "range", "median", "statistics", "summary", "analysis", "row labels", "contrast", "cpk",
        "cp", "mittelwert", "summe", "standardabweichung", "anzahl", "varianz", "moyenne",
        "écart type", "somme", "media", "suma", "desviación",
    )
)  # fmt: skip
SHARE = 0.5
ROWS_LOOKED_AT = 100
_BRACKETS = re.compile(r"[(\[].*?[)\]]")


def is_statistic(text: str) -> bool:
    """Whether a text is a word of analysis, alone or before what it is of ("mean of force")."""
    plain = _BRACKETS.sub("", text).casefold().strip(" :=.,")
    return plain in WORDS or any(
        plain.startswith((f"{word} of ", f"{word}: ")) for word in WORDS if len(word) > 2
    )


def is_analysis(area: Area) -> bool:
    """Whether a block is an analysis of other cells rather than runs."""
    return is_all_formulas(area) or _speaks_of_statistics(area)


def is_all_formulas(area: Area) -> bool:
    """Whether every number in a block is the result of a formula."""
    formulas = area.grid.formulas
    if not formulas:
        return False
    numbers = [
        At(row, column)
        for row in range(area.top, min(area.bottom, area.top + ROWS_LOOKED_AT))
        for column in area.columns
        if area.is_number(row, column)
    ]
    return bool(numbers) and all(at in formulas for at in numbers)


def _speaks_of_statistics(area: Area) -> bool:
    rows = range(area.top, min(area.bottom, area.top + ROWS_LOOKED_AT))
    edge = [area.grid.text(row, area.left) for row in rows]
    edge += area.texts(area.top)[1:]
    words = [text for text in edge if text and any(c.isalpha() for c in text)]
    return bool(words) and sum(map(is_statistic, words)) >= SHARE * len(words)
