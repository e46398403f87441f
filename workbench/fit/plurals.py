"""Words for levels of the structure."""

from __future__ import annotations


def plural(name: str) -> str:
    """Return a level in the plural, such as "humidity setups" or "batches"."""
    ending = "es" if name.endswith(("s", "x", "ch", "sh")) else "s"
    if name.endswith("y") and name[-2:-1] not in "aeiou":
        return f"{name[:-1]}ies"
    return name + ending
