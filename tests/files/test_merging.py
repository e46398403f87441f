"""Entries of several writers to what holds: the order of clocks decides nothing that matters."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.define import Continuous, Measured, Trial
from workbench.errors import RecordError
from workbench.files import append, read_journal, read_record
from workbench.files.entries import ReadingEntry, RunEntry, Setting
from workbench.files.journal import Stamped
from workbench.files.merging import Claims

NOON = datetime(2024, 5, 1, 12, tzinfo=UTC)
TRIAL = Trial(
    title="made up",
    question="?",
    factors=(Continuous(name="dwell", low=1, high=4, unit="s", setting_sd=0),),
    outcomes=(Measured(name="force", unit="N"),),
)


def enter(folder, value, *, writer, minutes=0, settles=False, seen=None, reason=""):
    entry = ReadingEntry(
        run=1,
        part=1,
        reading=1,
        outcome="force",
        text=f"{value}",
        value=float(value),
        unit="N",
        settles=settles,
        reason=reason,
    )
    when = NOON + timedelta(minutes=minutes)
    append(folder, [entry], writer=writer, who=writer.upper(), when=when, seen=seen)


def value_now(folder):
    return read_record(folder, TRIAL, None).readings["force"].value.tolist()


def test_a_correction_wins_though_the_clock_was_set_back(tmp_path):
    enter(tmp_path, 1, writer="a", minutes=60)
    enter(tmp_path, 2, writer="a", minutes=0, reason="misread")
    assert value_now(tmp_path) == [2.0]
    entries = read_journal(tmp_path).entries
    assert [one.entry.value for one in entries] == [1.0, 2.0]
    assert entries[1].when < entries[0].when  # the time is kept as the clock showed it
    assert entries[1].entry.reason == "misread"


def test_two_values_at_the_same_time_are_shown_with_both_names(tmp_path):
    enter(tmp_path, 1, writer="a")
    enter(tmp_path, 2, writer="b")
    with pytest.raises(RecordError, match=r"A \(a\) entered 1, B \(b\) 2.*--settle"):
        value_now(tmp_path)


def test_two_writers_who_agree_are_no_conflict(tmp_path):
    enter(tmp_path, 2, writer="a")
    enter(tmp_path, 2, writer="b")
    assert value_now(tmp_path) == [2.0]


@pytest.mark.parametrize("minutes", [-600, 0, 600])
def test_what_settles_holds_whatever_the_clocks_say(tmp_path, minutes):
    enter(tmp_path, 1, writer="a")
    enter(tmp_path, 2, writer="b")
    enter(tmp_path, 3, writer="c", minutes=minutes, settles=True)
    assert value_now(tmp_path) == [3.0]


@pytest.mark.parametrize("minutes", [-600, 0, 600])
def test_what_was_entered_unseen_is_not_settled(tmp_path, minutes):
    enter(tmp_path, 1, writer="a")
    before = read_journal(tmp_path)
    enter(tmp_path, 2, writer="b", minutes=minutes)  # on another machine, merged later
    enter(tmp_path, 1, writer="a", settles=True, seen=before)
    with pytest.raises(RecordError, match="entered"):
        value_now(tmp_path)
    enter(tmp_path, 2, writer="a", settles=True)
    assert value_now(tmp_path) == [2.0]


def test_two_who_settle_apart_are_a_conflict_again(tmp_path):
    enter(tmp_path, 1, writer="a")
    before = read_journal(tmp_path)
    enter(tmp_path, 2, writer="b", settles=True, seen=before)
    enter(tmp_path, 3, writer="c", settles=True, seen=before)
    with pytest.raises(RecordError, match=r"B.*2.*C.*3"):
        value_now(tmp_path)


def test_a_setting_is_corrected_with_a_reason(tmp_path):
    for value, reason, hours in ((2.0, "", 1), (2.5, "timer was read wrongly", 0)):
        one = Setting(factor="dwell", value=value, unit="s", reason=reason)
        when = NOON + timedelta(hours=hours)
        append(tmp_path, [RunEntry(run=1, settings=(one,))], writer="a", who="A", when=when)
    assert read_record(tmp_path, TRIAL, None).as_run.values.tolist() == [[2.5]]
    assert read_journal(tmp_path).entries[1].entry.settings[0].reason == "timer was read wrongly"


moves = st.lists(
    st.tuples(
        st.sampled_from("abc"),
        st.integers(1, 3),  # value
        st.integers(-30, 30),  # minutes that the clock shows
        st.sampled_from(["enter", "settle", "settle unseen"]),
    ),
    min_size=1,
    max_size=8,
)


@pytest.mark.property
@settings(max_examples=30, deadline=None)
@given(moves)
def test_what_holds_is_what_was_known_to_whom_at_any_clocks(tmp_path_factory, moves):
    folder = tmp_path_factory.mktemp("merge")
    standing: dict[str, int] = {}  # a model without clocks: what each writer's entry leaves
    apart = read_journal(folder)
    apart_standing: dict[str, int] = {}
    for i, (writer, value, minutes, what) in enumerate(moves):
        seen = apart if what == "settle unseen" else None
        enter(folder, value, writer=writer, minutes=minutes, settles=what != "enter", seen=seen)
        if what == "settle":
            standing = {}
        elif what == "settle unseen":
            standing = {w: v for w, v in standing.items() if apart_standing.get(w) != v}
        standing[writer] = (i, value)
        if i == len(moves) // 2:
            apart, apart_standing = read_journal(folder), dict(standing)
    values = {value for _, value in standing.values()}
    if len(values) == 1:
        assert value_now(folder) == [float(values.pop())]
    else:
        with pytest.raises(RecordError, match="entered"):
            value_now(folder)


@pytest.mark.property
@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.sampled_from("ab"), st.integers(-99, 99)), min_size=1, max_size=12))
def test_nobodys_own_entries_change_places(tmp_path_factory, moves):
    folder = tmp_path_factory.mktemp("order")
    for number, (writer, minutes) in enumerate(moves):
        enter(folder, number, writer=writer, minutes=minutes)
    for writer in "ab":
        own = [one.entry.value for one in read_journal(folder).entries if one.writer == writer]
        assert own == sorted(own)


def test_two_that_settled_each_other_leave_one_that_holds():
    """No clock and no honest program makes such lines, but a journal from a stranger may."""
    claims = Claims()
    for writer, other, value in (("a", "b", 1.0), ("b", "a", 2.0)):
        stamped = Stamped(
            entry=RunEntry(run=1, settles=True),
            who=writer,
            when="",
            writer=writer,
            sequence=5,
            digest="",
            seen=((other, 5),),
        )
        claims.add(stamped, value, settles=True)
    assert claims.latest[1] == 2.0
