"""The margin that a plan needs, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.show.numbers import fixed, percent
from workbench.show.words import sentence

if TYPE_CHECKING:
    from workbench.plan.margin import Margin


def margin_words(found: Margin | Unavailable) -> str:
    """Return how far within its limits the best setting must lie for this plan to assure it."""
    if isinstance(found, Unavailable):
        return sentence(f"No window can come of this plan: {found.reason}.")
    return (
        f"To assure {percent(found.share)} of parts with {percent(found.confidence)} confidence "
        f"at even one setting, these runs need the mean of each measured outcome to lie at least "
        f"{fixed(found.needed, 1)} sd of a part within its limit there "
        f"({fixed(found.if_known, 1)} sd would do if the process were known exactly). A window "
        "with some width needs more. If the best you expect is nearer to the limit, plan more "
        "runs or lessen the scatter first."
    )
