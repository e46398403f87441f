"""Coded settings (n, 3) of the plans that are tried."""

from itertools import product

import numpy as np

CORNERS = np.array(list(product([-1.0, 1.0], repeat=3)))
AXIAL = np.vstack([s * np.eye(3)[j] for j in range(3) for s in (-1, 1)])
COPIES = {20: (1, 6), 32: (2, 4), 36: (2, 8), 48: (3, 6), 64: (4, 8)}


def face_centred(n_runs):
    """Return a face-centred plan: corners and faces once or more, the rest in the middle."""
    copies, centre = COPIES[n_runs]
    return np.vstack([*[np.vstack([CORNERS, AXIAL])] * copies, np.zeros((centre, 3))])


RISING, FALLING = ((-1, -1), (1, 1)), ((-1, 1), (1, -1))
SETUPS = (
    (-1, (*RISING, (1, 0), (0, 0))),
    (1, (*RISING, (-1, 0), (0, 0))),
    (0, (*RISING, (0, 1), (0, -1))),
    (-1, (*FALLING, (0, -1), (0, 0))),
    (1, (*FALLING, (0, 0), (0, 1))),
    (0, (*FALLING, (-1, 0), (1, 0))),
    (-1, (*RISING, *FALLING)),
    (1, (*RISING, *FALLING)),
)


def split_plot():
    """Return 8 setups of the first setting, slow, with 4 runs in each.

    Squares of the other two are told within setups.
    """
    return np.array([(slow, *own) for slow, runs in SETUPS for own in runs], dtype=float)
