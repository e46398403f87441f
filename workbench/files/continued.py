"""Which plans a plan goes on from: one whose table begins with the whole table of another.

So results that were made under the first runs keep pointing at them, and are read with the runs
that were added later: their numbers and settings are the same in both.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from workbench.files.digests import pointer_to

if TYPE_CHECKING:
    from collections.abc import Mapping


def digests_within(table: str) -> tuple[str, ...]:
    """Return the digest of each table of which the text holds the heading and the first runs.

    The last one is that of the whole text; line ends do not count.
    """
    found = []
    sha = hashlib.sha256()
    for i, line in enumerate(table.replace("\r\n", "\n").splitlines(keepends=True)):
        sha.update(line.encode())
        if i:
            found.append(f"sha256:{sha.copy().hexdigest()}")
    return tuple(found)


def goes_on_from(table: str, plan: str) -> bool:
    """Return whether a table begins with the whole plan that a pointer names."""
    return plan in {pointer_to(one) for one in digests_within(table)}


def latest(tables: Mapping[str, str]) -> str | None:
    """Return the plan that goes on from all others, None if there is none.

    `tables` holds the text of each plan by the pointer to it.
    """
    for plan, text in tables.items():
        within = {pointer_to(one) for one in digests_within(text)}
        if within >= tables.keys():
            return plan
    return None
