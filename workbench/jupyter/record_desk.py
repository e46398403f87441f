"""What the record panel answers: messages of the page in, sheets and answers out."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from workbench.errors import WorkbenchError
from workbench.steps.panel_entry import enter
from workbench.steps.panel_nouns import Edit
from workbench.steps.panel_record import record_sheet
from workbench.steps.people import who_is_it

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    Message = dict[str, Any]

WATCHED = ("trial.toml", "plan.csv", "plan.toml")


class RecordDesk:
    """A trial folder as the record panel sees it; the files on the disk are the only state."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.seen = ""

    def sheet(self) -> Message:
        """Return the sheet as the page takes it.

        Raises
        ------
        WorkbenchError
            If the folder is no trial or one of its files cannot be understood.
        """
        self.seen = _stamp(self.folder)
        return asdict(record_sheet(self.folder))

    def answer(self, message: Mapping[str, Any]) -> Message:
        """Return the answer to a message of the page; `sheet` is in it where it may be new."""
        try:
            if message.get("kind") == "enter":
                return self._entered(message)
            changed = _stamp(self.folder) != self.seen
            return {"sheet": self.sheet()} if changed else {}
        except WorkbenchError as met:
            return {"problem": str(met)}

    def _entered(self, message: Mapping[str, Any]) -> Message:
        edits = [
            Edit(run=int(one["run"]), column=str(one["column"]), text=str(one["text"]))
            for one in message["edits"]
        ]
        done = enter(
            self.folder,
            edits,
            who=who_is_it(str(message.get("who", ""))),
            reason=str(message.get("reason", "")),
        )
        return {**asdict(done), "sheet": self.sheet()}


def _stamp(folder: Path) -> str:
    """Return sizes and times of the files that the sheet is made from."""
    paths = [*(folder / name for name in WATCHED), *sorted((folder / "results").glob("*.jsonl"))]
    told = []
    for path in paths:
        try:
            now = path.stat()
        except OSError:
            continue
        told.append(f"{path.name} {now.st_size} {now.st_mtime_ns}")
    return "\n".join(told)
