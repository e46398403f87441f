"""Wishes of a window written as text, and what stands beside a window as JSON."""

import json

import pytest

from workbench.decide import AssuranceCurve, AssurancePoint, Lever, NoWindow, WhatIf
from workbench.define.factors import Categorical, Continuous
from workbench.errors import OptionError, Unavailable
from workbench.steps.window_answers import curve_answer, what_if_answer
from workbench.steps.window_wish import window_wish

FACTORS = (
    Continuous(name="dwell", low=1, high=5, unit="s", setting_sd=0.1),
    Continuous(name="dwell=long", low=1, high=5, unit="s", setting_sd=0.1),
    Categorical(name="tip", levels=("flat", "bevel")),
)
NONE = NoWindow(
    reason="nothing holds", share=0.9, confidence=0.9, nearest_miss=None, next_trial="more runs"
)


def test_texts_become_wishes():
    wish = window_wish(
        FACTORS,
        hold=["tip=bevel", "dwell=long=2.5"],
        within=["dwell=1.5 to 3"],
        weigh=["dwell=2"],
        size_in="setting error",
    )
    assert dict(wish.held) == {"tip": "bevel", "dwell=long": 2.5}
    assert wish.within == (("dwell", 1.5, 3.0),)
    assert dict(wish.weights) == {"dwell": 2.0}
    assert wish.size_in == "setting error"


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        ({"hold": ["soak=2"]}, "'soak=2' names no factor"),
        ({"hold": ["dwell=2,5"]}, "dwell is to be held at '2,5'"),
        ({"hold": ["dwell=nan"]}, "dwell is to be held at 'nan'"),
        ({"within": ["dwell=2"]}, "'2' is not a range of dwell"),
        ({"within": ["dwell=2 to x"]}, "An end of dwell is 'x'"),
        ({"weigh": ["dwell=much"]}, "weight of dwell is 'much'"),
    ],
)
def test_texts_that_say_nothing_are_refused(texts, words):
    with pytest.raises(OptionError, match=words) as caught:
        window_wish(FACTORS, **texts)
    assert caught.value.next_step
    assert caught.value.place.startswith("--")


def test_what_cannot_be_had_has_its_reason_in_json():
    found = AssuranceCurve(
        share=0.9, asked=0.9, points=(AssurancePoint(confidence=0.9, window=NONE),)
    )
    (point,) = json.loads(json.dumps(curve_answer(found)))["assurance_curve"]["points"]
    assert point["volume"] == 0
    assert point["window"] == {"unavailable": "nothing holds"}
    assert curve_answer(Unavailable(reason="refused")) == {
        "assurance_curve": {"unavailable": "refused"}
    }
    lever = Lever(change="x", about="dwell", window=NONE, times=Unavailable(reason="no base"))
    what = WhatIf(share=0.9, confidence=0.9, base=NONE, levers=(lever,), sentence="s", notes=())
    answer = what_if_answer(what)["what_if"]
    assert answer["levers"][0]["times"] == {"unavailable": "no base"}
    assert answer["volume"] == 0
