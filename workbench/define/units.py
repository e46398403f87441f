"""Units as the trade writes them: one spelling for each, and steps between units of one kind.

Symbols follow the SI brochure (BIPM, 9th edition, 2019); inch, pound and pound-force are exact by
NIST Special Publication 811 (2008), appendix B. A unit that is not listed is a text label.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING, overload

from workbench.errors import DefinitionError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# Kind of quantity, then how many of its base unit one unit is: as text, so that ratios are exact.
SCALES_BY_KIND: dict[str, dict[str, str]] = {
    "number": {"1": "1", "%": "1/100", "ppm": "1/1000000"},
    "length": {
        "m": "1",
        "cm": "1e-2",
        "mm": "1e-3",
        "µm": "1e-6",
        "nm": "1e-9",
        "in": "0.0254",
    },
    "area": {"m²": "1", "cm²": "1e-4", "mm²": "1e-6", "in²": "0.00064516"},
    "volume": {
        "m³": "1",
        "L": "1e-3",
        "mL": "1e-6",
        "cm³": "1e-6",
        "µL": "1e-9",
        "mm³": "1e-9",
        "nL": "1e-12",
        "in³": "0.000016387064",
    },
    "mass": {"kg": "1", "g": "1e-3", "mg": "1e-6", "µg": "1e-9", "lb": "0.45359237"},
    "time": {"s": "1", "ms": "1e-3", "µs": "1e-6", "min": "60", "h": "3600", "d": "86400"},
    "force": {
        "N": "1",
        "mN": "1e-3",
        "kN": "1000",
        "kgf": "9.80665",
        "gf": "0.00980665",
        "lbf": "4.4482216152605",
    },
    "pressure": {
        "Pa": "1",
        "hPa": "100",
        "kPa": "1000",
        "MPa": "1000000",
        "GPa": "1e9",
        "mbar": "100",
        "bar": "100000",
        "N/mm²": "1000000",
        "psi": "4.4482216152605/0.00064516",
    },
    "speed": {
        "m/s": "1",
        "cm/s": "1e-2",
        "mm/s": "1e-3",
        "m/min": "1/60",
        "mm/min": "1/60000",
    },
    "force per width": {"N/m": "1", "N/cm": "100", "N/mm": "1000"},
    "torque": {"N·m": "1", "N·cm": "1e-2", "N·mm": "1e-3"},
    "volume flow": {
        "m³/s": "1",
        "L/min": "1/60000",
        "mL/min": "1/60000000",
        "mL/s": "1e-6",
        "µL/s": "1e-9",
        "mm³/s": "1e-9",
        "µL/min": "1/60000000000",
    },
    "leak rate": {"Pa·m³/s": "1", "mbar·L/s": "0.1"},
    "mass per area": {"kg/m²": "1", "g/m²": "1e-3", "mg/cm²": "1e-2", "mg/mm²": "1"},
    "density": {"kg/m³": "1", "g/cm³": "1000", "g/mL": "1000"},
    "viscosity": {"Pa·s": "1", "mPa·s": "1e-3"},
    "angle in degrees": {"°": "1"},
    "voltage": {"V": "1", "mV": "1e-3", "µV": "1e-6", "kV": "1000"},
    "current": {"A": "1", "mA": "1e-3", "µA": "1e-6"},
    "resistance": {"Ω": "1", "mΩ": "1e-3", "kΩ": "1000", "MΩ": "1000000"},
    "capacitance": {"F": "1", "µF": "1e-6", "nF": "1e-9", "pF": "1e-12"},
    "power": {"W": "1", "mW": "1e-3", "kW": "1000"},
    "energy": {"J": "1", "mJ": "1e-3", "kJ": "1000"},
    "frequency": {"Hz": "1", "kHz": "1000", "MHz": "1000000"},
    "temperature": {"K": "1", "°C": "1", "°F": "5/9"},
    "relative humidity": {"%RH": "1"},
}
# Added to a reading before it is scaled to kelvin.
ZERO_BELOW: dict[str, str] = {"K": "0", "°C": "273.15", "°F": "459.67"}

_SPELLINGS: dict[str, tuple[str, ...]] = {
    "%": ("percent", "pct"),
    "%RH": ("%rh", "%r.h.", "%rel.h.", "rh%", "RH%", "%rH", "%Rh"),
    "1": ("-", "–", "dimensionless"),
    "A": ("Amp", "amp", "amps"),
    "L": ("l", "litre", "liter", "ltr"),
    "N": ("Newton", "newton", "newtons"),
    "°": ("deg", "degree", "degrees"),
    "°C": ("degC", "degc", "ºC", "˚C", "℃", "Celsius", "celsius", "oC"),
    "°F": ("degF", "degf", "ºF", "˚F", "℉", "Fahrenheit", "fahrenheit", "oF"),
    "Ω": ("Ohm", "ohm", "ohms", "\u2126"),
    "kΩ": ("kOhm", "kohm"),
    "MΩ": ("MOhm", "Mohm"),
    "mΩ": ("mOhm", "mohm"),
    "cm³": ("cc", "ccm", "cbcm"),
    "d": ("day", "days"),
    "g": ("gram", "grams"),
    "h": ("hr", "hrs", "hour", "hours"),
    "hPa": ("hpa",),
    "Hz": ("hz", "HZ"),
    "in": ("inch", "inches", '"', "″"),
    "kPa": ("kpa", "Kpa", "KPa"),
    "kg": ("Kg", "KG"),
    "lb": ("lbs",),
    "mL": ("ml",),
    "min": ("mins", "minute", "minutes"),
    "mbar": ("millibar",),
    "nL": ("nl",),
    "psi": ("PSI",),
    "s": ("sec", "secs", "second", "seconds"),
    "µL": ("ul", "uL", "µl", "mcl"),
    "µm": ("um", "micron", "microns"),
    "µg": ("ug", "mcg"),
    "µs": ("us",),
    "µA": ("uA",),
    "µV": ("uV",),
    "µF": ("uF",),
    "N·m": ("Nm",),
    "N·cm": ("Ncm",),
    "N·mm": ("Nmm",),
}
_BY_SPELLING = {other: unit for unit, others in _SPELLINGS.items() for other in others}
_KIND = {unit: kind for kind, units in SCALES_BY_KIND.items() for unit in units}
_POWER_OF_LENGTH = re.compile(r"(m|cm|mm|dm|µm|um|nm|in|inch)(?:\^|\*\*)?([23])")
_PRODUCT = re.compile(r"(?<=[A-Za-z²³µ])[*⋅∙.](?=[A-Za-zµ])")
_RAISED = {"2": "²", "3": "³"}


def normal_unit(text: str) -> str:
    """Return a unit in its usual spelling (mm3 is mm³, degC is °C); unknown text as it stands.

    Examples
    --------
    >>> [normal_unit(unit) for unit in ("uL", "mm/sec", "deg C", "% RH", "g/m2", "rows")]
    ['µL', 'mm/s', '°C', '%RH', 'g/m²', 'rows']
    """
    tidy = " ".join(text.replace("\u03bc", "µ").split())
    solid = tidy.replace(" ", "")
    for spelled in (tidy, solid):
        found = "/".join(_part(part) for part in spelled.split("/"))
        if found in _KIND:
            return found
    return tidy


def unit_kind(unit: str) -> str | None:
    """Return the kind of quantity that a unit measures, such as "length"; None if not listed."""
    return _KIND.get(normal_unit(unit))


@overload
def convert(
    values: float, *, from_unit: str, to_unit: str, is_difference: bool = False
) -> float: ...
@overload
def convert(
    values: NDArray[np.float64], *, from_unit: str, to_unit: str, is_difference: bool = False
) -> NDArray[np.float64]: ...
def convert(
    values: float | NDArray[np.float64],
    *,
    from_unit: str,
    to_unit: str,
    is_difference: bool = False,
) -> float | NDArray[np.float64]:
    """Return values, or an array of any shape, in another unit of the same kind.

    `is_difference` marks standard deviations, tolerances and effects, which a temperature's zero
    does not shift.

    Raises
    ------
    DefinitionError
        If the units measure different kinds of quantity, or one that is not listed differs.

    Examples
    --------
    >>> convert(1.5, from_unit="mL", to_unit="mm3")
    1500.0
    >>> convert(100.0, from_unit="degC", to_unit="°F")
    212.0
    >>> convert(10.0, from_unit="°C", to_unit="°F", is_difference=True)
    18.0
    """
    old, new = normal_unit(from_unit), normal_unit(to_unit)
    if old == new:
        return values
    kind = _KIND.get(old)
    if kind is None or kind != _KIND.get(new):
        raise _refused(old, new)
    ratio = _scale(old) / _scale(new)
    shift = Fraction(0)
    if not is_difference:
        shift = _zero(old) * ratio - _zero(new)
    # Numerator and denominator apart: 1500 / 1000 is exact where 1500 × 0.001 is not.
    scaled = values * float(ratio.numerator) / float(ratio.denominator)
    return scaled + float(shift) if shift else scaled


def _part(part: str) -> str:
    plain = part.strip()
    if plain in _BY_SPELLING:
        return _BY_SPELLING[plain]
    power = _POWER_OF_LENGTH.fullmatch(plain)
    if power:
        return _BY_SPELLING.get(power[1], power[1]) + _RAISED[power[2]]
    pieces = _PRODUCT.split(plain)
    return "·".join(map(_part, pieces)) if len(pieces) > 1 else plain


def _scale(unit: str) -> Fraction:
    top, _, bottom = SCALES_BY_KIND[_KIND[unit]][unit].partition("/")
    return Fraction(top) / Fraction(bottom or "1")


def _zero(unit: str) -> Fraction:
    return Fraction(ZERO_BELOW.get(unit, "0"))


def _refused(old: str, new: str) -> DefinitionError:
    kinds = [_KIND.get(unit) for unit in (old, new)]
    if None in kinds:
        strange = old if kinds[0] is None else new
        return DefinitionError(
            f"{old!r} cannot be converted to {new!r}: {strange!r} is not a unit known here.",
            why="A unit that is not known is a label, and only the same label can be meant.",
            next_step=f"Write one unit in both places, or convert the numbers to {new!r} first.",
        )
    aside = " Mass and volume need the density." if {"mass", "volume"} == set(kinds) else ""
    return DefinitionError(
        f"{old!r} cannot be converted to {new!r}: one is {kinds[0]}, the other {kinds[1]}.",
        why=f"They measure different things.{aside}",
        next_step="Correct the unit that is wrong, or convert the numbers first.",
    )
