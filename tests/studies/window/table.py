"""From stored trials to rates: no window, kept, broken, width; one line a cell, share and form."""

import csv
import sys
from pathlib import Path

import numpy as np

from window import store
from window.trials import FORMS, SHARES, widest_true_box
from workbench.decide.kept_rates import KeptRate

SUMMARY = Path(__file__).with_name("promise.csv")
SHIPPED = Path(__file__).parents[3] / "workbench" / "decide" / "kept_rates_table.py"
RATES = ("none", "kept", "broken", "standard_error", "kept_if_given", "width")


def rates(cell):
    """Return the rates of one cell, none if no trial is stored."""
    rows = store.rows(cell)
    return [_rate(cell, rows, share, form) for share in SHARES for form in FORMS if rows]


def _rate(cell, rows, share, form):
    asked = [row for row in rows if row[f"vol {form} {share:g}"] != store.NOT_ASKED]
    low = np.array([float(row[f"low {form} {share:g}"] or "nan") for row in asked])
    volume = np.array([float(row[f"vol {form} {share:g}"]) for row in asked])
    widest = widest_true_box(cell, share) ** (1 / 3)
    given = np.isfinite(low)
    return KeptRate(
        trial=cell.words,
        share=share,
        form=form,
        trials=low.size,
        given=int(given.sum()),
        false=int((low[given] < share).sum()),
        width=round(float(np.median(volume ** (1 / 3)) / widest), 3) if widest else None,
    )


def write(cells):
    """Write the summary and the table of the package, and print the rates."""
    found = [one for cell in cells for one in rates(cell)]
    with SUMMARY.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["trial", "share", "form", "trials", *RATES, "kept from", "kept to"])
        writer.writerows(_line(one) for one in found)
    SHIPPED.write_text(_shipped(found), encoding="utf-8")
    sys.stdout.write(_shown(found))


def _line(one):
    numbers = [*(getattr(one, name) for name in RATES), *one.kept_limits()]
    said = ["" if number is None else f"{number:.3f}" for number in numbers]
    return [one.trial, f"{one.share:g}", one.form, one.trials, *said]


def _shipped(found):
    """Return the table that the package ships: a Python literal."""
    trials = list(dict.fromkeys(one.trial for one in found))
    words = [f'    "{trial}",' for trial in trials]
    rows = [
        f'    ({trials.index(one.trial)}, {one.share}, "{one.form}", '
        f"{one.trials}, {one.given}, {one.false}, {one.width}),"
        for one in found
    ]
    head = '"""Counts from `tests/studies/window_promise.py`, which writes this file."""'
    row = "Row = tuple[int, float, str, int, int, int, float | None]"
    trials_head, rows_head = "TRIALS: tuple[str, ...] = (", "ROWS: tuple[Row, ...] = ("
    parts = [head, "", row, "", trials_head, *words, ")", "", rows_head, *rows, ")", ""]
    return "\n".join(parts)


def _shown(found):
    """Return the tables in words: a line a kind of trial, for each form."""
    by_key = {(one.trial, one.form, one.share): one for one in found}
    lines = []
    for form in FORMS:
        lines += ["", f"| {form} | trials | 0.90 | 0.95 | 0.99 |", "|---|---|---|---|---|"]
        for trial in dict.fromkeys(one.trial for one in found):
            some = [by_key[trial, form, share] for share in SHARES]
            each = " | ".join(_one(rate) for rate in some)
            lines.append(f"| {trial} | {some[0].trials} | {each} |")
    return "\n".join([*lines, ""])


def _one(rate):
    low, high = rate.kept_limits()
    width = "–" if rate.width is None else f"{rate.width:.2f}"
    kept = f"{rate.kept:.2f} ({low:.2f}–{high:.2f})"
    return f"{rate.none:.2f} / {kept} / {rate.broken:.2f}; {width}"
