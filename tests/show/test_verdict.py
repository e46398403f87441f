"""The verdict as a page, a figure and tables: what stands there, and that words stay words."""

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from workbench import show
from workbench.decide.confirmation_normal import BELOW
from workbench.decide.verdict_made import confirmation_verdict
from workbench.errors import Unavailable
from workbench.show.story import Proof, Story
from workbench.show.verdict_figure import parts_sentence
from workbench.show.verdict_page import confirmation_screens

PLACE = Path(__file__).parents[1] / "decide" / "invented_proofs.py"
if "invented_proofs" not in sys.modules:
    spec = importlib.util.spec_from_file_location("invented_proofs", PLACE)
    module = importlib.util.module_from_spec(spec)
    sys.modules["invented_proofs"] = module
    spec.loader.exec_module(module)
proofs = sys.modules["invented_proofs"]

PULL = proofs.pull(low=-3.0)
GOOD = 0.6 * np.random.default_rng(4).normal(size=24)


@pytest.fixture(scope="module")
def plan():
    made = proofs.plan_of([PULL], parts=12, margins=((BELOW, 3.0),), n_places=2)
    bar = [
        replace(
            place,
            outcomes=tuple(
                replace(one, new_part_low=-2.0, new_part_high=2.0) for one in place.outcomes
            ),
        )
        for place in made.places
    ]
    return replace(made, places=tuple(bar))


def judged(plan, values):
    return confirmation_verdict(plan, proofs.record_of(plan, [PULL], {"pull": values}))


def test_a_mark_for_every_part_by_what_it_says(plan):
    values = np.linspace(-1, 1, 24)
    values[4], values[9] = -3.5, 2.4
    verdict = judged(plan, values)
    drawn = show.parts_against_limits(plan, verdict, proofs.trial_of([PULL]), outcome="pull")
    marks = {}
    for one in drawn.data:
        if one.mode == "markers" and one.name.startswith("part"):
            marks[one.name] = marks.get(one.name, 0) + len(one.x)
    assert marks == {
        "part": 22,
        "part that misses the limit": 1,
        "part outside what was foreseen": 1,
    }
    walls = [one for one in drawn.data if one.name == "requirement"]
    assert [one.x[0] for one in walls] == [-3.0]
    assert "1 of 24 parts miss their limit" in parts_sentence(plan, verdict, "pull")


def test_the_page_says_verdict_share_and_what_to_do(plan):
    trial = replace(proofs.trial_of([PULL]), hazards=("silicone",))
    page = show.verdict_page(trial, plan, judged(plan, GOOD))
    for words in ("The window holds", "What to do", "Release the limits", "Silicone cure vapour"):
        assert words in page
    assert "http://" not in page.split("<script>")[0]


def test_words_of_the_user_stay_words(plan):
    bad = "<img src=x onerror=alert(1)>"
    spoiled = replace(plan, sittings=(bad,), number=(bad,), notes=(bad,), locked_by=bad)
    trial = replace(proofs.trial_of([PULL]), title=bad)
    verdict = replace(judged(plan, GOOD), reasons=(bad,), changed=(bad,))
    for page in (
        show.confirmation_sheet(trial, spoiled),
        show.verdict_page(trial, spoiled, verdict),
    ):
        assert bad not in page
        assert "&lt;img" in page


def test_a_report_tells_the_plan_until_there_is_a_verdict(plan):
    trial = proofs.trial_of([PULL])
    waiting = Proof(trial=trial, plan=plan, verdict=Unavailable(reason="no part yet"))
    screen = confirmation_screens(waiting)[0]
    assert screen.claim == "24 parts will show whether the window holds"
    assert screen.say[0] == "No verdict: no part yet."
    done = replace(waiting, verdict=judged(plan, GOOD))
    assert confirmation_screens(done)[0].claim == "The window holds: shown at 2 places"
    assert "The window holds" in show.report(Story(trial=trial, proof=done))
