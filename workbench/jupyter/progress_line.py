"""Progress of long work in a notebook: how much is done, how long it took, how to stop it."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Any

from IPython.core.getipython import get_ipython
from IPython.display import HTML, display

from workbench.show.escape import text

if TYPE_CHECKING:
    from collections.abc import Callable

BETWEEN = 0.2  # seconds between two pictures of the progress

# IPython states no types; said here once.
_display: Callable[..., Any] = display
_html: Callable[..., Any] = HTML


def progress(label: str) -> Callable[[int, int], None]:
    """Return what long work calls with the number done and of all; it shows that in the notebook.

    The work is stopped with Kernel > Interrupt, as any cell is. Outside a notebook nothing is
    shown.

    Examples
    --------
    >>> said = progress("window")
    >>> said(1, 2)
    """
    if get_ipython() is None:
        return _silent
    return _Shown(label).say


def _silent(_done: int, _total: int) -> None:
    return


class _Shown:
    """A line in the output of a cell that is drawn anew in place."""

    def __init__(self, label: str) -> None:
        self.label = label
        self.began = time.monotonic()
        self.drawn = 0.0
        self.handle = _display(_html(self._line(0, 1)), display_id=True)

    def say(self, done: int, total: int) -> None:
        """Draw how much is done, unless that was drawn a moment ago."""
        now = time.monotonic()
        if done < total and now - self.drawn < BETWEEN:
            return
        self.drawn = now
        if self.handle is not None:
            self.handle.update(_html(self._line(done, total)))

    def _line(self, done: int, total: int) -> str:
        took = f"{time.monotonic() - self.began:.0f} s"
        name = text(self.label)
        if done >= total:
            return f'<p class="workbench-progress">{name}: done in {took}</p>'
        return (
            f'<p class="workbench-progress"><label>{name} '
            f'<progress max="{int(total)}" value="{int(done)}"></progress></label> '
            f"{int(done)} of {int(total)}, {took}; Kernel &gt; Interrupt stops it</p>"
        )
