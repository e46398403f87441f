"""Conclusions asked again: other ways, ranked terms, scatter, shape, several outcomes."""

from dataclasses import replace

import invented_kinds as kinds
import invented_lid_seal as lid
import pytest

import workbench as wb
from workbench import show
from workbench.define.terms import Term
from workbench.errors import Unavailable
from workbench.fit.sensitivity import Sensitivity, Variant
from workbench.fit.together import Shared, TradeOff
from workbench.show.asked_again import sensitivity_sentence
from workbench.show.chapter_again import again_screens, several_screens, shape_screens
from workbench.show.several import trade_offs_sentence
from workbench.show.shape_tables import level_sentence
from workbench.show.spread_words import spread_sentence
from workbench.show.story import AskedAgain, Several, Shape, Story
from workbench.steps.asked_again import spread_of

NASTY = "<img src=x onerror=alert(1)>"
SAME = Variant(name="on log")
LOST = Variant(name="settings as planned", lost=("dwell",))
TURNED = Variant(name="without run 3", turned=("dwell",))
NONE = Variant(name="as read", reason="no run is left")


def _told(*variants):
    return Sensitivity(clear=("press force", "dwell"), variants=variants)


def test_each_other_way_has_a_row_and_a_verdict():
    table = show.sensitivity_table(_told(SAME, LOST, TURNED, NONE))
    assert table.count("<tr>") == 5
    assert 'class="v meets">the same' in table
    assert 'class="v fails">turns round' in table
    assert table.count('class="v unsure"') == 2
    assert "no answer: no run is left" in table
    assert "on the log scale" in table


@pytest.mark.parametrize(
    ("variants", "said"),
    [
        ((SAME,), "the same when asked otherwise: on the log scale"),
        ((SAME, LOST), "1 of 2 other ways of asking changes which effects are clear"),
        ((SAME, TURNED), "turns round"),
        ((SAME, replace(SAME, name="settings as planned")), "the same in all 2 other ways"),
        ((), "no other way"),
    ],
)
def test_one_sentence_says_what_survives(variants, said):
    assert said in sensitivity_sentence(_told(*variants))


@pytest.fixture(scope="module")
def ranked():
    return wb.fit.selection(lid.fit("peel force"), seed=5)


def test_ranked_models_and_support_that_is_no_probability(ranked):
    table = show.selection_table(ranked)
    assert table.count("<table") == 2
    assert "no probability" in table
    assert "smallest within 2" in table
    assert f"best of {ranked.n_models}" in table
    for term, weight in ranked.support:
        assert str(term) in table
        assert f"{weight:.2f}" in table
    empty = replace(ranked, chosen=(), models=(replace(ranked.models[0], terms=()),))
    assert "the mean alone" in show.selection_table(empty)


@pytest.fixture(scope="module")
def spread():
    return spread_of(kinds.record(), kinds.fit("bead width"))


def test_scatter_is_a_ratio_of_standard_deviations(spread):
    figure = show.spread_effects(spread)
    assert figure.layout.xaxis.type == "log"
    assert "twice as wide" in figure.layout.title.subtitle.text.replace("<br>", " ")
    assert show.spread_table(spread).count("<tr>") == 1 + len(spread.effects)


def test_scatter_is_clear_only_where_all_tests_together_say_so(spread):
    assert not spread.is_clear
    assert "show no setting" in spread_sentence(spread)
    tests = (replace(spread.tests[0], p=0.0001), *spread.tests[1:])
    wide = replace(spread, tests=tests)
    off = [one.name for one in wide.effects if one.estimate.low > 1 or one.estimate.high < 1]
    assert off
    assert spread_sentence(wide) == f"{off[0].capitalize()} changes the scatter of bead width"


def test_a_hint_is_never_called_clear():
    found = spread_of(lid.record(), lid.fit("peel force"))
    assert found.is_hint
    assert "is open" in spread_sentence(found)
    figure = show.spread_effects(found)
    assert {one.name for one in figure.data if one.mode == "markers"} == {"open"}
    assert "a hint" in show.spread_table(found)
    assert "nothing to act on" in figure.layout.title.subtitle.text.replace("<br>", " ")


def test_only_measured_outcomes_have_a_scatter_of_their_own():
    assert isinstance(spread_of(kinds.record(), kinds.fit("drop test")), Unavailable)


FOUND = (
    TradeOff(effect="wipe", outcome="pull", value=2.0, verdict="helps"),
    TradeOff(effect="wipe", outcome="skips", value=3.0, verdict="hurts"),
    TradeOff(effect="dwell", outcome="pull", value=1.0, verdict="open"),
    TradeOff(effect="dwell", outcome="skips", value=1.0, verdict="no requirement"),
)


def test_trade_offs_are_a_table_of_verdicts():
    table = show.trade_offs_table(FOUND)
    assert table.count("<tr>") == 3
    assert table.count("helps one, hurts another") == 1
    assert 'class="v fails">hurts' in table
    assert trade_offs_sentence(FOUND) == "Wipe helps one outcome and hurts another"
    assert "No setting is shown" in trade_offs_sentence(FOUND[2:])


def test_shared_scatter_is_a_correlation_or_a_reason():
    fits = [lid.fit(name) for name in ("leak rate", "peel force")]
    (known,) = wb.fit.shared_scatter(fits)
    lost = Shared(first="a", second="b", n_runs=2, correlation=Unavailable(reason="too few runs"))
    table = show.shared_table((known, lost))
    assert "leak rate and peel force" in table
    assert "too few runs" in table


@pytest.fixture(scope="module")
def point():
    return wb.fit.level_point(lid.fit("peel force"), levels={})


def test_the_level_point_stands_beside_what_scatter_allows(point):
    table = show.level_point_table(point)
    assert table.count("<tr>") == 1 + len(point.factors)
    for factor in point.factors:
        assert factor.name in table
    axes = show.axes_table(point)
    assert axes.count("<tr>") == 1 + len(point.factors)
    assert axes.count("both ways") == len(point.factors)
    why = Unavailable(reason="no setting may be level")
    assert "no setting may be level" in show.level_point_table(
        replace(point, possible_low=why, possible_high=why)
    )


def test_a_point_outside_the_ranges_is_no_best_point(point):
    outside = replace(point, is_inside=False)
    assert "outside the ranges tried" in level_sentence(outside, "peel force")
    assert "inside the ranges tried" in level_sentence(replace(point, is_inside=True), "peel")


def test_the_way_up_says_where_it_leaves_the_ranges_and_how_sure_it_is():
    way = wb.fit.steepest_ascent(lid.fit("peel force"), levels={}, rises=True, n_steps=4)
    table = show.ascent_table(way)
    assert table.count("<tr>") == 6
    assert table.count("inside</span>") == int(way.inside.sum())
    assert "rises fastest" in table
    assert "%" in show.cone_words(way)
    open_cone = replace(way, cone=replace(way.cone, half_angle=None, excluded=0.0))
    assert "a guess" in show.cone_words(open_cone)
    why = replace(way, cone=Unavailable(reason="with one factor there is one direction"))
    assert "one direction" in show.cone_words(why)


def _story(point, *, inside):
    found = AskedAgain(
        outcome="peel force",
        sensitivity=_told(SAME, LOST),
        selection=wb.fit.selection(lid.fit("peel force"), seed=5),
        spread=spread_of(lid.record(), lid.fit("peel force")),
    )
    shape = Shape(
        outcome="peel force", levels=(("wipe", "once"),), point=replace(point, is_inside=inside)
    )
    return Story(
        trial=lid.trial(),
        record=lid.record(),
        fits=(("peel force", lid.fit("peel force")),),
        asked_again=(found,),
        shapes=(shape,),
        several=Several(trade_offs=FOUND),
    )


def test_the_report_asks_again(point):
    story = _story(point, inside=True)
    (asked,) = again_screens(story, "peel force", 0)
    assert asked.number == "1 of 2"
    assert "Signal beyond noise" in asked.check
    (shape,) = shape_screens(story, "peel force")
    assert "wipe once" in shape.step
    (several,) = several_screens(story)
    assert several.number == "1"
    page = show.report(story)
    for screen in (asked, shape, several):
        assert screen.claim in page
    assert "1 of 2 other ways of asking changes" in page


def test_a_level_point_outside_is_one_sentence_not_a_screen(point):
    story = _story(point, inside=False)
    assert shape_screens(story, "peel force") == ()
    (asked,) = again_screens(story, "peel force", 0)
    assert any("outside the ranges tried" in str(words) for words in asked.say)


def test_where_nothing_new_applies_no_screen_is_added(point):
    bare = replace(_story(point, inside=True), asked_again=(), shapes=(), several=None)
    assert again_screens(bare, "peel force", 0) == ()
    assert several_screens(bare) == ()
    alone = replace(bare, asked_again=(AskedAgain(outcome="peel force", sensitivity=_told(SAME)),))
    assert again_screens(alone, "peel force", 0) == ()


def test_scatter_from_repeats_has_its_screen(spread):
    story = Story(
        trial=kinds.trial(),
        asked_again=(AskedAgain(outcome="bead width", spread=spread),),
    )
    (screen,) = again_screens(story, "bead width", 0)
    assert screen.claim == spread_sentence(spread)


def test_nasty_names_are_escaped(ranked, spread, point):
    term = Term(powers=((NASTY, 1),))
    nasty = replace(ranked, chosen=(term,), support=((term, 0.5),))
    nasty = replace(nasty, models=(replace(ranked.models[0], terms=(term,)),))
    wild = replace(
        spread,
        outcome=replace(spread.outcome, name=NASTY),
        effects=tuple(replace(one, name=NASTY, from_to=NASTY) for one in spread.effects),
    )
    odd = tuple(replace(one, name=f"{i} {NASTY}") for i, one in enumerate(point.factors))
    tables = (
        show.selection_table(nasty),
        show.spread_table(wild),
        show.sensitivity_table(
            Sensitivity(clear=(NASTY,), variants=(Variant(name=NASTY, lost=(NASTY,)),))
        ),
        show.trade_offs_table((TradeOff(effect=NASTY, outcome=NASTY, value=1, verdict=NASTY),)),
        show.level_point_table(replace(point, factors=odd)),
        show.axes_table(replace(point, factors=odd)),
    )
    for table in tables:
        assert "<img" not in table
        assert "&lt;img" in table
    assert "<img" not in show.spread_effects(wild).to_json()
