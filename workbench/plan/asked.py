"""The model that a plan has to carry: as asked here, else as the trial asks, else by custom."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from workbench.define.algebra import parse_terms, terms_text
from workbench.define.terms import PRESETS, preset

if TYPE_CHECKING:
    from workbench.define.factors import Factor
    from workbench.define.terms import Terms
    from workbench.define.trial import Trial


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedModel:
    """The terms to carry; `is_asked` is false where nobody stated them, `notes` what was left.

    `text` states them so that they can be asked for again; empty where custom decides.
    """

    terms: Terms
    is_asked: bool
    text: str = ""
    notes: tuple[str, ...] = ()


def asked_model(trial: Trial, terms: Terms | str | None, *, custom: str) -> AskedModel:
    """Return the model in planned factors: `terms`, else the trial's, else the preset `custom`."""
    planned = trial.planned_factors
    stated = trial.model if terms is None else terms
    if not stated:
        return AskedModel(terms=preset(custom, planned), is_asked=False)
    if stated in PRESETS:
        return AskedModel(terms=preset(str(stated), planned), is_asked=True, text=str(stated))
    if isinstance(stated, str):
        return _planned_only(trial, parse_terms(stated, trial.factors))
    return _planned_only(trial, _reparsable(stated, planned))


def _reparsable(terms: Terms, factors: tuple[Factor, ...]) -> Terms:
    if terms.asked in PRESETS and preset(terms.asked, factors).terms == terms.terms:
        return terms
    return replace(terms, asked=terms_text(terms.terms))


def _planned_only(trial: Trial, terms: Terms) -> AskedModel:
    planned = {factor.name for factor in trial.planned_factors}
    kept = tuple(one for one in terms.terms if planned.issuperset(one.factors))
    left = [str(one) for one in terms.terms if one not in kept]
    notes = (
        (f"Not planned for, since its factor is only read: {', '.join(left)}.",) if left else ()
    )
    return AskedModel(
        terms=replace(terms, terms=kept), is_asked=True, text=terms.asked, notes=notes
    )
