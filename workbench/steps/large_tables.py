"""Room for tables of many rows: what Python does beside the work is put off until it is done."""

from __future__ import annotations

import gc
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator


@contextmanager
def collector_paused() -> Iterator[None]:
    """Put off the search for cyclic garbage while a table is taken in.

    Hundreds of thousands of cells and entries stay alive until the end and none is part of a
    cycle; looking at each of them again and again doubled the time of 100,000 rows.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
