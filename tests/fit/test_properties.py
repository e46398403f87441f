"""What must not change a fit: the order of rows, the units, the names."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as examples
from hypothesis import strategies as st

from workbench.define.factors import Categorical, Continuous
from workbench.define.outcomes import Measured
from workbench.define.terms import Term, Terms
from workbench.errors import Unavailable
from workbench.fit import outcome
from workbench.fit.run_means import in_words

ODD_NAMES = [
    "C",
    "Q",
    "Intercept",
    "1",
    "np",
    "dwell time (s)",
    "Ω_µ",
    "a:b",
    "x^2",
    "température",
]
QUICK = {
    "max_examples": 25,
    "deadline": None,
    "suppress_health_check": [HealthCheck.function_scoped_fixture],
}


def table_of(seed, n=14):
    rng = np.random.default_rng(seed)
    return pd.DataFrame(
        {
            "a": rng.uniform(10, 20, n),
            "b": rng.choice([0.0, 5.0, 10.0], n),
            "c": [*"uvwu", *rng.choice(list("uvw"), n - 4)],
            "y": rng.lognormal(size=n),
        }
    )


def factors_of(names=("a", "b", "c")):
    return (
        Continuous(name=names[0], low=10, high=20, unit="mm", setting_sd=None),
        Continuous(name=names[1], low=0, high=10, unit="s", setting_sd=None),
        Categorical(name=names[2], levels=("u", "v", "w")),
    )


def terms_of(names=("a", "b", "c")):
    a, b, c = names
    powers = [((a, 1),), ((b, 1),), ((c, 1),), ((a, 1), (b, 1)), ((b, 1), (c, 1)), ((b, 2),)]
    return Terms(terms=tuple(Term(powers=p) for p in powers), asked="test")


def same(one, other):
    np.testing.assert_allclose(one.estimates, other.estimates, rtol=1e-8, atol=1e-10)
    assert one.error_df == other.error_df
    assert one.residual_variance == pytest.approx(other.residual_variance)
    for here, there in zip(one.tests, other.tests, strict=True):
        if isinstance(here.statistic, Unavailable):
            assert there.statistic == here.statistic
        else:
            assert there.statistic == pytest.approx(here.statistic, rel=1e-6, abs=1e-9)


@pytest.mark.property
@examples(**QUICK)
@given(seed=st.integers(0, 2**32 - 1))
def test_row_order(record_of, seed):
    table = table_of(seed)
    shuffled = table.sample(frac=1, random_state=seed % 1000).reset_index(drop=True)
    first, second = (
        outcome(record_of(t, factors=factors_of(), outcome="y"), "y", terms=terms_of())
        for t in (table, shuffled)
    )
    same(first, second)


@pytest.mark.property
@examples(**QUICK)
@given(seed=st.integers(0, 2**32 - 1), times=st.floats(0.01, 100), shift=st.floats(-300, 300))
def test_unit_of_a_factor(record_of, seed, times, shift):
    table = table_of(seed)
    first = outcome(record_of(table, factors=factors_of(), outcome="y"), "y", terms=terms_of())
    length, wait, kind = factors_of()
    moved = replace(length, low=10 * times + shift, high=20 * times + shift, unit="µm")
    table["a"] = table["a"] * times + shift
    second = outcome(
        record_of(table, factors=(moved, wait, kind), outcome="y"), "y", terms=terms_of()
    )
    np.testing.assert_allclose(first.estimates, second.estimates, rtol=1e-6, atol=1e-8)
    slope = next(c.value for c in first.natural_coefficients if c.name == "a × b")
    new = next(c.value for c in second.natural_coefficients if c.name == "a × b")
    assert new * times == pytest.approx(slope, rel=1e-6, abs=1e-9)


@pytest.mark.property
@examples(**QUICK)
@given(seed=st.integers(0, 2**32 - 1), times=st.floats(0.01, 100))
def test_unit_of_the_outcome(record_of, seed, times):
    table = table_of(seed)
    first = outcome(record_of(table, factors=factors_of(), outcome="y"), "y", terms=terms_of())
    table["y"] *= times
    second = outcome(record_of(table, factors=factors_of(), outcome="y"), "y", terms=terms_of())
    np.testing.assert_allclose(first.estimates * times, second.estimates, rtol=1e-7, atol=1e-9)
    for here, there in zip(first.tests, second.tests, strict=True):
        if isinstance(here.p, Unavailable):
            assert there.p == here.p
        else:
            assert there.p == pytest.approx(here.p, rel=1e-6, abs=1e-12)


@pytest.mark.property
@examples(**QUICK)
@given(
    seed=st.integers(0, 2**32 - 1),
    names=st.lists(st.sampled_from(ODD_NAMES), min_size=4, max_size=4, unique=True),
)
def test_names(record_of, seed, names):
    table = table_of(seed)
    first = outcome(record_of(table, factors=factors_of(), outcome="y"), "y", terms=terms_of())
    *factors, y = names
    renamed = table.rename(columns=dict(zip(["a", "b", "c", "y"], names, strict=True)))
    second = outcome(
        record_of(renamed, factors=factors_of(factors), outcome=Measured(name=y, unit="")),
        y,
        terms=terms_of(factors),
    )
    np.testing.assert_array_equal(first.estimates, second.estimates)
    # A reason names the factors, so only numbers are compared.
    shown = [[t.p for t in fit.tests if isinstance(t.p, float)] for fit in (first, second)]
    assert shown[0] == shown[1]


def test_run_numbers_in_words():
    assert in_words(np.array([4])) == "run 4"
    assert in_words(np.array([4, 7, 9])) == "runs 4, 7 and 9"
