"""The explorer's numbers are those of the fits: nothing is computed anew for the page."""

import time

import pytest

import workbench as wb
from workbench.decide.windows import Decision
from workbench.errors import OptionError
from workbench.jupyter.explore_widget import explore_desk
from workbench.steps.panel_explore import Promise, look, look_inside, side_of
from workbench.steps.panel_ladders import Scale, scale_of

ASKED = Promise(share=0.95, confidence=0.95)
MIDDLE = {
    "bead volume": 350.0,
    "nozzle height": 1.0,
    "nozzle speed": 25.0,
    "cure humidity": 50.0,
}


@pytest.fixture(scope="module")
def record(demo_record):
    return demo_record


@pytest.fixture(scope="module")
def fits(record):
    return tuple(wb.fit.outcome(record, one.name) for one in record.trial.outcomes)


@pytest.fixture(scope="module")
def side(fits):
    return side_of("lid", fits)


def test_a_ladder_shows_what_the_fit_predicts(fits, side):
    seen = look(side, MIDDLE, ASKED, seed=1)
    settings = wb.define.settings(fits[0].settings.factors, [MIDDLE])
    for fit, ladder in zip(fits, seen.ladders, strict=True):
        scale = scale_of(fit)
        told = fit.predict(settings, confidence=0.95)
        assert ladder.mean == scale.at(float(told.mean[0]))
        assert ladder.bands[0].low == scale.at(float(told.new_part_low[0]))
        assert ladder.bands[0].high == scale.at(float(told.new_part_high[0]))
        assert [band.share for band in ladder.bands] == [0.95, 0.8, 0.5]
        assert all(0 < one < 1 for one in (ladder.mean, ladder.bands[0].low))
    assert seen.ladders[0].high_wall == scale_of(fits[0]).at(0.6)
    assert seen.ladders[0].low_wall is None


def test_the_chance_is_that_of_the_decision(fits, side):
    seen = look(side, MIDDLE, ASKED, seed=5)
    settings = wb.define.settings(fits[0].settings.factors, [MIDDLE])
    told = wb.decide.chance(fits, settings, seed=5, n_draws=2000)
    assert seen.chance == wb.show.numbers.chance(float(told[0]))
    assert seen.verdict == "meets"


def test_a_wider_window_assures_less_and_a_point_as_much_as_itself(side):
    def inside(half):
        box = {name: (at * (1 - half), at * (1 + half)) for name, at in MIDDLE.items()}
        return look_inside(side, box, at=MIDDLE, promise=ASKED, seed=1)

    narrow, wide = inside(0.01), inside(0.24)
    assert narrow.verdict == "meets"
    assert wide.verdict == "fails"
    point = look_inside(side, {}, at=MIDDLE, promise=ASKED, seed=1)
    assert point.assured == look(side, MIDDLE, ASKED, seed=1).assured


def test_nothing_is_foretold_outside_the_region_tried(side):
    seen = look(side, MIDDLE | {"nozzle height": 3.0}, ASKED, seed=1)
    assert seen.ladders == ()
    assert "outside the region tried" in seen.problem
    assert seen.chance == ""
    box = {"nozzle height": (0.9, 3.0)}
    assert "outside" in look_inside(side, box, at=MIDDLE, promise=ASKED, seed=1).problem


def test_what_must_not_be_run_is_not_explored(fits):
    never = wb.define.Forbidden(where=(("nozzle speed", 24, 26),), reason="the bead strings")
    seen = look(side_of("lid", fits, (never,)), MIDDLE, ASKED, seed=1)
    assert "the bead strings" in seen.problem


def test_scales_go_by_ratio_where_the_outcome_does():
    plain, ratio = Scale(low=1, high=100, is_log=False), Scale(low=1, high=100, is_log=True)
    assert ratio.at(10) == pytest.approx(0.5)
    assert plain.at(50.5) == pytest.approx(0.5)
    assert (ratio.at(0), plain.at(1e9)) == (0, 1)


def test_the_desk_takes_a_comma_and_names_slips(fits):
    desk = explore_desk(fits, beside=fits[:1], share=0.95, confidence=0.9, seed=3)
    start = desk.start()
    assert [one["name"] for one in start["fields"]] == list(MIDDLE)
    assert start["fields"][0]["step"] == 4.0
    texts = {name: f"{at:g}".replace(".", ",") for name, at in MIDDLE.items()}
    looks = desk.answer({"kind": "look", "at": texts})["looks"]
    assert [len(one["ladders"]) for one in looks] == [3, 1]
    slips = desk.answer({"kind": "look", "at": texts | {"bead volume": "wide"}})["slips"]
    assert "'wide' is not a number" in slips["bead volume"]
    box = {"bead volume": ("360", "340")}
    assert (
        "Exchange" in desk.answer({"kind": "box", "box": box, "at": texts})["slips"]["bead volume"]
    )


def test_fields_begin_at_the_window(fits):
    decision = wb.decide.window(fits, share=0.9, confidence=0.9, seed=2, n_draws=512)
    assert isinstance(decision, Decision)
    fields = explore_desk(fits, decision=decision, share=0.9, confidence=0.9, seed=2).start()
    first = decision.best.limits[0]
    field = next(one for one in fields["fields"] if one["name"] == first.factor.name)
    assert float(field["low"]) == pytest.approx(first.low, abs=1)
    assert fields["has_window"]


def test_share_and_confidence_are_never_assumed(fits):
    with pytest.raises(OptionError, match="share is not stated"):
        explore_desk(fits, seed=1)


def test_a_changed_setting_is_answered_in_less_than_a_tenth_of_a_second_of_the_processor(fits):
    desk = explore_desk(fits, share=0.95, confidence=0.95, seed=1)
    texts = {name: f"{at:g}" for name, at in MIDDLE.items()}
    desk.answer({"kind": "look", "at": texts})
    took = []
    for volume in range(340, 360, 4):
        began = time.process_time()
        desk.answer({"kind": "look", "at": texts | {"bead volume": str(volume)}})
        took.append(time.process_time() - began)
    assert min(took) < 0.1
