"""What is said beside a confirmation: what it rests on, and what it does not cover."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.confirmation import JudgedBy
from workbench.define.factors import Role

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.fit.faces import Fit

# What concerns those who make the parts, and no one who reads what they showed.
MAKING = (
    (
        "Each part is made on its own: set everything anew for it, in the order of the sheet. "
        "Parts made in a row at one setting show less scatter than the line has."
    ),
    (
        "Parts that break or cannot be made count as failed; parts that nobody recorded count "
        "against the window."
    ),
)


def notes_of(fits: Sequence[Fit], judged_by: JudgedBy, *, n_sittings: int) -> tuple[str, ...]:
    """Return what stands beside the plan."""
    found = [
        *MAKING,
        "Chances foreseen hold the model-form term; intervals of means and new parts do not.",
    ]
    if judged_by is JudgedBy.MEASURE:
        found.append(_normal(fits))
    found += _slow(fits, n_sittings)
    found += _noise(fits)
    if n_sittings < 2:
        found.append("One sitting cannot show what another lot or operator would change.")
    return tuple(found)


def _normal(fits: Sequence[Fit]) -> str:
    scales = [
        f"{fit.outcome.name} on the {scale} scale"
        for fit in fits
        if (scale := getattr(fit.outcome, "scale", "as read")) != "as read"
    ]
    where = f" ({', '.join(scales)})" if scales else ""
    return (
        f"Judged by measure: it rests on a normal scatter of each outcome{where}. If the parts "
        "speak against that, if one is lost, or if a reading is cut off, parts are counted "
        "instead, and so few may then not be enough. Few parts hardly show a skewed scatter, with "
        "which it would promise too much (in simulation 24 of 100 skewed processes at the limit "
        "were let pass where 10 may): where you know it to be skewed, ask for counting."
    )


def _slow(fits: Sequence[Fit], n_sittings: int) -> list[str]:
    slow = [one.name for one in fits[0].settings.factors if one.slow and one.role is Role.CONTROL]
    if not slow:
        return []
    return [
        (
            f"{', '.join(slow)}: set once for each place and sitting, {n_sittings} times at each "
            "place. Parts of one setup share its error; the verdict is for setups like these. "
            "Add sittings to know more of them."
        )
    ]


def _noise(fits: Sequence[Fit]) -> list[str]:
    noise = [one.name for one in fits[0].settings.factors if one.role is Role.NOISE]
    if not noise:
        return []
    return [
        (
            f"{', '.join(noise)}: set for each part to a value drawn from its spread in "
            "production, as the sheet lists it."
        )
    ]
