"""What the steps compute for figures and reports, held against what it must agree with."""

import json

import numpy as np
import pytest

from workbench import cli, steps
from workbench.define.settings import settings
from workbench.errors import Unavailable
from workbench.steps.answers import as_text
from workbench.steps.json_values import number
from workbench.steps.promises import promises
from workbench.steps.report_figures import chance_maps


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    """An adopted trial of two numeric factors and a category, nine settings each, repeated."""
    place = tmp_path_factory.mktemp("steps")
    rng = np.random.default_rng(2)
    lines = ["kind,heat,dwell,pull"]
    for kind in ("a", "b"):
        for heat in (300, 340, 380):
            for dwell in (1, 2, 3):
                coded = (heat - 340) / 40
                mean = 20 + 2 * coded + dwell + (kind == "b") * 2 * coded
                lines.append(f"{kind},{heat},{dwell},{mean + 0.5 * rng.standard_normal():.3f}")
    (place / "table.csv").write_text("\n".join(lines), "utf-8")
    status = cli.main(
        [
            "adopt",
            str(place / "table.csv"),
            str(place / "trial"),
            "--outcome=pull:unit=N,at_least=18",
            "--factor=heat:unit=°C,kind=continuous,setting_sd=2",
            "--factor=dwell:unit=s,kind=continuous,setting_sd=0.05",
            "--terms=second-order",
        ]
    )
    assert status == 0
    return steps.open_trial(place / "trial")


@pytest.fixture(scope="module")
def fit(opened):
    return steps.fit_all(opened)[0].fit


@pytest.fixture(scope="module")
def answer(opened):
    return steps.find_window(opened, share=0.9, confidence=0.9)


def test_lines_are_the_predictions_and_runs_keep_their_residuals(fit):
    lines = steps.lines_of(fit, along="heat", by="kind", at={"dwell": 2.0})
    assert lines.levels == ("a", "b")
    rows = [{"kind": "b", "heat": float(x), "dwell": 2.0} for x in lines.x]
    there = fit.predict(settings(fit.settings.factors, rows), confidence=0.95)
    np.testing.assert_allclose(lines.mean[1], there.mean)
    np.testing.assert_allclose(lines.high[1], there.mean_high)
    assert "dwell 2" in lines.held.replace("\u00a0", " ")
    on_b = lines.runs.line == 1
    moved = [{"kind": "b", "heat": float(x), "dwell": 2.0} for x in lines.runs.x[on_b]]
    fitted = fit.predict(settings(fit.settings.factors, moved), confidence=0.95).mean
    np.testing.assert_allclose(lines.runs.y[on_b] - fitted, fit.diagnostics.residuals[on_b])


def test_a_map_is_the_prediction_over_its_grid(fit):
    drawn = steps.mean_map_of(fit, x="heat", y="dwell", at={"kind": "a"})
    assert drawn.mean.shape == (drawn.y.size, drawn.x.size)
    corner = settings(
        fit.settings.factors, [{"kind": "a", "heat": drawn.x[-1], "dwell": drawn.y[0]}]
    )
    assert drawn.mean[0, -1] == pytest.approx(fit.predict(corner, confidence=0.95).mean[0])
    assert drawn.inside.all()


def test_clear_interactions_are_drawn(fit):
    (lines, *_) = steps.interaction_lines(fit)
    assert {lines.along.name, lines.by.name} == {"heat", "kind"}
    assert lines.along.name == "heat"


def test_promises_agree_with_the_window(answer):
    found = promises(answer)
    assert [one.outcome for one in found] == ["pull", ""]
    one, together = found
    assert together.lowest == answer.best.lowest_share
    # One outcome is all there is, so both say the same, from other draws and another grid.
    assert one.lowest == pytest.approx(together.lowest, abs=0.02)
    assert one.at_set_point == pytest.approx(together.at_set_point, abs=0.01)


def test_maps_of_chance_hold_the_window(answer):
    (drawn, *_) = chance_maps(answer, at={}, seed=1)
    heat = next(one for one in answer.best.limits if one.factor.name == drawn.x_factor.name)
    dwell = next(one for one in answer.best.limits if one.factor.name == drawn.y_factor.name)
    in_box = np.outer(
        (drawn.y >= dwell.low) & (drawn.y <= dwell.high),
        (drawn.x >= heat.low) & (drawn.x <= heat.high),
    )
    assert in_box.any()
    assert drawn.chance[in_box].min() > 0.9


def test_the_story_tells_all_of_it(opened, answer):
    story = steps.story_of(opened, answer)
    assert story.plan is None
    assert story.record is not None
    assert [name for name, _ in story.fits] == ["pull"]
    assert story.lines
    assert story.mean_maps
    assert story.decision is answer.decision
    assert any("no confirmation run" in line for line in story.not_tested)


def test_a_number_without_end_is_said_in_words():
    assert number(float("inf")) == {"unavailable": "there is no finite number here"}
    assert number(Unavailable(reason="why")) == {"unavailable": "why"}
    assert number(None) is None
    assert json.loads(as_text({"x": number(1 / 3)}))["x"] == 1 / 3
    with pytest.raises(ValueError, match="JSON compliant"):
        as_text({"x": float("nan")})


def test_repr_says_what_is_open(opened):
    assert repr(opened).startswith("OpenTrial(")
    assert "18 runs that count" in repr(opened)
