"""The answers of `check` and `export` as JSON objects; keys in `workbench.steps.answers`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.steps.json_values import words

if TYPE_CHECKING:
    from workbench.run.finding import Finding
    from workbench.steps.check_nouns import CheckUp, Remark
    from workbench.steps.exporting import Exported
    from workbench.steps.json_values import Json, JsonObject


def check_answer(found: CheckUp) -> JsonObject:
    """Return the answer of `check`."""
    return {
        "sound": found.is_sound,
        "mend": [_remark(one) for one in found.remarks.mend],
        "notes": [_remark(one) for one in found.remarks.notes],
        "happened": [_finding(one) for one in found.happened],
        "looked_at": words(found.looked_at),
    }


def export_answer(made: Exported) -> JsonObject:
    """Return the answer of `export`."""
    return {
        "folder": str(made.folder),
        "files": words([path.name for path in made.files]),
        "rows": made.n_rows,
        "columns": words(made.columns),
    }


def _finding(one: Finding) -> Json:
    return {
        "kind": one.kind.value,
        "weight": one.weight.value,
        "about": one.about,
        "runs": list(one.runs),
        "sentence": one.sentence,
        "next_step": one.next_step,
    }


def _remark(one: Remark) -> Json:
    return {
        "place": one.place,
        "wrong": one.wrong,
        "why": one.why,
        "next_step": one.next_step,
    }
