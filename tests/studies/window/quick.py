"""Make the study quick: fewer draws, and nothing worked out that no rate depends on.

Nothing that decides is changed but the numbers of draws: what stops a side and tables of how the
scatter moves are left out, and what is the same at every point is worked out once.
"""

import sys
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from functools import partial
from unittest.mock import patch

import numpy as np

MODULES = (
    *(f"workbench.decide.{one}" for one in ("window", "assemble", "search", "region")),
    *(f"workbench.fit.{one}" for one in ("shares", "share_basis", "scatter")),
)
N_DRAWS, N_SCREENED, N_CHECKED = 256, 128, 1024


@contextmanager
def quickened():
    """Put the quick parts in for a while; yield what forgets the draws of the last trial."""
    window, assemble, search, region, shares, basis, scatter = map(
        sys.modules.__getitem__, MODULES
    )
    known = {}
    level_part = basis.ShareBasis.level_part
    parts = [
        (window, "Task", partial(window.Task, n_checked=N_CHECKED)),
        (search, "SCREENED", N_SCREENED),
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
        yield known.clear


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
