"""Which candidate to take, and why not the others."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from workbench.define.terms import PRESETS
from workbench.errors import Unavailable
from workbench.plan.candidate_facts import is_blind_to_bends, model_name, stays_in_range

if TYPE_CHECKING:
    from workbench.plan.candidate_nouns import Candidate

ROUNDING = 1e-9


def undominated(
    found: tuple[Candidate, ...],
) -> tuple[tuple[Candidate, ...], list[tuple[str, str]]]:
    """Return the candidates that no other one matches in all at no higher price, and the rest.

    One is left out for another that carries the same model in no more runs and resets, leans no
    more on what is left out, mixes no more, and is as sharp.
    """
    kept: list[Candidate] = []
    left: list[tuple[str, str]] = []
    for one in sorted(found, key=lambda c: (*_merits(c), c.name)):
        better = next((k for k in kept if _matches(k, one)), None)
        if better is None:
            kept.append(one)
        else:
            left.append((one.name, f"{better.name} tells as much in {len(better.plan)} runs."))
    ordered = sorted(kept, key=lambda c: (len(c.plan), c.resets, c.name))
    return tuple(ordered), left


def with_recommendation(found: tuple[Candidate, ...], asked: str) -> tuple[Candidate, ...]:
    """Return the candidates, one recommended, each with the reason for it or against it.

    In this order count: main effects clear of products and squares, the model asked for, scatter
    that can be judged, the richest model, runs between low and high, bends seen, effects worth
    finding found (or nearest to it), fewest runs, fewest resets, the sharper mean.
    """
    best = min(found, key=lambda one: _rank(one, asked))
    return tuple(
        replace(one, recommended=True, why=_for(one, asked, found))
        if one is best
        else replace(one, why=_against(one, best, asked))
        for one in found
    )


def _rank(one: Candidate, asked: str) -> tuple[float, ...]:
    misses = one.finds is False
    return (
        not one.main_effects_are_clear,
        one.carries != asked,
        one.error_df < 1,
        -PRESETS.index(one.carries) if one.carries in PRESETS else 0,
        not stays_in_range(one.plan),
        is_blind_to_bends(one.plan),
        misses,
        one.shortfall if misses else 0.0,
        len(one.plan),
        one.resets,
        one.standard_error,
    )


def _for(best: Candidate, asked: str, found: tuple[Candidate, ...]) -> str:
    model = model_name(asked)
    if best.carries == asked:
        first = f"It carries the {model} model"
    elif not best.main_effects_are_clear:
        first = (
            f"No plan here carries the {model} model or keeps main effects clear; "
            f"this one carries most ({model_name(best.carries)})"
        )
    else:
        sharp = " with clear main effects" if any(c.carries == asked for c in found) else ""
        first = (
            f"No plan here{sharp} carries the {model} model; of those with clear main effects "
            f"it carries most ({model_name(best.carries)})"
        )
    finds = {
        True: " and finds every main effect worth finding",
        False: f" and comes nearest to what is worth finding, but would miss it{_by(best)}",
        None: "",
    }[best.finds]
    return f"{first}{finds}{_fewest(best, found)}."


def _fewest(best: Candidate, found: tuple[Candidate, ...]) -> str:
    """Return that no candidate does as much in fewer runs, where that is so."""
    if best.finds is False:
        return ""
    rivals = [one for one in found if one.carries == best.carries and one.finds == best.finds]
    if min(len(one.plan) for one in rivals) < len(best.plan):
        return ""
    return ", in the fewest runs that do" if len(found) > 1 else ""


def _against(one: Candidate, best: Candidate, asked: str) -> str:
    pairs = zip(_rank(one, asked), _rank(best, asked), strict=True)
    place = next((i for i, (own, other) in enumerate(pairs) if own != other), 10)
    reasons = {
        0: "Its main effects are not clear of products and squares.",
        1: f"It does not carry the {model_name(asked)} model.",
        2: "No run is left for error.",
        3: f"It carries the {model_name(one.carries)} model only.",
        4: "Some of its runs lie outside low and high.",
        5: "It cannot see whether anything bends.",
        6: f"It would miss what is worth finding{_by(one)}.",
        7: f"It is further from finding what is worth finding{_by(one)}.",
        8: f"It takes {len(one.plan) - len(best.plan)} more runs than {best.name}.",
        9: f"It takes {one.resets - best.resets} more resets than {best.name}.",
        10: f"It knows the mean less well than {best.name} in as many runs.",
    }
    return reasons[place]


def _by(one: Candidate) -> str:
    """Return in which outcomes how much is missed, such as ` (pull force: 5.3 N, not 4)`."""
    if isinstance(one.detects, Unavailable):
        return ""
    said = []
    for detects in one.detects:
        worst, aim = detects.worst_main_effect, detects.aim
        if detects.finds is not False or aim.worth_finding is None:
            continue
        if isinstance(worst, Unavailable):
            said.append(f"{aim.outcome}: not known")
        elif aim.as_ratio:
            said.append(f"{aim.outcome}: ×{worst:.4g} instead of ×{aim.worth_finding:.3g}")
        else:
            need = f"{aim.worth_finding:.3g} {aim.unit}".strip()
            said.append(f"{aim.outcome}: {worst:.4g} instead of {need}")
    return f" ({'; '.join(said)})" if said else ""


def _merits(one: Candidate) -> tuple[float, ...]:
    leaning = 0.0 if one.leaning is None else round(abs(one.leaning.size), 6)
    size = len(one.plan), one.resets, leaning, len(one.mixing.groups)
    return (*size, one.detectable_in_sd, one.standard_error)


def _matches(better: Candidate, one: Candidate) -> bool:
    if better.carries != one.carries:
        return False
    if stays_in_range(one.plan) and not stays_in_range(better.plan):
        return False
    if is_blind_to_bends(better.plan) and not is_blind_to_bends(one.plan):
        return False
    pairs = zip(_merits(better), _merits(one), strict=True)
    return all(a <= b + ROUNDING for a, b in pairs)
