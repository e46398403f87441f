"""The record panel in a browser: typed, pasted, corrected, by keyboard alone, on a tablet."""

import importlib.util
import shutil
import sys
from pathlib import Path

import pytest

import workbench as wb
from workbench.jupyter.record_desk import RecordDesk

pytestmark = pytest.mark.browser

HERE = Path(__file__).parent
FORCE = "push-off force (N)"


def sibling(name):
    """Return a module that stands beside this one."""
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, HERE / f"{name}.py")
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name]


@pytest.fixture
def folder(tmp_path):
    source = wb.files.demo_folder("plate_bond")
    made = tmp_path / "plate_bond"
    made.mkdir()
    for name in ("trial.toml", "plan.csv", "plan.toml"):
        shutil.copy(source / name, made / name)
    return made


@pytest.fixture
def panel(watched, folder):
    desk = RecordDesk(folder)
    state = {"sheet": desk.sheet(), "who": "Mira"}
    return sibling("panel_page").PanelPage(watched, desk, "record.js", state=state)


def box(page, label, run):
    return page.get_by_label(f"{label}, run {run}", exact=True)


def readings(folder, outcome="push-off force"):
    found = wb.steps.open_trial(folder).record.readings[outcome]
    return dict(zip((found.row + 1).tolist(), found.value.tolist(), strict=True))


def written(page, what="written"):
    page.wait_for_function(
        "what => document.querySelector('.wb-saved').textContent.includes(what)"
        " && !document.querySelector('[data-stands=sending]')",
        arg=what,
        timeout=20_000,
    )


def paste(page, words):
    page.evaluate(
        """words => {
          const data = new DataTransfer();
          data.setData('text/plain', words);
          document.activeElement.dispatchEvent(
            new ClipboardEvent('paste', {clipboardData: data, bubbles: true, cancelable: true}));
        }""",
        words,
    )


def test_thirty_runs_typed_and_pasted_are_in_the_journal(panel, folder):
    page = panel.show()
    box(page, "push-off force in N", 1).focus()
    for run in range(1, 16):
        page.keyboard.type(f"{80 + run},5" if run % 2 else f"{80 + run}")
        page.keyboard.press("Enter")
    written(page)
    block = "\n".join(f"{60 + run}\t{run}.5\tclean" for run in range(16, 31))
    box(page, "push-off force in N", 16).focus()
    paste(page, block)
    written(page, "45 entries written")
    expected = {run: 80.0 + run + 0.5 * (run % 2) for run in range(1, 16)}
    assert readings(folder) == expected | {run: 60.0 + run for run in range(16, 31)}
    assert readings(folder, "time to hold")[30] == 30.5
    assert "30 of" in page.locator(".wb-count").inner_text()
    # The cell is run again, as after a restart of the kernel: all of it is still there.
    panel.state["sheet"] = RecordDesk(folder).sheet()
    page = panel.show()
    assert box(page, "push-off force in N", 3).input_value() == "83.5"
    assert box(page, "whitening", 30).input_value() == "clean"


def test_a_kernel_that_does_not_answer_is_said_and_nothing_counts_as_entered(panel, folder):
    page = panel.show()
    panel.is_up = False
    box(page, "push-off force in N", 1).focus()
    page.keyboard.type("81")
    page.keyboard.press("Enter")
    alert = page.get_by_text("The kernel does not answer")
    alert.wait_for(timeout=15_000)
    assert "Not in the journal yet: run 1, push-off force (N): 81" in alert.inner_text()
    assert readings(folder) == {}
    assert "…" in page.locator("tr[data-run='1'] td.wb-reading .wb-mark").first.inner_text()


def test_a_correction_is_asked_its_reason_by_keyboard_alone(panel, folder):
    page = panel.show()
    first = box(page, "push-off force in N", 1)
    first.focus()
    page.keyboard.type("81")
    page.keyboard.press("Enter")
    written(page)
    page.keyboard.press("ArrowUp")
    page.keyboard.type("18")
    page.keyboard.press("Enter")
    page.get_by_label("Reason", exact=True).wait_for()
    page.wait_for_function("document.activeElement.id.startsWith('wb-reason')")
    assert readings(folder) == {1: 81.0}
    page.keyboard.press("Escape")
    assert first.input_value() == "81"
    page.keyboard.type("18")
    page.keyboard.press("Enter")
    page.wait_for_function("document.activeElement.id.startsWith('wb-reason')")
    page.keyboard.type("digits swapped")
    page.keyboard.press("Enter")
    written(page, "1 entry written")
    assert readings(folder) == {1: 18.0}
    assert wb.steps.open_trial(folder).record.corrections[0].reason == "digits swapped"


def test_keys_move_and_escape_restores(panel, folder):
    page = panel.show()
    box(page, "push-off force in N", 1).focus()
    where = "document.activeElement.getAttribute('aria-label')"
    for key, expected in (
        ("ArrowDown", "push-off force in N, run 2"),
        ("ArrowRight", "time to hold in s, run 2"),
        ("Tab", "whitening, run 2"),
        ("Shift+Tab", "time to hold in s, run 2"),
        ("ArrowUp", "time to hold in s, run 1"),
        ("Enter", "time to hold in s, run 2"),
        ("Shift+Enter", "time to hold in s, run 1"),
    ):
        page.keyboard.press(key)
        assert page.evaluate(where) == expected
    page.keyboard.type("9")
    page.keyboard.press("Escape")
    assert box(page, "time to hold in s", 1).input_value() == ""
    assert readings(folder, "time to hold") == {}


def test_what_is_wrong_or_odd_stands_beside_its_cell(panel, folder):
    page = panel.show()
    box(page, "push-off force in N", 1).focus()
    page.keyboard.type("lots")
    page.keyboard.press("Enter")
    page.locator(".wb-alert", has_text="'lots' is not a number").wait_for()
    assert box(page, "push-off force in N", 1).get_attribute("aria-invalid") == "true"
    assert readings(folder) == {}
    drop = box(page, "drop volume as run in µL", 1)
    drop.focus()
    page.keyboard.type("12")
    page.keyboard.press("Enter")
    page.locator("tr[data-run='1'] td[data-stands='check']").first.wait_for()
    assert "plan 6" in page.locator("tr[data-run='1'] td").first.inner_text()
    assert page.locator(".wb-findings li", has_text="off plan").count() == 1


def test_timers_run_and_ring(panel, watched):
    page = panel.show()
    page.clock.install()
    page = panel.show()
    page.get_by_role("button", name="Start press time, 10 s").click()
    page.clock.run_for(3_000)
    assert "press time, run 1: 0:0" in page.locator(".wb-timers").inner_text()
    page.clock.run_for(8_000)
    assert "press time of run 1 is over (10 s)" in page.locator(".wb-rung").inner_text()
    assert watched.complaints == []


def test_made_now_is_the_time_of_the_bench(panel, folder):
    page = panel.show()
    page.get_by_role("button", name="Run 1 made now").click()
    written(page)
    assert wb.steps.open_trial(folder).record.made_at[0] != ""
    page.get_by_role("button", name="Run 1 made now").wait_for(state="detached")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_it_is_whole_and_open_to_all_on_a_tablet(panel, watched, axe, theme):
    watched.page.set_viewport_size({"width": 800, "height": 1100})
    page = panel.show(theme)
    box(page, "push-off force in N", 1).focus()
    page.keyboard.type("x")
    page.keyboard.press("Enter")
    page.locator(".wb-alert", has_text="'x' is not a number").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 800
    assert sibling("panel_page").barriers(page, axe) == []
    assert watched.outside == []
    assert watched.complaints == []
