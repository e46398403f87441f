"""Tables in an order that was chosen for the eye tell nothing of resets; shuffled ones do."""

import numpy as np
import pandas as pd
import pytest

import workbench as wb
from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured
from workbench.define.terms import preset
from workbench.define.trial import Trial
from workbench.fit.run_means import Wanted, run_means
from workbench.fit.strata import strata


def structure_of(record, name, model):
    terms = preset(model, record.trial.factors)
    wanted = Wanted(factors=tuple(dict.fromkeys(n for one in terms.terms for n in one.factors)))
    data = run_means(record, record.trial.outcome(name), wanted)
    return strata(record, data, terms, structure="as run")


class TestTablesThatAreNotInRunOrder:
    def standard(self, k, repeats=1):
        levels = np.array(np.meshgrid(*[[-1.0, 1]] * k, indexing="ij")).reshape(k, -1).T
        table = pd.DataFrame(np.tile(levels[:, ::-1], (repeats, 1)), columns=[*"abcde"[:k]])
        table["y"] = np.random.default_rng(5).normal(size=len(table))
        return table

    @pytest.mark.parametrize("k", [3, 4, 5])
    def test_standard_order_says_nothing_of_resets(self, record_of, k):
        table = self.standard(k)
        record = record_of(table, factors=[*"abcde"[:k]], outcome="y")
        found = structure_of(record, "y", "first-order")
        assert found.random == ()

    @pytest.mark.parametrize("k", [4, 5, 6, 7])
    @pytest.mark.parametrize("kind", ["fraction", "composite", "definitive", "screening"])
    def test_arrays_in_their_own_order(self, record_of, kind, k):
        factors = [
            Continuous(name=one, low=-1, high=1, unit="", setting_sd=0) for one in "abcdefg"[:k]
        ]
        trial = Trial(
            title="t",
            question="q",
            factors=tuple(factors),
            outcomes=(Measured(name="y", unit=""),),
        )
        options = {"runs": 16} if kind == "screening" else {}
        plan = getattr(wb.plan, kind)(trial, seed=1, **options)
        settings = plan.settings.rows(np.argsort(plan.standard, kind="stable"))
        table = pd.DataFrame(settings.values, columns=settings.names)
        table["y"] = np.random.default_rng(5).normal(size=len(table))
        record = record_of(table, factors=factors, outcome="y")
        found = structure_of(record, "y", "first-order")
        assert found.random == ()

    def test_sorted_by_any_column(self, record_of):
        table = self.standard(4).sort_values(["c", "a", "d", "b"]).reset_index(drop=True)
        record = record_of(table, factors=[*"abcd"], outcome="y")
        found = structure_of(record, "y", "first-order")
        assert found.random == ()

    def test_random_orders_are_hardly_ever_noticed(self, record_of):
        rng = np.random.default_rng(6)
        table, noticed = self.standard(4), 0
        for _ in range(60):
            shuffled = table.iloc[rng.permutation(16)].reset_index(drop=True)
            record = record_of(shuffled, factors=[*"abcd"], outcome="y")
            found = structure_of(record, "y", "first-order")
            noticed += bool(found.noticed)
        assert noticed <= 2

    def test_shuffled_within_groups_is_noticed(self, record_of):
        rng = np.random.default_rng(8)
        table = self.standard(4)
        halves = [table[table["d"] == level] for level in (-1, 1)]
        order = np.concatenate([rng.permutation(half.index) for half in halves])
        record = record_of(
            table.iloc[order].reset_index(drop=True), factors=[*"abcd"], outcome="y"
        )
        found = structure_of(record, "y", "first-order")
        assert found.noticed == ("d",)
