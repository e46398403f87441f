"""Trial Workbench: from "enough, but not too much" to settings with limits a line can hold."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from types import ModuleType

    from workbench import decide, define, files, fit, plan, run, show, steps

__version__ = "0.1.0"
__all__ = ["__version__", "decide", "define", "files", "fit", "plan", "run", "show", "steps"]
_ABOVE = ("jupyter",)  # named here only when asked for: steps import this package from below it


def __getattr__(name: str) -> ModuleType:
    """Load a layer when it is first used, so that importing the package stays cheap."""
    if name in (*__all__, *_ABOVE):
        return import_module(f"workbench.{name}")
    raise AttributeError(f"module 'workbench' has no attribute {name!r}")


def load_ipython_extension(_shell: object) -> None:
    """Register renderers for every noun (`%load_ext workbench`)."""
    import_module("workbench.jupyter.renderers").register()
