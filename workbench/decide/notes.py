"""What is said beside every window: what it assumes, and what it does not cover."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.straightness import two_level_factors
from workbench.define.factors import Categorical, Role
from workbench.fit.standing import standing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.region import Box
    from workbench.decide.sample import Ask
    from workbench.decide.windows import Limit
    from workbench.fit.faces import Fit

FAR_TAIL = 0.99
LEAST_COST = 0.0005  # of the share: less is not worth a sentence
SMALL_SIDE = 0.2  # of the range, the middle side of a box
IF_RIGHT = (
    (
        "If the model form is right: shown beside the window, never instead of it. What the model "
        "leaves out is taken to be zero, which these runs cannot show."
    ),
)


def always(
    fits: Sequence[Fit], ask: Ask, *, model_form: float, straightness_accepted: str
) -> tuple[str, ...]:
    """Return the notes that stand beside every answer."""
    found = [note for fit in fits for note in standing(fit).notes]
    found += _model_form(model_form)
    found += _straightness(fits, straightness_accepted)
    found.append(
        "Nothing is recommended outside the settings tried, nor where the runs tell less than "
        "at the worst of the settings tried."
    )
    found += [*_setting_error(fits), *_together(fits), *_far_tail(ask)]
    return tuple(found)


def of_limits(limits: Sequence[Limit], volume: float) -> tuple[str, ...]:
    """Return the notes on a window's own sides."""
    found = []
    for one in limits:
        sd = getattr(one.factor, "setting_sd", None) or 0.0
        if one.high - one.low < 2 * sd:
            found.append(
                f"The window of {one.factor.name} is {one.high - one.low:g} {one.factor.unit} "
                f"wide, less than two of its setting sd ({sd:g}): set values this close are "
                "hardly told apart by the line."
            )
    if limits and volume ** (1 / len(limits)) < SMALL_SIDE:
        found.append(
            "The window is small. In simulated trials of processes with little room, where most "
            "trials give no window, more of the windows given were false than the confidence "
            "says: confirm it before use."
        )
    found.append(
        "Confirm at the set point and at the corners that bind before the limits are released."
    )
    return tuple(found)


def of_bound(*, added: float, largest: float) -> tuple[str, ...]:
    """Return what adding failing shares up can cost at most: the share assured either way."""
    if largest - added < LEAST_COST:
        return ()
    return (
        (
            "If the outcomes always failed on the same parts, the share assured at the worst "
            f"place of the window would be {100 * largest:.1f} % instead of {100 * added:.1f} %: "
            "that is the most that adding up can cost. What really happens lies between."
        ),
    )


def of_search(box: Box) -> tuple[str, ...]:
    """Return what the search cannot say."""
    if box.is_proved:
        return ()
    return (
        (
            "The window holds, but with so many factors the search ended before it was shown that "
            "none is larger: hold those that matter least to have it searched to the end."
        ),
    )


def _model_form(kappa: float) -> list[str]:
    if kappa == 0:
        return [
            (
                "The model form is taken as right: curves that it leaves out are taken to be "
                "zero, which these runs cannot show."
            )
        ]
    return [
        (
            f"Model form: what the model leaves out, mainly third-order curves, is taken to be "
            f"about {kappa:g} times as large as the main effects, the same at every level of a "
            "category, where runs of a measured outcome do not show it. That is an assumption; "
            "runs at levels between those tried would test it."
        )
    ]


def _straightness(fits: Sequence[Fit], reason: str) -> list[str]:
    names = sorted({name for fit in fits for name in two_level_factors(fit.settings)})
    if not names or not reason.strip():
        return []
    return [
        (
            f"Between the two levels of {', '.join(names)} no run was made; lines there are taken "
            f"as straight because it was accepted in writing: {reason.strip()}"
        )
    ]


def _setting_error(fits: Sequence[Fit]) -> list[str]:
    factors = fits[0].settings.factors
    noise = [one.name for one in factors if one.role is Role.NOISE]
    found = []
    if noise:
        found.append(
            f"{', '.join(noise)}: averaged over the production spread stated in the trial, by "
            "its mean and variance."
        )
    unread = [f.outcome.name for f in fits if not getattr(f, "uses_as_run", True)]
    if unread:
        found.append(
            f"{', '.join(unread)}: fitted on planned settings, so the scatter of the runs already "
            "holds the trial's setting error and none is added. It must be like production's."
        )
    if len(unread) < len(fits) and any(getattr(one, "setting_sd", None) for one in factors):
        found.append(
            "Fitted on settings as they were run, so the line's setting error is added to the "
            "scatter of the runs. If nobody measured the settings the scatter holds it already, "
            "and the window is narrower than it need be."
        )
    exact = [
        one.name
        for one in factors
        if not isinstance(one, Categorical) and one.role is Role.CONTROL and one.setting_sd == 0
    ]
    if exact:
        found.append(f"Stated to be held exactly: {', '.join(exact)}.")
    return found


def _together(fits: Sequence[Fit]) -> list[str]:
    if len(fits) < 2:
        return []
    return [
        (
            "Outcomes together: the shares that fail are added up, the worst case however "
            "outcomes hang together on a part; what is not known of one outcome is drawn "
            "independently of the others."
        )
    ]


def _far_tail(ask: Ask) -> list[str]:
    if ask.share < FAR_TAIL:
        return []
    return [
        (
            f"A share of {ask.share:g} rests on the far tail of a normal scatter, of which these "
            "runs saw little. In simulated trials of a process with little room about one in "
            "three such windows was false: confirm it."
        )
    ]
