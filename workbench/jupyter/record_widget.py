"""The record panel as a widget: the run grid, each entry in the journal as it is made."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import anywidget
import traitlets

from workbench.jupyter.assets import script, styles
from workbench.jupyter.record_desk import RecordDesk
from workbench.steps.people import who_is_it


class RecordPanel(anywidget.AnyWidget):
    """The run grid of one trial folder."""

    _esm = script("record.js")
    _css = styles()
    sheet = traitlets.Dict().tag(sync=True)
    who = traitlets.Unicode().tag(sync=True)

    def __init__(self, desk: RecordDesk, *, who: str) -> None:
        super().__init__(sheet=desk.sheet(), who=who)
        self._desk = desk
        self.on_msg(self._heard)

    def _heard(self, _widget: object, message: dict[str, Any], _buffers: object) -> None:
        answer: dict[str, Any] = {"problem": "The workbench failed here; the notebook's log says how."}
        try:
            answer = self._desk.answer(message)
        finally:  # a page that gets no answer would take the entry for one still on its way
            sheet = answer.pop("sheet", None)
            if sheet is not None:
                self.sheet = sheet
            self.send({**answer, "id": message.get("id", "")})


def record_panel(folder: str | Path, *, who: str = "") -> RecordPanel:
    """Return the run grid of a trial: what to set next, what was seen, into the journal at once.

    `who` stands beside every entry (the login name if it is empty). Run the cell again after a
    restart of the kernel: what was entered is on the disk.

    Raises
    ------
    WorkbenchError
        If the folder is no trial or one of its files cannot be understood.
    """
    return RecordPanel(RecordDesk(Path(folder)), who=who_is_it(who))
