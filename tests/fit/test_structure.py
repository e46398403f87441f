"""What `structure` does for outcomes that are not averaged over a run."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import workbench.fit as fitting
from workbench.define.factors import Continuous
from workbench.define.outcomes import Counted, Graded, Measured, PassFail, Requirement, at_least
from workbench.errors import FitError, Unavailable
from workbench.run.record import Readings

OUTCOMES = {
    "graded": Graded(
        name="seen", grades=("none", "trace", "clear"), requirement=Requirement(high=1)
    ),
    "counted": Counted(name="seen", unit="skips", requirement=Requirement(high=4)),
    "pass-fail": PassFail(name="seen"),
    "censored": Measured(name="seen", unit="N", requirement=at_least(2)),
}


def factor(name, *, slow=False):
    return Continuous(name=name, low=-1, high=1, unit="s", setting_sd=0.05, slow=slow)


@pytest.fixture
def loads(record_of):
    """Return a maker of records: an oven set once for four runs, eight times, and a quick time."""

    def made(kind, *, slow=True, numbered=True):
        rng = np.random.default_rng(5)
        oven = np.repeat([-1.0, 1.0, 1.0, -1.0, 1.0, -1.0, -1.0, 1.0], 4)
        quick = np.tile([-1.0, 1.0, 1.0, -1.0], 8)
        level = quick + rng.standard_normal(32)
        values = {
            "graded": np.digitize(level, [-0.7, 0.7]),
            "counted": rng.poisson(np.exp(1 + 0.3 * level)),
            "pass-fail": (level > -0.5).astype(int),
            "censored": np.minimum(3 + level, 4.2),
        }[kind]
        record = record_of(
            pd.DataFrame({"oven": oven, "quick": quick}),
            factors=[factor("oven", slow=slow), factor("quick")],
            outcome=OUTCOMES[kind],
            values=values.astype(float),
        )
        if numbered:
            record = replace(record, setup=np.repeat(np.arange(8), 4))
        if kind == "censored":
            old = record.readings["seen"]
            cut = Readings(
                row=old.row,
                part=old.part,
                reading=old.reading,
                value=old.value,
                mark=np.where(old.value >= 4.2, 1, 0),
            )
            record = replace(record, readings={"seen": cut})
        return record

    return made


def told(fit, name):
    return next(one for one in fit.tests if name in str(one.term)).p


@pytest.mark.parametrize("kind", OUTCOMES)
class TestStructure:
    def test_runs_that_share_setups_give_no_new_part(self, loads, kind):
        found = fitting.outcome(loads(kind), "seen", terms="first-order")
        assert found.kind == kind
        seen = found.share_draws(found.settings, n_draws=50, seed=1, model_form=0.0)
        assert isinstance(seen, Unavailable)
        assert "setup" in seen.reason
        assert isinstance(found.inside(found.settings), Unavailable)

    def test_independent_takes_every_run_as_set_afresh_and_says_so(self, loads, kind):
        record = loads(kind)
        found = fitting.outcome(record, "seen", terms="first-order", structure="independent")
        shares = found.share_draws(found.settings, n_draws=50, seed=1, model_form=0.0)
        assert not isinstance(shares, Unavailable)
        assert isinstance(told(found, "oven"), float)
        assert any("as if every run had been set afresh" in note for note in found.notes)

    def test_consecutive_runs_of_a_slow_factor_are_one_setup(self, loads, kind):
        found = fitting.outcome(loads(kind, numbered=False), "seen", terms="first-order")
        assert isinstance(
            found.share_draws(found.settings, n_draws=50, seed=1, model_form=0.0), Unavailable
        )
        assert any("No setups were numbered" in note for note in found.notes)

    def test_as_planned_without_a_plan_is_the_record(self, loads, kind):
        found = fitting.outcome(loads(kind), "seen", terms="first-order", structure="as planned")
        assert isinstance(
            found.share_draws(found.settings, n_draws=50, seed=1, model_form=0.0), Unavailable
        )

    def test_an_unknown_structure_is_refused(self, loads, kind):
        with pytest.raises(FitError, match="structure of the runs"):
            fitting.outcome(loads(kind), "seen", terms="first-order", structure="by hand")


@pytest.mark.parametrize("kind", ["graded", "counted"])
def test_scatter_that_cannot_be_shared_is_said_truly(loads, kind):
    fit = fitting.outcome(loads(kind, slow=False, numbered=False), "seen", terms="first-order")
    (pair,) = fitting.shared_scatter([fit, fit])
    assert pair.n_runs == 32
    assert "32 runs have both outcomes, but seen is read in" in pair.correlation.reason


@pytest.mark.parametrize("kind", ["graded", "counted"])
def test_simulated_rates_stand_beside_the_fit(loads, kind):
    record = loads(kind, slow=False, numbered=False)
    fit = fitting.outcome(record, "seen", terms="first-order", structure="independent")
    said = [note for note in fit.notes if "600 simulated plans" in note]
    assert said or kind == "graded"
