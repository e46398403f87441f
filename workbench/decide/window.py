"""Where to run: the widest box of set values in which every requirement holds."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from workbench.decide import notes
from workbench.decide.assemble import assembled
from workbench.decide.miss import nearest_miss
from workbench.decide.refusals import cannot_carry, check_alike, check_asked, refusal
from workbench.decide.region import regions
from workbench.decide.sample import MODEL_FORM, Ask, Sample
from workbench.decide.search import ground, widest_box
from workbench.decide.windows import Decision, NoWindow, Window
from workbench.decide.wishes import IN_RANGE, check_wish, wished
from workbench.define.outcomes import is_judged
from workbench.errors import DecisionError
from workbench.fit.standing import standing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from concurrent.futures import Executor

    from workbench.decide.region import Region
    from workbench.decide.wishes import BoxWish
    from workbench.define.constraints import Constraint
    from workbench.define.settings import Value
    from workbench.fit.faces import Fit

N_DRAWS = 4096
N_CHECKED = 16384  # fresh draws in which the box found has to hold


def window(  # noqa: PLR0913 (each is asked for by name, and none can be left to another)
    fits: Sequence[Fit],
    *,
    share: float,
    confidence: float,
    seed: int,
    constraints: tuple[Constraint, ...] = (),
    model_form: float = MODEL_FORM,
    n_draws: int = N_DRAWS,
    straightness_accepted: str = "",
    held: Mapping[str, Value] | None = None,
    within: Mapping[str, tuple[float, float]] | None = None,
    weights: Mapping[str, float] | None = None,
    size_in: str = IN_RANGE,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Decision:
    """Return the widest box of set values that holds the promise, for each level combination.

    The promise is joint over the box: with `confidence`, at least `share` of new parts meet
    every requirement wherever in the box the line is set: an *assured share*, a statement on
    a part of the population as a tolerance interval makes it. The *chance* given beside it for
    the set point is another thing: the share averaged over what is not known, of which half of
    the possible processes fall short. Size is the product of the sides, each as a part of its
    factor's range (or of its number of steps).

    Parameters
    ----------
    fits
        One fit for each outcome, over the same factors; outcomes without a requirement take no
        part.
    share, confidence
        From 0.5 to below 1; both asked for, never assumed.
    seed
        Starts every draw; the same seed gives the same window.
    constraints
        Settings that must not be run.
    model_form
        Size of what the model leaves out, as a part of its main effects; 0 takes the model as
        right. The window for 0 is in `if_right` anyway.
    n_draws
        Processes drawn for the search; the box found is judged again in 16,384 fresh ones.
    straightness_accepted
        Why lines are taken as straight between two levels, in writing; without it no window is
        given between levels that nothing was tried between.
    held
        Factors kept at one value or level: no sides of the box, their setting error still counts.
    within
        Lowest and highest value that a side may take, where less than was tried is wanted.
    weights
        Powers of the sides in the size; 1 where none is named, 0 where a side does not count.
    size_in
        "range" or "setting error": the unit of the sides in the volume that is reported. It does
        not move the box, since a product keeps its widest place in any unit.
    executor
        Runs the level combinations side by side; the answer is the same for any, or for none.
    progress
        Called with the number of boxes done and of all; what it raises ends the search.

    Raises
    ------
    DecisionError
        If share, confidence, seed or draws cannot be, the fits are over different factors, or a
        wish lies outside what was tried.

    References
    ----------
    Assured share: Krishnamoorthy and Mathew (2009), Statistical Tolerance Regions, chapters 1 and
    3. Chance of meeting every requirement: Peterson (2004), Journal of Quality Technology 36,
    139-153; Peterson, Miró-Quesada and del Castillo (2009), Quality Technology and Quantitative
    Management 6, 353-369. A box tested everywhere: Berger (1982), Technometrics 24, 295-300.
    """
    check_asked(share=share, confidence=confidence, seed=seed, n_draws=n_draws)
    check_alike(fits)
    wish = wished(held=held, within=within, weights=weights, size_in=size_in)
    check_wish(wish, fits[0].settings.factors)
    ask = Ask(share=share, confidence=confidence)
    judged = tuple(fit for fit in fits if is_judged(fit.outcome))
    if not judged:
        return _refused("No outcome has a requirement, so every setting would do.", ask)
    why = refusal(judged, wish, straightness_accepted=straightness_accepted)
    why = why or cannot_carry(judged, ask)
    said = _unjudged(fits, judged) + notes.always(
        judged, ask, model_form=model_form, straightness_accepted=straightness_accepted
    )
    if why:
        return _refused(why, ask, said)
    sample = Sample(fits=judged, n_draws=n_draws, seed=seed, model_form=model_form, ask=ask)
    places = regions(judged, constraints, wish)
    task = Task(sample=sample, said=said)
    return _decided(places, task, _Work(executor, progress))


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Draws to look at, with the promise asked, and what is said beside every answer.

    `n_checked` fresh draws have to bear the box that is found.
    """

    sample: Sample
    said: tuple[str, ...] = ()
    n_checked: int = N_CHECKED


@dataclass(frozen=True, slots=True)
class _Work:
    """Who does the work, and who hears of it."""

    executor: Executor | None = None
    progress: Callable[[int, int], None] | None = None

    def say(self, done: int, total: int) -> None:
        if self.progress is not None:
            self.progress(done, total)


def _decided(places: tuple[Region, ...], task: Task, work: _Work) -> Decision:
    total = len(places) + 1
    found: list[Window | NoWindow] = []
    work.say(0, total)
    for one in _answers(places, task, work.executor):
        found.append(one)
        work.say(len(found), total)
    best = max(range(len(found)), key=lambda i: _merit(found[i]))
    by_level = tuple((place.levels, one) for place, one in zip(places, found, strict=True))
    if_right = _if_right(places[best], task, found[best])
    work.say(total, total)
    return Decision(best=found[best], by_level=by_level, if_right=if_right)


def _answers(
    places: tuple[Region, ...], task: Task, executor: Executor | None
) -> Iterator[Window | NoWindow]:
    """Yield the answer of each region in turn; what was not begun is given up if one stops."""
    if executor is None:
        yield from (answer(place, task) for place in places)
        return
    begun = [executor.submit(answer, place, task) for place in places]
    try:
        yield from (one.result() for one in begun)
    finally:
        for one in begun:
            one.cancel()


def region_at(
    fits: tuple[Fit, ...],
    constraints: tuple[Constraint, ...],
    wish: BoxWish,
    *,
    levels: tuple[tuple[str, str], ...],
) -> Region:
    """Return the region at the levels named.

    Raises
    ------
    DecisionError
        If no fit has a requirement, a wish cannot be met, or the levels name no one region.
    """
    check_alike(fits)
    check_wish(wish, fits[0].settings.factors)
    places = [one for one in regions(fits, constraints, wish) if set(levels) <= set(one.levels)]
    if len(places) != 1:
        raise DecisionError(
            f"{len(places)} combinations of levels answer to {dict(levels)}.",
            why="A window is compared with others at one level of every category.",
            next_step="Name one level of each categorical factor.",
        )
    return places[0]


def _merit(one: Window | NoWindow) -> tuple[float, float]:
    """Return what makes one answer better than another: size, else the nearest miss."""
    if isinstance(one, Window):
        return one.volume, 1.0
    return -1.0, one.nearest_miss.assured_share if one.nearest_miss else -1.0


def answer(region: Region, task: Task) -> Window | NoWindow:
    """Return the widest window of one region, or why there is none."""
    sample, ask = task.sample, task.sample.ask
    check = sample.of_size(task.n_checked, 4)
    found = ground(region, sample)
    box = widest_box(region, found, sample)
    made = None if box is None else assembled(region, box, sample, check=check)
    if made is not None and box is not None:
        return replace(made, notes=task.said + made.notes + notes.of_search(box))
    miss = nearest_miss(region, found, sample)
    if miss is None:
        return NoWindow(
            reason=_nowhere(region),
            share=ask.share,
            confidence=ask.confidence,
            nearest_miss=None,
            next_trial="Try settings in the region that is to be used.",
            notes=task.said,
        )
    holds = miss.nearest.assured_share >= ask.share
    reason = (
        "Single settings hold, but no box of any width around them does."
        if holds
        else f"No setting holds: at the best one {miss.nearest.assured_share:.3g} of new parts "
        f"are assured where {ask.share:g} is asked; {miss.nearest.limited_by} is in the way."
    )
    return NoWindow(
        reason=reason,
        share=ask.share,
        confidence=ask.confidence,
        nearest_miss=miss.nearest,
        next_trial=miss.next_trial,
        notes=task.said,
    )


def _nowhere(region: Region) -> str:
    aliased = [
        line.line for fit in region.fits for line in getattr(fit, "aliased", ()) if line.line
    ]
    mixed = f" These cannot be told apart: {'; '.join(dict.fromkeys(aliased))}." if aliased else ""
    return (
        "No setting lies in the region tried, where the runs tell enough, and keeps every "
        f"constraint.{mixed}"
    )


def _if_right(region: Region, task: Task, known: Window | NoWindow) -> Window | NoWindow:
    """Return the window that takes the model form as right, unless the runs speak against it."""
    doubts = [doubt for fit in task.sample.fits for doubt in standing(fit).form_doubts]
    if doubts:
        return NoWindow(
            reason=" ".join(["The model form cannot be taken as right.", *doubts]),
            share=task.sample.ask.share,
            confidence=task.sample.ask.confidence,
            nearest_miss=None,
            next_trial="Ask for more terms, or add runs between the levels.",
        )
    if task.sample.model_form == 0:
        return known
    plain = replace(task, sample=replace(task.sample, model_form=0.0), said=notes.IF_RIGHT)
    return answer(region, plain)


def _unjudged(fits: Sequence[Fit], judged: Sequence[Fit]) -> tuple[str, ...]:
    names = [fit.outcome.name for fit in fits if fit not in judged]
    if not names:
        return ()
    return (f"Without a requirement, and so without a say: {', '.join(names)}.",)


def _refused(why: str, ask: Ask, said: tuple[str, ...] = ()) -> Decision:
    none = NoWindow(
        reason=why,
        share=ask.share,
        confidence=ask.confidence,
        nearest_miss=None,
        next_trial="Mend what is named above, then ask again.",
        notes=said,
    )
    return Decision(best=none, by_level=(((), none),), if_right=none)
