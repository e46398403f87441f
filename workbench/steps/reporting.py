"""Fill the story of a trial and write it as one self-contained page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench import __version__, decide, files, plan, run, show
from workbench.decide.windows import NoWindow, Window
from workbench.define.factors import Categorical
from workbench.define.outcomes import Measured
from workbench.define.terms import MEAN
from workbench.errors import Unavailable
from workbench.files.decisions import read_decisions
from workbench.fit import clear_terms
from workbench.show.story import Decided, PlanFact, Story
from workbench.steps.caveats import not_tested
from workbench.steps.drawing import lines_of, mean_map_of, middle
from workbench.steps.fitting import fit_all
from workbench.steps.people import now
from workbench.steps.promises import promises
from workbench.steps.windows import find_window, has_requirement

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from workbench.decide import ChanceMap
    from workbench.decide.windows import Decision
    from workbench.define.settings import Value
    from workbench.fit.measured import MeasuredFit
    from workbench.plan.plans import Plan
    from workbench.show.nouns import Lines, MeanMap
    from workbench.steps.fitting import OutcomeFit
    from workbench.steps.trials import OpenTrial
    from workbench.steps.windows import WindowAnswer

PAGE = "report.html"
MOST_LINES = 4  # interaction figures of one outcome
MOST_MAPS = 3  # chance maps of one report
CHANCE_TO_FIND = 0.8  # the usual power at which a difference is called detectable
ALPHA = 0.05

Progress = "Callable[[int, int], None] | None"


def write_report(opened: OpenTrial, *, progress: Callable[[int, int], None] | None = None) -> Path:
    """Write report.html, with whatever has happened so far, and return its path.

    Raises
    ------
    WorkbenchError
        If a file of the trial cannot be understood or the page cannot be written.
    """
    page = show.report(story_of(opened, progress=progress))
    path = opened.folder / PAGE
    files.write_text_atomically(path, page)
    return path


def story_of(opened: OpenTrial, *, progress: Callable[[int, int], None] | None = None) -> Story:
    """Return the story of a trial as far as it has come."""
    trial, record = opened.trial, opened.record
    has_results = bool(record.used().any())
    fitted = fit_all(opened) if has_results else ()
    answer = _window(opened, progress) if has_results else None
    fits = [one.fit for one in fitted if not isinstance(one.fit, Unavailable)]
    at = _held(opened, answer)
    return Story(
        trial=trial,
        plan=opened.plan,
        detectable=_detectable(opened),
        detectable_for=_detectable_for(opened),
        cannot_tell_apart=_aliases(opened.plan),
        record=record if has_results else None,
        deviations=run.deviations(record) if has_results else (),
        fits=tuple((one.outcome.name, one.fit) for one in fitted),
        fits_with_excluded=_with_excluded(fitted),
        lines=tuple(line for one in fits for line in interaction_lines(one, at=at)),
        mean_maps=tuple(drawn for one in fits for drawn in _mean_maps(one, at)),
        decision=None if answer is None else _decision(answer),
        chance_maps=() if answer is None else _chance_maps(opened, answer),
        promises=() if answer is None else promises(answer),
        not_tested=not_tested(opened, answer),
        decisions=tuple(
            Decided(what=f"{one.what}: {one.reason}", by=(one.by,), date=one.at[:10])
            for one in read_decisions(opened.folder)
        ),
        written=f"{now()}, workbench {__version__}",
    )


def interaction_lines(
    fit: MeasuredFit, *, at: dict[str, Value] | None = None
) -> tuple[Lines, ...]:
    """Return the lines of every clear interaction of two factors, the clearest first."""
    pairs = [one for one in clear_terms(fit) if [p for _, p in one.term.powers] == [1, 1]]
    pairs.sort(key=lambda one: 1.0 if isinstance(one.p, Unavailable) else one.p)
    found = []
    for one in pairs[:MOST_LINES]:
        first, second = one.term.factors
        factors = {f.name: f for f in fit.settings.factors}
        along, by = (second, first) if isinstance(factors[first], Categorical) else (first, second)
        drawn = lines_of(fit, along=along, by=by, at=at)
        if not isinstance(drawn, Unavailable):
            found.append(drawn)
    return tuple(found)


def _window(opened: OpenTrial, progress: Callable[[int, int], None] | None) -> WindowAnswer | None:
    """Return the window if the trial says what it must promise; None leaves it out."""
    trial = opened.trial
    stated = trial.share is not None and trial.confidence is not None
    if not stated or not any(has_requirement(one) for one in trial.outcomes):
        return None
    return find_window(opened, progress=progress)


def _decision(answer: WindowAnswer) -> Decision | Unavailable:
    if isinstance(answer.decision, NoWindow):
        none = answer.decision
        return Unavailable(reason=f"{none.reason}. Next: {none.next_trial}")
    return answer.decision


def _held(opened: OpenTrial, answer: WindowAnswer | None) -> dict[str, Value]:
    """Return where factors that a figure does not show are held: at the set point, or midway."""
    held = middle(opened.trial.factors)
    if answer is not None and isinstance(answer.best, Window):
        held |= answer.best.set_point()
    return held


def _with_excluded(
    fitted: Sequence[OutcomeFit],
) -> tuple[tuple[str, MeasuredFit | Unavailable], ...]:
    return tuple(
        (one.outcome.name, one.with_excluded) for one in fitted if one.with_excluded is not None
    )


def _mean_maps(fit: MeasuredFit, at: dict[str, Value]) -> list[MeanMap]:
    pair = _two_that_matter(fit)
    if len(pair) < 2:
        return []
    drawn = mean_map_of(fit, x=pair[0], y=pair[1], at=at)
    return [] if isinstance(drawn, Unavailable) else [drawn]


def _two_that_matter(fit: MeasuredFit) -> list[str]:
    """Return the two numeric factors whose terms take up most of the variation."""
    numeric = [f.name for f in fit.settings.factors if not isinstance(f, Categorical)]
    weight = dict.fromkeys(numeric, 0.0)
    for test in fit.tests:
        for name in test.term.factors:
            if name in weight:
                weight[name] += test.sum_of_squares
    in_model = [name for name in numeric if weight[name] > 0]
    return sorted(in_model, key=lambda name: -weight[name])[:2]


def _chance_maps(opened: OpenTrial, answer: WindowAnswer) -> tuple[ChanceMap, ...]:
    best = answer.best
    if isinstance(answer.decision, NoWindow) or not answer.fits:
        return ()
    box = best if isinstance(best, Window) else None
    pairs = _pairs_to_map(answer)
    return tuple(
        decide.chance_map(
            answer.fits, x=x, y=y, box=box, at=_held(opened, answer), seed=opened.trial.seed
        )
        for x, y in pairs
    )


def _pairs_to_map(answer: WindowAnswer) -> list[tuple[str, str]]:
    """Return pairs of numeric factors, those that limit the window most first."""
    weight: dict[str, float] = {}
    for fit in answer.fits:
        for place, name in enumerate(_two_that_matter(fit)):
            weight[name] = weight.get(name, 0.0) + 2.0 - place
    names = sorted(weight, key=lambda name: -weight[name])
    pairs = [(names[i], names[j]) for j in range(1, len(names)) for i in range(j)]
    return pairs[:MOST_MAPS]


def _aliases(made: Plan | None) -> tuple[str, ...]:
    if made is None:
        return ()
    found = plan.aliases(made.terms, made.settings)
    return tuple(str(one) for one in found if one.with_terms and one.term != MEAN)


def _planned_for(opened: OpenTrial) -> Measured | None:
    """Return the first outcome whose scatter was stated before the trial."""
    for one in opened.trial.outcomes:
        if isinstance(one, Measured) and one.expected_sd is not None:
            return one
    return None


def _detectable_for(opened: OpenTrial) -> str:
    outcome = _planned_for(opened)
    if outcome is None or opened.plan is None:
        return ""
    sd = outcome.expected_sd
    size = f"×{sd:g}" if outcome.scale == "log" else f"{sd:g} {outcome.unit}".strip()
    return f"{outcome.name}, if runs scatter by {size}: found with 80 % chance"


def _detectable(opened: OpenTrial) -> tuple[PlanFact, ...]:
    outcome, made = _planned_for(opened), opened.plan
    if outcome is None or outcome.expected_sd is None or made is None:
        return ()
    is_ratio = outcome.scale == "log"
    found = plan.detectable(
        made, sd=outcome.expected_sd, alpha=ALPHA, chance=CHANCE_TO_FIND, as_ratio=is_ratio
    )
    return tuple(
        PlanFact(
            term=str(one.term),
            difference=_difference(one.difference, outcome, is_ratio=is_ratio),
            error_df=str(one.error_df),
        )
        for one in found
    )


def _difference(size: float | Unavailable, outcome: Measured, *, is_ratio: bool) -> str:
    if isinstance(size, Unavailable):
        return size.reason
    return f"×{size:.3g}" if is_ratio else f"{size:.3g} {outcome.unit}".strip()
