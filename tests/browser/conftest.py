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
        timeout=120,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return folder / "lid_seal"
