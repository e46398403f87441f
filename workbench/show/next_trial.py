"""The next trial, shown: a table of candidates, and what each would change, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.define.factors import Categorical
from workbench.errors import Unavailable
from workbench.show.escape import Html, text
from workbench.show.html_tables import html_table, name, number, unit, words
from workbench.show.numbers import setting, with_unit
from workbench.show.words import sentence

if TYPE_CHECKING:
    from collections.abc import Iterable

    from workbench.decide.next_trial import Gain, NextTrial, NextTrials
    from workbench.define.settings import Value
    from workbench.define.trial import Trial


def next_trials_table(found: NextTrials) -> Html:
    """Return the candidates, the recommended one first."""
    columns = [
        name("next trial"),
        number("runs"),
        words("why, and what it can settle"),
        unit("what it would change"),
    ]
    rows = [_row(one) for one in found.trials]
    return html_table(f"What to run next; in the way: {found.obstacle.value}", columns, rows)


def next_runs_table(one: NextTrial) -> Html:
    """Return the runs of a candidate, settings in the unit of each factor."""
    factors = one.runs.factors
    columns = [
        name("for"),
        *(
            words(f.name)
            if isinstance(f, Categorical)
            else number(f"{f.name}, {f.unit}" if f.unit else f.name)
            for f in factors
        ),
    ]
    rows = [
        (
            point,
            *(
                at if isinstance(at, str) else setting(f, at)
                for f, at in zip(factors, row.values(), strict=True)
            ),
        )
        for point, row in zip(one.point, one.runs.as_dicts(), strict=True)
    ]
    return html_table(f"The runs of “{one.kind}”; their order is drawn when taken", columns, rows)


def next_screen_parts(found: NextTrials | Unavailable | None) -> tuple[Html, ...]:
    """Return what a report shows of the next trial; nothing where none is proposed."""
    if found is None or isinstance(found, Unavailable) or not found.trials:
        return ()
    first = found.trials[0]
    table = next_trials_table(found)
    if not first.recommended or not len(first):
        return (table,)
    return (table, next_runs_table(first))


def gain_words(one: Gain | Unavailable) -> str:
    """Return what added runs would change, in a sentence."""
    if isinstance(one, Unavailable):
        return one.reason
    said = [_error_words(one)]
    if not isinstance(one.margin, Unavailable):
        said.append(_margin_words(one))
    return "; ".join(said)


def place_words(place: Iterable[tuple[str, Value]], trial: Trial) -> str:
    """Return settings in words, with units."""
    said = []
    for factor_name, at in place:
        factor = trial.factor(factor_name)
        shown = at if isinstance(at, str) else setting(factor, at)
        said.append(f"{factor_name} {with_unit(shown, factor.unit)}")
    return ", ".join(said)


def _error_words(one: Gain) -> str:
    after = one.error_after
    if isinstance(after, Unavailable):
        return f"the mean of {one.outcome} there: {after.reason}"
    before = (
        "not told by these runs"
        if isinstance(one.error_before, Unavailable)
        else f"{one.error_before:.2f} sd"
    )
    return f"standard error of the mean of {one.outcome} there {before} → {after:.2f} sd"


def _margin_words(one: Gain) -> str:
    before, after = (
        "none is enough" if isinstance(needed, Unavailable) else f"{needed:.2f}"
        for needed in (one.needed_before, one.needed_after)
    )
    return f"margin {one.margin:.2f} sd, needed {before} → {after} sd"


def _row(one: NextTrial) -> tuple[object, ...]:
    mark = f"<b>{text(str(one.kind))}</b><br>recommended" if one.recommended else None
    title: object = Html(mark) if mark else str(one.kind)
    said = [one.reason, f"It settles {one.settles}." if len(one) else f"{sentence(one.settles)}."]
    if one.recommended:
        said.append(f"Recommended, since {one.why}")
    return (
        title,
        str(len(one)) if len(one) else "none",
        " ".join(said),
        gain_words(one.gain) if len(one) else "",
    )
