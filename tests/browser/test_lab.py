"""JupyterLab opens the notebook and runs it from top to bottom, as a user would."""

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import nbformat
import pytest

pytestmark = [pytest.mark.browser, pytest.mark.slow]

NOTEBOOK = Path(__file__).parents[2] / "notebooks" / "lid_seal_whole_job.ipynb"
TOKEN = "of-this-test-only"
START_SECONDS = 60
RUN_SECONDS = 180
QUIET = {"fetchNews": "false", "checkForUpdates": False}


def free_port():
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return listener.getsockname()[1]


def asked(base, what):
    with urllib.request.urlopen(f"{base}/api/{what}?token={TOKEN}", timeout=5) as answer:
        return json.load(answer)


def until(claim, seconds, what, *, pause=time.sleep):
    """Wait for a claim to come true, and never longer than `seconds`."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if claim():
            return
        pause(0.3)
    pytest.fail(f"{what} took longer than {seconds} s")


def is_up(base):
    try:
        asked(base, "status")
    except (urllib.error.URLError, ConnectionError, TimeoutError):
        return False
    return True


def kernel_is_ready(base):
    # Clicking Run before the kernel is connected opens a dialog, and nothing runs.
    sessions = asked(base, "sessions")
    return any(
        one["kernel"]["execution_state"] == "idle" and one["kernel"]["connections"] > 0
        for one in sessions
    )


@contextmanager
def lab(folder):
    """Serve a folder with JupyterLab, its settings and memory kept inside the folder's parent."""
    home = folder.parent
    settings = home / "settings" / "@jupyterlab" / "apputils-extension"
    settings.mkdir(parents=True)
    (settings / "notification.jupyterlab-settings").write_text(json.dumps(QUIET), "utf-8")
    places = {
        "JUPYTERLAB_SETTINGS_DIR": home / "settings",
        "JUPYTERLAB_WORKSPACES_DIR": home / "workspaces",
        "JUPYTER_RUNTIME_DIR": home / "runtime",
        "JUPYTER_CONFIG_DIR": home / "config",
        "IPYTHONDIR": home / "ipython",
    }
    port = free_port()
    command = [sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root"]
    command += [f"--port={port}", "--ip=127.0.0.1", "--ServerApp.port_retries=0"]
    command += [f"--IdentityProvider.token={TOKEN}", f"--ServerApp.root_dir={folder}"]
    with (home / "lab.log").open("w") as log:
        environment = os.environ | {name: str(path) for name, path in places.items()}
        server = subprocess.Popen(command, stdout=log, stderr=log, env=environment)
        base = f"http://127.0.0.1:{port}"
        try:
            until(lambda: is_up(base), START_SECONDS, "starting JupyterLab")
            yield base
        finally:
            server.terminate()
            server.wait(timeout=20)


def last_cell_has_run(path):
    code = [c for c in nbformat.read(path, as_version=4).cells if c.cell_type == "code"]
    return code[-1].execution_count is not None


def test_the_notebook_runs_from_top_to_bottom(watched, tmp_path):
    folder = tmp_path / "served"
    folder.mkdir()
    copy = folder / NOTEBOOK.name
    shutil.copy(NOTEBOOK, copy)
    blank = nbformat.read(copy, as_version=4)
    for cell in blank.cells:
        if cell.cell_type == "code":
            cell.outputs, cell.execution_count = [], None
    nbformat.write(blank, copy)
    n_code = sum(cell.cell_type == "code" for cell in blank.cells)
    with lab(folder) as base:
        page = watched.page
        page.goto(f"{base}/lab/workspaces/whole/tree/{copy.name}?token={TOKEN}")
        page.wait_for_selector(".jp-Notebook", timeout=START_SECONDS * 1000)
        # The page lives only while its own clock is waited on.
        until_page = partial(until, pause=lambda seconds: page.wait_for_timeout(1000 * seconds))
        until_page(lambda: kernel_is_ready(base), START_SECONDS, "starting the kernel")
        page.get_by_role("menuitem", name="Run", exact=True).click()
        page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
        until_page(
            lambda: page.locator(f".jp-InputPrompt:has-text('[{n_code}]:')").count() > 0,
            RUN_SECONDS,
            "running all cells",
        )
        page.keyboard.press("Control+s")
        until_page(lambda: last_cell_has_run(copy), 30, "saving")
        drawn = page.locator(".js-plotly-plot, .plot-img").count()
    seen = nbformat.read(copy, as_version=4)
    outputs = [o for c in seen.cells if c.cell_type == "code" for o in c.outputs]
    assert [o for o in outputs if o.output_type == "error"] == []
    assert [o for o in outputs if o.get("name") == "stderr"] == []
    assert drawn >= 1
    assert watched.outside == []
