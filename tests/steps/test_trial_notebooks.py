"""The notebooks of a trial folder: they open it at every stage and say what is missing."""

import ast
import shutil

import nbformat
import pytest
from nbclient import NotebookClient

import workbench as wb
from workbench.errors import Unavailable
from workbench.steps.new import put_notebooks, start_trial

NAMES = ("plan_this_trial.ipynb", "read_this_trial.ipynb")


def code_of(path):
    notebook = nbformat.read(path, as_version=4)
    return [cell.source for cell in notebook.cells if cell.cell_type == "code"]


def run_cells(path, monkeypatch):
    """Run the cells of a notebook in its folder; return what each shows."""
    monkeypatch.chdir(path.parent)
    shown = []
    names = {"display": shown.append, "print": lambda *words: shown.append(" ".join(words))}
    for source in code_of(path):
        tree = ast.parse("\n".join(li for li in source.splitlines() if not li.startswith("%")))
        last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
        exec(compile(tree, path.name, "exec"), names)  # noqa: S102 - our own cells
        if last is not None:
            value = eval(compile(ast.Expression(last.value), path.name, "eval"), names)  # noqa: S307 - our own cells
            shown.append(value)
    return shown


def reasons(shown):
    return [one.reason for one in shown if isinstance(one, Unavailable)]


@pytest.fixture
def started(tmp_path):
    start_trial(tmp_path / "seal", "bead-seal")
    return tmp_path / "seal"


@pytest.fixture
def demo(tmp_path):
    copy = shutil.copytree(wb.files.demo_folder("lid_seal"), tmp_path / "lid_seal")
    put_notebooks(copy)
    return copy


@pytest.mark.parametrize("name", NAMES)
def test_they_are_valid_short_and_headed_by_the_trial(started, name):
    notebook = nbformat.read(started / name, as_version=4)
    nbformat.validate(notebook)
    assert "Bead seal" in notebook.cells[0].source
    assert "seals without squeezing out?" in notebook.cells[0].source
    kinds = [cell.cell_type for cell in notebook.cells]
    assert kinds.count("code") <= 15
    for i, cell in enumerate(notebook.cells):
        if cell.cell_type == "code":
            assert len(cell.source.splitlines()) < 10
            assert kinds[i - 1] == "markdown"
    nodes = list(ast.walk(ast.parse("\n".join(code_of(started / name)).replace("%load", "#"))))
    assert not [n for n in nodes if isinstance(n, ast.FunctionDef | ast.ClassDef | ast.Lambda)]


def test_words_of_a_trial_are_shown_as_they_are():
    pages = wb.files.trial_notebooks("<b>*seal*</b>\n# [x](y) @QUESTION@", "a `b` $c$")
    for text in pages.values():
        head = nbformat.reads(text, as_version=4).cells[0].source
        assert "\\<b\\>\\*seal\\*\\</b\\> \\# \\[x\\](y) @QUESTION@" in head
        assert "a \\`b\\` \\$c\\$" in head


def test_a_new_trial_shows_what_is_asked_and_says_what_is_missing(started, monkeypatch):
    plan = run_cells(started / NAMES[0], monkeypatch)
    assert any(isinstance(one, wb.define.Trial) for one in plan)
    assert "- share: how many of the new parts must meet everything?" in plan
    assert any("Silicone cure vapour" in str(one) for one in plan)
    assert any("licensed practice" in str(one) for one in plan)
    assert [one for one in reasons(plan) if "workbench plan DIR --take NAME" in one]
    read = run_cells(started / NAMES[1], monkeypatch)
    assert "no run has a result yet" in reasons(read)[0]
    assert len(reasons(read)) == 6  # seen, effects, model, residuals, window, ladder


def test_a_trial_toml_with_a_mistake_is_told_and_raises_nothing(started, monkeypatch):
    path = started / "trial.toml"
    path.write_text(path.read_text("utf-8").replace('unit = "mm/s"', 'unit = "mms"'), "utf-8")
    for name in NAMES:
        assert run_cells(started / name, monkeypatch)
    path.write_text("title = ", "utf-8")
    for name in NAMES:
        assert any("trial.toml" in one for one in reasons(run_cells(started / name, monkeypatch)))


def test_a_plan_without_results_is_shown(demo, monkeypatch):
    shown = run_cells(demo / NAMES[0], monkeypatch)
    assert len(shown[-1]) == 30
    assert (
        "No run of this trial has a result yet"
        in reasons(run_cells(demo / NAMES[1], monkeypatch))[1]
    )


def test_with_results_every_cell_has_something_to_show(demo, monkeypatch):
    wb.steps.take_table(demo, demo / "results_as_typed.csv", who="Mira Osei")
    shown = run_cells(demo / NAMES[1], monkeypatch)
    assert reasons(shown) == []
    kinds = [type(one).__name__ for one in shown]
    assert kinds.count("Figure") == 2 * 3 + 1
    assert kinds.count("Decision") == 1
    assert sorted(path.name for path in demo.iterdir() if path.suffix == ".html") == []


def test_without_share_the_window_asks_for_it(demo, monkeypatch):
    path = demo / "trial.toml"
    path.write_text(path.read_text("utf-8").replace("share = 0.95", ""), "utf-8")
    wb.steps.take_table(demo, demo / "results_as_typed.csv", who="Mira Osei")
    told = reasons(run_cells(demo / NAMES[1], monkeypatch))
    assert len(told) == 2
    assert all("share" in one for one in told)


@pytest.mark.parametrize("name", NAMES)
def test_a_kernel_runs_them_in_the_folder(started, name):
    notebook = nbformat.read(started / name, as_version=4)
    where = {"metadata": {"path": str(started)}}
    NotebookClient(notebook, timeout=120, kernel_name="python3", resources=where).execute()
    assert "Cannot be told" in str(notebook.cells)
    # A caution stands as a block of its own, not as a line of print.
    assert ('class="caution"' in str(notebook.cells)) == (name == NAMES[0])
