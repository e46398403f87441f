"""JupyterLab runs notebooks from top to bottom and shows panels, as a user would see them."""

import importlib.util
import shutil
import sys
from pathlib import Path

import nbformat
import pytest

import workbench as wb

pytestmark = [pytest.mark.browser, pytest.mark.slow]

HERE = Path(__file__).parent
NOTEBOOKS = HERE.parents[1] / "notebooks"
SHOWN = ("lid_seal_whole_job.ipynb", "pull_tests_that_stop_early.ipynb")
BENCH = "bench.ipynb"
CELLS = (
    "%load_ext workbench\nimport workbench as wb",
    'wb.jupyter.record_panel("plate_bond", who="Mira")',
    'wb.jupyter.planning_panel("plate_bond")',
)


def sibling(name):
    """Return a module that stands beside this one."""
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, HERE / f"{name}.py")
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return the folder that is served: notebooks without outputs, and a trial to record."""
    served = tmp_path_factory.mktemp("lab") / "served"
    served.mkdir()
    for name in SHOWN:
        nbformat.write(_blank(nbformat.read(NOTEBOOKS / name, as_version=4)), served / name)
    bench = nbformat.v4.new_notebook(
        cells=[nbformat.v4.new_code_cell(one) for one in CELLS],
        metadata={"kernelspec": {"name": "python3", "display_name": "Python 3"}},
    )
    nbformat.write(bench, served / BENCH)
    source = wb.files.demo_folder("plate_bond")
    (served / "plate_bond").mkdir()
    for name in ("trial.toml", "plan.csv", "plan.toml"):
        shutil.copy(source / name, served / "plate_bond" / name)
    return served


def _blank(book):
    for cell in book.cells:
        if cell.cell_type == "code":
            cell.outputs, cell.execution_count = [], None
    return book


@pytest.fixture(scope="module")
def base(folder):
    with sibling("lab_page").lab(folder) as address:
        yield address


@pytest.fixture
def opened(watched, base, folder):
    """Return what opens a notebook; its kernel is stopped afterwards."""

    def one(name):
        shown = sibling("lab_page").LabPage(watched, base, folder / name)
        shown.open()
        return shown

    yield one
    sibling("lab_page").stop_kernels(base)


@pytest.mark.parametrize("name", SHOWN)
def test_a_notebook_runs_from_top_to_bottom(watched, opened, name):
    shown = opened(name)
    book = nbformat.read(shown.path, as_version=4)
    shown.run_all(sum(cell.cell_type == "code" for cell in book.cells))
    seen = shown.saved()
    drawn = shown.page.locator(".js-plotly-plot, .plot-img").count()
    outputs = [o for c in seen.cells if c.cell_type == "code" for o in c.outputs]
    assert [o for o in outputs if o.output_type == "error"] == []
    assert [o for o in outputs if o.get("name") == "stderr"] == []
    assert drawn >= 1
    assert watched.outside == []


def test_panels_are_shown_and_the_record_outlives_its_kernel(watched, opened, folder):
    shown = opened(BENCH)
    page = shown.page
    shown.run_all(3)
    page.locator(".wb-planning .wb-plans tbody tr").first.wait_for(timeout=120_000)
    cell = page.get_by_label("push-off force in N, run 1", exact=True)
    cell.wait_for(timeout=60_000)
    cell.focus()
    for value in ("81,5", "77", ">250"):
        page.keyboard.type(value)
        page.keyboard.press("Enter")
    page.get_by_text("3 of 51 runs made").wait_for(timeout=60_000)
    # "d d" and the like are shortcuts of the notebook: what is typed in a cell is for the cell.
    note = page.get_by_label("note, run 1", exact=True)
    note.fill("")
    note.press_sequentially("dd abxm")
    page.keyboard.press("Enter")
    shown.until(lambda: "dd abxm" in _journal(folder), 60, "writing the note")
    assert page.locator(".jp-Notebook .jp-Cell").count() == 3
    page.locator(".wb-record").evaluate("panel => panel.setAttribute('data-before', 'yes')")
    shown.menu("Kernel", "Restart Kernel and Run All Cells…")
    page.locator(".jp-Dialog-footer button").last.click()
    new = page.locator(".wb-record:not([data-before])")
    new.wait_for(timeout=120_000)
    assert page.locator(".wb-record").count() == 1
    cell = new.get_by_label("push-off force in N, run 3", exact=True)
    assert cell.input_value() == ">250"
    new.get_by_label("push-off force in N, run 4", exact=True).focus()
    page.keyboard.type("66")
    page.keyboard.press("Enter")
    page.get_by_text("4 of 51 runs made").wait_for(timeout=60_000)
    record = wb.steps.open_trial(folder / "plate_bond").record
    force = record.readings["push-off force"]
    assert force.value.tolist() == [81.5, 77.0, 250.0, 66.0]
    assert force.mark.tolist() == [0, 0, 1, 0]
    assert watched.outside == []
    assert [one for one in watched.complaints if "workbench" in one or "panel" in one] == []


def _journal(folder):
    files = (folder / "plate_bond" / "results").glob("*.jsonl")
    return "".join(one.read_text("utf-8") for one in files)
