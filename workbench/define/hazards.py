"""Hazards of a whole trial: its own and those of every setting."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.define.trial import Trial


def hazards_of(trial: Trial) -> tuple[str, ...]:
    """Return the hazard tags of a trial and of all its settings, each once."""
    tags = list(trial.hazards)
    for one in (*trial.factors, *trial.held):
        tags += one.hazards
    return tuple(dict.fromkeys(tags))
