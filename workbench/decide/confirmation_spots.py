"""Where parts are made: the set point, and the corners of the window that limit it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.limiting import side_in_words
from workbench.decide.region import Box, regions
from workbench.decide.sample import Ask, Sample
from workbench.define.factors import Role

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.decide.region import Region
    from workbench.decide.windows import Window
    from workbench.define.settings import Settings, Value
    from workbench.fit.faces import Fit

SET_POINT = "set point"
ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth")
CORNERS = 2  # as many corners as are looked at unless asked otherwise


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spot:
    """One point of a window: full settings (1, k), and draws (n_draws,) of the failing share."""

    name: str
    why: str
    settings: Settings
    failing: NDArray[np.float64]

    def set_values(self) -> tuple[tuple[str, Value], ...]:
        """Return what the line sets there, factor by factor."""
        row = self.settings.as_dicts()[0]
        return tuple(
            (one.name, row[one.name]) for one in self.settings.factors if one.role is Role.CONTROL
        )


def sample_of(fits: Sequence[Fit], window: Window) -> Sample:
    """Return the draws that the window was found with."""
    return Sample(
        fits=tuple(fits),
        n_draws=window.n_draws,
        seed=window.seed,
        model_form=window.model_form,
        ask=Ask(share=window.share, confidence=window.confidence),
    )


def spots(sample: Sample, window: Window, *, corners: int) -> tuple[Spot, ...]:
    """Return the set point and up to so many corners, lowest assured share first.

    Of corners at which the same limit of the same outcome fails most, the worst stands for all.
    """
    region = next(one for one in regions(sample.fits, ()) if one.levels == window.levels)
    limits = {one.factor.name: one for one in window.limits}
    box = Box(
        low=np.array([limits[axis.name].low for axis in region.axes]),
        high=np.array([limits[axis.name].high for axis in region.axes]),
    )
    point = np.array([[limits[axis.name].set_point for axis in region.axes]])
    middle = _spot(region, point, sample, name=SET_POINT, why="")
    return (middle, *_corners(region, box, sample, count=corners))


def _corners(region: Region, box: Box, sample: Sample, *, count: int) -> tuple[Spot, ...]:
    points = np.unique(region.corners(box), axis=0)
    settings = region.settings(points)
    failing = np.minimum(sample.failing(settings), 1)
    rank = sample.n_draws - 1 - sample.budget
    lowest = np.partition(failing, rank, axis=0)[rank]
    leading = _leading(sample, settings)
    chosen: dict[str, int] = {}
    for i in np.argsort(-lowest, kind="stable"):
        chosen.setdefault(leading[int(i)], int(i))
    return tuple(
        _spot(region, points[[i]], sample, name=_ordinal(number), why=f"likeliest there: {why}")
        for number, (why, i) in enumerate(list(chosen.items())[:count], 1)
    )


def _ordinal(number: int) -> str:
    return f"{ORDINALS[number - 1]} corner" if number <= len(ORDINALS) else f"corner {number}"


def _leading(sample: Sample, settings: Settings) -> list[str]:
    """Return for each point the side of an outcome that fails most, in words."""
    words: list[str] = []
    sizes: list[NDArray[np.float64]] = []
    for fit, draws in zip(sample.fits, sample.by_side(settings), strict=True):
        for side, shares in ((-1, draws.too_low), (1, draws.too_high)):
            words.append(side_in_words(fit.outcome, side))
            sizes.append(shares.mean(axis=0, dtype=np.float64))
    return [words[int(i)] for i in np.argmax(np.array(sizes), axis=0)]


def _spot(
    region: Region, points: NDArray[np.float64], sample: Sample, *, name: str, why: str
) -> Spot:
    settings = region.settings(points)
    failing = np.minimum(sample.failing(settings)[:, 0], 1).astype(np.float64)
    return Spot(name=name, why=why, settings=settings, failing=failing)
