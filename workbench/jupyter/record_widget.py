"""The record panel as a widget: the run grid, each entry in the journal as it is made."""

from __future__ import annotations

from pathlib import Path

import traitlets

from workbench.jupyter.assets import script
from workbench.jupyter.panel_widget import PanelWidget
from workbench.jupyter.record_desk import RecordDesk
from workbench.steps.people import who_is_it


class RecordPanel(PanelWidget):
    """The run grid of one trial folder."""

    _esm = script("record.js")
    sheet = traitlets.Dict().tag(sync=True)
    who = traitlets.Unicode().tag(sync=True)

    def __init__(self, desk: RecordDesk, *, who: str) -> None:
        super().__init__(desk, sheet=desk.sheet(), who=who)

    def shared(self) -> set[str]:
        """Return the names of the traits that an answer may set."""
        return {"sheet"}


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
