"""Notebooks are read by people: short cells, words before each, no functions of their own."""

import ast
import importlib.util
from pathlib import Path

import nbformat
import pytest

pytestmark = pytest.mark.architecture

FOLDER = Path(__file__).parents[2] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
MOST_CODE_CELLS = 15
MOST_LINES = 9


def refresh_script():
    spec = importlib.util.spec_from_file_location("refresh", FOLDER / "refresh.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(params=NOTEBOOKS, ids=lambda path: path.stem)
def notebook(request):
    return nbformat.read(request.param, as_version=4)


def code_cells(notebook):
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def test_there_is_one():
    assert [path.name for path in NOTEBOOKS] == [
        "choose_a_plan.ipynb",
        "evidence.ipynb",
        "find_the_window.ipynb",
        "lid_seal_whole_job.ipynb",
        "no_window_what_next.ipynb",
        "pass_or_fail.ipynb",
        "prove_it_and_hand_it_over.ipynb",
        "pull_tests_that_stop_early.ipynb",
        "set_once_per_load.ipynb",
        "take_results.ipynb",
        "what_matters.ipynb",
    ]


def test_cells_are_few_and_short(notebook):
    cells = code_cells(notebook)
    assert 0 < len(cells) <= MOST_CODE_CELLS
    for cell in cells:
        assert len(cell.source.splitlines()) <= MOST_LINES, cell.source


def test_words_stand_before_every_cell(notebook):
    kinds = [cell.cell_type for cell in notebook.cells]
    for number, kind in enumerate(kinds):
        if kind == "code":
            assert kinds[number - 1] == "markdown", notebook.cells[number].source


def test_it_defines_nothing_and_uses_the_public_names(notebook):
    lines = "\n".join(cell.source for cell in code_cells(notebook)).splitlines()
    source = "\n".join(line for line in lines if not line.startswith("%"))
    nodes = list(ast.walk(ast.parse(source)))
    assert not [n for n in nodes if isinstance(n, ast.FunctionDef | ast.ClassDef | ast.Lambda)]
    names = [a.name for n in nodes if isinstance(n, ast.Import) for a in n.names]
    assert "workbench" in names
    assert not [
        n for n in nodes if isinstance(n, ast.ImportFrom) and "workbench" in (n.module or "")
    ]


def test_it_is_stored_as_run_from_top_to_bottom(notebook):
    assert refresh_script().has_outputs(notebook)
    assert notebook.metadata.kernelspec.name == "python3"
    assert "widgets" not in notebook.metadata
    assert "language_info" not in notebook.metadata
