"""How the window narrows as more assurance is asked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from workbench.decide.refusals import check_asked
from workbench.decide.sample import MODEL_FORM, Ask, Sample
from workbench.decide.window import N_DRAWS, Task, answer, region_at
from workbench.decide.windows import NoWindow, Window
from workbench.decide.wishes import BoxWish
from workbench.define.outcomes import is_judged

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from workbench.define.constraints import Constraint
    from workbench.fit.faces import Fit

CONFIDENCES = (0.80, 0.90, 0.95, 0.99)


@dataclass(frozen=True, slots=True, kw_only=True)
class AssurancePoint:
    """The window at one confidence, or the reason for none."""

    confidence: float
    window: Window | NoWindow

    @property
    def volume(self) -> float:
        """Size of the window; 0 where there is none."""
        return self.window.volume if isinstance(self.window, Window) else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AssuranceCurve:
    """Windows of one share at several confidences, ascending, all from the same draws.

    The size never grows with the confidence. `asked` is the confidence that was asked for.
    """

    share: float
    asked: float
    points: tuple[AssurancePoint, ...]


def assurance_curve(  # noqa: PLR0913 (the promise and what it rests on, each by name)
    fits: Sequence[Fit],
    *,
    share: float,
    confidence: float,
    seed: int,
    levels: tuple[tuple[str, str], ...] = (),
    constraints: tuple[Constraint, ...] = (),
    wish: BoxWish | None = None,
    model_form: float = MODEL_FORM,
    n_draws: int = N_DRAWS,
    confidences: tuple[float, ...] = CONFIDENCES,
    progress: Callable[[int, int], None] | None = None,
) -> AssuranceCurve:
    """Return the window at each confidence, and at the one asked, for one level combination.

    The draws are those of `window` with the same seed. A box assured with more confidence is
    assured with less, so where a search ends in a smaller one at less confidence the box of the
    next higher one is taken.

    Raises
    ------
    DecisionError
        If a confidence, the share, the seed or a level cannot be.
    """
    wanted = sorted({*confidences, confidence}, reverse=True)
    for one in wanted:
        check_asked(share=share, confidence=one, seed=seed, n_draws=n_draws)
    judged = tuple(fit for fit in fits if is_judged(fit.outcome))
    region = region_at(judged, constraints, wish or BoxWish(), levels=levels)
    points: list[AssurancePoint] = []
    for done, one in enumerate(wanted):
        if progress is not None:
            progress(done, len(wanted))
        sample = Sample(
            fits=judged,
            n_draws=n_draws,
            seed=seed,
            model_form=model_form,
            ask=Ask(share=share, confidence=one),
        )
        found = AssurancePoint(confidence=one, window=answer(region, Task(sample=sample)))
        points.append(_no_smaller(found, points[-1] if points else None))
    if progress is not None:
        progress(len(wanted), len(wanted))
    return AssuranceCurve(share=share, asked=confidence, points=tuple(reversed(points)))


def _no_smaller(found: AssurancePoint, stricter: AssurancePoint | None) -> AssurancePoint:
    if stricter is None or isinstance(stricter.window, NoWindow):
        return found
    if found.volume >= stricter.volume:
        return found
    known = replace(stricter.window, confidence=found.confidence)
    return AssurancePoint(confidence=found.confidence, window=known)
