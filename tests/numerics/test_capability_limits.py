"""Limits of capability indices against the e-Handbook's example of fifty parts.

The index about a target, the off-centre ratio and the fallout table are not used here.
"""

import pytest

from workbench.files.evidence import published
from workbench.numerics.capability_limits import (
    nearest_limits,
    one_limit_limits,
    spread_index,
    spread_limits,
)

CHECK = published("process-capability-indices")
LOW, HIGH, MEAN, SD, N = 8.0, 20.0, 16.0, 2.0, 50
LIMITS = {
    "cp_limits": (spread_limits, 1.0),
    "cpk_approx_limits": (nearest_limits, 2 / 3),
    "cpu_exact_limits": (one_limit_limits, 2 / 3),
}


@pytest.mark.published(source=CHECK.source)
def test_spread_index():
    expected = CHECK.expected["indices"]["cp"]
    assert abs(spread_index(LOW, HIGH, SD) - expected.value) <= expected.tol


@pytest.mark.published(source=CHECK.source)
@pytest.mark.parametrize("percent", [90, 95])
@pytest.mark.parametrize("name", list(LIMITS))
def test_limits(name, percent):
    limits, index = LIMITS[name]
    found = limits(index, N, confidence=percent / 100)
    expected = CHECK.expected[f"{name}_n50_{percent}pct"]
    assert abs(found.low - expected["lower"].value) <= expected["lower"].tol
    assert abs(found.high - expected["upper"].value) <= expected["upper"].tol
