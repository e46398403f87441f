"""The text of a model: what it means, and what a slip in it is told."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.define import (
    Categorical,
    Continuous,
    Term,
    full_factorial,
    parents,
    parse_terms,
    preset,
    terms_text,
)
from workbench.errors import DefinitionError


def numeric(name):
    return Continuous(name=name, low=1, high=3, unit="s", setting_sd=0)


BEAD, DWELL, AWKWARD = numeric("bead volume"), numeric("dwell"), numeric("it's 2-fold, ×2")
SURFACE = Categorical(name="surface", levels=("none", "wiped", "misted"))
TRIAL = (BEAD, DWELL, AWKWARD, SURFACE)


def words(text, factors=TRIAL, **options):
    return str(parse_terms(text, factors, **options))


def test_a_product_brings_its_parents():
    assert words("'bead volume' * dwell") == "bead volume, dwell, bead volume × dwell"


def test_heredity_can_be_turned_off():
    assert words("dwell^2", heredity=False) == "dwell²"


@pytest.mark.parametrize(
    "text", ["dwell^2", "dwell²", "dwell * dwell", "dwell × dwell", " dwell ^ 2 "]
)
def test_ways_to_write_a_square(text):
    assert words(text) == "dwell, dwell²"


def test_duplicates_count_once_whatever_their_order():
    assert words("dwell * surface, surface * dwell, dwell") == "dwell, surface, dwell × surface"


@pytest.mark.parametrize("text", ['"bead volume"', "'bead volume'"])
def test_both_quotes(text):
    assert words(text) == "bead volume"


def test_a_quote_inside_a_name_is_doubled():
    assert words("'it''s 2-fold, ×2'") == words('"it\'s 2-fold, ×2"') == "it's 2-fold, ×2"


@pytest.mark.parametrize(
    "name",
    ["C", "Q", "I", "Intercept", "None", "1", "lambda", "Höhe", "温度", "e\u0301paisseur", "_"],
)
def test_any_name_works_bare(name):
    assert words(f"{name}, dwell", (numeric(name), DWELL)) == f"{name}, dwell"


@pytest.mark.parametrize(
    "name", ["1", "1e3", "interactions", "a*b", "x^2", "x²", "nan", "a,b", '"']
)
def test_any_name_works_quoted(name):
    quoted = "'" + name + "'"
    assert words(f"{quoted}^2", (numeric(name),)) == f"{name}, {name}²"


def test_an_accent_spelled_the_other_way_is_the_same_letter():
    assert words("H\u00f6he", (numeric("Ho\u0308he"),)) == "Ho\u0308he"


def test_presets():
    assert words("first-order", (BEAD, SURFACE)) == "bead volume, surface"
    assert words(" second-order ", (BEAD, DWELL, SURFACE)) == (
        "bead volume, dwell, surface, bead volume × dwell, bead volume × surface, "
        "dwell × surface, bead volume², dwell²"
    )


def test_the_question_is_kept():
    assert parse_terms(" dwell,surface ", TRIAL).asked == "dwell,surface"


@pytest.mark.parametrize(
    ("text", "place", "said"),
    [
        ("", "character 1", "the text ends"),
        ("dwell,", "character 7", "A factor's name is missing where the text ends"),
        ("dwell,,surface", "character 7", "missing where ','"),
        ("dwel", "character 1", "Did you mean dwell?"),
        ("dwell, bead volume", "character 8", "Write 'bead volume'"),
        ("dwell surface", "character 7", "without a sign between"),
        ("dwell + surface", "character 7", "Separate terms by commas"),
        ("dwell:surface", "character 6", "Write a product as a * b"),
        ("'dwell", "character 1", "The quote ' is not closed"),
        ('dwell * "bead volume', "character 9", 'The quote " is not closed'),
        ("dwell^0", "character 7", "'0' is no power"),
        ("dwell^2.5", "character 8", "'.' has no meaning"),
        ("dwell^-1", "character 7", "'-' is no power"),
        ("dwell^9999999", "character 7", "from 1 to 4"),
        ("dwell^²", "character 7", "'²' is no power"),
        ("dwell⁵", "character 6", "'5' is no power"),
        ("1, dwell", "character 1", "The mean is in every model"),
        ("dwell, surface^2", "character 8", "squares 'surface'"),
        ("interaction", "character 1", "Did you mean interactions?"),
        ("__import__('os').system('x')", "character 1", "no factor of this trial"),
        ("*".join(["dwell"] * 11), "character 1", "order 11"),
    ],
)
def test_slips_are_placed_and_answered(text, place, said):
    with pytest.raises(DefinitionError) as caught:
        parse_terms(text, TRIAL)
    assert place in caught.value.place
    assert said in str(caught.value)
    assert caught.value.next_step


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(text=st.text(max_size=30))
def test_any_text_is_read_or_refused(text):
    try:
        found = parse_terms(text, TRIAL)
    except DefinitionError:
        return
    assert len(found) > 0


names = st.text(min_size=1, max_size=12).filter(lambda name: name == name.strip())


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(data=st.data(), several=st.lists(names, min_size=1, max_size=4, unique=True))
def test_there_and_back_with_any_names(data, several):
    factors = tuple(numeric(name) for name in several)
    powers = st.dictionaries(st.sampled_from(several), st.integers(1, 2), min_size=1, max_size=3)
    asked = data.draw(st.lists(powers, min_size=1, max_size=4))
    terms = [Term(powers=tuple((n, p[n]) for n in several if n in p)) for p in asked]
    found = parse_terms(terms_text(terms), factors)
    assert set(terms) <= set(found.terms)
    assert {one for term in found.terms for one in parents(term)} <= set(found.terms)
    assert parse_terms(terms_text(found.terms), factors).terms == found.terms


def test_presets_and_all_products_read_back():
    for terms in (preset("second-order", TRIAL), full_factorial(TRIAL)):
        assert parse_terms(terms_text(terms.terms), TRIAL).terms == terms.terms
