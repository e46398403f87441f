"""What a tighter setting or less scatter would buy: the window under each change alone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from workbench.decide.calmer import CalmerSample
from workbench.decide.refusals import check_asked
from workbench.decide.sample import MODEL_FORM, Ask, Sample
from workbench.decide.window import Task, answer, region_at
from workbench.decide.windows import NoWindow, Window
from workbench.decide.wishes import BoxWish
from workbench.define.factors import Categorical, Role
from workbench.define.outcomes import is_judged
from workbench.define.settings import Settings
from workbench.errors import Unavailable
from workbench.fit.measured_model import MeasuredModel
from workbench.fit.outcome_model import OutcomeModel

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from workbench.decide.region import Region
    from workbench.define.constraints import Constraint
    from workbench.define.factors import Factor
    from workbench.fit.faces import Fit

N_DRAWS, N_CHECKED = 1024, 4096  # fewer than behind a window: changes are compared, not promised
TIGHTER = 0.5  # of a setting error
CALMER = 0.75  # of a scatter
MATTERS = 1.05  # times as large: less is within what these draws tell


@dataclass(frozen=True, slots=True, kw_only=True)
class Lever:
    """One change alone: what it is, whose setting or scatter, and the window it would give.

    `times` is its size over that of the window without the change.
    """

    change: str
    about: str
    window: Window | NoWindow
    times: float | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """The window as things are, each lever (the strongest first), and what that says."""

    share: float
    confidence: float
    base: Window | NoWindow
    levers: tuple[Lever, ...]
    sentence: str
    notes: tuple[str, ...]


def what_if(  # noqa: PLR0913 (the promise and what it rests on, each by name)
    fits: Sequence[Fit],
    *,
    share: float,
    confidence: float,
    seed: int,
    levels: tuple[tuple[str, str], ...] = (),
    constraints: tuple[Constraint, ...] = (),
    wish: BoxWish | None = None,
    model_form: float = MODEL_FORM,
    progress: Callable[[int, int], None] | None = None,
) -> WhatIf:
    """Return what each setting error halved, each scatter reduced by a quarter, would change.

    Everything else stays: the same processes, share and confidence, 1,024 draws to search and
    4,096 to check. A setting error counts only where a fit adds it (its settings were read as
    they were run); scatter only of outcomes whose parts are normal on their scale.

    Raises
    ------
    DecisionError
        If the promise or a level cannot be.
    """
    check_asked(share=share, confidence=confidence, seed=seed, n_draws=N_DRAWS)
    judged = tuple(fit for fit in fits if is_judged(fit.outcome))
    sample = Sample(
        fits=judged,
        n_draws=N_DRAWS,
        seed=seed,
        model_form=model_form,
        ask=Ask(share=share, confidence=confidence),
    )
    place = region_at(judged, constraints, wish or BoxWish(), levels=levels)
    changes = [*_tighter(place, sample), *_calmer(sample)]
    base = _window(place, sample)
    levers: list[Lever] = []
    for done, change in enumerate(changes):
        if progress is not None:
            progress(done, len(changes))
        levers.append(_lever(place, change, base))
    if progress is not None:
        progress(len(changes), len(changes))
    levers.sort(key=lambda one: -_volume(one.window))
    return WhatIf(
        share=share,
        confidence=confidence,
        base=base,
        levers=tuple(levers),
        sentence=_sentence(levers, base),
        notes=_not_asked(judged),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    """A change in words, and the sample in which it is made."""

    words: str
    about: str
    sample: Sample


def _tighter(place: Region, sample: Sample) -> list[_Change]:
    """Return each setting error halved, where some fit adds it."""
    if not any(fit.uses_as_run for fit in sample.fits):
        return []
    found = []
    for factor in place.factors:
        if isinstance(factor, Categorical) or factor.role is not Role.CONTROL:
            continue
        if not factor.setting_sd:
            continue
        better = replace(factor, setting_sd=TIGHTER * factor.setting_sd)
        unit = f" {factor.unit}" if factor.unit else ""
        found.append(
            _Change(
                words=f"{factor.name} with a setting error (sd) of {better.setting_sd:g}{unit} "
                f"instead of {factor.setting_sd:g}{unit}",
                about=factor.name,
                sample=replace(
                    sample, fits=tuple(_with_factor(fit, better) for fit in sample.fits)
                ),
            )
        )
    return found


def _with_factor(fit: Fit, better: Factor) -> Fit:
    """Return the fit as it is, but for how well the line will hold one factor."""
    factors = tuple(better if one.name == better.name else one for one in fit.settings.factors)
    settings = Settings(factors=factors, values=fit.settings.values)
    if isinstance(fit, MeasuredModel | OutcomeModel):
        return replace(fit, settings=settings)
    return fit


def _calmer(sample: Sample) -> list[_Change]:
    """Return each scatter reduced by a quarter, where parts are normal on the outcome's scale."""
    return [
        _Change(
            words=f"{fit.outcome.name} with a quarter less scatter from part to part",
            about=fit.outcome.name,
            sample=CalmerSample(
                fits=sample.fits,
                n_draws=sample.n_draws,
                seed=sample.seed,
                model_form=sample.model_form,
                ask=sample.ask,
                calmer=fit.outcome.name,
                part=CALMER,
            ),
        )
        for fit in sample.fits
        if fit.kind == "measured"
    ]


def _window(place: Region, sample: Sample) -> Window | NoWindow:
    factors = sample.fits[0].settings.factors
    axes = tuple(one for one in factors if one.name in {axis.name for axis in place.axes})
    there = replace(
        place,
        factors=factors,
        axes=tuple(one for one in axes if not isinstance(one, Categorical)),
        fits=sample.fits,
    )
    return answer(there, Task(sample=sample, n_checked=N_CHECKED))


def _lever(place: Region, change: _Change, base: Window | NoWindow) -> Lever:
    found = _window(place, change.sample)
    times: float | Unavailable = Unavailable(reason="there is no window without the change")
    if isinstance(base, Window):
        times = _volume(found) / base.volume
    return Lever(change=change.words, about=change.about, window=found, times=times)


def _volume(one: Window | NoWindow) -> float:
    return one.volume if isinstance(one, Window) else 0.0


def _sentence(levers: Sequence[Lever], base: Window | NoWindow) -> str:
    if not levers:
        return "No change could be looked at."
    best = levers[0]
    if isinstance(best.window, NoWindow):
        return "None of these changes alone would give a window."
    if isinstance(base, NoWindow):
        return f"There would be a window with {best.change}."
    if isinstance(best.times, Unavailable) or best.times < MATTERS:
        return "None of these changes alone would widen the window by more than a twentieth."
    return f"Most would be gained with {best.change}: a window {best.times:.1f} times as large."


def _not_asked(fits: Sequence[Fit]) -> tuple[str, ...]:
    planned = [fit.outcome.name for fit in fits if not fit.uses_as_run]
    other = [fit.outcome.name for fit in fits if fit.kind != "measured"]
    said = []
    if planned:
        said.append(
            f"{', '.join(planned)}: fitted on planned settings, so the scatter of the runs holds "
            "the setting error already and its share cannot be taken out."
        )
    if other:
        said.append(
            f"{', '.join(other)}: no scatter of a measured number stands behind it, so none is "
            "reduced."
        )
    return tuple(said)
