"""The options of adopt and take, whatever is written behind them: answers or messages."""

import string

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.cli import main
from workbench.errors import WorkbenchError
from workbench.steps.adopt_options import parse_exclusion, parse_factor, parse_outcome

TABLE = "lot,bead,press,force\na,1,2,5.1\na,3,4,6.3\nb,1,4,5.9\nb,3,2,7.0\n"
TEXT = st.text(alphabet=string.printable + "äµ−–°²", max_size=40)
NAMES = st.sampled_from(["lot", "bead", "press", "force", "nothing", "Force", ""])


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(text=TEXT)
@pytest.mark.parametrize("parse", [parse_outcome, parse_factor, parse_exclusion])
def test_any_text_is_understood_or_refused_with_words(parse, text):
    try:
        understood = parse(text)
    except WorkbenchError as met:
        understood = met.wrong and met.next_step
    assert understood


@pytest.mark.property
@settings(max_examples=40, deadline=None)
@given(
    said=st.lists(
        st.tuples(
            st.sampled_from(
                ["outcome", "factor", "block", "part", "reading", "setup", "run", "ignore"]
            ),
            NAMES,
            st.sampled_from(["", ":kind=counted", ":kind=categorical", ":low=1", ":", ":=,"]),
        ),
        max_size=4,
    ),
    repeats=st.sampled_from(["", "parts", "runs", "readings", "boards"]),
)
def test_options_of_all_kinds_leave_a_whole_folder_or_none(tmp_path_factory, said, repeats):
    place = tmp_path_factory.mktemp("options")
    table = place / "t.csv"
    table.write_text(TABLE, encoding="utf-8")
    options = [f"--{option}={name}{keys}" for option, name, keys in said]
    options += [f"--repeats={repeats}"] if repeats else []
    status = main(["adopt", str(table), str(place / "trial"), *options])
    assert status in (0, 2)
    assert (place / "trial" / "trial.toml").exists() == (status == 0)
    assert {path.name for path in place.iterdir()} <= {"t.csv", "trial"}
    if status == 0:
        assert main(["fit", str(place / "trial")]) in (0, 2, 4)


@pytest.mark.parametrize(
    ("option", "words"),
    [
        ("--decimal=dot", "comma, point"),
        ("--dates=july", "d.m.y"),
        ("--separator=x", "semicolon"),
        ("--encoding=klingon", "utf-8"),
        ("--table=last", "--table 2"),
        ("--headings=99", "heading rows"),
        ("--thousands=x", "apostrophe"),
        ("--totals=sum", "leave-out"),
        ("--times=late", "h:mm"),
    ],
)
@pytest.mark.parametrize("verb", ["adopt", "take"])
def test_what_reading_options_are_known(command, tmp_path, verb, option, words):
    table = tmp_path / "t.csv"
    table.write_text(TABLE, encoding="utf-8")
    trial = tmp_path / "trial"
    places = {"adopt": (table, trial), "take": (trial, table)}[verb]
    said = command(verb, *places, option)
    assert said.status == 2
    assert words in said.err
    assert not trial.exists()


def test_the_receipt_shows_the_unsure_lines_first(command, tmp_path):
    table = tmp_path / "t.csv"
    table.write_text(TABLE, encoding="utf-8")
    said = command("adopt", table, tmp_path / "trial", "--block=lot", "--outcome=force:unit=N")
    assert said.status == 0
    marks = [line[0] for line in said.out.splitlines() if line[:2] in ("? ", "- ")]
    assert marks == sorted(marks, reverse=True)
    assert set(marks) == {"?", "-"}
