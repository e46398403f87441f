"""Indices of capability and performance, with intervals (vocabulary of ISO 22514-1)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.errors import Unavailable


@dataclass(frozen=True, slots=True, kw_only=True)
class Index:
    """Spread and position of parts against their limits, with intervals at `confidence`.

    `is_capability` is true only for a process shown to be stable; otherwise the numbers are
    performance indices. `spread` (Cp or Pp) needs two limits; `nearest` (Cpk or Ppk) is that of
    the nearer limit.
    """

    is_capability: bool
    why: str
    spread: float | Unavailable
    spread_low: float | Unavailable
    spread_high: float | Unavailable
    nearest: float
    nearest_low: float
    nearest_high: float
    confidence: float
    n: int

    @property
    def spread_name(self) -> str:
        """What the spread index is called."""
        return "Cp" if self.is_capability else "Pp"

    @property
    def nearest_name(self) -> str:
        """What the index of the nearer limit is called."""
        return "Cpk" if self.is_capability else "Ppk"
