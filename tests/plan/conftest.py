"""Makers of trials, one set for the whole run so that searched properties can use them too."""

import pytest

from workbench.define import Categorical, Continuous, Measured, Trial

NAMES = (
    "bead volume",
    "nozzle height",
    "C",
    "Q",
    "Intercept",
    "1",
    "Öffnung µm",
    "dwell (s)",
    "tip × feed",
    "speed",
    "humidity",
    "press time",
)


@pytest.fixture(scope="session")
def number():
    def make(name, *, low=0.1, high=0.7, slow=False):
        return Continuous(name=name, low=low, high=high, unit="mm", setting_sd=0.0, slow=slow)

    return make


@pytest.fixture(scope="session")
def category():
    def make(name, *levels, slow=False):
        return Categorical(name=name, levels=levels, slow=slow)

    return make


@pytest.fixture(scope="session")
def trial_of():
    def make(*factors, **more):
        pull = Measured(name="pull force", unit="N")
        return Trial(title="made up", question="?", factors=factors, outcomes=(pull,), **more)

    return make


@pytest.fixture(scope="session")
def numeric_trial(number, trial_of):
    def make(k, names=NAMES, **more):
        return trial_of(*(number(name) for name in names[:k]), **more)

    return make


@pytest.fixture(scope="session")
def same_plan():
    def check(one, other):
        assert (one.settings.values == other.settings.values).all()
        for name in ("block", "setup", "standard"):
            assert (getattr(one, name) == getattr(other, name)).all()
        assert (one.point, one.terms, one.recipe) == (other.point, other.terms, other.recipe)
        assert one.parts_per_run == other.parts_per_run
        return True

    return check
