"""Open a trial folder in JupyterLab, on this machine only."""

from __future__ import annotations

import importlib.util
import os
import sys
from typing import TYPE_CHECKING

from workbench.errors import FileError, OptionError

if TYPE_CHECKING:
    from pathlib import Path


def open_in_jupyter(folder: Path, *, port: int | None, shows_browser: bool) -> None:
    """Become a JupyterLab server in the folder: this process is replaced and does not return.

    It listens on the loopback address alone and keeps the token that JupyterLab makes itself.

    Raises
    ------
    WorkbenchError
        If the folder is missing or the port cannot be one.
    """
    if not folder.is_dir():
        raise FileError(
            "There is no such folder.",
            why="JupyterLab opens a folder and what is in it.",
            next_step="Name the trial's folder.",
            place=str(folder),
        )
    if port is not None and not 1 <= port <= 65535:
        raise OptionError(
            f"The port is {port}.",
            why="Ports are numbered from 1 to 65535.",
            next_step="Leave --port out to have a free one chosen.",
            place="--port",
        )
    if importlib.util.find_spec("jupyterlab") is None:
        raise OptionError(
            "JupyterLab is not installed here.",
            why="The folder is opened in it.",
            next_step="Install the workbench again with pip: it brings JupyterLab along.",
        )
    command = server_command(folder, port=port, shows_browser=shows_browser)
    sys.stdout.flush()
    os.execv(sys.executable, command)  # noqa: S606 - our own interpreter, a list, no shell


def server_command(folder: Path, *, port: int | None, shows_browser: bool) -> list[str]:
    """Return the command that serves the folder: loopback only, token on.

    `-P` keeps Python from taking modules out of the folder it is started in, which may be the
    trial of a stranger.
    """
    command = [
        sys.executable,
        "-P",
        "-m",
        "jupyterlab",
        "--ServerApp.ip=127.0.0.1",
        f"--ServerApp.root_dir={folder.resolve()}",
    ]
    if port is not None:
        command += [f"--ServerApp.port={port}", "--ServerApp.port_retries=0"]
    if not shows_browser:
        command.append("--no-browser")
    if _is_root():
        command.append("--allow-root")
    return command


def _is_root() -> bool:
    return hasattr(os, "geteuid") and os.geteuid() == 0
