"""Several outcomes at once: what helps one and hurts another, what parts share."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.fit.together import pulled_apart
from workbench.show.html_tables import Spanning, html_table, name, number, verdict, words
from workbench.show.numbers import with_interval
from workbench.show.words import listed, sentence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.fit.together import Shared, TradeOff
    from workbench.show.escape import Html

SIGNS = {"helps": "meets", "hurts": "fails", "open": "unsure"}


def trade_offs_table(found: Sequence[TradeOff]) -> Html:
    """Return for each effect which outcomes it helps and which it hurts."""
    outcomes = list(dict.fromkeys(one.outcome for one in found))
    effects = list(dict.fromkeys(one.effect for one in found))
    torn = set(pulled_apart(found))
    said = {(one.effect, one.outcome): one.verdict for one in found}
    rows = [
        (
            effect,
            *(_verdict(said.get((effect, outcome), "")) for outcome in outcomes),
            "helps one, hurts another" if effect in torn else "",
        )
        for effect in effects
    ]
    columns = [name("more of"), *(words(outcome) for outcome in outcomes), words("so")]
    return html_table("What each setting does to each requirement", columns, rows)


def shared_table(found: Sequence[Shared]) -> Html:
    """Return how what is left over of two outcomes goes together, run by run."""
    columns = [
        name("outcomes"),
        number("runs"),
        number("correlation"),
        number("95\u00a0% from"),
        number("to"),
    ]
    return html_table(
        "Scatter that outcomes share (correlation of residuals)",
        columns,
        [_shared(one) for one in found],
    )


def trade_offs_sentence(found: Sequence[TradeOff]) -> str:
    """Return which settings are pulled two ways, or that none is shown to be."""
    torn = pulled_apart(found)
    if not torn:
        return "No setting is shown to help one outcome and hurt another"
    verb = "helps" if len(torn) == 1 else "help"
    other = "hurts" if len(torn) == 1 else "hurt"
    return sentence(f"{listed(torn)} {verb} one outcome and {other} another")


def _verdict(said: str) -> object:
    sign = SIGNS.get(said)
    return verdict(sign, said) if sign else said


def _shared(one: Shared) -> tuple[object, ...]:
    pair = f"{one.first} and {one.second}"
    found = one.correlation
    if isinstance(found, Unavailable):
        return (pair, str(one.n_runs), Spanning(words=found.reason, columns=3))
    written = with_interval(found.value, found.low, found.high)
    return (pair, str(one.n_runs), written.value, written.low, written.high)


def several_tables(found: Sequence[TradeOff], shared: Sequence[Shared]) -> tuple[Html, ...]:
    """Return both tables, the second where there is a pair."""
    return (trade_offs_table(found), *((shared_table(shared),) if shared else ()))
