"""Terms: heredity, order, and models that factors allow."""

import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.define import (
    MEAN,
    Categorical,
    Continuous,
    Stepped,
    Term,
    Terms,
    full_factorial,
    parents,
    preset,
    sorted_terms,
    term,
    with_heredity,
)
from workbench.errors import DefinitionError

A, B, C = (Continuous(name=n, low=0, high=1, unit="1", setting_sd=0) for n in "abc")
SURFACE = Categorical(name="surface", levels=("none", "wiped"))


def test_terms_in_words():
    assert str(MEAN) == "mean"
    assert str(Term(powers=(("bead volume", 1), ("dwell", 2)))) == "bead volume × dwell²"
    assert str(Term(powers=(("dwell", 4),))) == "dwell^4"
    assert (MEAN.order, Term(powers=(("a", 2), ("b", 1))).order) == (0, 3)


def test_powers_of_one_factor_add_up_in_the_order_of_the_trial():
    assert term(("b", 1), ("a", 1), ("b", 1), factors=(A, B)).powers == (("a", 1), ("b", 2))


def test_terms_that_cannot_be():
    with pytest.raises(DefinitionError, match="names 'speed', which is no factor"):
        term(("speed", 1), factors=(A,))
    with pytest.raises(DefinitionError, match="squares 'surface'"):
        term(("surface", 2), factors=(SURFACE,))
    with pytest.raises(DefinitionError, match="'quadratic' is not known"):
        preset("quadratic", (A,))


def test_a_factor_of_two_steps_cannot_bend():
    two = Stepped(name="two", steps=(1, 2), unit="mm", setting_sd=0)
    three = Stepped(name="three", steps=(1, 2, 4), unit="mm", setting_sd=0)
    assert str(preset("second-order", (two, three))) == "two, three, two × three, three²"


@pytest.mark.parametrize("k", [1, 2, 3, 5])
def test_how_many_terms_the_presets_have(k):
    factors = tuple(
        Continuous(name=f"x{i}", low=0, high=1, unit="1", setting_sd=0) for i in range(k)
    )
    assert len(preset("first-order", factors)) == k
    assert len(preset("interactions", factors)) == k + k * (k - 1) // 2
    assert len(preset("second-order", factors)) == 2 * k + k * (k - 1) // 2
    assert len(full_factorial(factors)) == 2**k - 1


powers = st.dictionaries(st.sampled_from("abc"), st.integers(1, 3), min_size=1)


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(asked=st.lists(powers, min_size=1, max_size=4))
def test_closed_under_heredity_once_and_for_all(asked):
    terms = tuple(Term(powers=tuple(sorted(one.items()))) for one in asked)
    closed = with_heredity(Terms(terms=terms, asked=""), (A, B, C))
    assert set(terms) <= set(closed.terms)
    assert {p for one in closed.terms for p in parents(one)} <= set(closed.terms)
    assert with_heredity(closed, (A, B, C)) == closed
    orders = [one.order for one in closed.terms]
    assert orders == sorted(orders)


def test_the_order_is_the_same_in_every_process():
    # Sets of strings are ordered anew in each process; a tie in the sort would let that through.
    code = (
        "from workbench.define import Continuous, parse_terms\n"
        "f = [Continuous(name=n, low=0, high=1, unit='1', setting_sd=0) for n in 'abc']\n"
        "print(parse_terms('a^2*b, a*b^2, a^2*c, b*c^2, b^2*c', f))"
    )
    said = set()
    for hash_seed in "01234":
        done = subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONHASHSEED": hash_seed},
            capture_output=True,
            text=True,
            check=True,
        )
        said.add(done.stdout)
    assert len(said) == 1


def test_products_stand_before_squares():
    found = sorted_terms(
        {term(("b", 2), factors=(A, B)), term(("a", 1), ("b", 1), factors=(A, B))}, (A, B)
    )
    assert [str(one) for one in found] == ["a × b", "b²"]
