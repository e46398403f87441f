"""An invented trial with every kind of factor and outcome, for the run sheet as a workbook."""

import numpy as np

from workbench.define.factors import Categorical, Continuous, Held, Role
from workbench.define.outcomes import Counted, Graded, Measured, PassFail
from workbench.define.settings import settings as settings_of
from workbench.define.terms import preset
from workbench.define.trial import Budget, Trial
from workbench.plan.plans import Plan, Recipe

FACTORS = (
    Continuous(name="bead volume", low=260, high=440, unit="mm³", setting_sd=3),
    Categorical(name="activator", levels=("none", "=misted", "a, b"), hazards=("solvent",)),
    Continuous(name="humidity", low=20, high=80, unit="%RH", setting_sd=0, role=Role.OBSERVED),
)
TRIAL = Trial(
    title="R&D bond (invented)",
    question="",
    factors=FACTORS,
    outcomes=(
        Measured(name="peel force", unit="N", gauge_low=0.5, gauge_high=250, wait="72 h"),
        Measured(name="leak", unit="mm³/s", scale="log", wait="overnight"),
        PassFail(name="tight", passes="yes", fails="no"),
        Graded(name="look", grades=("clean", "hazy", "+white"), wait="30 min"),
        Counted(name="voids", unit="voids", out_of=12),
    ),
    held=(Held(name="=cure", value="48", unit="h"),),
    budget=Budget(parts_per_run=2),
    cautions=("=HYPERLINK(1)",),
    invented="Invented.",
)


def plan(*, turned=False):
    """Four runs in two blocks, the other way round if turned."""
    rows = [
        {"bead volume": volume, "activator": level}
        for volume in (260, 440)
        for level in ("none", "=misted")
    ]
    return Plan(
        settings=settings_of(TRIAL.planned_factors, rows[::-1] if turned else rows),
        block=np.array([1, 1, 2, 2]),
        setup=np.arange(1, 5),
        point=("factorial",) * 4,
        standard=np.arange(1, 5),
        parts_per_run=2,
        terms=preset("first-order", TRIAL.planned_factors),
        recipe=Recipe(kind="full", options=(), seed=1, version="0"),
    )
