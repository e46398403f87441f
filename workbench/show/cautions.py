"""Cautions as every sheet and report shows them, with the sentence that defers to others."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.define.cautions import DEFERRAL, cautions_for
from workbench.define.hazards import hazards_of
from workbench.show.escape import Html, text

if TYPE_CHECKING:
    from workbench.define.trial import Trial


def caution_count(trial: Trial) -> int:
    """Return how many cautions a trial shows."""
    return len(cautions_for(hazards_of(trial))) + len(trial.cautions)


def caution_blocks(trial: Trial) -> Html:
    """Return a paragraph for each caution: of the hazards named, then the team's own."""
    known = [
        f'<p class="caution"><b>{text(one.title)}.</b> {text(one.text)} '
        f'<span class="u">({text(one.basis)})</span></p>'
        for one in cautions_for(hazards_of(trial))
    ]
    own = [f'<p class="caution">{text(one)}</p>' for one in trial.cautions]
    return Html("".join([*known, *own]))


def deferral() -> Html:
    """Return the sentence that puts data sheets, local codes and licensed practice first."""
    return Html(f'<p class="deferral">{text(DEFERRAL)}</p>')
