"""One simulated trial: fitted and decided by the public functions, held against the truth."""

from dataclasses import dataclass

import numpy as np

import workbench as wb
from workbench.decide.windows import Window
from workbench.define.settings import Settings, from_coded
from workbench.define.trial import Trial
from workbench.numerics.boxes import largest_box, packed
from workbench.run.record import Readings, Record, Status

CONFIDENCE = 0.95
SHARES = (0.90, 0.95, 0.99)
FORMS = ("window", "if right", "means")
LINES = 21  # of the true box and of the box of means
LATTICE = 13  # points a side at which the true share of a window is looked at


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One answer: lowest true share inside and volume, of the part of the region; or none."""

    share: float
    form: str
    lowest: float | None
    volume: float


def record(cell, seed):
    """Return the record of one simulated trial."""
    x = cell.runs()
    n, m = len(x), cell.n_parts
    chosen = from_coded(cell.factors, x)
    values, above = cell.readings(x, seed)
    return Record(
        trial=Trial(
            title="study",
            question="kept?",
            factors=cell.factors,
            outcomes=tuple(outcome for outcome, _ in cell.outcomes),
        ),
        plan=None,
        run=np.arange(1, n + 1),
        planned=chosen,
        as_run=chosen,
        block=np.zeros(n, dtype=np.int64),
        block_labels=("all",),
        setup=cell.setups(x),
        status=(Status.DONE,) * n,
        reason=("",) * n,
        readings={
            outcome.name: Readings(
                row=np.repeat(np.arange(n), m),
                part=np.tile(np.arange(1, m + 1), n),
                reading=np.ones(n * m, dtype=np.int64),
                value=values[:, :, j].ravel(),
                mark=above[:, :, j].ravel().astype(np.int64),
            )
            for j, (outcome, _) in enumerate(cell.outcomes)
        },
    )


def fits(cell, seed):
    """Return the fits of one simulated trial.

    Planned settings: the line's setting error is in the scatter of the runs, so that it is not
    added again.
    """
    seen = record(cell, seed)
    return tuple(
        wb.fit.outcome(
            seen,
            outcome.name,
            terms=wb.define.parse_terms(terms, cell.factors),
            uses_as_run=False,
        )
        for outcome, terms in cell.outcomes
    )


def answers(cell, seed, *, n_draws, forms=FORMS):
    """Return what was seen of every share: the window, that if the form is right, the means.

    Only the first form is asked for where `forms` has no other.
    """
    fitted = fits(cell, seed)
    found = [
        one for share in SHARES for one in _asked(cell, fitted, share, (seed, n_draws, len(forms)))
    ]
    return found if "means" not in forms else [*found, *_people(cell, fitted)]


def _asked(cell, fitted, share, how):
    seed, n_draws, n_forms = how
    decision = wb.decide.window(
        fitted, share=share, confidence=CONFIDENCE, seed=seed, n_draws=n_draws
    )
    both = zip(FORMS[:n_forms], (decision.best, decision.if_right), strict=False)
    return [_answer(cell, share, form, one) for form, one in both]


def _answer(cell, share, form, one):
    if not isinstance(one, Window):
        return Seen(share=share, form=form, lowest=None, volume=0.0)
    sides = [(limit.low, limit.high) for limit in one.limits]
    return Seen(share=share, form=form, lowest=lowest_true_share(cell, sides), volume=one.volume)


def lowest_true_share(cell, sides):
    """Return the lowest true share on a lattice that has the corners and faces of a box."""
    grid = _grid([np.linspace(low, high, LATTICE) for low, high in sides])
    return float(cell.true_share(grid).min())


def _people(cell, fitted):
    """Return the widest box in which predicted means meet the limits (pass: chance ≥ share)."""
    means, known = _means(cell, fitted), {}
    for share in SHARES:
        bad = means < share  # measured means alone do not look at the share
        if (key := bad.tobytes()) not in known:
            known[key] = _box_of(cell, bad)
        lowest, volume = known[key]
        yield Seen(share=share, form="means", lowest=lowest, volume=volume)


def _box_of(cell, bad):
    box = _widest(bad)
    if box is None:
        return None, 0.0
    line = _lines()[0]
    sides = [(line[a], line[b]) for a, b in zip(box.first, box.last, strict=True)]
    return lowest_true_share(cell, sides), float(
        np.prod([(high - low) / 2 for low, high in sides])
    )


def _grid(sides):
    return np.column_stack([m.ravel() for m in np.meshgrid(*sides, indexing="ij")])


def _lines(n=LINES):
    return [np.linspace(-1, 1, n)] * 3


def _means(cell, fitted):
    """Return, at each grid point, whether measured means are inside and the least pass chance."""
    settings = Settings(factors=cell.factors, values=_grid(_lines()))
    inside = np.ones(LINES**3, dtype=bool)
    chance = np.ones(LINES**3)
    for fit in fitted:
        mean = fit.predict(settings, confidence=CONFIDENCE).mean
        requirement = getattr(fit.outcome, "requirement", None)
        if requirement is None:
            chance = np.minimum(chance, mean)
            continue
        low = -np.inf if requirement.low is None else requirement.low
        high = np.inf if requirement.high is None else requirement.high
        inside &= (mean >= low) & (mean <= high)
    return np.where(inside, chance, 0.0)


def widest_true_box(cell, share):
    """Return the volume of the widest box in which the true share is kept (full knowledge)."""
    box = _widest(cell.true_share(_grid(_lines())) < share)
    if box is None:
        return 0.0
    sides = [(b - a) / (LINES - 1) for a, b in zip(box.first, box.last, strict=True)]
    return float(np.prod(sides))


def _widest(bad):
    bits = packed(bad[None, :]).reshape(LINES, LINES, LINES, -1)
    cells = np.full(LINES, 1 / (LINES - 1))
    cells[[0, -1]] /= 2
    usable = np.ones((LINES,) * 3, dtype=bool)
    return largest_box(bits, usable, budget=0, widths=[cells] * 3)
