"""A headless Chromium that meets no network, for what only a browser can show."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
OUTSIDE = re.compile(r"^(?!file:|data:|blob:|about:|(http|ws)://(127\.0\.0\.1|localhost)[:/])")
AXE = "axe-core@4.10.3"  # of the W3C's criteria what a program can check; MPL-2.0, never shipped
CHROMIUM = next((path for name in NAMES if (path := shutil.which(name))), None)


def pytest_collection_modifyitems(items):
    """Leave these tests out where there is no Chromium."""
    reason = pytest.mark.skip(reason="no Chromium here")
    for item in items:
        if HERE in item.path.parents and CHROMIUM is None:
            item.add_marker(reason)


@pytest.fixture(scope="session")
def browser():
    """Start the Chromium of this machine once."""
    from playwright.sync_api import sync_playwright

    sandbox = [] if os.geteuid() else ["--no-sandbox"]  # Chromium refuses to sandbox root
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path=CHROMIUM, args=[*sandbox, "--disable-dev-shm-usage"]
        )
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def axe(tmp_path_factory):
    """Return the script of the accessibility checker axe-core, fetched for these tests alone."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("no npm here to fetch axe-core with")
    folder = tmp_path_factory.mktemp("axe")
    fetch = [npm, "install", "--no-save", "--no-audit", "--no-fund", "--ignore-scripts"]
    try:
        done = subprocess.run(
            [*fetch, AXE],
            cwd=folder,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
            timeout=90,
        )
    except subprocess.TimeoutExpired:
        pytest.skip("axe-core could not be fetched within 90 s")
    script = folder / "node_modules" / "axe-core" / "axe.min.js"
    if done.returncode or not script.is_file():
        pytest.skip(f"axe-core could not be fetched: {done.stderr[-200:]}")
    return script.read_text("utf-8")


class Watched:
    """A page with what it asked of the network and what it complained about."""

    def __init__(self, page):
        self.page = page
        self.outside = []
        self.complaints = []
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("console", self._heard)
        page.route(OUTSIDE, self._asked)

    def _heard(self, message):
        if message.type == "error":
            self.complaints.append(message.text)

    def _asked(self, route):
        self.outside.append(route.request.url)
        route.abort()


@pytest.fixture
def watched(browser):
    """Return a page of a meeting room's size, watched."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    yield Watched(context.new_page())
    context.close()


@pytest.fixture(scope="session")
def demo_trial(tmp_path_factory):
    """Return the folder of the demo trial, made as the README says."""
    folder = tmp_path_factory.mktemp("demo") / "my_trials"
    done = subprocess.run(
        [sys.executable, "-m", "workbench", "demo", str(folder)],
        capture_output=True,
        text=True,
        check=False,
        timeout=400,  # the window is sought in earnest; half a minute on an idle machine
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return folder / "lid_seal"
