"""What is drawn is what the noun holds; user text in figures is shown, never obeyed."""

from dataclasses import replace

import invented_lid_seal as lid
import numpy as np
import plotly.graph_objects as go
import pytest
from scipy import stats

from workbench import show
from workbench.errors import Unavailable
from workbench.show.chance_steps import step_heights
from workbench.show.clarity import Clarity, clarity
from workbench.show.map_marks import nice_levels
from workbench.show.scatter_line import expected_sizes
from workbench.show.sentences import by_size
from workbench.show.theme import CHANCE_CUTS, LIGHT


def _named(figure, name):
    return [one for one in figure.data if one.name == name]


def _every_figure():
    fit = lid.fit("peel force")
    return {
        "effects": show.effects(fit),
        "effects without error": show.effects(lid.fit_without_error()),
        "interaction": show.interaction(lid.lines()),
        "contour": show.contour_of_mean(lid.mean_map()),
        "chance": show.chance_map(lid.chances(), lid.decision(), record=lid.record()),
        "chance alone": show.chance_map(lid.chances()),
        "ladder": show.limits_ladder(lid.decision(), lid.record()),
        "no window": show.limits_ladder(lid.no_window(), lid.record()),
        "order": show.residuals_in_order(fit),
        "fitted": show.residuals_by_fitted(fit),
        "half-normal": show.half_normal(fit),
        "half-normal without error": show.half_normal(lid.fit_without_error()),
    }


def test_every_figure_has_its_answer_as_title_and_no_packed_arrays():
    for name, figure in _every_figure().items():
        assert isinstance(figure, go.Figure), name
        assert len(figure.layout.title.text) > 20, name
        assert "bdata" not in figure.to_json(), name
        assert figure.layout.showlegend is not True, name


def test_same_noun_same_figure():
    assert show.effects(lid.fit()).to_json() == show.effects(lid.fit()).to_json()


@pytest.mark.parametrize("name", ["leak rate", "peel force"])
def test_effects_draw_each_value_and_interval_once(name):
    fit = lid.fit(name)
    figure = show.effects(fit)
    drawn = {}
    for kind in Clarity:
        for trace in _named(figure, kind.value):
            drawn |= {y: (x, kind) for x, y in zip(trace.x, trace.y, strict=True)}
    rows = by_size(fit)
    assert len(drawn) == len(fit.effects)
    for place, effect in enumerate(rows):
        value, kind = drawn[len(rows) - 1 - place]
        assert value == pytest.approx(effect.value, rel=1e-6)
        assert kind is clarity(effect, fit)
    ends = [x for trace in _named(figure, "95\u00a0% interval") for x in trace.x if x is not None]
    expected = sorted(end for e in fit.effects for end in (e.estimate.low, e.estimate.high))
    assert sorted(ends) == pytest.approx(expected, rel=1e-6)


def test_clear_is_filled_and_open_is_hollow():
    fit = lid.fit("peel force")
    for trace in show.effects(fit).data:
        if trace.name == Clarity.CLEAR.value:
            assert trace.marker.color == LIGHT.ink
        if trace.name in (Clarity.OPEN.value, Clarity.SMALL.value):
            assert trace.marker.color == LIGHT.paper


def test_the_zone_too_small_to_matter_is_what_the_outcome_says():
    (zone,) = _named(show.effects(lid.fit("leak rate")), "too small to matter")
    assert sorted(set(zone.x)) == pytest.approx([1 / 1.5, 1.5], rel=1e-6)


def test_without_error_the_band_is_the_margin_and_no_interval_is_drawn():
    fit = lid.fit_without_error()
    figure = show.effects(fit)
    (band,) = _named(figure, "within the margin")
    assert max(band.x) == pytest.approx(fit.pseudo_error.margin, rel=1e-6)
    assert not _named(figure, "95\u00a0% interval")
    assert "no error estimate" in figure.layout.title.text


def test_lines_and_bands_are_the_predictions():
    lines = lid.lines()
    figure = show.interaction(lines)
    for i, level in enumerate(lines.levels):
        (line,) = _named(figure, level)
        assert list(line.y) == pytest.approx(lines.mean[i], rel=1e-6)
        (band,) = _named(figure, f"band {i + 1}")
        assert list(band.y[: len(lines.x)]) == pytest.approx(lines.low[i], rel=1e-6)
    dashes = {_named(figure, level)[0].line.dash for level in lines.levels}
    assert len(dashes) == len(lines.levels)


def test_map_of_the_mean_hatches_where_it_fails_and_leaves_the_untried_blank():
    drawn = lid.mean_map()
    inside = drawn.inside.copy()
    inside[:10] = False
    figure = show.contour_of_mean(replace(drawn, mean=drawn.mean - 5, inside=inside))
    (hatch,) = _named(figure, "fails")
    place = {
        (float(f"{x:.7g}"), float(f"{y:.7g}")): (i, j)
        for i, y in enumerate(drawn.y)
        for j, x in enumerate(drawn.x)
    }
    cells = [place[pair] for pair in zip(hatch.x, hatch.y, strict=True)]
    assert cells
    assert all(drawn.mean[cell] - 5 < 22 and inside[cell] for cell in cells)
    assert all(value is None for row in figure.data[0].z[:10] for value in row)


def test_levels_of_a_map_are_round_and_inside():
    assert nice_levels(np.array([[0.0, 1.0]])) == pytest.approx([0.2, 0.4, 0.6, 0.8])
    assert nice_levels(np.full((3, 3), 2.0)) == []


def test_chance_steps_cut_at_the_named_chances_and_stay_ordered():
    assert step_heights(np.array(CHANCE_CUTS)) == pytest.approx([1, 2, 3, 4, 5])
    rising = step_heights(np.linspace(0, 1, 101))
    assert (np.diff(rising) >= 0).all()
    assert np.isfinite(rising).all()


def test_the_box_and_set_point_are_the_window():
    figure = show.chance_map(lid.chances(), lid.decision(), record=lid.record())
    boxes = [s for s in figure.layout.shapes if s.name == "window"]
    assert {(s.x0, s.x1, s.y0, s.y1) for s in boxes} == {(315, 385, 1.05, 1.35)}
    (diamond,) = [s for s in figure.layout.shapes if s.name == "set point"]
    assert (diamond.xanchor, diamond.yanchor) == (350, 1.2)
    said = [note.text for note in figure.layout.annotations]
    for words in ("leaks", "peels too easily", "squeezes out too far", "99\u00a0% or more"):
        assert words in said


def test_chance_outside_the_region_tried_is_left_blank():
    drawn = lid.chances()
    steps = show.chance_map(drawn).data[0]
    blank = np.array([[value is None for value in row] for row in steps.z])
    np.testing.assert_array_equal(blank, ~drawn.inside)


def test_ladder_bars_stand_where_the_limits_are():
    figure = show.limits_ladder(lid.decision(), lid.record())
    bars = {s.name: s for s in figure.layout.shapes if s.type == "rect"}
    for limit in lid.decision().best.limits:
        factor = limit.factor
        bar = bars[factor.name]
        there = [factor.low + x * (factor.high - factor.low) for x in (bar.x0, bar.x1)]
        assert there == pytest.approx([limit.low, limit.high])
    said = " ".join(note.text for note in figure.layout.annotations)
    for words in ("<b>1.20</b>", "range edge", "line holds ±12 (2 SD)", "±0.15"):
        assert words in said


def test_ladder_of_a_miss_promises_nothing():
    figure = show.limits_ladder(lid.no_window(), lid.record())
    assert not [s for s in figure.layout.shapes if s.type == "rect"]
    assert len(_named(figure, "nearest miss")) == 4


def test_residuals_are_drawn_in_order_and_odd_ones_crossed():
    fit = lid.fit("peel force")
    odd = np.zeros(len(fit.run))
    odd[4] = 3.5
    one = replace(fit, diagnostics=replace(fit.diagnostics, studentised=odd))
    figure = show.residuals_in_order(one)
    (cross,) = _named(figure, "odd runs")
    assert list(cross.x) == [5]
    assert cross.y[0] == pytest.approx(fit.diagnostics.residuals[4], rel=1e-6)
    (runs,) = _named(figure, "runs")
    assert len(runs.x) == len(fit.run) - 1
    (runs,) = _named(show.residuals_by_fitted(fit), "runs") or [None]
    assert set(runs.x) <= {float(f"{v:.7g}") for v in fit.diagnostics.fitted}


@pytest.mark.published("Daniel (1959), Technometrics 1, 311-341: half-normal plotting positions")
def test_half_normal_places_are_quantiles_of_half_a_normal():
    i = np.arange(1, 16)
    np.testing.assert_allclose(expected_sizes(15), stats.halfnorm.ppf((i - 0.5) / 15), rtol=1e-12)


@pytest.mark.reference("scipy.stats, simulation of 40 000 half-normal samples")
def test_half_normal_band_holds_each_size_with_95_percent():
    rng = np.random.default_rng(3)
    seen = np.sort(np.abs(rng.normal(size=(40_000, 7))), axis=1)
    inside = (seen >= expected_sizes(7, 0.025)) & (seen <= expected_sizes(7, 0.975))
    np.testing.assert_allclose(inside.mean(axis=0), 0.95, atol=0.005)


def test_half_normal_names_only_what_stands_out():
    fit = lid.fit_without_error()
    named = {
        t.strip()
        for one in show.half_normal(fit).data
        if one.mode == "markers+text"
        for t in one.text
    }
    assert named == set(fit.pseudo_error.standing_out)


def test_effects_of_a_fit_without_any_still_draw():
    fit = replace(lid.fit("peel force"), effects=(), pseudo_error=Unavailable(reason="no effects"))
    assert "No effect on peel force can be estimated" in show.effects(fit).layout.title.text
    assert show.half_normal(fit).layout.title.text


def test_nasty_names_are_shown_not_obeyed():
    fit = lid.fit("peel force")
    nasty = tuple(
        replace(e, name=lid.NASTY, unit=lid.NASTY, from_to=lid.NASTY) for e in fit.effects
    )
    outcome = replace(fit.outcome, name=f"force {lid.NASTY}", unit=lid.NASTY)
    one = replace(fit, effects=nasty, outcome=outcome)
    lines = replace(lid.lines(), outcome=outcome, levels=(lid.NASTY, f"2 {lid.NASTY}"))
    figures = [show.effects(one), show.half_normal(one), show.residuals_by_fitted(one)]
    figures += [show.residuals_in_order(one), show.interaction(lines)]
    for figure in figures:
        written = figure.to_json()
        assert "<img" not in written
        assert "\\u003cimg" not in written
        assert "&lt;img" in written
