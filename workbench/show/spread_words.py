"""What is said of settings that make the scatter wider."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.show.clarity import Clarity
from workbench.show.words import listed, sentence

if TYPE_CHECKING:
    from workbench.fit.nouns import Effect
    from workbench.fit.scatter import ScatterFit

LEVELS = {"run": "from run to run", "part": "from part to part within a run"}


def spread_clarity(effect: Effect, found: ScatterFit) -> Clarity:
    """Return how an effect on the scatter stands: clear only where repeats show it."""
    if found.is_hint or isinstance(effect.estimate, Unavailable):
        return Clarity.OPEN
    is_off = effect.estimate.low > 1 or effect.estimate.high < 1
    return Clarity.CLEAR if is_off and found.is_clear else Clarity.OPEN


def spread_sentence(found: ScatterFit) -> str:
    """Return which settings change the scatter, or that none is shown to."""
    name = found.outcome.name
    if found.is_hint:
        return f"Nothing was repeated: what changes the scatter of {name} is open"
    clear = [one.name for one in found.effects if spread_clarity(one, found) is Clarity.CLEAR]
    if not clear:
        return f"Repeats show no setting that changes the scatter of {name}"
    verb = "changes" if len(clear) == 1 else "change"
    return sentence(f"{listed(clear)} {verb} the scatter of {name}")


def spread_caption(found: ScatterFit) -> str:
    """Return what the rows are, and what such a ratio means."""
    whose = LEVELS.get(found.level, "of what the model leaves over")
    what = (
        f"Ratio of standard deviations {whose} between the high and the low setting: ×2 "
        "scatters twice as wide, ÷2 half as wide."
    )
    if found.is_hint:
        return f"{what} A hint from residuals: no interval, and nothing to act on by itself."
    return f"{what} 95\u00a0% interval. Filled: clear. Hollow violet: open."
