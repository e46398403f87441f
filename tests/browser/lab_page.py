"""JupyterLab served for tests: one server, a folder of its own, a page that runs a notebook."""

import json
import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import contextmanager

import nbformat
import pytest

TOKEN = "of-this-test-only"
START_SECONDS = 120
RUN_SECONDS = 240
QUIET = {"fetchNews": "false", "checkForUpdates": False}


def free_port():
    """Return a port that nobody listens on."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return listener.getsockname()[1]


def asked(base, what):
    """Return what the server answers to an address of its own."""
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
    """Return whether the server answers."""
    try:
        asked(base, "status")
    except (urllib.error.URLError, ConnectionError, TimeoutError):
        return False
    return True


def kernel_is_ready(base, name):
    """Return whether the kernel of a notebook is idle and connected."""
    # Clicking Run before the kernel is connected opens a dialog, and nothing runs.
    return any(
        one["path"] == name
        and one["kernel"]["execution_state"] == "idle"
        and one["kernel"]["connections"] > 0
        for one in asked(base, "sessions")
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


def stop_kernels(base):
    """Stop every kernel of this server: two cores are few."""
    for one in asked(base, "sessions"):
        request = urllib.request.Request(
            f"{base}/api/sessions/{one['id']}?token={TOKEN}", method="DELETE"
        )
        urllib.request.urlopen(request, timeout=20).close()


class LabPage:
    """A notebook open in JupyterLab."""

    def __init__(self, watched, base, path):
        self.page = watched.page
        self.base = base
        self.path = path
        self.name = path.name

    def until(self, claim, seconds, what):
        """Wait for a claim; the page lives only while its own clock is waited on."""
        until(claim, seconds, what, pause=self._pause)

    def _pause(self, seconds):
        self.page.wait_for_timeout(1000 * seconds)

    def open(self):
        """Open the notebook and wait for its kernel."""
        workspace = self.path.stem.replace("_", "-")
        url = f"{self.base}/lab/workspaces/{workspace}/tree/{self.name}?token={TOKEN}"
        self.page.goto(url)
        self.page.wait_for_selector(".jp-Notebook", timeout=START_SECONDS * 1000)
        self.wait_for_kernel()

    def wait_for_kernel(self):
        """Wait until the kernel is idle and connected."""
        self.until(
            lambda: kernel_is_ready(self.base, self.name), START_SECONDS, "starting the kernel"
        )

    def menu(self, *words):
        """Choose an entry of the menus."""
        for word in words:
            self.page.get_by_role("menuitem", name=word, exact=True).click()

    def run_all(self, last):
        """Run all cells; `last` is the execution count of the last one."""
        self.menu("Run", "Run All Cells")
        ran = self.page.locator(f".jp-InputPrompt:has-text('[{last}]:')")
        self.until(lambda: ran.count() > 0, RUN_SECONDS, "running all cells")

    def saved(self):
        """Save the notebook and return it as it was written."""
        self.page.keyboard.press("Control+s")
        self.until(lambda: last_cell_has_run(self.path), 60, "saving")
        return nbformat.read(self.path, as_version=4)


def last_cell_has_run(path):
    """Return whether the file holds the count of its last cell of code."""
    try:
        book = nbformat.read(path, as_version=4)
    except nbformat.reader.NotJSONError:
        return False  # it is being written at this very moment
    code = [cell for cell in book.cells if cell.cell_type == "code"]
    return code[-1].execution_count is not None
