"""The explorer as a widget: settings as fields, a ladder for each outcome."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import traitlets

from workbench.errors import OptionError, Unavailable
from workbench.jupyter.assets import script
from workbench.jupyter.explore_desk import ExploreDesk
from workbench.jupyter.panel_widget import PanelWidget
from workbench.steps.fitting import fit_all
from workbench.steps.panel_explore import Promise, side_of
from workbench.steps.trials import open_trial

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.windows import Decision
    from workbench.fit.faces import Fit
    from workbench.steps.panel_explore import Side

    Source = str | Path | Sequence[Fit]


class Explorer(PanelWidget):
    """Settings and what the fits foresee there."""

    _esm = script("explore.js")
    start = traitlets.Dict().tag(sync=True)

    def __init__(self, desk: ExploreDesk) -> None:
        super().__init__(desk, start=desk.start())


def explorer(
    source: Source,
    *,
    beside: Source | None = None,
    decision: Decision | None = None,
    share: float | None = None,
    confidence: float | None = None,
    seed: int,
) -> Explorer:
    """Return fields for every setting, and where new parts fall at it against their limits.

    `source` is a trial folder with results or a list of fits, `beside` another over the same
    factors to stand side by side. The fields begin at the set point of `decision`, its window
    can be moved. `share` and `confidence` are those of the trial if not stated.

    Raises
    ------
    WorkbenchError
        If there is no fit, the factors differ, or nobody states share and confidence.
    """
    desk = explore_desk(
        source, beside=beside, decision=decision, share=share, confidence=confidence, seed=seed
    )
    return Explorer(desk)


def explore_desk(
    source: Source,
    *,
    beside: Source | None = None,
    decision: Decision | None = None,
    share: float | None = None,
    confidence: float | None = None,
    seed: int,
) -> ExploreDesk:
    """Return what answers an explorer, as `explorer` makes it."""
    sources = [source, *([] if beside is None else [beside])]
    sides = tuple(_side(one, number) for number, one in enumerate(sources, start=1))
    names = [[factor.name for factor in one.fits[0].settings.factors] for one in sides]
    if len(names) == 2 and names[0] != names[1]:
        raise OptionError(
            f"The two sides have the factors {', '.join(names[0])} and {', '.join(names[1])}.",
            why="One setting can only be looked at in both if it means the same.",
            next_step="Put two fits of the same factors side by side.",
        )
    promise = Promise(
        share=_stated("share", share, source),
        confidence=_stated("confidence", confidence, source),
    )
    return ExploreDesk(sides=sides, promise=promise, seed=seed, decision=decision)


def _side(source: Source, number: int) -> Side:
    if not isinstance(source, str | Path):
        return side_of(f"fit {number}: {source[0].terms.asked}" if source else "", tuple(source))
    opened = open_trial(Path(source))
    fits = [one.fit for one in fit_all(opened) if not isinstance(one.fit, Unavailable)]
    return side_of(opened.trial.title, fits, opened.trial.constraints)


def _stated(name: str, said: float | None, source: Source) -> float:
    if said is None and isinstance(source, str | Path):
        said = getattr(open_trial(Path(source)).trial, name)
    if said is not None and 0.5 <= said < 1:
        return said
    raise OptionError(
        f"The {name} is not stated." if said is None else f"The {name} is {said:g}.",
        why="What must be assured is yours to say; there is no usual value.",
        next_step=f"Give {name}=0.95 or another from 0.5 to below 1.",
    )
