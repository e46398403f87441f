"""Which plans are looked at for a trial: every classical kind, in the sizes that may fit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from math import ceil, prod
from typing import TYPE_CHECKING, Protocol

from workbench.define.factors import Categorical, Stepped, is_numeric
from workbench.plan.box_behnken import box_behnken
from workbench.plan.centre import category_corners
from workbench.plan.composite import composite
from workbench.plan.definitive import definitive
from workbench.plan.fraction_table import fractions_of
from workbench.plan.general import n_levels
from workbench.plan.orthogonal import orthogonal
from workbench.plan.repeats import with_repeats
from workbench.plan.screening import screening
from workbench.plan.two_level import fraction, full

if TYPE_CHECKING:
    from collections.abc import Iterator

    from workbench.define.factors import Factor
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

CENTRE = 3  # centre points of a candidate: two degrees of freedom for pure error, and a bend seen
SCREENING_SIZES = 3  # how many sizes of screening arrays are looked at
EXTRA_PAIRS = (0, 2, 4)  # of definitive plans; two are advised (Jones and Nachtsheim 2017)
MOST_REPLICATES = 3
FEWEST_REPEATS = 2
ROUNDING = 1e-9  # of a range


class Make(Protocol):
    """What makes a plan that carries a model."""

    def __call__(self, *, terms: str) -> Plan:
        """Return the plan, or raise PlanError where it cannot carry the model."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """A plan to look at: `make` takes the model; `runs` is None where only making it tells.

    `name` ends in the number of runs where that is known only then. `may_repeat` says that
    single runs may be made twice without spoiling what the plan is made for.
    """

    name: str
    make: Make
    runs: int | None = None
    may_repeat: bool = False

    def named(self, plan: Plan) -> str:
        """Return the name of the plan that was made."""
        return self.name if self.runs is not None else f"{self.name}-{len(plan)}"


def wishes(trial: Trial, *, limit: int, seed: int) -> Iterator[Wish]:
    """Yield the plans to look at; `limit` is the number of runs that the budget allows.

    An array is run several times, or some of its runs twice, only where the next larger one
    does not fit: it would tell more in the same runs.
    """
    factors = trial.planned_factors
    yield from _two_level(trial, limit=limit, seed=seed)
    if all(n_levels(f) == 2 for f in factors if isinstance(f, Categorical)):
        for pairs in EXTRA_PAIRS:
            make: Make = partial(definitive, trial, seed=seed, extra_pairs=pairs)
            yield Wish(name="definitive", make=make)
    if any(map(is_numeric, factors)):
        for axial in ("face", "rotatable"):
            make = partial(composite, trial, seed=seed, axial=axial, centre_points=CENTRE)
            yield Wish(name=f"composite-{axial}", make=make, may_repeat=True)
        yield from _small_composites(trial, seed=seed)
    if all(map(is_numeric, factors)):
        make = partial(box_behnken, trial, seed=seed)
        yield Wish(name="box-behnken", make=make, may_repeat=True)
    if any(not is_numeric(f) or isinstance(f, Stepped) for f in factors):
        yield Wish(name="orthogonal-array", make=partial(orthogonal, trial, seed=seed))


def repeated(wish: Wish, plan: Plan, *, limit: int, seed: int) -> Wish | None:
    """Return the wish to make some runs of a plan twice, as many as the budget still allows."""
    room = min(limit - len(plan), len(plan))
    if not wish.may_repeat or room < FEWEST_REPEATS:
        return None
    return replace(
        wish,
        name=f"{wish.named(plan)}-repeats-{room}",
        make=partial(_repeated, wish.make, room, seed),
        runs=len(plan) + room,
        may_repeat=False,
    )


def _two_level(trial: Trial, *, limit: int, seed: int) -> Iterator[Wish]:
    factors = trial.planned_factors
    whole = prod(n_levels(factor) for factor in factors)
    for copies in _copies(factors, whole, limit):
        yield copies.wish(
            "full",
            partial(full, trial, seed=seed, replicates=copies.times, centre_points=copies.each),
        )
    if any(isinstance(f, Categorical) and n_levels(f) > 2 for f in factors):
        return
    for row in fractions_of(len(factors)):
        for copies in _copies(factors, row.runs, limit, doubles=True):
            make = partial(
                fraction,
                trial,
                seed=seed,
                runs=row.runs,
                replicates=copies.times,
                centre_points=copies.each,
            )
            yield copies.wish("fraction", make)
    for runs in _screening_sizes(len(factors), limit):
        once = _copies(factors, runs, limit)[0]
        make = partial(screening, trial, seed=seed, runs=runs, centre_points=once.each)
        yield replace(once.wish("screening", make), may_repeat=False)


def _small_composites(trial: Trial, *, seed: int) -> Iterator[Wish]:
    """Yield composites whose core is too small for resolution V: axial runs part what it mixes."""
    n_numeric = sum(map(is_numeric, trial.planned_factors))
    for row in fractions_of(n_numeric):
        if row.resolution < 5:
            make: Make = partial(
                composite,
                trial,
                seed=seed,
                axial="face",
                core_runs=row.runs,
                centre_points=CENTRE,
            )
            yield Wish(name=f"composite-face-core-{row.runs}", make=make, may_repeat=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Copies:
    """How often an array of `runs` is run, with centre points: each place has `each` of them."""

    runs: int
    times: int
    each: int
    in_all: int
    is_most: bool

    def wish(self, kind: str, make: Make) -> Wish:
        copies = f"-times-{self.times}" if self.times > 1 else ""
        centre = f"-centre-{self.in_all}" if self.in_all else ""
        return Wish(
            name=f"{kind}-{self.runs}{copies}{centre}",
            make=make,
            runs=self.runs * self.times + self.in_all,
            may_repeat=self.is_most,
        )


def _copies(
    factors: tuple[Factor, ...], runs: int, limit: int, *, doubles: bool = False
) -> list[_Copies]:
    """Return an array once, and as often as the budget allows, with centre points if they fit.

    `doubles` says that an array of twice the runs exists, which is better where it fits.
    """
    each, in_all = _centre(factors)
    if runs + in_all > limit:
        each, in_all = 0, 0
    has_larger = doubles and 2 * runs + in_all <= limit
    most = 1 if has_larger else max(1, min(MOST_REPLICATES, (limit - in_all) // runs))
    return [
        _Copies(
            runs=runs,
            times=times,
            each=each,
            in_all=in_all,
            is_most=times == most and not has_larger,
        )
        for times in sorted({1, most})
    ]


def _centre(factors: tuple[Factor, ...]) -> tuple[int, int]:
    """Return centre points at each combination of categories, and how many that makes."""
    if not any(map(is_numeric, factors)) or not all(map(_has_middle, factors)):
        return 0, 0
    places = len(category_corners(factors))
    each = ceil(CENTRE / places)
    return each, each * places


def _has_middle(factor: Factor) -> bool:
    """Return whether the middle can be set; of a category nothing is asked."""
    if not isinstance(factor, Stepped):
        return True
    middle = (factor.low + factor.high) / 2
    return any(
        abs(step - middle) <= ROUNDING * (factor.high - factor.low) for step in factor.steps
    )


def _screening_sizes(n_factors: int, limit: int) -> list[int]:
    # At powers of two the regular fractions are looked at already.
    most = min(limit, 100, 2**n_factors - 1)
    sizes = [n for n in range(12, most + 1, 4) if n > n_factors and n & (n - 1)]
    return sizes[:SCREENING_SIZES]


def _repeated(make: Make, count: int, seed: int, *, terms: str) -> Plan:
    return with_repeats(make(terms=terms), n_repeats=count, seed=seed)
