"""The same question asked in other ways, and the terms that the runs ask for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.show.html_tables import Spanning, html_table, name, number, verdict, words
from workbench.show.numbers import fixed
from workbench.show.words import listed

if TYPE_CHECKING:
    from workbench.define.terms import Term
    from workbench.fit.selection import RankedModel, Selection
    from workbench.fit.sensitivity import Sensitivity, Variant
    from workbench.show.escape import Html


WAYS = {"as read": "on the scale as read", "on log": "on the log scale"}


def sensitivity_sentence(found: Sensitivity) -> str:
    """Return one sentence: what the conclusion survives and what it does not."""
    answered = [one for one in found.variants if not one.reason]
    if len(answered) == 1 and answered[0].agrees:
        return f"The conclusion is the same when asked otherwise: {_way(answered[0])}."
    differing = [one for one in answered if not one.agrees]
    if not differing or any(one.turned for one in differing):
        return found.words()
    ways = f"other way{'' if len(answered) == 1 else 's'} of asking "
    ways += "changes" if len(differing) == 1 else "change"
    return (
        f"{len(differing)} of {len(answered)} {ways} which effects are clear; no direction turns "
        "round."
    )


def sensitivity_table(found: Sensitivity) -> Html:
    """Return every other way of asking, and what of the conclusion it changes."""
    columns = [
        name("asked otherwise"),
        words("conclusion"),
        words("no longer clear"),
        words("clear only here"),
        words("turned round"),
    ]
    clear = listed(found.clear, most=8) or "no effect"
    return html_table(
        f"Other ways of asking (clear in the fit: {clear})",
        columns,
        [_variant(one) for one in found.variants],
    )


def selection_table(found: Selection) -> Html:
    """Return the models that rank highest, and how much speaks for each term.

    Support is the weight of all models that hold a term; it is no probability.
    """
    ranks = [_ranked(one, i, found) for i, one in enumerate(found.models)]
    models = html_table(
        f"Models by what they gain for their terms, best of {found.n_models}",
        [name("model"), number("AICc above the best"), words("")],
        ranks,
    )
    return type(models)(models + support_table(found))


def support_table(found: Selection) -> Html:
    """Return the support of each term, largest first."""
    ordered = sorted(found.support, key=lambda one: -one[1])
    rows = [
        (str(term), fixed(weight, 2), "in the smallest model" if term in found.chosen else "")
        for term, weight in ordered
    ]
    return html_table(
        "Support of each term: weight of the models that hold it, no probability",
        [name("term"), number("support"), words("")],
        rows,
    )


def _way(one: Variant) -> str:
    return WAYS.get(one.name, one.name)


def _variant(one: Variant) -> tuple[object, ...]:
    if one.reason:
        missing = Spanning(words=f"no answer: {one.reason}", columns=3)
        return (_way(one), verdict("unsure", "open"), missing)
    if one.turned:
        said = verdict("fails", "turns round")
    elif one.agrees:
        said = verdict("meets", "the same")
    else:
        said = verdict("unsure", "differs")
    return (
        _way(one),
        said,
        *(listed(each, most=8) for each in (one.lost, one.gained, one.turned)),
    )


def _ranked(one: RankedModel, place: int, found: Selection) -> tuple[str, str, str]:
    said = ["best"] if place == 0 else []
    said += ["smallest within 2"] if one.terms == found.chosen else []
    return (_model(one.terms), fixed(one.above_best, 1), ", ".join(said))


def _model(terms: tuple[Term, ...]) -> str:
    return ", ".join(map(str, terms)) or "the mean alone"
