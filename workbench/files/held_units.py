"""Names under which things are held, and values in the units that the trial states now."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.units import convert
from workbench.errors import DefinitionError, RecordError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.trial import Trial


def setting_of(factor: str) -> str:
    """Return the name under which an as-run setting is held."""
    return f"setting of {factor}"


def reset_of(factor: str) -> str:
    """Return the name under which the answer to "was it reset?" is held."""
    return f"reset of {factor}"


def trial_unit(trial: Trial, name: str) -> str:
    """Return the unit of a factor or outcome, empty if it has none.

    Raises
    ------
    RecordError
        If the trial has neither of that name.
    """
    for one in (*trial.factors, *trial.outcomes):
        if one.name == name:
            return str(getattr(one, "unit", ""))
    raise RecordError(
        f"The journal speaks of {name!r}, which the trial has not.",
        why="What was entered cannot be placed.",
        next_step="Put the factor or outcome back into trial.toml under its old name.",
        place="results",
    )


def in_trial_unit(value: float, *, own: str, unit: str, thing: str) -> float:
    """Return an entered value in the unit that the trial states now.

    Raises
    ------
    RecordError
        If the two units do not measure the same.
    """
    if not own or not unit or own == unit:  # a unit that was never stated fits any
        return value
    try:
        return convert(value, from_unit=own, to_unit=unit)
    except DefinitionError as met:
        raise RecordError(
            f"{thing} was entered in {own}, but the trial now states {unit}.",
            why=met.wrong,
            next_step="Put the old unit back into trial.toml.",
            place="results",
        ) from None


class TrialUnits:
    """The units of a trial, each looked up once."""

    def __init__(self, trial: Trial) -> None:
        self.trial = trial
        self.units: dict[str, str] = {}

    def of(self, name: str) -> str:
        """Return the unit of a factor or outcome; raises as `trial_unit`."""
        unit = self.units.get(name)
        if unit is None:
            unit = self.units[name] = trial_unit(self.trial, name)
        return unit

    def value(self, value: float, own: str, *, name: str, run: int = 0) -> float:
        """Return an entered value in the trial's unit; raises as `in_trial_unit`."""
        unit = self.of(name)
        if not own or not unit or own == unit:
            return value
        return in_trial_unit(value, own=own, unit=unit, thing=f"Run {run}, {name}")

    def values(
        self,
        values: NDArray[np.float64],
        own: str,
        *,
        name: str,
        runs: NDArray[np.int64] | None = None,
    ) -> NDArray[np.float64]:
        """Return entered values (n,) of runs (n,) in the trial's unit; raises as `value`."""
        if own in ("", self.of(name)) or not self.of(name):
            return values
        found = np.array(values)
        for row in np.flatnonzero(np.isfinite(values)).tolist():
            run = 0 if runs is None else int(runs[row])
            found[row] = self.value(float(values[row]), own, name=name, run=run)
        return found
