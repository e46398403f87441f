"""What JupyterLab shows: renderers that `%load_ext workbench` turns on, and panels."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.jupyter.explore_widget import explorer
    from workbench.jupyter.planning_widget import planning_panel
    from workbench.jupyter.progress_line import progress
    from workbench.jupyter.record_widget import record_panel
    from workbench.jupyter.renderers import register

# Panels load a widget library, which no renderer needs.
_HOMES = {
    "explorer": "explore_widget",
    "planning_panel": "planning_widget",
    "progress": "progress_line",
    "record_panel": "record_widget",
    "register": "renderers",
}

__all__ = ["explorer", "planning_panel", "progress", "record_panel", "register"]


def __getattr__(name: str) -> object:
    """Load a panel, or the renderers, when first asked for."""
    if name in _HOMES:
        return getattr(import_module(f"workbench.jupyter.{_HOMES[name]}"), name)
    raise AttributeError(f"module 'workbench.jupyter' has no attribute {name!r}")
