"""Made-up trials: settings, readings and fits from a formula and a seed."""

import importlib.util
import sys
from itertools import product
from pathlib import Path

import numpy as np
import pytest

import workbench as wb
from workbench.define.factors import Continuous
from workbench.define.settings import from_coded
from workbench.define.trial import Trial
from workbench.run.record import Readings, Record, Status

if "invented_proofs" not in sys.modules:
    spec = importlib.util.spec_from_file_location(
        "invented_proofs", Path(__file__).with_name("invented_proofs.py")
    )
    module = importlib.util.module_from_spec(spec)
    sys.modules["invented_proofs"] = module
    spec.loader.exec_module(module)


def face_centred(n_factors, *, copies=1, centre=4):
    corners = np.array(list(product([-1.0, 1.0], repeat=n_factors)))
    axial = np.vstack([s * np.eye(n_factors)[j] for j in range(n_factors) for s in (-1, 1)])
    return np.vstack([*[corners, axial] * copies, np.zeros((centre, n_factors))])


def readings(values):
    """One part a run for (n,), several for (n, m)."""
    values = np.asarray(values, dtype=float).reshape(len(values), -1)
    n, m = values.shape
    return Readings(
        row=np.repeat(np.arange(n), m),
        part=np.tile(np.arange(1, m + 1), n),
        reading=np.ones(n * m, dtype=np.int64),
        value=values.ravel(),
        mark=np.zeros(n * m, dtype=np.int64),
    )


def fits_of(factors, coded, outcomes, *, terms="second-order", uses_as_run=True, block=None):
    """Fit outcomes, a list of (Measured, values), at coded settings."""
    n = len(coded)
    chosen = from_coded(factors, coded)
    trial = Trial(
        title="made up",
        question="where?",
        factors=tuple(factors),
        outcomes=tuple(outcome for outcome, _ in outcomes),
        model=terms,
    )
    block = np.zeros(n, dtype=np.int64) if block is None else np.asarray(block)
    record = Record(
        trial=trial,
        plan=None,
        run=np.arange(1, n + 1),
        planned=chosen,
        as_run=chosen,
        block=block,
        block_labels=tuple(f"lot {i + 1}" for i in range(block.max() + 1)),
        setup=np.arange(1, n + 1),
        status=(Status.DONE,) * n,
        reason=("",) * n,
        readings={outcome.name: readings(values) for outcome, values in outcomes},
    )
    wanted = wb.define.parse_terms(terms, tuple(factors))
    return tuple(
        wb.fit.outcome(record, outcome.name, terms=wanted, uses_as_run=uses_as_run)
        for outcome, _ in outcomes
    )


def numeric(n, *, setting_sd=2.4):
    return [
        Continuous(
            name=f"factor {j + 1}",
            low=100.0 * (j + 1),
            high=100.0 * (j + 1) + 80.0,
            unit="mm",
            setting_sd=setting_sd,
        )
        for j in range(n)
    ]


@pytest.fixture(scope="session")
def made():
    """The helpers above, for tests of this folder."""

    class Made:
        face_centred = staticmethod(face_centred)
        fits_of = staticmethod(fits_of)
        numeric = staticmethod(numeric)

    return Made
