"""Who does it, and when."""

from __future__ import annotations

import getpass
from datetime import UTC, datetime


def who_is_it(stated: str) -> str:
    """Return the name stated, or else the login name of this machine."""
    if stated.strip():
        return stated.strip()
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # an account without a name, as in some containers
        return "unknown"


def now() -> str:
    """Return the time in ISO 8601 with its offset, to the second."""
    return datetime.now(UTC).astimezone().isoformat(timespec="seconds")
