"""What the planning panel answers: drafts in, problems and plans out; one file is the truth."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from workbench.errors import WorkbenchError
from workbench.steps.panel_draft import DraftSection, draft_of, problems_of
from workbench.steps.panel_fields import FIELDS
from workbench.steps.panel_plan import (
    changes_since,
    compared_plans,
    plan_form,
    take_plan,
    write_draft,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from workbench.define.trial import Trial

    Message = dict[str, Any]

SECTIONS = ("trial", "budget", "factor", "outcome", "held", "constraint")


class PlanningDesk:
    """A trial folder as the planning panel sees it; `read_as` is the trial it started from."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.read_as: Trial | None = None

    def form(self) -> Message:
        """Read the form anew, as the page takes it.

        Raises
        ------
        WorkbenchError
            If the folder is no trial or trial.toml cannot be understood.
        """
        found = plan_form(self.folder)
        self.read_as = found.trial
        return {
            "fields": {section: [asdict(one) for one in FIELDS[section]] for section in SECTIONS},
            "draft": _plain(found.draft),
            "plan": found.plan,
        }

    def answer(self, message: Mapping[str, Any]) -> Message:
        """Return the answer to a message of the page."""
        try:
            ways = {
                "check": self._checked,
                "compare": self._compared,
                "write": self._written,
                "take": self._taken,
                "reread": self._reread,
                "look": self._looked,
            }
            return ways[str(message.get("kind"))](message)
        except WorkbenchError as met:
            return {"problem": str(met)}

    def _checked(self, message: Mapping[str, Any]) -> Message:
        return {"problems": [asdict(one) for one in problems_of(_draft(message))]}

    def _compared(self, message: Mapping[str, Any]) -> Message:
        return {"rows": asdict(compared_plans(_draft(message)))}

    def _taken(self, message: Mapping[str, Any]) -> Message:
        said = take_plan(self.folder, str(message["name"]), read_as=self._read_as())
        return {"said": said, "plan": plan_form(self.folder).plan}

    def _reread(self, _message: Mapping[str, Any]) -> Message:
        return {"form": self.form()}

    def _looked(self, _message: Mapping[str, Any]) -> Message:
        return {"changes": list(changes_since(self.folder, self._read_as()))}

    def _written(self, message: Mapping[str, Any]) -> Message:
        """Write the draft; what was changed elsewhere is only undone if the user said so."""
        changes = changes_since(self.folder, self._read_as())
        if changes and message.get("undo") != list(changes):
            return {"changes": list(changes), "written": False}
        read_as = plan_form(self.folder).trial if changes else self._read_as()
        self.read_as = write_draft(self.folder, _draft(message), read_as=read_as)
        plan = plan_form(self.folder).plan
        return {"written": True, "draft": _plain(draft_of(self.read_as)), "plan": plan}

    def _read_as(self) -> Trial:
        if self.read_as is None:
            self.form()
        return self.read_as if self.read_as is not None else plan_form(self.folder).trial


def _plain(draft: Sequence[DraftSection]) -> list[Message]:
    return [{"section": one.section, "texts": dict(one.texts)} for one in draft]


def _draft(message: Mapping[str, Any]) -> tuple[DraftSection, ...]:
    return tuple(
        DraftSection(
            section=str(one["section"]),
            texts={str(key): str(text) for key, text in one["texts"].items()},
        )
        for one in message["draft"]
        if one["section"] in SECTIONS
    )
