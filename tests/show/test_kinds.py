"""Every kind of fit is drawn and told: ratios as ratios, shares as shares, cut off as cut off."""

from dataclasses import replace

import invented_kinds as kinds
import numpy as np
import pytest

from workbench import show
from workbench.define.outcomes import Counted, Graded, Measured, PassFail, at_least, between
from workbench.errors import Unavailable
from workbench.fit.nouns import Estimate
from workbench.show import sentences
from workbench.show.clarity import Clarity, clarity, has_error, zone
from workbench.show.measures import measure, ratio_meaning, ratio_name, ratio_of, subject
from workbench.show.page import described
from workbench.show.ratio_axis import FARTHEST
from workbench.show.residual_rows import residuals_of
from workbench.show.seen_rows import seen_rows

NASTY = "<img src=x onerror=alert(1)>"
RATIOS = ("drop test", "smear", "skips")


def _named(figure, name):
    return [one for one in figure.data if one.name == name]


def _clear(fit):
    return {one.name for one in fit.effects if clarity(one, fit) is Clarity.CLEAR}


@pytest.mark.parametrize("name", RATIOS)
def test_ratios_stand_on_an_axis_of_ratios_with_no_change_at_one(name):
    fit = kinds.fit(name)
    figure = show.effects(fit)
    assert figure.layout.xaxis.type == "log"
    (line,) = _named(figure, "no change")
    assert set(line.x) == {1.0}
    drawn = sorted(x for kind in Clarity for one in _named(figure, kind.value) for x in one.x)
    assert drawn == pytest.approx(sorted(one.value for one in fit.effects), rel=1e-6)
    low, high = (10**end for end in figure.layout.xaxis.range)
    assert low < min(one.estimate.low for one in fit.effects)
    assert high > max(one.estimate.high for one in fit.effects)
    assert len(figure.layout.xaxis.tickvals) <= 9


@pytest.mark.parametrize(
    ("name", "ratio", "means"),
    [
        ("drop test", "odds ratio", "50 of 100"),
        ("smear", "odds ratio", "“heavy”"),
        ("skips", "rate ratio", "twice as many"),
    ],
)
def test_captions_name_the_ratio_and_say_what_it_means(name, ratio, means):
    caption = sentences.effects_caption(kinds.fit(name))
    assert f"({ratio})" in caption
    assert means in caption
    assert caption in described(show.effects(kinds.fit(name))).replace("\n", " ")


def test_the_example_in_words_is_right():
    for share, wanted in ((0.5, 67), (0.9, 95)):
        odds = 2 * share / (1 - share)
        assert round(100 * odds / (1 + odds)) == wanted
    assert "67" in ratio_meaning(kinds.fit("drop test"))


def test_what_is_worth_finding_is_drawn_only_in_the_unit_of_the_effects():
    assert zone(kinds.trial().outcome("pull force")).high == 4
    assert zone(kinds.trial().outcome("bead width")).low == pytest.approx(1 / 1.2)
    assert all(zone(kinds.trial().outcome(name)) is None for name in RATIOS)
    assert not _named(show.effects(kinds.fit("drop test")), "too small to matter")
    (band,) = _named(show.effects(kinds.fit("pull force")), "too small to matter")
    assert max(band.x) == 4


def test_intervals_say_what_is_clear_whichever_kind():
    assert _clear(kinds.fit("drop test")) == {"press force", "wipe"}
    for name in RATIOS:
        fit = kinds.fit(name)
        assert has_error(fit)
        clear = {one.name for one in fit.effects if one.estimate.low > 1 or one.estimate.high < 1}
        assert _clear(fit) == clear


def test_titles_say_what_is_moved():
    said = sentences.effects_sentence(kinds.fit("drop test"))
    assert said == "Wipe and press force move the share that passes drop test; dwell is open"
    assert "Press force" in sentences.effects_sentence(kinds.fit("skips"))


def test_an_effect_without_end_is_said_not_drawn():
    fit = kinds.fit("skips")
    endless = Unavailable(reason="it has one end")
    first = replace(fit.effects[0], value=0.0, estimate=endless, p=endless)
    wide = replace(
        fit.effects[1],
        estimate=Estimate(value=2.0, std_error=9.0, low=1e-30, high=1e40, df=float("inf")),
    )
    one = replace(fit, effects=(first, wide, *fit.effects[2:]))
    figure = show.effects(one)
    written = " ".join(note.text for note in figure.layout.annotations)
    assert "no least" in written
    assert "no interval" in written
    assert figure.layout.xaxis.range[1] <= 1.1 * np.log10(FARTHEST)
    assert "it has one end" in show.effects_table(one)
    assert "nan" not in show.effects_table(one).lower()


def test_slow_means_judged_by_few_setups():
    rows = show.effects(kinds.in_setups()).layout.yaxis.ticktext
    slow = [one for one in rows if "(slow)" in one]
    assert len(slow) == 1
    assert "press force" in slow[0]
    assert "×" not in slow[0]


def test_runs_of_several_parts_are_not_slow():
    fit = kinds.in_setups()
    tests = tuple(replace(one, stratum="between runs") for one in fit.tests)
    rows = show.effects(replace(fit, tests=tests)).layout.yaxis.ticktext
    assert not [one for one in rows if "(slow)" in one]


@pytest.mark.parametrize("name", ["pull force", *RATIOS])
def test_tables_hold_every_effect_and_test(name):
    fit = kinds.fit(name)
    effects, tests = show.effects_table(fit), show.tests_table(fit)
    assert effects.count("<tr>") == 1 + len(fit.effects)
    assert tests.count("<tr>") == 1 + len(fit.tests)
    assert "likelihood ratio / df" in tests
    summary = show.summary_table(fit)
    assert all(fact.name in summary for fact in fit.facts)
    assert show.escape.text(fit.model) in summary
    assert "inf" not in effects + tests


def test_strata_and_components_are_told():
    fit = kinds.in_setups()
    tests = show.tests_table(fit)
    assert "between press force setups" in tests
    assert "within press force setups" in tests
    shown = show.components_table(fit)
    setup, run = fit.scatter
    assert f"{setup.value**0.5:.2f}" in shown
    assert f"{run.low**0.5:.2f}" in shown
    below = replace(fit, scatter=(replace(setup, value=0.0, below_zero=True), run))
    assert "estimate below zero" in show.components_table(below)


def test_a_test_that_cannot_be_had_says_why_in_its_row():
    fit = kinds.fit("drop test")
    why = Unavailable(reason="too few setups to test")
    one = replace(fit.tests[0], statistic=why, p=why)
    lost = replace(fit.tests[1], statistic=why, p=why, stratum="", error_df=0.0)
    table = show.tests_table(replace(fit, tests=(one, lost)))
    assert table.count("too few setups to test") == 2


def test_pass_fail_is_pooled_by_settings_with_exact_limits():
    fit = kinds.fit("drop test")
    seen = seen_rows(fit)
    assert seen.weight.sum() == 168
    assert seen.weight @ seen.observed == pytest.approx(103)
    assert (seen.limits.low <= seen.observed).all()
    assert (seen.observed <= seen.limits.high).all()
    figure = show.observed_beside_expected(fit)
    (marks,) = _named(figure, "observed")
    assert max(marks.y) <= 100
    assert len(marks.x) == len(np.unique(fit.settings.values, axis=0)) == 10
    assert len(_named(figure, "exact 95\u00a0% limits")) == 1
    assert "lies within the limits of all 10" in figure.layout.title.text.replace("<br>", " ")


def test_a_model_outside_the_limits_is_told():
    fit = kinds.fit("drop test")
    checks = replace(fit.checks, expected=np.full(fit.run.size, 0.999))
    title = show.observed_beside_expected(replace(fit, checks=checks)).layout.title.text
    assert "outside the 95" in title


def test_readings_cut_off_are_arrows_named_in_a_legend():
    fit = kinds.fit("pull force")
    figure = show.observed_beside_expected(fit)
    (arrows,) = _named(figure, "cut off: the value lies above")
    assert len(arrows.x) == 3
    assert set(arrows.y) == {60.0}
    assert arrows.marker.symbol == "arrow-up"
    assert figure.layout.showlegend
    assert "cut off" in described(figure)


def test_whole_numbers_that_fall_together_are_one_larger_mark():
    seen = seen_rows(kinds.fit("smear"))
    assert seen.weight.sum() == 28
    assert seen.observed.size < 28
    figure = show.observed_beside_expected(kinds.fit("smear"))
    assert list(figure.layout.yaxis.ticktext) == list(kinds.GRADES)
    (marks,) = _named(figure, "observed")
    assert max(marks.marker.size) > min(marks.marker.size)


def test_counts_are_drawn_for_one_part():
    fit = kinds.fit("skips")
    parts = np.full(fit.run.size, 4.0)
    four = replace(
        fit,
        checks=replace(
            fit.checks,
            observed=4 * fit.checks.observed,
            expected=4 * fit.checks.expected,
            parts=parts,
        ),
    )
    np.testing.assert_allclose(seen_rows(four).observed, seen_rows(fit).observed)


@pytest.mark.parametrize("name", ["pull force", *RATIOS])
def test_residuals_stand_in_order_and_their_kind_is_named(name):
    fit = kinds.fit(name)
    figure = show.residuals_in_order(fit)
    (runs,) = _named(figure, "runs")
    assert list(runs.y) == pytest.approx(list(fit.checks.residual), rel=1e-6, abs=1e-9)
    assert fit.checks.residual_kind in described(figure)


def test_odd_rows_of_a_model_are_crossed_and_named():
    fit = kinds.fit("skips")
    residual = np.array(fit.checks.residual)
    residual[5] = -4.2
    one = replace(fit, checks=replace(fit.checks, residual=residual))
    (cross,) = _named(show.residuals_in_order(one), "odd runs")
    assert list(cross.x) == [6]
    assert sentences.order_sentence(one).startswith(f"Run {fit.run[5]} stands far")


def test_setups_are_strips():
    fit = kinds.in_setups()
    assert residuals_of(fit).strips == "press force setups"
    figure = show.residuals_in_order(fit)
    assert len(figure.layout.shapes) == 8
    assert "Strips: press force setups" in described(figure)


def test_parts_of_one_run_stand_at_one_place():
    fit = kinds.fit("skips")
    twice = replace(
        fit.checks,
        row_run=np.repeat(fit.run, 2),
        residual=np.repeat(fit.checks.residual, 2),
    )
    found = show.residuals_in_order(replace(fit, checks=twice))
    (runs,) = _named(found, "runs")
    assert max(runs.x) == fit.run.size


def test_a_model_that_keeps_no_rows_says_so():
    fit = kinds.fit("skips")
    nothing = replace(
        fit.checks,
        row_run=np.zeros(0, dtype=np.int64),
        observed=np.zeros(0),
        expected=np.zeros(0),
        residual=np.zeros(0),
        parts=None,
    )
    assert "open" in show.residuals_in_order(replace(fit, checks=nothing)).layout.title.text


def test_half_normal_works_for_every_kind():
    for name in ("drop test", "pull force"):
        fit = kinds.fit(name)
        named = {
            words.strip()
            for one in show.half_normal(fit).data
            if one.mode == "markers+text"
            for words in one.text
        }
        assert named == _clear(fit)


def test_measures_by_kind():
    assert measure(PassFail(name="drop")).unit == "%"
    melted = PassFail(name="melted back", passes="no", fails="yes")
    assert measure(melted).mean == "share of parts with melted back “no”"
    assert subject(melted) == "the share with melted back “no”"
    assert ratio_of(replace(kinds.fit("drop test"), outcome=melted)) == "odds of melted back “no”"
    graded = Graded(name="smear", grades=("a", "b", "c"), requirement=at_least(1))
    assert measure(graded).mean == "share of parts with smear b or higher"
    assert measure(replace(graded, requirement=between(1, 2))).unit == "%"
    assert measure(replace(graded, requirement=None)).times == 1
    places = Counted(name="open joints", unit="joints", out_of=20)
    assert measure(places).mean == "mean count of open joints, of 20 places"
    assert measure(Measured(name="force", unit="%")).times == 1


def test_ratios_are_named_by_kind():
    fit = kinds.fit("skips")
    places = replace(fit, outcome=Counted(name="skips", unit="skips", out_of=20))
    assert (ratio_name(fit), ratio_name(places)) == ("rate ratio", "odds ratio")
    assert ratio_of(places) == "odds of skips"
    assert "50 of 100" in ratio_meaning(places)
    assert ratio_meaning(kinds.fit("bead width")) == ""


@pytest.mark.parametrize("name", ["pull force", *RATIOS])
def test_nasty_names_are_shown_not_obeyed(name):
    fit = kinds.fit(name)
    effects = tuple(replace(e, name=NASTY, unit=NASTY, from_to=NASTY) for e in fit.effects)
    outcome = replace(fit.outcome, name=f"force {NASTY}")
    if isinstance(outcome, Graded):
        outcome = replace(outcome, grades=tuple(f"{one} {NASTY}" for one in outcome.grades))
    one = replace(fit, effects=effects, outcome=outcome, model=NASTY)
    figures = [
        show.effects(one),
        show.residuals_in_order(one),
        show.observed_beside_expected(one),
        show.half_normal(one),
    ]
    for figure in figures:
        assert "<img" not in figure.to_json()
        assert "\\u003cimg" not in figure.to_json()
    for table in (show.effects_table(one), show.summary_table(one), show.tests_table(one)):
        assert "<img" not in table
