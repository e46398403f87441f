"""Shares of a mixture in trial.toml."""

from workbench.define import Component, Measured, Trial
from workbench.files import trial_from_text, trial_text


def test_components_there_and_back():
    trial = Trial(
        title="blend",
        question="",
        factors=(
            Component(name="resin", low=0.2, high=0.8, hazards=("solvent",)),
            Component(name="filler", low=0.2, high=0.8, setting_sd=0.01),
        ),
        outcomes=(Measured(name="hardness", unit="N"),),
    )
    assert trial_from_text(trial_text(trial)) == trial
