"""How stored notebook outputs are compared: figures by the cell after them, not bit by bit."""

import pytest

# Floats inside a figure are stored as raw bytes, whose last digit differs between processors.
NOT_COMPARED = ("application/vnd.plotly.v1+json",)


def pytest_collectstart(collector: pytest.Collector) -> None:
    """Leave figures out of the comparison of one notebook's outputs."""
    skipped = getattr(collector, "skip_compare", None)
    if skipped is not None:
        collector.skip_compare = (*skipped, *NOT_COMPARED)
