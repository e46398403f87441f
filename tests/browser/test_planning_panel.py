"""The planning panel in a browser: from the form to the file, by keyboard, seen by all."""

import importlib.util
import shutil
import sys
from pathlib import Path

import pytest

import workbench as wb
from workbench.jupyter.planning_desk import PlanningDesk

pytestmark = pytest.mark.browser

HERE = Path(__file__).parent
PATIENCE = 60_000  # ms; comparing plans takes seconds, more on a busy machine


def sibling(name):
    """Return a module that stands beside this one."""
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, HERE / f"{name}.py")
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name]


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "lid_seal"
    made.mkdir()
    shutil.copy(wb.files.demo_folder("lid_seal") / "trial.toml", made / "trial.toml")
    return made


@pytest.fixture
def panel(watched, folder):
    desk = PlanningDesk(folder)
    given = {"form": desk.form()}
    return sibling("panel_page").PanelPage(watched, desk, "planning.js", state=given, shared=())


def section(page, name):
    return page.locator("fieldset.wb-section", has=page.get_by_text(name, exact=True)).first


def test_a_form_filled_by_keyboard_becomes_the_file_and_its_plan(panel, folder):
    page = panel.show()
    low = section(page, "bead volume").get_by_label("low", exact=True)
    low.focus()
    page.keyboard.press("Control+a")
    page.keyboard.type("lots")
    wrong = section(page, "bead volume").locator(".wb-is-wrong")
    wrong.wait_for(timeout=PATIENCE)
    assert "'lots' is not a number" in wrong.inner_text()
    assert low.get_attribute("aria-invalid") == "true"
    page.keyboard.press("Control+a")
    page.keyboard.type("262,5")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.labels[0].textContent") == "high"
    wrong.wait_for(state="detached", timeout=PATIENCE)
    page.locator(".wb-plans tbody tr").first.wait_for(timeout=PATIENCE)
    page.get_by_role("button", name="Write trial.toml").press("Enter")
    page.get_by_text("trial.toml written").wait_for(timeout=PATIENCE)
    text = (folder / "trial.toml").read_text("utf-8")
    assert wb.files.read_trial(folder).factors[0].low == 262.5
    assert "# from 20 weighed beads" in text
    page.get_by_role("button", name="fraction-8-centre-3", exact=True).first.click()
    page.get_by_role("button", name="Take fraction-8-centre-3").click()
    page.get_by_text("plan.csv and plan.toml are written").wait_for(timeout=PATIENCE)
    assert len(wb.files.read_plan(folder, wb.files.read_trial(folder))) == 11


def test_a_change_on_the_disk_is_shown_or_asked_about(panel, folder):
    page = panel.show()
    page.clock.install()
    page = panel.show()
    path = folder / "trial.toml"
    path.write_text(path.read_text("utf-8").replace("low = 260.0", "low = 270.0"), "utf-8")
    page.clock.run_for(6_000)
    page.get_by_text("is shown anew").wait_for(timeout=PATIENCE)
    high = section(page, "bead volume").get_by_label("high", exact=True)
    high.fill("430")
    path.write_text(path.read_text("utf-8").replace("low = 270.0", "low = 280.0"), "utf-8")
    page.get_by_role("button", name="Write trial.toml").click()
    page.get_by_text("low was 270, is 280").first.wait_for(timeout=PATIENCE)
    assert "low = 280.0" in path.read_text("utf-8")
    page.get_by_role("button", name="Write this form and undo that change").click()
    page.get_by_text("trial.toml written").wait_for(timeout=PATIENCE)
    trial = wb.files.read_trial(folder)
    assert (trial.factors[0].low, trial.factors[0].high) == (270, 430)


def test_a_factor_is_added_and_removed(panel):
    page = panel.show()
    page.get_by_role("button", name="Add a factor").click()
    page.keyboard.type("primer time")
    added = section(page, "primer time")
    assert added.get_by_label("kind").input_value() == "continuous"
    added.get_by_label("kind").select_option("categorical")
    assert added.get_by_label("low", exact=True).is_hidden()
    assert added.get_by_label("levels").is_visible()
    page.get_by_role("button", name="Remove primer time").click()
    assert page.locator("fieldset.wb-section").filter(has_text="primer time").count() == 0


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_it_is_whole_and_open_to_all_on_a_tablet(panel, watched, axe, theme):
    watched.page.set_viewport_size({"width": 800, "height": 1100})
    page = panel.show(theme)
    page.locator(".wb-plans tbody tr").first.wait_for(timeout=PATIENCE)
    assert page.evaluate("document.documentElement.scrollWidth") <= 800
    assert sibling("panel_page").barriers(page, axe) == []
    assert watched.outside == []
    assert watched.complaints == []
