"""Confirmations made by hand, with parts drawn from a stated process."""

import numpy as np

from workbench.decide.confirmation import ConfirmationPlan, Foreseen, JudgedBy, Place
from workbench.decide.confirmation_normal import ABOVE, BELOW, Margin, allowances
from workbench.decide.confirmation_runs import confirmation_runs
from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured, PassFail, Requirement
from workbench.define.settings import Settings
from workbench.define.trial import Trial
from workbench.errors import Unavailable
from workbench.run.record import Readings, Record, Status

DWELL = Continuous(name="dwell", low=1.0, high=3.0, unit="s", setting_sd=0.1)
ANY = Unavailable(reason="not foreseen here")


def foreseen(outcome, *, parts, share, confidence, margins=None):
    """Foresee a measured outcome by the distance of its limits (sd), or one that is counted."""
    below = above = None
    if margins is not None:
        found = tuple(
            Margin(outcome=outcome.name, side=side, in_sd=in_sd) for side, in_sd in margins
        )
        allowed = allowances(found, parts, share=share, confidence=confidence)
        below = next((one.part for one in allowed if one.side == BELOW), None)
        above = next((one.part for one in allowed if one.side == ABOVE), None)
    return Foreseen(
        outcome=outcome.name,
        unit=getattr(outcome, "unit", ""),
        requirement="as stated",
        mean=0.0,
        mean_low=-1.0,
        mean_high=1.0,
        new_part_low=ANY,
        new_part_high=ANY,
        parts_mean_low=-0.5,
        parts_mean_high=0.5,
        chance=0.99,
        may_fall_below=below,
        may_fall_above=above,
    )


def plan_of(outcomes, *, parts, share=0.95, confidence=0.95, margins=None, n_places=1):
    """One plan of so many equal places; by measure where margins are given, else by counting."""
    names = ("set point", *(f"corner {i}" for i in range(1, n_places)))
    return ConfirmationPlan(
        places=tuple(
            Place(
                name=name,
                settings=(("dwell", 2.0 + 0.25 * i),),
                why="",
                parts=parts,
                failures_allowed=None,
                chance=0.99,
                assured_share=0.97,
                failures_low=0,
                failures_high=3,
                chance_to_confirm=0.9,
                outcomes=tuple(
                    foreseen(one, parts=parts, share=share, confidence=confidence, margins=margins)
                    for one in outcomes
                ),
            )
            for i, name in enumerate(names)
        ),
        share=share,
        confidence=confidence,
        interval_confidence=0.95,
        judged_by=JudgedBy.COUNTING if margins is None else JudgedBy.MEASURE,
        sittings=("fresh lot", "other operator"),
        number=(),
        fewer=(),
        seed=3,
        model_form=0.3,
    )


def trial_of(outcomes):
    return Trial(
        title="made up", question="?", factors=(DWELL,), outcomes=tuple(outcomes), model="dwell"
    )


def record_of(plan, outcomes, values, *, marks=None, status=None, as_run=None):
    """Parts in run order; `values` name to (n,), `marks` and `status` by run (from 0)."""
    trial = trial_of(outcomes)
    runs = confirmation_runs(plan, trial)
    n = len(runs)
    chosen = [Status.DONE] * n
    for run, one in (status or {}).items():
        chosen[run] = one
    set_to = np.array(runs.settings.values)
    for run, value in (as_run or {}).items():
        set_to[run] = value
    return Record(
        trial=trial,
        plan=runs,
        run=np.arange(1, n + 1),
        planned=runs.settings,
        as_run=Settings(factors=trial.factors, values=set_to),
        block=runs.block - 1,
        block_labels=("1", "2"),
        setup=np.arange(1, n + 1),
        status=tuple(chosen),
        reason=tuple("spoiled" if one is not Status.DONE else "" for one in chosen),
        readings={
            one.name: _readings(values[one.name], (marks or {}).get(one.name, {}), chosen)
            for one in outcomes
        },
    )


def _readings(values, marks, status):
    told = np.array([i for i, one in enumerate(status) if one is Status.DONE], dtype=np.int64)
    return Readings(
        row=told,
        part=np.ones(told.size, dtype=np.int64),
        reading=np.ones(told.size, dtype=np.int64),
        value=np.asarray(values, dtype=float)[told],
        mark=np.array([marks.get(int(i), 0) for i in told], dtype=np.int64),
    )


def pull(low=None, high=None, **more):
    return Measured(name="pull", unit="N", requirement=Requirement(low=low, high=high), **more)


WETS = PassFail(name="wets", passes="yes", fails="no")
