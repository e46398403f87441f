"""The run sheet before its first run, and the times at which its parts can be tested."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.define.waits import waiting_time
from workbench.plan.plans import CONFIRMATION
from workbench.plan.starting import dry_run, stopping_rule
from workbench.show.escape import Html, text
from workbench.show.numbers import NBSP
from workbench.show.tables import written_settings

if TYPE_CHECKING:
    from workbench.define.trial import Trial
    from workbench.define.waits import Wait
    from workbench.plan.plans import Plan


def start(trial: Trial, plan: Plan) -> Html:
    """Return the dry run of the corners, a box to tick for each, and the stopping rule.

    A confirmation has no dry run: its settings were run before.
    """
    if plan.recipe.kind == CONFIRMATION:
        return Html(f'<section class="dry">{_stop(trial)}</section>')
    asked = dry_run(plan)
    factors = asked.corners.factors
    heads = "".join(
        f'<th scope="col">{text(one.name)}{f", {text(one.unit)}" if one.unit else ""}</th>'
        for one in factors
    )
    rows = "".join(
        '<tr><td><span class="tick"></span></td>'
        + "".join(f"<td>{text(one)}</td>" for one in shown)
        + "</tr>"
        for shown in written_settings(asked.corners)
    )
    lead, _, rest = asked.text.partition(":")
    return Html(
        f'<section class="dry"><p><b>{text(lead)}:</b>{text(rest)}</p>'
        '<table class="corners"><caption class="unseen">Corners to try first</caption>'
        f'<thead><tr><th scope="col">made</th>{heads}</tr></thead><tbody>{rows}</tbody></table>'
        f"{_stop(trial)}</section>"
    )


def _stop(trial: Trial) -> str:
    rule = stopping_rule(trial)
    basis = f' <span class="u">({text(rule.basis)})</span>' if rule.basis else ""
    return f"<p><b>Stop rule:</b> {text(rule.text)}{basis}</p>"


def waits_of(trial: Trial) -> tuple[tuple[str, Wait], ...]:
    """Return the outcomes that have to wait for a stated time, each with its wait."""
    waits = ((one.name, waiting_time(one.wait)) for one in trial.outcomes)
    return tuple((name, wait) for name, wait in waits if wait is not None)


def time_heads(trial: Trial) -> Html:
    """Return the headings over the times of the bench; empty if nothing has to wait."""
    waits = waits_of(trial)
    if not waits:
        return Html("")
    heads = "".join(f'<th scope="col">test<br>{text(name)}<br>from</th>' for name, _ in waits)
    return Html(f'<th scope="col">made at</th>{heads}')


def time_cells(trial: Trial) -> Html:
    """Return the boxes for the times of one run: when it was made, and made at + the wait."""
    waits = waits_of(trial)
    if not waits:
        return Html("")
    boxes = "".join(
        f'<td class="when">+{text(wait.words.replace(" ", NBSP))}</td>' for _, wait in waits
    )
    return Html(f'<td class="when"></td>{boxes}')
