"""Results as they come: one line a trial, one file a cell, never written again."""

import csv
from pathlib import Path

from window.trials import FORMS, SHARES

PLACE = Path(__file__).with_name("results")
NOT_ASKED = "-"
HEAD = [
    "seed",
    *(f"{what} {form} {share:g}" for share in SHARES for form in FORMS for what in ("low", "vol")),
]


def path(cell):
    """Return where a cell's trials are."""
    return PLACE / f"{cell.name.replace('/', '_').replace(' ', '_').replace('×', 'x')}.csv"


def rows(cell):
    """Return what was seen, a dict a trial; an empty low is a trial without a window."""
    if not path(cell).exists():
        return []
    with path(cell).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def add(cell, seed, seen):
    """Write one trial down: lowest true shares to 4 digits, volumes to 4 digits."""
    PLACE.mkdir(exist_ok=True)
    is_new = not path(cell).exists()
    by_key = {(one.share, one.form): one for one in seen}
    line = [seed]
    for share in SHARES:
        for form in FORMS:
            line += _cells(by_key.get((share, form)))
    with path(cell).open("a", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        if is_new:
            writer.writerow(HEAD)
        writer.writerow(line)


def _cells(one):
    if one is None:
        return [NOT_ASKED, NOT_ASKED]
    return ["" if one.lowest is None else f"{one.lowest:.4f}", f"{one.volume:.4f}"]
