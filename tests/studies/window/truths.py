"""Made-up processes of three coded settings that the window was not tuned on.

Their formulas were written down before the first trial was simulated; the limits make the
widest true box about as wide as in the trials with which the model-form term was chosen.
"""

import numpy as np


def quadratic(x):
    """Return two true means (n, 2) that a second-order model meets exactly."""
    a, b, c = x.T
    gap = 0.2 + 1.2 * a + 1.5 * b - 0.9 * c - 0.9 * b**2 + 0.7 * a * c + 0.4 * c**2
    force = 4.3 + 1.2 * a - 1.5 * b + 0.5 * c - a**2 - 0.5 * b**2 + 0.8 * a * b - 0.5 * b * c
    return np.column_stack([gap, force])


def roomy(x):
    """Return two true means (n, 2) of the process with which the study was begun: widths only."""
    a, b, c = x.T
    gap = 1.8 * a - 1.2 * b + 0.5 * c + 0.9 * a**2 - 0.6 * a * b + 0.4 * b * c
    force = 4.2 - a + 0.6 * b + 1.6 * c - 0.8 * a**2 - 1.1 * c**2 + 0.5 * a * c
    return np.column_stack([gap, force])


def bent(x):
    """Return two true means (n, 2) that no second-order model meets: a mildly wrong model.

    A rounded kink, a saturating root, a hyperbola and waves of unequal length; at its worst a
    second-order model that is fitted to a face-centred plan is off by half a standard deviation
    of a part.
    """
    a, b, c = x.T
    kink = np.log1p(np.exp(5 * (b - 0.1))) / 5
    gap = 0.5 + 1.1 * a - 2.1 / (1.6 + c) + 3.1 * kink + 0.6 * a * c
    saturating = 2.8 * np.sqrt(1.25 - b)
    force = 1.3 + 1.9 * np.sin(1.6 * (a + 0.2)) + saturating + 0.9 * np.cos(2 * c - 0.4)
    return np.column_stack([gap, force + 0.5 * a * b])


def soldering(x):
    """Return two logits of passing and a mean pull (n, 3): too cold and too hot fail apart."""
    a, b, c = x.T
    wetted = 4.8 + 4.0 * a + 1.4 * b + 1.2 * c
    unburnt = 4.8 - 2.4 * a - 3.6 * b + 1.2 * c
    pull = 4.4 + 0.6 * a - 0.5 * b + 0.9 * c - 0.7 * a**2 - 0.4 * c**2 + 0.3 * a * b
    return np.column_stack([wetted, unburnt, pull])
