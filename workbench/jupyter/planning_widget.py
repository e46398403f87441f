"""The planning panel as a widget: the trial as a form, candidate plans beside it."""

from __future__ import annotations

from pathlib import Path

import traitlets

from workbench.jupyter.assets import script
from workbench.jupyter.panel_widget import PanelWidget
from workbench.jupyter.planning_desk import PlanningDesk


class PlanningPanel(PanelWidget):
    """The form of one trial folder."""

    _esm = script("planning.js")
    form = traitlets.Dict().tag(sync=True)

    def __init__(self, desk: PlanningDesk) -> None:
        super().__init__(desk, form=desk.form())


def planning_panel(folder: str | Path) -> PlanningPanel:
    """Return the trial of a folder as a form: problems beside their field, plans as it changes.

    It writes trial.toml when asked to, comments kept, and asks before it undoes what was changed
    elsewhere.

    Raises
    ------
    WorkbenchError
        If the folder is no trial or trial.toml cannot be understood.
    """
    return PlanningPanel(PlanningDesk(Path(folder)))
