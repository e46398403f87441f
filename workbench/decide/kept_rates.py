"""How often windows kept what they promised, in simulated trials whose truth was known."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from workbench.decide.kept_rates_table import ROWS, TRIALS
from workbench.numerics.exact_share import exact_share_limits


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptRate:
    """What became of one promise (confidence 0.95) over a number of simulated trials.

    `form` is "window" (with the model-form term), "if right" (the model form taken as right) or
    "means" (the box in which predicted means meet the limits: what people do without a window).
    Of `trials`, `given` ended with a box, of which `false` had somewhere a true share (setting
    error included) below `share`. `width` is the median over all trials of the cube root of the
    volume, as a part of that of the widest true box (0: none; None where no true box exists).
    """

    trial: str
    share: float
    form: str
    trials: int
    given: int
    false: int
    width: float | None

    @property
    def none(self) -> float:
        """Part of all trials without a box."""
        return 1 - self.given / self.trials

    @property
    def broken(self) -> float:
        """Part of all trials with a false box."""
        return self.false / self.trials

    @property
    def kept(self) -> float:
        """Part of all trials without a false box; where none is given nothing is broken."""
        return 1 - self.broken

    @property
    def kept_if_given(self) -> float | None:
        """Part of the boxes that were true."""
        return 1 - self.false / self.given if self.given else None

    @property
    def standard_error(self) -> float:
        """Standard error of `kept` and `broken`."""
        return sqrt(self.kept * self.broken / self.trials)

    def kept_limits(self) -> tuple[float, float]:
        """Return the exact 95 % interval of `kept` (Clopper and Pearson 1934)."""
        kept, trials = np.array([self.trials - self.false]), np.array([self.trials])
        found = exact_share_limits(kept.astype(float), trials.astype(float), confidence=0.95)
        return float(found.low[0]), float(found.high[0])


def kept_rates() -> tuple[KeptRate, ...]:
    """Return the rates that were measured, one a kind of trial, share and form.

    The processes are made up, three settings each; the assumed size of the model form was not
    set by them.

    Examples
    --------
    >>> sorted({one.form for one in kept_rates()})
    ['if right', 'means', 'window']
    """
    return tuple(
        KeptRate(
            trial=TRIALS[which],
            share=share,
            form=form,
            trials=trials,
            given=given,
            false=false,
            width=width,
        )
        for which, share, form, trials, given, false, width in ROWS
    )
