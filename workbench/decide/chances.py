"""Chances that a new part meets every requirement: at points, and as a map."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.refusals import check_alike, check_asked
from workbench.decide.region import grid
from workbench.decide.sample import MODEL_FORM, Ask, Sample, judge, lacking
from workbench.define.factors import Categorical, Role, Stepped
from workbench.define.settings import Settings
from workbench.errors import DecisionError, Unavailable

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from workbench.decide.windows import Window
    from workbench.define.factors import Factor, Numeric
    from workbench.define.settings import Value
    from workbench.fit.faces import Fit

EVEN = Ask(share=0.5, confidence=0.5)  # asks nothing: only the mean share is used
N_DRAWS = 4096
MAP_DRAWS = 1024
ACROSS = 31  # points along each side of a map
THROUGH = 3  # values of every other factor inside a window: both limits and the middle


def chance(
    fits: Sequence[Fit],
    settings: Settings,
    *,
    seed: int,
    n_draws: int = N_DRAWS,
    model_form: float = MODEL_FORM,
) -> NDArray[np.float64] | Unavailable:
    """Return the chance (n,) that a new part meets every requirement at set values (n, k).

    It is the share averaged over what is not known, the posterior probability of Peterson (2004,
    Journal of Quality Technology 36, 139-153), and no assured share: the true share may well be
    lower. With several outcomes it is the lower bound that holds however they hang together.
    Unavailable where a fit tells no share.
    """
    check_alike(fits)
    unknown = lacking(fits, settings)
    if unknown is not None:
        return unknown
    sample = Sample(fits=tuple(fits), n_draws=n_draws, seed=seed, model_form=model_form, ask=EVEN)
    return judge(sample, settings).chance


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChanceMap:
    """Chance and assured share (ny, nx) over two factors, x (nx,) and y (ny,) in natural units.

    `inside` (ny, nx) says where every fit calls all points looked at inside the region tried;
    elsewhere the numbers are not to be used. `held` says in words where the other factors stand.
    """

    x_factor: Numeric
    y_factor: Numeric
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    chance: NDArray[np.float64]
    assured: NDArray[np.float64]
    inside: NDArray[np.bool_]
    confidence: float
    held: str

    def __post_init__(self) -> None:
        for array in (self.x, self.y, self.chance, self.assured, self.inside):
            array.setflags(write=False)


def chance_map(
    fits: Sequence[Fit],
    *,
    x: str,
    y: str,
    seed: int,
    confidence: float | None = None,
    box: Window | None = None,
    at: Mapping[str, Value] | None = None,
) -> ChanceMap | Unavailable:
    """Return the chance over two factors, and the share assured with `confidence`.

    Each other factor stands where `at` says; if a window is given and `at` does not name it, the
    worst over its limits is taken, or the level of the window. Confidence and model form are
    those of the window, if one is given.

    Raises
    ------
    DecisionError
        If x and y are not two numeric factors, or nothing says where another factor stands.
    """
    check_alike(fits)
    ask = Ask(share=0.5, confidence=_confidence(confidence, box))
    check_asked(share=0.5, confidence=ask.confidence, seed=seed, n_draws=MAP_DRAWS)
    factors = fits[0].settings.factors
    across, up = _numeric(factors, x), _numeric(factors, y)
    if across.name == up.name:
        raise _not_two(x)
    others = _others(factors, (x, y), box=box, at=dict(at or {}))
    plane = [_values(across, ACROSS), _values(up, ACROSS)]
    layers = tuple(_layers(factors, plane, others, names=(x, y)))
    unknown = lacking(fits, layers[0])
    if unknown is not None:
        return unknown
    sample = Sample(
        fits=tuple(fits),
        n_draws=MAP_DRAWS,
        seed=seed,
        model_form=box.model_form if box else MODEL_FORM,
        ask=ask,
    )
    worst = _worst(sample, layers)
    shape = (plane[0].size, plane[1].size)
    return ChanceMap(
        x_factor=across,
        y_factor=up,
        x=plane[0],
        y=plane[1],
        chance=worst.chance.reshape(shape).T.copy(),
        assured=worst.assured.reshape(shape).T.copy(),
        inside=worst.inside.reshape(shape).T.copy(),
        confidence=ask.confidence,
        held=", ".join(one.words for one in others if one.words),
    )


def _confidence(asked: float | None, box: Window | None) -> float:
    if asked is not None:
        return asked
    if box is not None:
        return box.confidence
    raise DecisionError(
        "No confidence is stated for the map.",
        why="The assured share depends on how sure it has to be.",
        next_step="Give a confidence, or the window that has one.",
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Other:
    """Values that a factor off the map takes, and that in words."""

    name: str
    values: NDArray[np.float64]
    words: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Worst:
    chance: NDArray[np.float64]
    assured: NDArray[np.float64]
    inside: NDArray[np.bool_]


def _worst(sample: Sample, layers: tuple[Settings, ...]) -> _Worst:
    """Return the lowest of each point over the layers (assured: of the lowest in each draw)."""
    n = len(layers[0])
    rank = sample.n_draws - 1 - sample.budget
    lowest, assured = np.empty(n), np.empty(n)
    size = max(1, (1 << 20) // sample.n_draws)
    for start in range(0, n, size):
        some = np.arange(start, min(start + size, n))
        fails = np.zeros((sample.n_draws, some.size), dtype=np.float32)
        mean = np.zeros(some.size)
        for layer in layers:
            here = np.minimum(sample.failing(layer.rows(some)), 1)
            np.maximum(fails, here, out=fails)
            mean = np.maximum(mean, here.mean(axis=0, dtype=np.float64))
        lowest[some] = 1 - mean
        assured[some] = 1 - np.partition(fails, rank, axis=0)[rank].astype(float)
    inside = np.ones(n, dtype=bool)
    for layer in layers:
        for fit in sample.fits:
            within = fit.inside(layer)
            inside &= False if isinstance(within, Unavailable) else within
    return _Worst(chance=lowest, assured=assured, inside=inside)


def _layers(
    factors: tuple[Factor, ...],
    plane: list[NDArray[np.float64]],
    others: tuple[_Other, ...],
    *,
    names: tuple[str, str],
) -> Iterator[Settings]:
    """Yield the points of the map, once for each combination of the other factors' values."""
    points = grid(plane)
    order = [one.name for one in factors]
    combinations = grid([one.values for one in others]) if others else np.empty((1, 0))
    for chosen in combinations:
        values = np.empty((points.shape[0], len(factors)))
        values[:, order.index(names[0])] = points[:, 0]
        values[:, order.index(names[1])] = points[:, 1]
        for other, value in zip(others, chosen, strict=True):
            values[:, order.index(other.name)] = value
        yield Settings(factors=factors, values=values)


def _others(
    factors: tuple[Factor, ...],
    names: tuple[str, str],
    *,
    box: Window | None,
    at: dict[str, Value],
) -> tuple[_Other, ...]:
    return tuple(_other(one, box=box, at=at) for one in factors if one.name not in names)


def _other(factor: Factor, *, box: Window | None, at: dict[str, Value]) -> _Other:
    limit = (
        next((one for one in box.limits if one.factor.name == factor.name), None) if box else None
    )
    stands = (dict(box.levels) | dict(box.held)).get(factor.name) if box else None
    if factor.name in at or stands is not None:
        return _fixed(factor, at.get(factor.name, "" if stands is None else stands))
    if limit is not None and not isinstance(factor, Categorical):
        unit = f" {factor.unit}" if factor.unit else ""
        values = _values(factor, THROUGH, low=limit.low, high=limit.high)
        words = f"{factor.name} anywhere from {limit.low:g} to {limit.high:g}{unit}"
        return _Other(name=factor.name, values=values, words=words)
    if factor.role is not Role.CONTROL and not isinstance(factor, Categorical):
        middle = factor.spread.centre if factor.spread else (factor.low + factor.high) / 2
        return _Other(name=factor.name, values=np.array([middle]), words="")
    raise DecisionError(
        f"Nothing says where {factor.name} stands.",
        why="A map of two factors needs the others held somewhere.",
        next_step=f"Name {factor.name} in `at`, or give a window.",
    )


def _fixed(factor: Factor, value: Value) -> _Other:
    if isinstance(factor, Categorical):
        stored = float(factor.index(str(value)))
        return _Other(name=factor.name, values=np.array([stored]), words=f"{factor.name} {value}")
    unit = f" {factor.unit}" if factor.unit else ""
    number = float(value)
    return _Other(
        name=factor.name, values=np.array([number]), words=f"{factor.name} {number:g}{unit}"
    )


def _values(
    factor: Numeric, size: int, *, low: float | None = None, high: float | None = None
) -> NDArray[np.float64]:
    low = factor.low if low is None else low
    high = factor.high if high is None else high
    if isinstance(factor, Stepped):
        return np.array([step for step in factor.steps if low <= step <= high])
    return np.linspace(low, high, size)


def _numeric(factors: tuple[Factor, ...], name: str) -> Numeric:
    for one in factors:
        if one.name == name and not isinstance(one, Categorical):
            return one
    raise _not_two(name)


def _not_two(name: str) -> DecisionError:
    return DecisionError(
        f"{name!r} cannot be an axis of this map.",
        why="A map has two different numeric factors of the trial as its axes.",
        next_step="Name two numeric factors.",
    )
