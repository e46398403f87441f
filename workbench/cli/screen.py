r"""A screen that text from a file cannot steer: control characters are shown, not obeyed.

A terminal acts on what follows an escape character: it moves the cursor, changes the title, and
some can be made to type. Bidirectional marks make a line read as another one.
"""

from __future__ import annotations

import re
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import TextIO

# All but the line end, the tab, and the return with which our own counter goes back; the controls
# above ASCII; marks that turn the direction of writing.
STEERING = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]"
)


def plain(text: str) -> str:
    r"""Return text with each control character written out.

    >>> plain("peel\x1b[31m force")
    'peel\\x1b[31m force'
    """
    return STEERING.sub(lambda found: ascii(found[0])[1:-1], text)


class _PlainStream:
    """A stream that writes plain text and is the stream behind it in all else."""

    def __init__(self, behind: TextIO) -> None:
        self._behind = behind

    def write(self, text: str) -> int:
        """Write text, control characters written out."""
        self._behind.write(plain(text))
        return len(text)

    def writelines(self, lines: list[str]) -> None:
        """Write lines, control characters written out."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._behind, name)


@contextmanager
def plain_screen() -> Iterator[None]:
    """Write out control characters on standard output and standard error meanwhile."""
    out, err = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = _PlainStream(out), _PlainStream(err)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = out, err
