"""From stored trials to rates: no window, kept, broken, width; one line a cell, share and form."""

import csv
import sys
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from scipy.special import betaincinv

from window import store
from window.cells import BY_NAME
from window.trials import FORMS, SHARES, widest_true_box

SUMMARY = Path(__file__).with_name("promise.csv")
SHIPPED = Path(__file__).parents[3] / "workbench" / "decide" / "kept_rates_table.py"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """What became of `trials` promises; rates are parts of all trials, but `kept_if_given`."""

    cell: str
    share: float
    form: str
    trials: int
    none: float
    kept: float
    broken: float
    se: float
    kept_low: float
    kept_high: float
    kept_if_given: float
    width: float
    true_width: float


def rates(cell):
    """Return the rates of one cell, none if no trial is stored."""
    rows = store.rows(cell)
    return [_rates(cell, rows, share, form) for share in SHARES for form in FORMS if rows]


def _rates(cell, rows, share, form):
    rows = [row for row in rows if row[f"vol {form} {share:g}"] != store.NOT_ASKED]
    low = np.array([float(row[f"low {form} {share:g}"] or "nan") for row in rows])
    volume = np.array([float(row[f"vol {form} {share:g}"]) for row in rows])
    oracle = widest_true_box(cell, share) ** (1 / 3)
    given = np.isfinite(low)
    n_broken = int((low[given] < share).sum())
    broken = n_broken / low.size
    return Rates(
        cell=cell.name,
        share=share,
        form=form,
        trials=low.size,
        none=float(1 - given.mean()),
        kept=1 - broken,
        broken=broken,
        se=float(np.sqrt(broken * (1 - broken) / low.size)),
        kept_low=_exact(low.size, low.size - n_broken, 0.025),
        kept_high=1 - _exact(low.size, n_broken, 0.025),
        kept_if_given=float((low[given] >= share).mean()) if given.any() else float("nan"),
        width=float(np.median(volume ** (1 / 3)) / oracle) if oracle else float("nan"),
        true_width=oracle,
    )


def _exact(n, seen, outside):
    """Return the low end of the exact binomial interval (Clopper and Pearson 1934)."""
    return 0.0 if seen == 0 else float(betaincinv(seen, n - seen + 1, outside))


def write(cells):
    """Write the summary and the table of the package, and print what README shows."""
    found = [one for cell in cells for one in rates(cell)]
    with SUMMARY.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(Rates.__dataclass_fields__), lineterminator="\n")
        writer.writeheader()
        writer.writerows(_in_words(one) for one in found)
    SHIPPED.write_text(_shipped(found), encoding="utf-8")
    sys.stdout.write(_shown(cells, found))


def _in_words(one):
    words = {k: f"{v:.3f}" if isinstance(v, float) else v for k, v in asdict(one).items()}
    return words | {"share": f"{one.share:g}"}


def _shipped(found):
    """Return the table that the package ships: a Python literal."""
    lines = [
        '"""Rates measured by `tests/studies/window_promise.py`, which writes this file."""',
        "",
        f"Row = tuple[str, float, str, int, {6 * 'float, '}float | None, float | None]",
        "",
        "ROWS: tuple[Row, ...] = (",
    ]
    for one in found:
        numbers = (
            *(one.none, one.kept, one.broken, one.se),
            *(one.kept_low, one.kept_high, one.kept_if_given, one.width),
        )
        rounded = ", ".join("None" if np.isnan(v) else repr(round(v, 3)) for v in numbers)
        words = BY_NAME[one.cell].words
        lines += [f'    ("{words}", {one.share}, "{one.form}", {one.trials}, {rounded}),']
    return "\n".join([*lines, ")", ""])


def _shown(cells, found):
    """Return the tables in words: a line a cell, for each form."""
    by_key = {(one.cell, one.form, one.share): one for one in found}
    lines = []
    for form in FORMS:
        lines += ["", f"| {form} | trials | 0.90 | 0.95 | 0.99 |", "|---|---|---|---|---|"]
        for cell in cells:
            some = [by_key.get((cell.name, form, share)) for share in SHARES]
            if some[0] is not None:
                each = " | ".join(_one(rate) for rate in some)
                lines.append(f"| {cell.words} | {some[0].trials} | {each} |")
    return "\n".join([*lines, ""])


def _one(rate):
    width = "–" if np.isnan(rate.width) else f"{rate.width:.2f}"
    ends = f"{rate.kept_low:.2f}–{rate.kept_high:.2f}"
    return f"{rate.none:.2f} / {rate.kept:.2f} ({ends}) / {rate.broken:.2f}; {width}"
