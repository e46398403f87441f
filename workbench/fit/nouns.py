"""What a fit of a measured outcome says: effects, tests, scatter and what it cannot tell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from workbench.define.terms import Term
    from workbench.errors import Unavailable


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A number with its uncertainty; `df` are the error degrees of freedom behind it."""

    value: float
    std_error: float
    low: float
    high: float
    df: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Coefficient:
    """One column of the model matrix: its estimate on the model scale.

    `scale` is "coded" (per half range of a factor) or "natural" (per unit of the factors).
    `estimate` is Unavailable where there is no error estimate (`value` is then the number alone)
    or where the column is aliased.
    """

    name: str
    term: Term
    scale: str
    value: float | Unavailable
    estimate: Estimate | Unavailable
    statistic: float | Unavailable
    p: float | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What a term changes between the ends of its factors, in the unit of the outcome.

    Numeric main effect: mean at high minus mean at low. Interaction: half the difference of
    differences. Square: rise from the middle to an end (curvature). A category of two levels:
    second minus first; of more levels: one effect per level, against the mean of all levels. On
    a log scale `is_ratio` is true and the numbers are ratios (the standard error stays that of
    the natural logarithm); on the inverse and square-root scales they are on that scale, and
    `unit` and `from_to` say so. `from_to` says what is compared, such as "from 260 to 440 mm³".
    Where terms cannot be told apart, `name` is their joint line.
    """

    name: str
    term: Term
    value: float
    estimate: Estimate | Unavailable
    unit: str
    is_ratio: bool
    from_to: str
    p: float | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True)
class TermTest:
    """Test of a whole term, adjusted for all other terms; `stratum` names its error."""

    term: Term
    df: int
    error_df: float
    sum_of_squares: float
    mean_square: float
    statistic: float | Unavailable
    p: float | Unavailable
    stratum: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LackOfFit:
    """Lack of fit against pure error from runs at the same settings (and block)."""

    df: int
    pure_error_df: int
    mean_square: float
    pure_error_mean_square: float
    statistic: float
    p: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PseudoError:
    """Lenth's pseudo standard error of the effects (Lenth 1989, Technometrics 31, 469-473).

    `margin` is the size that one effect of pure scatter exceeds with chance 5 %,
    `simultaneous_margin` the size that any of them exceeds with that chance, both from
    simulated critical values; `standing_out` the terms beyond `margin`. The margins `by_t` are
    those of the paper (t on a third of the number of effects), which are far too wide. All are
    on the model scale (differences of natural logarithms on "log").
    """

    value: float
    margin: float
    simultaneous_margin: float
    n_effects: int
    standing_out: tuple[str, ...]
    margin_by_t: float | None = None
    simultaneous_margin_by_t: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartScatter:
    """Scatter of parts within runs: variance on the model scale with its df.

    `parts_per_run` is the harmonic mean over the runs, so that variance / parts_per_run is what
    parts add to the scatter of run means.
    """

    variance: float
    df: int
    parts_per_run: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Aliased:
    """Terms whose estimates are one number: `joint` is the sum that is really estimated.

    `line` is written in the user's names, such as "bead volume² + nozzle height²".
    """

    terms: tuple[str, ...]
    line: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Diagnostics:
    """Closed-form checks of each run (n,): NaN never; where there is no answer the mask says so.

    `studentised` are externally studentised residuals (0 where `undefined`), `press` the
    residuals of each run predicted from the others (0 where `undefined`). `undefined` are runs
    of leverage 1, and all runs where fewer than two error degrees of freedom are left.
    """

    fitted: NDArray[np.float64]
    residuals: NDArray[np.float64]
    leverage: NDArray[np.float64]
    studentised: NDArray[np.float64]
    press: NDArray[np.float64]
    undefined: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerFamily:
    """Best power of the outcome (Box and Cox 1964) with its 95 % interval; 1 is "as read"."""

    best: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleCheck:
    """The same model on another scale: p by term (in the order of the fit's tests)."""

    scale: str
    p: tuple[tuple[str, float | Unavailable], ...]
