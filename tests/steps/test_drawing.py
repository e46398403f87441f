"""Lines and maps of every kind of fit: shares, counts, readings cut off."""

import invented_kinds as kinds
import numpy as np
import pytest

from workbench import show
from workbench.define.settings import settings
from workbench.fit.measured import MeasuredFit
from workbench.steps.asked_again import asked_again, several_of, shapes_of
from workbench.steps.drawing import lines_of, mean_map_of


def _named(figure, start):
    return [one for one in figure.data if one.name.startswith(start)]


def _lines(name):
    return lines_of(kinds.fit(name), along="press force", by="wipe")


@pytest.mark.parametrize("name", ["drop test", "smear"])
def test_shares_are_drawn_in_per_cent_from_nothing_to_all(name):
    lines = _lines(name)
    assert (lines.mean >= 0).all()
    assert (lines.mean <= 1).all()
    figure = show.interaction(lines)
    (low, high) = figure.layout.yaxis.range
    assert low < 0
    assert high > 100
    (once,) = _named(figure, "once")
    assert list(once.y) == pytest.approx(list(100 * lines.mean[1]), rel=1e-6)
    assert "%" in figure.layout.yaxis.title.text
    assert "share of parts" in figure.layout.title.subtitle.text.lower().replace("<br>", " ")


def test_marks_are_what_was_seen_at_the_two_settings_sized_by_parts():
    lines = _lines("drop test")
    runs = lines.runs
    assert runs.parts.sum() == 168
    assert runs.parts @ runs.y == pytest.approx(103)
    readings = kinds.record().readings["drop test"]
    rows = kinds.record().as_run
    own = (rows.column("press force") == 30) & (rows.column("wipe") == 1)
    passed = readings.value[np.isin(readings.row, np.flatnonzero(own))]
    here = (runs.x == 30) & (runs.line == 1)
    assert runs.y[here] == pytest.approx([passed.mean()])
    figure = show.interaction(lines)
    sizes = {size for one in _named(figure, "runs") for size in one.marker.size}
    assert len(sizes) == 2


def test_grades_that_pass_are_counted_as_seen():
    lines = _lines("smear")
    readings = kinds.record().readings["smear"]
    assert lines.runs.parts @ lines.runs.y == pytest.approx((readings.value <= 1).sum())


def test_counts_keep_their_unit_and_their_requirement():
    lines = _lines("skips")
    assert lines.runs.parts @ lines.runs.y == pytest.approx(
        kinds.record().readings["skips"].value.sum()
    )
    drawn = mean_map_of(kinds.fit("skips"), x="press force", y="dwell", at={"wipe": "once"})
    title = show.contour_of_mean(drawn).layout.title.text.replace("<br>", " ")
    assert (
        title
        == "Mean count of skips is at most 3 only on the side of the line that is not hatched"
    )


def test_readings_cut_off_are_moved_and_stay_arrows():
    fit = kinds.fit("pull force")
    lines = _lines("pull force")
    assert lines.runs.mark.sum() == 3
    moved = [
        {"press force": float(x), "dwell": 5.0, "wipe": "once" if line else "none"}
        for x, line in zip(lines.runs.x, lines.runs.line, strict=True)
    ]
    there = fit.predict(settings(fit.settings.factors, moved), confidence=0.95).mean
    own = fit.predict(fit.settings, confidence=0.95).mean
    np.testing.assert_allclose(lines.runs.y - there, fit.checks.observed - own, atol=1e-9)
    figure = show.interaction(lines)
    arrows = _named(figure, "cut off: the value lies above")
    assert sum(len(one.x) for one in arrows) == 3
    assert figure.layout.showlegend
    assert [one.showlegend for one in arrows] == [True] * len(arrows)
    assert "Arrows" in figure.layout.title.subtitle.text


def test_runs_in_setups_keep_the_scatter_of_their_setup():
    fit = kinds.in_setups()
    lines = lines_of(fit, along="dwell", by="press force")
    own = fit.predict(fit.settings, confidence=0.95).mean
    assert np.ptp(fit.checks.observed - own) > np.ptp(fit.checks.observed - fit.checks.expected)
    assert lines.runs.y.size == fit.run.size


def test_maps_of_shares_are_in_per_cent():
    drawn = mean_map_of(kinds.fit("drop test"), x="press force", y="dwell")
    figure = show.contour_of_mean(drawn)
    assert "%" in figure.layout.title.text
    levels = [one.contours.start for one in figure.data if one.type == "contour"]
    assert levels
    assert max(levels) > 1
    assert not _named(figure, "fails")


def test_asking_again_fills_what_a_kind_has():
    fit = kinds.fit("bead width")
    found = asked_again(kinds.record(), fit, seed=4)
    assert found.selection.seed == 4
    assert found.sensitivity.variants
    assert found.spread.level == "run"
    other = asked_again(kinds.record(), kinds.fit("skips"), seed=4)
    assert other.selection is None
    assert "measured" in other.spread.reason


def test_a_shape_needs_a_bend():
    assert isinstance(kinds.fit("bead width"), MeasuredFit)
    assert shapes_of(kinds.fit("bead width")) == ()
    assert shapes_of(kinds.fit("skips")) == ()


def test_several_outcomes_share_scatter_where_both_have_residuals():
    names = ("pull force", "drop test", "skips")
    found = several_of([kinds.fit(name) for name in names])
    assert {one.outcome for one in found.trade_offs} == set(names)
    assert [(one.first, one.second) for one in found.shared] == [("pull force", "drop test")]
    assert several_of([kinds.fit("skips")]) is None
