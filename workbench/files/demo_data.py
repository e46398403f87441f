"""The invented demo trials that ship with the package, and the notebooks that go with them."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from workbench.errors import FileError

NOTEBOOKS = {
    "lid_seal": "lid_seal_whole_job.ipynb",
    "lid_seal_loads": "set_once_per_load.ipynb",
    "plate_bond": "pull_tests_that_stop_early.ipynb",
    "sensor_wire": "pass_or_fail.ipynb",
}


def demo_names() -> tuple[str, ...]:
    """Return the names of the demo trials."""
    return tuple(sorted(one.parent.name for one in _shipped("data_demo").glob("*/trial.toml")))


def demo_folder(name: str = "lid_seal") -> Path:
    """Return the folder of a demo trial, in the installed package or beside its source.

    Raises
    ------
    FileError
        If there is no demo of that name.
    """
    known = demo_names()
    if name not in known:
        raise FileError(
            f"There is no demo trial {name!r}.",
            why="Only the demo trials that ship with the workbench can be copied.",
            next_step=f"Use one of: {', '.join(known)}.",
        )
    return _shipped("data_demo") / name


def demo_notebook(name: str = "lid_seal") -> Path:
    """Return the notebook about a demo trial.

    Raises
    ------
    FileError
        If there is no demo of that name.
    """
    return _shipped("notebooks") / NOTEBOOKS[demo_folder(name).name]


def _shipped(what: str) -> Path:
    package = Path(str(resources.files("workbench")))
    inside = package / what
    # An editable install has no copy inside the package: the repository's own folder stands in.
    return inside if inside.is_dir() else package.parent / what
