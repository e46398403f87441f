"""Make the study quick: fewer draws, and those of one trial shared among the shares asked.

Nothing that decides is changed: sums of failing shares are kept for each point, and what no rate
depends on is not worked out (what stops a side, tables of how the scatter moves).
"""

import sys
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from unittest.mock import patch

import numpy as np

MODULES = (
    *(f"workbench.decide.{one}" for one in ("window", "assemble", "search", "sample", "region")),
    *(f"workbench.fit.{one}" for one in ("shares", "share_basis", "scatter")),
)
N_DRAWS, N_SCREENED, N_CHECKED = 256, 128, 1024


class Kept:
    """Failing shares by draws and point."""

    def __init__(self, plain, room=8192):
        """Keep what `plain`, the function of the sample, returns."""
        self.plain, self.room, self.of = plain, room, {}

    def failing(self, sample, settings):
        """Return the sum of all shares outside a limit (n_draws, n), looked up where known."""
        if sample.n_draws > N_DRAWS:
            return self.plain(sample, settings)
        key = (*map(id, sample.fits), sample.n_draws, sample.seed, sample.model_form)
        place, rows = self.of.setdefault(
            key, ({}, np.empty((self.room, sample.n_draws), dtype=np.float32))
        )
        points = [one.tobytes() for one in settings.values]
        new = [i for i, one in enumerate(points) if one not in place]
        if len(place) + len(new) > self.room:
            return self.plain(sample, settings)
        if new:
            found = self.plain(sample, settings.rows(np.array(new)))
            first = len(place)
            rows[first : first + len(new)] = found.T
            place.update({points[i]: first + j for j, i in enumerate(new)})
        return rows[[place[one] for one in points]].T


@contextmanager
def quickened():
    """Put the quick parts in for a while; yield what forgets the draws of the last trial."""
    window, assemble, search, sample, region, shares, basis, scatter = map(
        sys.modules.__getitem__, MODULES
    )
    kept, known = Kept(sample.Sample.failing), {}

    def failing(self, settings):
        return kept.failing(self, settings)

    def forget():
        kept.of.clear()
        known.clear()

    level_part = basis.ShareBasis.level_part
    parts = [
        (window, "N_CHECKED", N_CHECKED),
        (search, "SCREENED", N_SCREENED),
        (sample.Sample, "failing", failing),
        (assemble, "stops", lambda *_, **__: "not asked"),
        (scatter, "effect_table", lambda *_: ()),
        (shares, "bend", _once_a_process(shares.bend, known)),
        (basis.ShareBasis, "level_part", _one_row(level_part, known)),
        # In these plans every point between the corners is inside the region tried.
        (region.Region, "is_inside", lambda _, points: np.ones(len(points), dtype=bool)),
    ]
    with ExitStack() as stack:
        for owner, name, part in parts:
            stack.enter_context(patch.object(owner, name, part))
        yield forget


def only_the_window():
    """Leave out, for a while, the window that takes the model form as right."""
    return patch.object(sys.modules[MODULES[0]], "_if_right", lambda *_: None)


def _once_a_process(bend, known):
    """Without categories the variance from curvature is the same at every point."""

    def found(basis, settings, process):
        if id(process) not in known:
            one = bend(basis, settings.rows(np.array([0])), process)
            known[id(process)] = process, one  # held, so that its id stays its own
        return replace(known[id(process)][1], kind=np.zeros(len(settings), dtype=np.intp))

    return found


def _one_row(level_part, known):
    """Without categories every point has the same columns of levels."""

    def found(basis, settings):
        if id(basis) not in known:
            known[id(basis)] = basis, level_part(basis, settings.rows(np.array([0])))
        row = known[id(basis)][1]
        return np.broadcast_to(row, (len(settings), row.shape[1]))

    return found
