"""No text of a user is ever obeyed: not by a browser, not by a figure, not by a script."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.show.escape import Html, cell, identifier, label, script_json, text, unescape


@pytest.mark.property
@given(st.text(max_size=40))
@settings(max_examples=50, deadline=None)
def test_no_sign_of_markup_is_left(words):
    for written in (text(words), label(words)):
        assert "<" not in written
        assert ">" not in written
    assert '"' not in text(words)
    assert unescape(text(words)) == words


@pytest.mark.property
@given(st.text(max_size=40))
@settings(max_examples=50, deadline=None)
def test_json_in_a_script_means_the_same_and_cannot_end_it(words):
    written = script_json({"said": [words]})
    assert json.loads(written) == {"said": [words]}
    assert not set(written) & set("<>&\u2028\u2029")


def test_labels_stay_on_one_line_and_never_start_a_formula():
    assert label("a\nb\u2028c $x$") == "a b c &#36;x&#36;"
    assert label("3\u00a0N") == "3\u00a0N"


def test_cells_escape_all_but_markup_made_here():
    assert cell("<b>") == "&lt;b&gt;"
    assert cell(Html("<b>5</b>")) == "<b>5</b>"


def test_ids_are_the_same_each_time():
    assert identifier("Peel force (N)") == identifier("Peel force (N)") == "peel-force-n"
    assert identifier("µ") == "x"


def test_not_a_number_never_reaches_a_page():
    with pytest.raises(ValueError, match="Out of range float"):
        script_json(float("nan"))
