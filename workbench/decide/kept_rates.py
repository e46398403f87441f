"""How often windows kept what they promised, in simulated trials whose truth was known."""

from __future__ import annotations

from dataclasses import dataclass

from workbench.decide.kept_rates_table import ROWS


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptRate:
    """What became of one promise (confidence 0.95) over a number of simulated trials.

    `form` is "window" (with the model-form term), "if right" (the model form taken as right) or
    "means" (the box in which predicted means meet the limits: what people do without a window).
    Of all trials `none` gave no window, `kept` gave none or one whose lowest true share (setting
    error included) reached `share`, `broken` = 1 − kept; `standard_error` is that of both,
    `kept_low` to `kept_high` the exact 95 % interval of `kept` (Clopper and Pearson 1934).
    `width` is the median over all trials of the cube root of the volume, as a part of that of the
    widest true box (0: none; None where no true box exists).
    """

    trial: str
    share: float
    form: str
    trials: int
    none: float
    kept: float
    broken: float
    standard_error: float
    kept_low: float
    kept_high: float
    kept_if_given: float | None
    width: float | None


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
            trial=trial,
            share=share,
            form=form,
            trials=trials,
            none=none,
            kept=kept,
            broken=broken,
            standard_error=standard_error,
            kept_low=kept_low,
            kept_high=kept_high,
            kept_if_given=kept_if_given,
            width=width,
        )
        for (
            trial,
            share,
            form,
            trials,
            none,
            kept,
            broken,
            standard_error,
            kept_low,
            kept_high,
            kept_if_given,
            width,
        ) in ROWS
    )
