"""What a fit of any kind but least squares knows: pass/fail, graded, counted, censored, strata."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.errors import Unavailable

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from workbench.define.outcomes import Outcome
    from workbench.define.settings import Settings
    from workbench.define.terms import Terms
    from workbench.fit.nouns import Aliased, Coefficient, Effect, Estimate, TermTest


NO_SUCH_NUMBER = Unavailable(reason="this kind of model has no such number")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One number that describes a fit as a whole, such as its dispersion or its shape.

    `name` is a short label, `words` one sentence that says what the number means.
    """

    name: str
    value: float | Estimate | Unavailable
    unit: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class VarianceComponent:
    """Scatter of one level of the structure: its variance on the model scale with 95 % limits.

    `level` is what varies, such as "humidity setup", "housing lot", "run" or "part". A component
    estimated below zero is 0 with `below_zero` true.
    """

    level: str
    value: float
    low: float | Unavailable
    high: float | Unavailable
    n_levels: int
    below_zero: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunChecks:
    """Observed beside expected, row by row (n,), in the unit that `measure` names.

    `residual` are standardised residuals of the model's own kind (deviance or quantile residuals,
    about standard normal where the model is right); `row_run` the run number of each row.
    `parts` are the parts behind each row where a row stands for several (counts are then of all
    of them); `mark` is −1 where the value lies below what was observed, +1 where above.
    """

    measure: str
    residual_kind: str
    row_run: NDArray[np.int64]
    observed: NDArray[np.float64]
    expected: NDArray[np.float64]
    residual: NDArray[np.float64]
    parts: NDArray[np.float64] | None = None
    mark: NDArray[np.int64] | None = None

    def __post_init__(self) -> None:
        for array in (self.row_run, self.observed, self.expected, self.residual):
            array.setflags(write=False)
        for held in (self.parts, self.mark):
            if held is not None:
                held.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutcomeModel:
    """One outcome's model of another kind than least squares on run means, solved.

    `kind` is "pass-fail", "graded", "counted", "censored" or "measured"; `model` is one sentence
    that says which model it is and why. `settings` (n, k), `run`, `block` (n,) are the rows that
    were used (a run with several parts may be several rows). `column_names` (p,) name the
    coefficients on the model scale in coded units, fixed block columns last (`n_block_columns`).
    `scatter` are variance components, `facts` numbers that describe the fit as a whole,
    `reading` is one paragraph in plain words. `error_df` to `predicted_r_squared` have a meaning
    for some kinds only.
    """

    outcome: Outcome
    kind: str
    model: str
    settings: Settings
    uses_as_run: bool
    run: NDArray[np.int64]
    block: NDArray[np.int64]
    block_labels: tuple[str, ...]
    terms: Terms
    column_names: tuple[str, ...]
    n_block_columns: int
    coefficients: tuple[Coefficient, ...]
    effects: tuple[Effect, ...]
    tests: tuple[TermTest, ...]
    aliased: tuple[Aliased, ...]
    scatter: tuple[VarianceComponent, ...]
    facts: tuple[Fact, ...]
    checks: RunChecks
    n_excluded: int
    notes: tuple[str, ...]
    reading: str
    error_df: float | Unavailable = NO_SUCH_NUMBER
    residual_sd: float | Unavailable = NO_SUCH_NUMBER
    r_squared: float | Unavailable = NO_SUCH_NUMBER
    adjusted_r_squared: float | Unavailable = NO_SUCH_NUMBER
    predicted_r_squared: float | Unavailable = NO_SUCH_NUMBER

    def __post_init__(self) -> None:
        self.run.setflags(write=False)
        self.block.setflags(write=False)
