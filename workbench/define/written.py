"""Numbers as they are written: true minus, unit once, no more digits than the interval bears."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.factors import Categorical, Stepped
from workbench.define.outcomes import Measured

if TYPE_CHECKING:
    from collections.abc import Iterable

    from workbench.define.factors import Factor
    from workbench.define.outcomes import Outcome, Requirement

MINUS = "\u2212"
NBSP = "\u00a0"
MOST_DECIMALS = 6
INFINITE = 1e15  # beyond this a number is written in powers of ten


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """An estimate and its interval, written to the same decimal."""

    value: str
    low: str
    high: str

    @property
    def interval(self) -> str:
        """The interval in words, such as "2.1 to 4.0"."""
        return f"{self.low} to {self.high}"


def fixed(value: float, decimals: int) -> str:
    """Return a number with that many decimals and a true minus sign.

    >>> fixed(-0.04, 1), fixed(-2.5, 1)
    ('0.0', '−2.5')
    """
    if abs(value) >= INFINITE:
        return f"{value:.3g}".replace("-", MINUS)
    shown = f"{value:.{max(0, decimals)}f}"
    if not shown.strip("-0."):
        shown = shown.lstrip("-")
    return shown.replace("-", MINUS)


def signed(value: float, decimals: int) -> str:
    """Return a number with its sign always shown.

    >>> signed(2.5, 1)
    '+2.5'
    """
    shown = fixed(value, decimals)
    return shown if shown.startswith(MINUS) or not shown.strip("0.") else f"+{shown}"


def short(value: float, digits: int = 4) -> str:
    """Return a number with at most that many digits, no trailing zeros.

    >>> short(0.0125), short(-1234567.0)
    ('0.0125', '−1234567')
    """
    if value == 0 or not math.isfinite(value):
        return f"{value:g}".replace("-", MINUS)
    if not 1e-5 <= abs(value) < INFINITE:
        return f"{value:.{digits}g}".replace("-", MINUS)
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    shown = fixed(value, decimals)
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


def decimals_for_width(width: float) -> int:
    """Return the decimals that leave two digits in an interval of that width.

    >>> decimals_for_width(2.4), decimals_for_width(0.31), decimals_for_width(240)
    (1, 2, 0)
    """
    if not math.isfinite(width) or width <= 0:
        return 2
    return min(MOST_DECIMALS, max(0, 1 - math.floor(math.log10(width))))


def decimals_of(values: Iterable[float], *, most: int = 4) -> int:
    """Return the fewest decimals that show every value as it is, up to `most`.

    >>> decimals_of([0.6, 1.0, 1.45])
    2
    """
    known = [value for value in values if math.isfinite(value)]
    for decimals in range(most):
        scale = 10.0**decimals
        if all(
            math.isclose(v * scale, round(v * scale), rel_tol=1e-9, abs_tol=1e-7) for v in known
        ):
            return decimals
    return most


def with_interval(value: float, low: float, high: float, *, is_ratio: bool = False) -> Written:
    """Return an estimate and its interval to the same decimal, as × and ÷ if they are ratios.

    >>> with_interval(-3.14159, -4.2, -2.11)
    Written(value='−3.1', low='−4.2', high='−2.1')
    """
    if is_ratio:
        places = min(2, max(1, decimals_for_width(_beyond_one(high) - _beyond_one(low))))
        return Written(
            value=ratio(value, places), low=ratio(low, places), high=ratio(high, places)
        )
    decimals = decimals_for_width(high - low)
    return Written(
        value=fixed(value, decimals), low=fixed(low, decimals), high=fixed(high, decimals)
    )


def _beyond_one(size: float) -> float:
    """Return how far a ratio is written from ×1: ×1.5 is 0.5, ÷1.5 is −0.5."""
    if size <= 0:
        return -math.inf
    return size - 1 if size >= 1 else 1 - 1 / size


def ratio(value: float, decimals: int = 1) -> str:
    """Return a ratio as × what it grows or ÷ what it shrinks by, large ones to two digits.

    >>> ratio(1.5), ratio(0.2127), ratio(12.3)
    ('×1.5', '÷4.7', '×12')
    """
    if value <= 0 or not math.isfinite(value):
        return f"×{short(value)}"
    sign, size = ("×", value) if value >= 1 else ("÷", 1 / value)
    if size >= 9.95:
        return f"{sign}{short(float(f'{size:.2g}'))}"
    return f"{sign}{size:.{decimals}f}"


def size_words(value: float, *, is_ratio: bool) -> str:
    """Return a size that has no interval; one without end is said to be so.

    >>> size_words(1.5, is_ratio=True), size_words(0.0, is_ratio=True)
    ('×1.5', 'no least')
    >>> size_words(float("inf"), is_ratio=False)
    'no largest'
    """
    if value == math.inf:
        return "no largest"
    if value == -math.inf or (is_ratio and value <= 0):
        return "no least"
    return ratio(value) if is_ratio else short(value, 3)


def degrees(df: float) -> str:
    """Return degrees of freedom; without end where chance alone is the yardstick.

    >>> degrees(11.53), degrees(float("inf"))
    ('11.53', '∞')
    """
    return "∞" if df == math.inf else short(df)


def p_value(p: float) -> str:
    """Return a p-value with two digits that count, or that it is below 0.001.

    >>> p_value(0.0161), p_value(0.00002), p_value(0.43)
    ('0.016', 'below 0.001', '0.43')
    """
    if p < 0.001:
        return "below 0.001"
    return f"{p:.3f}" if p < 0.0995 else f"{p:.2f}"


def chance(share: float) -> str:
    """Return a chance in per cent; never 100 % and never 0 %.

    >>> chance(0.9541).replace(NBSP, " "), chance(0.9999).replace(NBSP, " ")
    ('95.4 %', '> 99.9 %')
    """
    if share > 0.999:
        return f">{NBSP}99.9{NBSP}%"
    if share < 0.001:
        return f"<{NBSP}0.1{NBSP}%"
    return f"{math.floor(share * 1000 + 1e-9) / 10:.1f}{NBSP}%"


def percent(share: float) -> str:
    """Return a stated share (asked for, not found) in per cent, no more digits than it has.

    >>> percent(0.95).replace(NBSP, " "), percent(0.995).replace(NBSP, " ")
    ('95 %', '99.5 %')
    """
    return f"{short(share * 100)}{NBSP}%"


def in_hundred(share: float) -> str:
    """Return a share in words that count parts, rounded down, such as "95 of 100".

    >>> in_hundred(0.9546), in_hundred(0.99), in_hundred(0.9954), in_hundred(0.99999)
    ('95 of 100', '99 of 100', '995 of 1000', '999 of 1000')
    """
    if share > 0.99:
        thousandths = min(999, math.floor(share * 1000 + 1e-6))
        return "99 of 100" if thousandths == 990 else f"{thousandths} of 1000"
    return f"{math.floor(share * 100 + 1e-6)} of 100"


def with_unit(number: str, unit: str) -> str:
    """Return a number and its unit, never parted at the end of a line.

    >>> with_unit("3", "N").replace(NBSP, "_"), with_unit("3", "")
    ('3_N', '3')
    """
    return f"{number}{NBSP}{unit}" if unit else number


def setting_decimals(factor: Factor, values: Iterable[float] = ()) -> int:
    """Return the decimals with which a factor's settings are written, the same on every screen."""
    if isinstance(factor, Categorical):
        return 0
    own = factor.steps if isinstance(factor, Stepped) else (factor.low, factor.high)
    span = factor.high - factor.low
    fine = max(0, 2 - math.floor(math.log10(span)))  # a thousandth of the range is enough
    return min(max(decimals_of((*own, *values)), 0), max(fine, decimals_of(own)))


def setting(factor: Factor, value: float, *, decimals: int | None = None) -> str:
    """Return one setting in words, without its unit; a level by its name.

    >>> from workbench.define.factors import Continuous
    >>> setting(Continuous(name="gap", low=0.6, high=1.4, unit="mm", setting_sd=0), 1)
    '1.0'
    """
    if isinstance(factor, Categorical):
        return factor.levels[int(value)] if math.isfinite(value) else "not recorded"
    if not math.isfinite(value):
        return "not recorded"
    return fixed(value, setting_decimals(factor, (value,)) if decimals is None else decimals)


def limit_decimals(factor: Factor, values: Iterable[float]) -> int:
    """Return the decimals for limits of a window: a two-hundredth of the range, or finer."""
    if isinstance(factor, Categorical):
        return 0
    step = (factor.high - factor.low) / 100
    needed = max(0, -math.floor(math.log10(step)))
    return min(needed, decimals_of((*values, factor.low, factor.high), most=needed))


def tried(factor: Factor) -> str:
    """Return the range or the levels tried, without the unit.

    >>> from workbench.define.factors import Categorical
    >>> tried(Categorical(name="wipe", levels=("none", "once")))
    'none, once'
    """
    if isinstance(factor, Categorical):
        return ", ".join(factor.levels)
    if isinstance(factor, Stepped):
        decimals = decimals_of(factor.steps)
        return ", ".join(fixed(step, decimals) for step in factor.steps)
    decimals = decimals_of((factor.low, factor.high))
    return f"{fixed(factor.low, decimals)} to {fixed(factor.high, decimals)}"


def requirement(limits: Requirement) -> str:
    """Return a requirement in words, without its unit, its numbers to the same decimal.

    >>> from workbench.define.outcomes import between
    >>> requirement(between(0.3, 1.15))
    '0.30 to 1.15'
    """
    ends = [end for end in (limits.low, limits.high) if end is not None]
    decimals = decimals_of(ends)
    if limits.low is None:
        return f"at most {fixed(ends[0], decimals)}"
    if limits.high is None:
        return f"at least {fixed(ends[0], decimals)}"
    return f"{fixed(limits.low, decimals)} to {fixed(limits.high, decimals)}"


def unit_of(outcome: Outcome) -> str:
    """Return the unit of an outcome, empty for words and grades."""
    return getattr(outcome, "unit", "")


def worth_finding(outcome: Outcome) -> str:
    """Return the smallest difference worth finding, without its unit; empty if nobody said."""
    if not isinstance(outcome, Measured) or outcome.worth_finding is None:
        return ""
    if outcome.scale == "log":
        return f"×/÷{short(outcome.worth_finding)}"
    return short(outcome.worth_finding)
