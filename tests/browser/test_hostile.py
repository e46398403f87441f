"""A trial by somebody who means harm, opened in a browser: nothing runs, nothing is fetched."""

import importlib.util
import sys
from pathlib import Path

import pytest

from workbench.jupyter.record_desk import RecordDesk
from workbench.jupyter.renderers import markup
from workbench.steps.reporting import write_report
from workbench.steps.sheets import write_sheet
from workbench.steps.trials import open_trial

pytestmark = pytest.mark.browser

PLACE = Path(__file__).parents[1] / "security" / "hostile.py"


@pytest.fixture(scope="module")
def hostile(tmp_path_factory):
    """Return the hostile trial with its sheet, its report and what a notebook shows of it."""
    if "hostile_trial" not in sys.modules:
        spec = importlib.util.spec_from_file_location("hostile_trial", PLACE)
        sys.modules["hostile_trial"] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules["hostile_trial"])
    folder = sys.modules["hostile_trial"].make(tmp_path_factory.mktemp("hostile") / "trial")
    write_sheet(folder)
    opened = open_trial(folder)
    write_report(opened, share=None, confidence=None)
    shown = "".join(markup(one) for one in (opened.trial, opened.plan, opened.record))
    page = f'<!doctype html><meta charset="utf-8"><title>cells</title>{shown}'
    (folder / "cells.html").write_text(page, encoding="utf-8")
    return folder


@pytest.mark.parametrize("name", ["run_sheet.html", "report.html", "cells.html"])
def test_nothing_of_a_stranger_runs_in_a_page(watched, hostile, name):
    dialogs = []
    watched.page.on("dialog", lambda one: (dialogs.append(one.message), one.dismiss()))
    watched.page.goto((hostile / name).as_uri())
    watched.page.wait_for_timeout(1500)
    assert dialogs == []
    assert watched.outside == []
    assert watched.complaints == []
    assert _made_of_data(watched.page) == []
    assert "<img src=x" in watched.page.evaluate("document.body.innerText") or name != "cells.html"


def test_nothing_of_a_stranger_runs_in_a_panel(watched, hostile):
    dialogs = []
    watched.page.on("dialog", lambda one: (dialogs.append(one.message), one.dismiss()))
    shown = _panel(watched, hostile)
    page = shown.show()
    page.wait_for_timeout(800)
    assert page.locator("tr[data-run]").count() > 0
    assert "<" in page.evaluate("document.body.innerText")
    assert _made_of_data(page) == []
    assert (dialogs, watched.outside, watched.complaints) == ([], [], [])


def _panel(watched, folder):
    place = Path(__file__).parent / "panel_page.py"
    spec = importlib.util.spec_from_file_location("panel_page", place)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    desk = RecordDesk(folder)
    state = {"sheet": desk.sheet(), "who": "<b>Mira</b>"}
    return module.PanelPage(watched, desk, "record.js", state=state)


def _made_of_data(page):
    """Return elements that only the words of a stranger could have made."""
    return page.evaluate(
        "[...document.querySelectorAll('*')].filter(one =>"
        " [...one.attributes].some(a => /^on/i.test(a.name))"
        " || /^javascript:/i.test(one.getAttribute('href') || '')"
        " || ['IFRAME', 'OBJECT', 'EMBED', 'BASE'].includes(one.tagName)"
        " || (one.tagName == 'IMG' && one.getAttribute('src') == 'x')).map(one => one.outerHTML)"
    )
