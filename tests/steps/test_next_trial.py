"""Taking the next trial: a new block of the plan, its sheet, nothing else touched."""

from dataclasses import replace

import numpy as np
import pytest

import workbench as wb
from workbench.cli.next_words import next_text, taken_text
from workbench.decide.windows import NearestMiss, NoWindow
from workbench.define import Continuous, Measured, Trial, at_least
from workbench.errors import OptionError, PlanError, Unavailable
from workbench.files import append, read_plan, write_plan
from workbench.files.entries import ReadingEntry
from workbench.files.trial_write import write_trial
from workbench.show.next_trial import next_screen_parts
from workbench.steps.answers import as_text
from workbench.steps.next_trial import NextAnswer, next_after, take_next
from workbench.steps.next_trial_answers import next_answer, taken_answer
from workbench.steps.trials import open_trial
from workbench.steps.windows import WindowAnswer

DWELL = Continuous(name="dwell", low=1, high=3, unit="s", setting_sd=0.05)
HEAT = Continuous(name="heat <b>", low=330, high=390, unit="°C", setting_sd=1)
FORCE = Measured(name="force", unit="N", requirement=at_least(4))
TRIAL = Trial(
    title="made up", question="?", factors=(DWELL, HEAT), outcomes=(FORCE,), model="second-order"
)


@pytest.fixture
def folder(tmp_path):
    write_trial(tmp_path, TRIAL)
    plan = wb.plan.composite(TRIAL, axial="face", centre_points=4, seed=3)
    write_plan(tmp_path, plan)
    x = plan.settings.coded()
    force = 4.2 + 0.2 * x[:, 0] + np.random.default_rng(1).normal(0, 0.5, len(x))
    entries = [
        ReadingEntry(
            run=i + 1, part=1, reading=1, outcome="force", text=f"{v}", value=float(v), unit="N"
        )
        for i, v in enumerate(force)
    ]
    append(tmp_path, entries, writer="a", who="a")
    return tmp_path


@pytest.fixture
def opened(folder):
    return open_trial(folder)


def answer(opened, *, dwell=3.0):
    none = NoWindow(
        reason="none",
        share=0.9,
        confidence=0.9,
        nearest_miss=NearestMiss(
            settings=(("dwell", dwell), ("heat <b>", 360.0)),
            chance=0.8,
            assured_share=0.5,
            limited_by="force below 4 N",
        ),
        next_trial="",
    )
    fits = (wb.fit.outcome(opened.record, "force"),)
    found = WindowAnswer(decision=none, fits=fits, accepted="")
    return NextAnswer(window=found, next=next_after(opened, found))


def test_taking_a_candidate_writes_a_block_and_its_sheet(opened):
    found = answer(opened)
    before = len(opened.plan)
    taken = take_next(opened, found, "corners")
    again = open_trial(opened.folder)
    assert len(again.plan) == before + len(taken.trial)
    assert (again.plan.block[before:] == 2).all()
    assert again.record.status[:before] == opened.record.status
    values = again.record.readings["force"].value
    assert values.tolist() == opened.record.readings["force"].value.tolist()
    assert taken.seed == TRIAL.seed + 1
    rows = taken.sheets.table.read_text("utf-8-sig").splitlines()[1:]
    assert [int(row.split(",")[0]) for row in rows] == list(range(before + 1, len(again.plan) + 1))
    assert "block 2" in taken_text(taken, opened)
    assert taken_answer(taken)["last_run"] == len(again.plan)


def test_the_fit_of_the_longer_record_has_the_new_block(opened):
    taken = take_next(opened, answer(opened), "replicates")
    entries = [
        ReadingEntry(
            run=run,
            part=1,
            reading=1,
            outcome="force",
            text="4.4",
            value=4.4 + run / 100,
            unit="N",
        )
        for run in range(taken.first_run, len(taken.plan) + 1)
    ]
    append(opened.folder, entries, writer="a", who="a")
    fit = wb.fit.outcome(open_trial(opened.folder).record, "force")
    assert fit.block_labels == ("1", "2")
    assert len(fit.run) == len(taken.plan)


def test_runs_beyond_the_ranges_wait_for_people_to_move_them(opened):
    found = answer(opened)
    with pytest.raises(PlanError, match=r"possible and safe.*dwell: low = 1, high = 4"):
        take_next(opened, found, "further")
    wide = replace(TRIAL, factors=(replace(DWELL, high=4), HEAT))
    write_trial(opened.folder, wide)
    moved = open_trial(opened.folder)
    taken = take_next(moved, answer(moved), "further")
    assert taken.plan.settings.column("dwell").max() == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("kind", "said"),
    [("less scatter", "is nothing to run"), ("everything", "no candidate 'everything'")],
)
def test_what_cannot_be_taken_is_refused_and_changes_nothing(opened, kind, said):
    before = (opened.folder / "plan.csv").read_bytes()
    with pytest.raises(OptionError, match=said):
        take_next(opened, answer(opened), kind)
    assert (opened.folder / "plan.csv").read_bytes() == before


def test_words_json_and_page_say_the_same(opened):
    found = answer(opened)
    words = " ".join(next_text(found, opened.trial).split())
    told = next_answer(found)
    kinds = [one["kind"] for one in told["candidates"]]
    assert kinds[0] == "further"
    assert told["candidates"][0]["recommended"] is True
    assert as_text(told)
    for one in told["candidates"]:
        assert one["kind"] in words
        assert " ".join(one["reason"].split()) in words
    page = "".join(next_screen_parts(found.next))
    assert "heat &lt;b&gt;" in page
    assert "recommended" in page


def test_without_a_plan_or_a_fit_there_is_a_reason(opened):
    found = answer(opened).window
    bare = replace(opened, plan=None)
    assert "without a plan" in next_after(bare, found).reason
    none = next_after(opened, replace(found, fits=()))
    assert isinstance(none, Unavailable)
    nothing = NextAnswer(window=found, next=none)
    assert "Nothing to run next" in next_text(nothing, opened.trial)
    assert "unavailable" in next_answer(nothing)["candidates"]
    assert next_screen_parts(none) == ()
    assert read_plan(opened.folder, opened.trial) is not None
