"""What may be wished of a window: factors held, kept within a range, weighed."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

import workbench as wb
from workbench.decide.windows import NoWindow, Window
from workbench.define.factors import Categorical, Stepped
from workbench.define.outcomes import Measured, at_least
from workbench.errors import DecisionError, WorkbenchError

FORCE = Measured(name="peel force", unit="N", requirement=at_least(0))
DRAWS = 512


def invented(made, *, tip=False, **factor):
    """An invented process in which more of factor 1 hurts and more of factor 2 helps."""
    rng = np.random.default_rng(1)
    x = made.face_centred(2, copies=2)
    factors = made.numeric(2, **factor)
    if not tip:
        force = 2 - 2 * x[:, 0] + x[:, 1] + rng.normal(0, 0.7, len(x))
        return made.fits_of(factors, x, [(FORCE, force)])
    x = np.array([[*row, level] for row in x for level in range(2)])
    force = 2.5 - 1.5 * x[:, 0] + x[:, 1] + 0.5 * x[:, 2] + rng.normal(0, 0.7, len(x))
    return made.fits_of(
        [*factors, Categorical(name="tip", levels=("flat", "bevel"))],
        x,
        [(FORCE, force)],
        terms="'factor 1' * 'factor 2', tip, 'factor 1'^2, 'factor 2'^2",
    )


def window(fits, **more):
    asked = {"share": 0.9, "confidence": 0.9, "seed": 3, "n_draws": DRAWS} | more
    return wb.decide.window(fits, **asked)


@pytest.fixture(scope="module")
def fits(made):
    return invented(made)


@pytest.fixture(scope="module")
def plain(fits):
    return window(fits).best


def side(one, name):
    return next((x.low, x.high) for x in one.limits if x.factor.name == name)


def test_a_held_factor_is_no_side_and_stands_in_the_set_point(fits, plain):
    best = window(fits, held={"factor 2": 270.0}).best
    assert [one.factor.name for one in best.limits] == ["factor 1"]
    assert best.held == (("factor 2", 270.0),)
    assert best.set_point()["factor 2"] == 270.0
    low, high = side(best, "factor 1")
    a, b = side(plain, "factor 1")
    assert high - low > b - a  # nothing is spent on the other side


def test_a_better_place_to_hold_gives_more_room(fits):
    good = window(fits, held={"factor 2": 280.0}).best
    poor = window(fits, held={"factor 2": 200.0}).best
    assert good.volume > poor.volume


def test_a_side_kept_within_says_that_it_was_asked(fits):
    best = window(fits, within={"factor 2": (230.0, 250.0)}).best
    low, high = side(best, "factor 2")
    assert 230 <= low < high <= 250
    assert best.limits[1].limited_by_high == "edge of the range asked for"


def test_weight_moves_the_window_towards_its_factor(fits, plain):
    wide = window(fits, weights={"factor 1": 4.0}).best
    a, b = side(plain, "factor 1")
    low, high = side(wide, "factor 1")
    assert high - low > b - a
    first = (high - low) / 80
    second = np.subtract(*side(wide, "factor 2")[::-1]) / 80
    assert wide.volume == pytest.approx(first**4 * second)


def test_size_in_setting_errors_is_another_number_of_the_same_box(fits, plain):
    other = window(fits, size_in="setting error").best
    assert [side(other, n) for n in ("factor 1", "factor 2")] == [
        side(plain, n) for n in ("factor 1", "factor 2")
    ]
    assert other.volume == pytest.approx(plain.volume * (80 / 2.4) ** 2)
    assert other.size_in == "setting error"


def test_a_held_level_is_the_only_one_answered(made):
    found = window(invented(made, tip=True), held={"tip": "flat"})
    assert [levels for levels, _ in found.by_level] == [(("tip", "flat"),)]
    assert found.best.set_point()["tip"] == "flat"


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        ({"held": {"factor 1": 500.0}}, "cannot be held at 500"),
        ({"held": {"factor 1": "warm"}}, "cannot be held at warm"),
        ({"held": {"nobody": 1.0}}, "'nobody' is not a factor"),
        ({"within": {"factor 1": (150.0, 120.0)}}, "cannot be kept within 150 and 120"),
        ({"within": {"factor 1": (50.0, 120.0)}}, "cannot be kept within 50 and 120"),
        ({"weights": {"factor 1": -1.0}}, "weight of factor 1 is -1"),
        ({"weights": {"factor 1": float("nan")}}, "weight of factor 1 is nan"),
        ({"size_in": "inches"}, "size in 'inches'"),
    ],
)
def test_wishes_that_cannot_be_are_refused(fits, wish, words):
    with pytest.raises(DecisionError, match=words) as caught:
        window(fits, **wish)
    assert caught.value.next_step


def test_a_size_in_setting_errors_needs_them(made):
    with pytest.raises(DecisionError, match="No setting error above zero"):
        window(invented(made, setting_sd=0.0), size_in="setting error")


def test_a_step_that_the_dial_has_not_is_refused(made):
    rng = np.random.default_rng(3)
    dial = Stepped(name="dial", steps=(1, 2, 3), unit="", setting_sd=0)
    x = made.face_centred(2, copies=2)
    fits = made.fits_of([dial, *made.numeric(2)[1:]], x, [(FORCE, 5 + rng.normal(0, 1, len(x)))])
    with pytest.raises(DecisionError, match="in steps 1, 2, 3"):
        window(fits, held={"dial": 2.5})
    assert isinstance(window(fits, held={"dial": 2}).best, Window)


def test_an_unknown_level_is_refused(made):
    with pytest.raises(WorkbenchError, match="no level 'spade'"):
        window(invented(made, tip=True), held={"tip": "spade"})


def test_holding_every_numeric_factor_leaves_nothing_to_limit(fits):
    none = window(fits, held={"factor 1": 120.0, "factor 2": 240.0}).best
    assert isinstance(none, NoWindow)
    assert "nothing to limit" in none.reason


def test_any_executor_gives_the_same_answer(made):
    fits = invented(made, tip=True)
    alone = window(fits)
    with ThreadPoolExecutor(max_workers=2) as pool:
        shared = window(fits, executor=pool)
    assert shared.best == alone.best
    assert [one for _, one in shared.by_level] == [one for _, one in alone.by_level]


class StoppedError(Exception):
    """What a user raises to stop."""


@pytest.mark.parametrize("workers", [0, 1])
def test_a_progress_that_raises_ends_the_search(made, workers):
    def stop(done, _total):
        if done == 1:
            raise StoppedError

    fits = invented(made, tip=True)
    if not workers:
        with pytest.raises(StoppedError):
            window(fits, progress=stop)
        return
    with ThreadPoolExecutor(max_workers=workers) as pool, pytest.raises(StoppedError):
        window(fits, progress=stop, executor=pool)
