"""No text from a file is ever evaluated, and no object is ever loaded from one."""

import ast
from pathlib import Path

import pytest

import workbench
from workbench import files
from workbench.define.algebra import parse_terms
from workbench.define.factors import Continuous
from workbench.errors import WorkbenchError

PACKAGE = Path(workbench.__file__).parent
FORBIDDEN_CALLS = {"eval", "exec", "compile", "__import__", "execfile", "literal_eval"}
FORBIDDEN_MODULES = {"pickle", "cPickle", "dill", "joblib", "marshal", "shelve", "subprocess"}
FORBIDDEN_MODULES |= {"ctypes", "socket", "urllib", "http", "requests", "ftplib", "smtplib"}
FORBIDDEN_ATTRIBUTES = {
    ("os", "system"),
    ("os", "popen"),
    ("yaml", "load"),
    ("yaml", "unsafe_load"),
    ("yaml", "full_load"),
    ("pd", "eval"),
    ("pd", "read_pickle"),
    ("np", "load"),
    ("np", "fromfile"),
}
# The one place that starts a program: our own interpreter, with a list of words and no shell.
STARTS_JUPYTER = PACKAGE / "steps" / "opening.py"


def sources():
    found = sorted(PACKAGE.rglob("*.py"))
    assert len(found) > 200
    return found


def name_of(call):
    where = call.func
    if isinstance(where, ast.Name):
        return "", where.id
    if isinstance(where, ast.Attribute):
        return (where.value.id if isinstance(where.value, ast.Name) else "", where.attr)
    return "", ""


def imported(node):
    if isinstance(node, ast.Import):
        return {one.name.partition(".")[0] for one in node.names}
    if isinstance(node, ast.ImportFrom) and node.module:
        return {node.module.partition(".")[0]}
    return set()


def is_forbidden(call):
    owner, name = name_of(call)
    is_bare = owner in ("", "builtins") and name in FORBIDDEN_CALLS
    # re.compile and the like are no compile() of Python.
    return (isinstance(call.func, ast.Name) and is_bare) or (owner, name) in FORBIDDEN_ATTRIBUTES


def starts_program(call):
    owner, name = name_of(call)
    return owner == "os" and name.startswith(("exec", "spawn", "posix_spawn", "startfile"))


def test_the_package_has_no_call_that_could_run_a_text():
    found = []
    for path in sources():
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and is_forbidden(node):
                found.append(f"{path}:{node.lineno} {name_of(node)}")
            if imported(node) & FORBIDDEN_MODULES:
                found.append(f"{path}:{node.lineno} {imported(node)}")
            if isinstance(node, ast.Call) and any(
                keyword.arg == "shell" for keyword in node.keywords
            ):
                found.append(f"{path}:{node.lineno} shell=")
    assert found == []


def test_a_program_is_started_in_one_place_only():
    found = {
        path
        for path in sources()
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call) and starts_program(node)
    }
    assert found == {STARTS_JUPYTER}


@pytest.mark.parametrize(
    "text",
    [
        "__import__('os').system('touch owned')",
        "dwell; import os",
        "dwell * (lambda: 1)()",
        "dwell^2**99999999",
        "{dwell.__class__.__mro__}",
        "exec('1')",
        "dwell[0]",
        "dwell if dwell else dwell",
        "f'{dwell}'",
        "`touch owned`",
        "$(touch owned)",
    ],
)
def test_a_model_is_read_letter_by_letter(text, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    factors = (Continuous(name="dwell", low=1, high=2, unit="s", setting_sd=0),)
    with pytest.raises(WorkbenchError):
        parse_terms(text, factors)
    assert list(tmp_path.iterdir()) == []


def test_code_in_names_is_a_name(hostile, tmp_path, monkeypatch):
    import hostile_trial

    monkeypatch.chdir(tmp_path)
    trial = files.read_trial(hostile)
    assert trial.outcomes[0].name == hostile_trial.FORCE
    assert hostile_trial.CODE in trial.outcomes[0].name
    assert trial.factors[1].levels == hostile_trial.LEVELS
    assert list(tmp_path.iterdir()) == []


def test_code_in_cells_is_no_number(tmp_path):
    table = tmp_path / "t.csv"
    table.write_text("run,pull\n1,__import__('os').system('touch owned')\n2,=1+1\n")
    raw = files.read_table(table)
    assert [cell.text for cell in raw.column("pull")][1] == "=1+1"
    assert all(cell.number is None for cell in raw.column("pull"))


@pytest.mark.parametrize(
    "tag",
    ["!!python/object/apply:os.system ['touch owned']", "!!python/name:os.system"],
)
def test_yaml_of_the_evidence_makes_no_objects(tag):
    import yaml

    with pytest.raises(yaml.YAMLError):
        yaml.safe_load(f"a: {tag}")
    source = (PACKAGE / "files" / "evidence.py").read_text("utf-8")
    assert "safe_load" in source
