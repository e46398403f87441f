"""The conclusion asked again in every other way."""

import numpy as np
import pandas as pd
import pytest

from workbench.define.factors import Continuous
from workbench.fit import outcome, sensitivity
from workbench.run.record import Status

X = np.array([[a, b] for a in (-1.0, 1.0) for b in (-1.0, 1.0)] * 4)
FACTORS = tuple(
    Continuous(name=name, low=-1, high=1, unit="", setting_sd=0) for name in ("dose", "press")
)
NOISE = np.random.default_rng(8).standard_normal(16)


def table(y):
    return pd.DataFrame({"dose": X[:, 0], "press": X[:, 1], "y": y})


def test_a_strong_effect_survives_everything(record_of):
    y = 100 + 10 * X[:, 0] + NOISE
    y[5] += 12
    record = record_of(table(y), factors=FACTORS, outcome="y")
    card = sensitivity(record, outcome(record, "y"))
    assert card.clear == ("dose",)
    assert [one.name for one in card.variants] == ["without run 6 (far from the model)", "on log"]
    assert all(not one.turned for one in card.variants)


def test_one_run_that_hides_an_effect_is_named(record_of):
    y = 50 + 1.5 * X[:, 0] + NOISE
    y[14] -= 12
    record = record_of(table(y), factors=FACTORS, outcome="y")
    card = sensitivity(record, outcome(record, "y"))
    without = next(one for one in card.variants if "run 15" in one.name)
    assert card.clear == ()
    assert without.gained == ("dose",)
    assert "depends on the way of asking: without run 15" in card.words()


def test_an_excluded_run_is_counted_in(record_of):
    y = 100 + 10 * X[:, 0] + NOISE
    record = record_of(
        table(y), factors=FACTORS, outcome="y", status={3: (Status.EXCLUDED, "dropped")}
    )
    card = sensitivity(record, outcome(record, "y"))
    assert "run 3 counted in (dropped)" in [one.name for one in card.variants]
    assert card.words() == "The conclusion is the same in all 2 other ways of asking."


def test_a_way_without_an_answer_says_why(record_of):
    record = record_of(table(NOISE), factors=FACTORS, outcome="y")
    fit = outcome(record, "y")
    card = sensitivity(record, fit, terms="dose")
    assert card.words().startswith(("There is no other way", "The conclusion", "Which effects"))


@pytest.mark.parametrize("scale", ["inverse", "log"])
def test_directions_are_those_of_the_outcome(record_of, scale):
    y = 100 + 10 * X[:, 0] + NOISE
    record = record_of(table(y), factors=FACTORS, outcome="y")
    card = sensitivity(record, outcome(record, "y", scale=scale))
    as_read = next(one for one in card.variants if one.name == "as read")
    assert as_read.turned == ()
