"""How the window changes with assurance, and what changes would buy."""

import numpy as np
import pytest
from scipy.special import ndtr

import workbench as wb
from workbench.decide.calmer import CalmerSample
from workbench.decide.sample import Ask, Sample
from workbench.decide.windows import NoWindow, Window
from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured, at_least, between
from workbench.define.settings import from_coded
from workbench.errors import Unavailable

FORCE = Measured(name="peel force", unit="N", requirement=at_least(0))
GAP = Measured(name="gap", unit="mm", requirement=between(-4, 4))
ASKED = {"share": 0.9, "confidence": 0.9, "seed": 3}


def invented(made, *, sd=0.7, sds=(16.0, 1.0), uses_as_run=True):
    """An invented process: force falls steeply along the badly held factor, gap lies well."""
    rng = np.random.default_rng(1)
    x = made.face_centred(2, copies=2)
    factors = [
        Continuous(name=name, low=100, high=180, unit="mm", setting_sd=each)
        for name, each in zip(("badly held", "well held"), sds, strict=True)
    ]
    force = 3 - 2.5 * x[:, 0] + 0.3 * x[:, 1] + rng.normal(0, sd, len(x))
    gap = 0.5 * x[:, 1] + rng.normal(0, 0.5, len(x))
    return made.fits_of(factors, x, [(FORCE, force), (GAP, gap)], uses_as_run=uses_as_run)


@pytest.fixture(scope="module")
def fits(made):
    return invented(made)


@pytest.fixture(scope="module")
def curve(fits):
    return wb.decide.assurance_curve(fits, **ASKED, n_draws=1024)


def test_the_window_never_grows_with_the_confidence(curve):
    assert [one.confidence for one in curve.points] == [0.80, 0.90, 0.95, 0.99]
    sizes = [one.volume for one in curve.points]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] > sizes[-1]


def test_the_curve_passes_through_the_window_that_was_asked(fits, curve):
    best = wb.decide.window(fits, **ASKED, n_draws=1024).best
    there = next(one for one in curve.points if one.confidence == curve.asked)
    assert there.volume >= best.volume
    assert there.volume == pytest.approx(best.volume, rel=0.1)


def test_another_confidence_asked_stands_in_the_curve(fits):
    found = wb.decide.assurance_curve(
        fits, share=0.9, confidence=0.85, seed=3, n_draws=512, confidences=(0.8, 0.9)
    )
    assert [one.confidence for one in found.points] == [0.8, 0.85, 0.9]


def test_where_nothing_holds_the_curve_says_so(made):
    found = wb.decide.assurance_curve(
        invented(made, sd=9.0), share=0.95, confidence=0.95, seed=1, n_draws=1024
    )
    assert all(isinstance(one.window, NoWindow) for one in found.points)
    assert [one.volume for one in found.points] == [0.0] * 4


@pytest.fixture(scope="module")
def bought(fits):
    return wb.decide.what_if(fits, **ASKED)


def test_the_strongest_lever_comes_first_and_is_named(bought):
    assert {one.about for one in bought.levers} == {"badly held", "well held", "peel force", "gap"}
    sizes = [one.window.volume for one in bought.levers]
    assert sizes == sorted(sizes, reverse=True)
    assert bought.levers[0].about == "badly held"
    assert "setting error (sd) of 8 mm instead of 16 mm" in bought.sentence
    assert isinstance(bought.base, Window)


def test_what_does_not_bind_buys_nothing(bought):
    times = {one.about: one.times for one in bought.levers}
    assert times["badly held"] > 1.1
    assert times["gap"] == pytest.approx(1, abs=0.05)
    assert times["well held"] == pytest.approx(1, abs=0.05)


def test_setting_error_that_is_in_the_scatter_already_is_no_lever(made):
    found = wb.decide.what_if(invented(made, uses_as_run=False), **ASKED)
    assert {one.about for one in found.levers} == {"peel force", "gap"}
    assert any("holds the setting error already" in note for note in found.notes)


def test_without_a_window_a_lever_that_gives_one_is_named(made):
    found = wb.decide.what_if(invented(made, sds=(60.0, 1.0)), share=0.95, confidence=0.95, seed=3)
    assert isinstance(found.base, NoWindow)
    assert all(isinstance(one.times, Unavailable) for one in found.levers)
    gives = any(isinstance(one.window, Window) for one in found.levers)
    assert ("There would be a window" in found.sentence) == gives


def test_less_scatter_is_the_same_mean_at_more_standard_deviations(fits):
    plain = {
        "fits": fits,
        "n_draws": 256,
        "seed": 1,
        "model_form": 0.3,
        "ask": Ask(share=0.9, confidence=0.9),
    }
    points = from_coded(fits[0].settings.factors, np.array([[0.9, 0.0], [1.0, -1.0]]))
    before = Sample(**plain).by_side(points)
    after = CalmerSample(**plain, calmer="peel force", part=0.75).by_side(points)
    np.testing.assert_array_equal(after[1].too_high, before[1].too_high)
    # Φ(z) = before, Φ(z / 0.75) = after: the quantiles keep their ratio.
    grid = np.linspace(-6, 6, 4001)
    z = np.interp(before[0].too_low, ndtr(grid), grid)
    np.testing.assert_allclose(after[0].too_low, ndtr(z / 0.75), atol=2e-5)


def test_what_adding_up_can_cost_is_said(made):
    """Two outcomes that bind at the same end: at most the larger of two equal failures counts."""
    rng = np.random.default_rng(6)
    x = made.face_centred(2, copies=3)
    pull = Measured(name="pull force", unit="N", requirement=at_least(0))
    force = [3 - 2 * x[:, 0] + rng.normal(0, 0.7, len(x)) for _ in range(2)]
    fits = made.fits_of(made.numeric(2), x, [(FORCE, force[0]), (pull, force[1])])
    best = wb.decide.window(fits, **ASKED, n_draws=1024).best
    said = [note for note in best.notes if "always failed on the same parts" in note]
    assert len(said) == 1
    alone = wb.decide.window(fits[:1], **ASKED, n_draws=1024).best
    assert not any("always failed" in note for note in alone.notes)
