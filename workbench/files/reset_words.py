"""The answers to "was it reset?" in a cell of a table."""

from __future__ import annotations

from workbench.errors import FileError

YES, NO = "yes", "no"
_YES = ("yes", "y", "true", "1", "x", "✓", "✔", "☑", "☒")
_NO = ("no", "n", "false", "0")


def was_reset(text: str, *, place: str = "") -> bool | None:
    """Return the answer in a cell, None if there is none.

    Raises
    ------
    FileError
        If it is neither yes nor no.

    Examples
    --------
    >>> was_reset("Yes"), was_reset("no"), was_reset("")
    (True, False, None)
    """
    plain = text.strip().casefold()
    if not plain:
        return None
    if plain in _YES or plain in _NO:
        return plain in _YES
    raise FileError(
        f"{text!r} does not say whether the setting was reset.",
        why="Runs between which it was not reset repeat each other and share one setting error.",
        next_step="Write yes or no, or leave the cell empty if nobody knows.",
        place=place,
    )
