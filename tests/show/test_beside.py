"""What stands beside the window: what assurance costs, what changes would buy."""

from dataclasses import replace

import pytest

from workbench.decide import AssuranceCurve, AssurancePoint, Lever, NoWindow, WhatIf, Window
from workbench.decide.windows import Limit
from workbench.define.factors import Continuous
from workbench.errors import Unavailable
from workbench.show.assurance_marks import assurance_marks, assurance_sentence
from workbench.show.chapter_beside import assurance_table, levers_table

NOZZLE = Continuous(name="nozzle <height>", low=0.6, high=1.4, unit="mm", setting_sd=0.02)
NONE = NoWindow(
    reason="nothing holds", share=0.95, confidence=0.99, nearest_miss=None, next_trial="more runs"
)


def window(low, high, volume):
    limit = Limit(
        factor=NOZZLE,
        low=low,
        high=high,
        set_point=(low + high) / 2,
        limited_by_low="leak rate",
        limited_by_high="edge of the range tried",
    )
    return Window(
        limits=(limit,),
        levels=(),
        share=0.95,
        confidence=0.95,
        chance_at_set_point=0.99,
        lowest_share=0.95,
        volume=volume,
        model_form=0.3,
        seed=1,
        n_draws=1024,
        notes=(),
    )


def curve(*windows):
    points = zip((0.8, 0.95, 0.99), windows, strict=True)
    return AssuranceCurve(
        share=0.95,
        asked=0.95,
        points=tuple(AssurancePoint(confidence=c, window=one) for c, one in points),
    )


FOUND = curve(window(0.7, 1.3, 0.75), window(0.8, 1.2, 0.5), window(0.925, 1.125, 0.25))


def test_the_sentence_says_what_more_confidence_leaves():
    assert "33" in assurance_sentence(FOUND)
    assert "99" in assurance_sentence(FOUND)


def test_the_sentence_says_where_the_window_ends():
    some = curve(window(0.7, 1.3, 0.75), window(0.8, 1.2, 0.5), NONE)
    assert "none at more" in assurance_sentence(some)
    assert "no window" in assurance_sentence(curve(NONE, NONE, NONE))


def test_one_mark_stands_for_each_confidence_and_the_asked_one_is_a_diamond():
    drawn = assurance_marks(curve(window(0.7, 1.3, 0.75), window(0.8, 1.2, 0.5), NONE))
    marks = [(one.x[0], one.y[0], one.marker.symbol) for one in drawn.data]
    assert marks == [(0.8, 0.75, "circle"), (0.95, 0.5, "diamond"), (0.99, 0.0, "x-thin")]
    said = [one.text for one in drawn.layout.annotations]
    assert "0.5, as asked" in said
    assert "no window" in said


def test_the_table_keeps_one_number_of_decimals_and_escapes():
    html = str(assurance_table(FOUND))
    assert "nozzle &lt;height&gt;" in html
    assert "<height>" not in html
    assert html.count(" to ") == 3
    assert "0.925 to 1.125" in html
    assert "0.700 to 1.300" in html


@pytest.mark.parametrize(
    ("found", "times", "words"),
    [(window(0.7, 1.3, 0.75), 1.5, "1.50"), (NONE, 0.0, "no window")],
)
def test_levers_say_how_many_times_as_large(found, times, words):
    lever = Lever(change="nozzle height set better", about="nozzle", window=found, times=times)
    what = WhatIf(
        share=0.95, confidence=0.95, base=NONE, levers=(lever,), sentence="So.", notes=()
    )
    assert words in str(levers_table(what))


def test_a_lever_that_gives_the_first_window_says_that():
    lever = Lever(
        change="set better",
        about="nozzle",
        window=window(0.7, 1.3, 0.75),
        times=Unavailable(reason="none before"),
    )
    what = WhatIf(
        share=0.95, confidence=0.95, base=NONE, levers=(lever,), sentence="So.", notes=()
    )
    assert "a window" in str(levers_table(what))
    assert "1.00" in str(levers_table(replace(what, levers=(replace(lever, times=1.0),))))
