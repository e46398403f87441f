"""The paragraph: interactions first, then averages, then what cannot be told."""

import re

import numpy as np
import pandas as pd

from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured
from workbench.fit import clear_terms, outcome, reading


def corners(times=1):
    grid = np.array([[a, b, c] for a in (-1.0, 1) for b in (-1.0, 1) for c in (-1.0, 1)] * times)
    return pd.DataFrame(grid, columns=["dwell", "tip temp", "feed"])


FACTORS = [
    Continuous(name=n, low=-1, high=1, unit="mm", setting_sd=None)
    for n in ("dwell", "tip temp", "feed")
]


def fitted(record_of, y, *, table, terms="interactions"):
    record = record_of(table, factors=FACTORS, outcome=Measured(name="pull", unit="N"), values=y)
    return outcome(record, "pull", terms=terms)


def test_interaction_comes_before_averages(record_of):
    table = corners(2)
    rng = np.random.default_rng(5)
    y = 20 + 2 * table["dwell"] + 3 * table["dwell"] * table["feed"] + rng.normal(size=16) * 0.3
    fit = fitted(record_of, y, table=table)
    said = reading(fit)
    assert [str(one.term) for one in clear_terms(fit)] == ["dwell", "dwell × feed"]
    assert said.startswith("What dwell does to pull depends on feed (p < 0.0001)")
    assert re.search(r"dwell from -1 to 1 mm: \+[34]\.\d+ N \(95 %", said)
    assert "on the average of the others" in said
    assert "Not told from scatter:" in said
    assert "no proof of no effect" in said


def test_lack_of_fit_and_no_gain_are_said(record_of):
    table = pd.concat([corners(1), pd.DataFrame(0.0, index=range(4), columns=corners().columns)])
    table = table.reset_index(drop=True)
    rng = np.random.default_rng(2)
    y = 10 + 8 * (table["dwell"] ** 2) + 0.1 * rng.normal(size=12)
    said = reading(fitted(record_of, y, table=table, terms="first-order"))
    assert "does not follow the runs" in said
    assert "no better than the plain mean" in said


def test_no_error_degrees_of_freedom(record_of):
    y = 5 + 3 * corners()["feed"] + 0.05 * np.random.default_rng(4).normal(size=8)
    said = reading(fitted(record_of, y, table=corners(), terms="dwell * 'tip temp' * feed"))
    assert said.startswith("No error estimate")
    assert "feed stands out" in said
    assert "4 more runs" in said
    # 2 t(4) / √8 run-to-run standard deviations: what an effect of eight runs would be known to.
    assert "±2 run-to-run" in said


def test_mixed_terms_are_named(record_of):
    table = corners()[np.prod(corners().to_numpy(), axis=1) > 0].reset_index(drop=True)
    said = reading(fitted(record_of, [1.0, 2, 4, 8], table=table))
    assert "Cannot be told apart: dwell + tip temp × feed" in said
