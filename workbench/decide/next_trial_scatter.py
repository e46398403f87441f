"""By how much scatter would have to fall for the best point to keep the promise."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from workbench.decide.next_trial_gain import margin, needed_now
from workbench.errors import Unavailable
from workbench.fit.measured import MeasuredFit

if TYPE_CHECKING:
    from workbench.decide.next_trial_stand import Stand


@dataclass(frozen=True, slots=True, kw_only=True)
class ScatterWords:
    """What is said of scatter; `is_told` if there is a measured outcome to say it of."""

    reason: str
    is_told: bool


def scatter_words(at: Stand) -> ScatterWords:
    """Return by how much the scatter of each measured outcome would have to fall, in a sentence.

    The margin in sd is inversely proportional to the sd, so the sd has to fall to margin over
    needed margin of what it is.
    """
    own = [
        at if fit is at.limiting else replace(at, limiting=fit, assured=None) for fit in at.fits
    ]
    said = [words for one in own if (words := _of(one)) is not None]
    if not said:
        return ScatterWords(reason="", is_told=False)
    return ScatterWords(
        reason=" ".join(said),
        is_told=True,
    )


def _of(at: Stand) -> str | None:
    fit = at.limiting
    if not isinstance(fit, MeasuredFit):
        return None
    has, needs = margin(at), needed_now(at)
    if isinstance(has, Unavailable) or isinstance(needs, Unavailable) or has >= needs:
        return None
    if has <= 0:
        return (
            f"{fit.outcome.name}: less scatter alone will not do, since the mean itself lies "
            "beyond the limit."
        )
    return (
        f"The scatter of {fit.outcome.name} would have to fall by {100 * (1 - has / needs):.0f} % "
        f"(its margin is {has:.2f} sd, {needs:.2f} are needed)."
    )
