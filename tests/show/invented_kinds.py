"""Invented bonds and wires of the plant Alder Bench, one outcome of every kind, for `show`."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

import workbench as wb
from workbench.define.factors import Categorical, Continuous
from workbench.define.outcomes import Counted, Graded, Measured, PassFail, at_least, at_most
from workbench.define.settings import settings
from workbench.define.trial import Trial
from workbench.run.record import Readings, Record, Status

GRADES = ("clean", "faint", "visible", "heavy")


@cache
def trial() -> Trial:
    """Return the invented trial: two settings and a category, an outcome of each kind."""
    return Trial(
        title="plate_bond",
        question="Which settings hold the plate?",
        factors=(
            Continuous(name="press force", low=10, high=30, unit="N", setting_sd=1),
            Continuous(name="dwell", low=2, high=8, unit="s", setting_sd=0.2),
            Categorical(name="wipe", levels=("none", "once")),
        ),
        outcomes=(
            Measured(
                name="pull force",
                unit="N",
                requirement=at_least(40),
                worth_finding=4,
                gauge_high=60,
            ),
            PassFail(name="drop test"),
            Graded(name="smear", grades=GRADES, requirement=at_most(1)),
            Counted(name="skips", unit="skips", requirement=at_most(3)),
            Measured(name="bead width", unit="mm", scale="log", worth_finding=1.2),
        ),
        model="interactions",
        invented="Invented trial, made-up data.",
        seed=11,
    )


@cache
def record() -> Record:
    """Return two replicates of the eight corners and four middles, made up from a seed."""
    its = trial()
    rng = np.random.default_rng(7)
    corners = [(f, d, w) for f in (10, 30) for d in (2, 8) for w in ("none", "once")]
    middles = [(20, 5, w) for w in ("none", "once")]
    rows = [*corners, *corners, *corners, *middles, *middles]
    order = rng.permutation(len(rows))
    named = [dict(zip(("press force", "dwell", "wipe"), rows[i], strict=True)) for i in order]
    made = settings(its.factors, named)
    force, dwell = made.coded()[:, 0], made.coded()[:, 1]
    wipe = np.array([1.0 if one["wipe"] == "once" else -1.0 for one in named])
    n = len(rows)
    pull = 48 + 7 * force + 4 * dwell + 3 * wipe + 2 * force * wipe
    pull = np.round(pull + rng.normal(0, 3, n), 1)
    cut = pull > 60
    tendency = 0.4 - 1.6 * force + 0.5 * dwell + rng.logistic(0, 1, n)
    grade = np.clip(np.floor(tendency + 1.5), 0, 3)
    chance = 1 / (1 + np.exp(-(0.8 + 1.1 * force + 0.9 * wipe)))
    width = np.exp(0.2 + 0.3 * force + rng.normal(0, 0.08, n) * (1 + 0.9 * (dwell > 0)))
    return Record(
        trial=its,
        plan=None,
        run=np.arange(1, n + 1),
        planned=None,
        as_run=made,
        block=np.zeros(n, dtype=np.int64),
        block_labels=("all",),
        setup=np.arange(1, n + 1),
        status=(Status.DONE,) * n,
        reason=("",) * n,
        readings={
            "pull force": _readings(np.where(cut, 60.0, pull), mark=cut),
            "drop test": _parts(rng.random((n, 6)) < chance[:, None]),
            "smear": _readings(grade),
            "skips": _readings(rng.poisson(np.exp(0.9 - 0.7 * force + 0.3 * wipe))),
            "bead width": _readings(np.round(width, 3)),
        },
    )


@cache
def fit(name: str):
    """Return the fit of one outcome."""
    return wb.fit.outcome(record(), name)


@cache
def in_setups():
    """Return the pull force of a trial whose press force was set once for four runs."""
    force, *others = trial().factors
    its = replace(trial(), factors=(replace(force, slow=True), *others))
    rng = np.random.default_rng(3)
    rows, setup = [], []
    for number in range(8):
        for dwell in (2, 8):
            for wipe in ("none", "once"):
                rows.append(
                    {"press force": 10 if number % 2 else 30, "dwell": dwell, "wipe": wipe}
                )
                setup.append(number + 1)
    made = settings(its.factors, rows)
    n, setups = len(rows), np.array(setup)
    shared = rng.normal(0, 2.5, 9)[setups]
    value = 45 + 6 * made.coded()[:, 0] + 3 * made.coded()[:, 1] + shared + rng.normal(0, 1.2, n)
    seen = Record(
        trial=its,
        plan=None,
        run=np.arange(1, n + 1),
        planned=None,
        as_run=made,
        block=np.zeros(n, dtype=np.int64),
        block_labels=("all",),
        setup=setups.astype(np.int64),
        status=(Status.DONE,) * n,
        reason=("",) * n,
        readings={"pull force": _readings(np.round(value, 1))},
    )
    return wb.fit.outcome(seen, "pull force")


def _readings(value: np.ndarray, *, mark: np.ndarray | None = None) -> Readings:
    n = value.size
    ones = np.ones(n, dtype=np.int64)
    return Readings(
        row=np.arange(n),
        part=ones.copy(),
        reading=ones.copy(),
        value=value.astype(float),
        mark=0 * ones if mark is None else mark.astype(np.int64),
    )


def _parts(passed: np.ndarray) -> Readings:
    n, many = passed.shape
    return Readings(
        row=np.repeat(np.arange(n), many),
        part=np.tile(np.arange(1, many + 1), n),
        reading=np.ones(n * many, dtype=np.int64),
        value=passed.ravel().astype(float),
        mark=np.zeros(n * many, dtype=np.int64),
    )
