"""plan.csv and plan.toml: there and back the same, edits noticed, slips named and placed."""

import csv

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import workbench as wb
from workbench.define import Categorical, Continuous, Measured, Stepped, Trial
from workbench.errors import FileError, WorkbenchError

ODD = st.text(st.characters(codec="utf-8", exclude_categories=["C"]), min_size=1, max_size=8)
RESERVED = ("run", "block", "setup", "part", "reading", "status", "reason", "pull")


def trial_of(*factors, **more):
    pull = Measured(name="pull", unit="N")
    return Trial(title="made up", question="?", factors=factors, outcomes=(pull,), **more)


def number(name, low=0.1, high=0.7, unit="mm³"):
    return Continuous(name=name, low=low, high=high, unit=unit, setting_sd=0)


def assert_same(one, other):
    np.testing.assert_array_equal(one.settings.values, other.settings.values)
    assert one.settings.factors == other.settings.factors
    for name in ("block", "setup", "standard"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    assert (one.point, one.terms, one.recipe) == (other.point, other.terms, other.recipe)
    assert one.parts_per_run == other.parts_per_run


@pytest.fixture
def written(tmp_path):
    trial = trial_of(
        number("bead volume", 1, 11), number("C"), Categorical(name="tip", levels=("flat", "=A1"))
    )
    plan = wb.plan.composite(trial, seed=7, axial="face")
    wb.files.write_plan(tmp_path, plan)
    return tmp_path, trial, plan


def edit(folder, old, new, name="plan.csv"):
    text = (folder / name).read_text("utf-8")
    assert old in text
    (folder / name).write_text(text.replace(old, new, 1), "utf-8")


def rows_of(folder):
    with (folder / "plan.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def test_a_plan_comes_back_as_it_was(written):
    folder, trial, plan = written
    assert_same(wb.files.read_plan(folder, trial), plan)
    heading = rows_of(folder)[0]
    assert heading == ["run", "block", "setup", "point", "bead volume (mm³)", "C (mm³)", "tip"]


def test_no_plan_is_none(tmp_path):
    assert wb.files.read_plan(tmp_path, trial_of(number("x"))) is None


def test_no_cell_is_a_formula(written):
    folder, _, _ = written
    cells = {cell for row in rows_of(folder) for cell in row}
    assert "'=A1" in cells
    assert not any(cell.startswith(("=", "+", "@")) for cell in cells)


names = ODD.map(str.strip).filter(lambda name: name and name not in RESERVED)
levels = st.one_of(
    names, st.sampled_from(["=1+1", "+x", "-y", "@z", "'=q", "'", "''a", '"', "a,b", "a;b"])
)


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(
    called=st.lists(names, min_size=3, max_size=3, unique=True),
    low=st.floats(-1e6, 1e6),
    span=st.floats(1e-6, 1e6),
    words=st.lists(levels, min_size=2, max_size=3, unique=True),
    seed=st.integers(0, 2**63 - 1),
    centre=st.integers(1, 2),
)
def test_there_and_back_is_exact(tmp_path_factory, called, low, span, words, seed, centre):
    factors = (
        number(called[0], low, low + span),
        number(called[1]),
        Categorical(name=called[2], levels=tuple(words)),
    )
    trial = trial_of(*factors)
    plan = wb.plan.composite(trial, seed=seed, centre_points=centre)
    folder = tmp_path_factory.mktemp("plan")
    wb.files.write_plan(folder, plan)
    assert_same(wb.files.read_plan(folder, trial), plan)


def test_fractions_blocks_and_setups_come_back(tmp_path):
    dial = Stepped(name="dial", steps=(1, 2, 3.5), unit="V", setting_sd=0)
    oven = Continuous(name="oven", low=1, high=2, unit="°C", setting_sd=0, slow=True)
    trial = trial_of(oven, dial, number("x"), number("y"), model="oven, dial, x, y, oven * x")
    plan = wb.plan.fraction(trial, seed=2**62 + 1, runs=8, replicates=2, blocks=2)
    wb.files.write_plan(tmp_path, plan)
    back = wb.files.read_plan(tmp_path, trial)
    assert_same(back, plan)
    assert_same(wb.plan.remake(trial, back.recipe), plan)


def test_line_ends_and_a_byte_order_mark_do_no_harm(written):
    folder, trial, plan = written
    data = (folder / "plan.csv").read_bytes()
    (folder / "plan.csv").write_bytes(b"\xef\xbb\xbf" + data.replace(b"\n", b"\r\n"))
    assert_same(wb.files.read_plan(folder, trial), plan)


def test_a_hand_edit_is_noticed_and_named(written):
    folder, trial, plan = written
    row = rows_of(folder)[3]
    edit(folder, ",".join(row), ",".join([*row[:4], "7.25", *row[5:]]))
    was = f"{plan.settings.values[2, 0]:g}"
    words = rf"row 4, 'bead volume' is 7.25 where .* has {was}.*as-run"
    with pytest.raises(FileError, match=words):
        wb.files.read_plan(folder, trial)


def test_lost_and_exchanged_rows_are_noticed(written):
    folder, trial, plan = written
    lines = (folder / "plan.csv").read_text("utf-8").splitlines(keepends=True)
    (folder / "plan.csv").write_text("".join(lines[:-1]), "utf-8")
    words = f"has {len(plan) - 1} runs, the recipe makes {len(plan)}"
    with pytest.raises(FileError, match=words):
        wb.files.read_plan(folder, trial)
    (folder / "plan.csv").write_text("".join([lines[0], lines[2], lines[1], *lines[3:]]), "utf-8")
    with pytest.raises(FileError, match="row 2, column 'run': Run 2 stands where run 1 should"):
        wb.files.read_plan(folder, trial)


@pytest.mark.parametrize(
    ("place", "cell", "words"),
    [
        (4, '"2,5"', r"plan.csv, row 2, column 'bead volume': '2,5' is not a number.*point"),
        (4, "nan", "column 'bead volume': 'nan' is not a number"),
        (4, "", "column 'bead volume': '' is not a number"),
        (6, "knife", "column 'tip': 'knife' is no level.*flat, =A1"),
        (1, "0", "column 'block': '0' is no whole number"),
        (2, "1.5", "column 'setup': '1.5' is no whole number"),
        (0, "one", "column 'run': 'one' is no whole number"),
        (0, "1,1", "row 2: The row has 8 cells, the heading 7"),
    ],
)
def test_cells_that_cannot_be_are_named_by_row_and_column(written, place, cell, words):
    folder, trial, _ = written
    row = rows_of(folder)[1]
    edit(folder, ",".join(row), ",".join([*row[:place], cell, *row[place + 1 :]]))
    with pytest.raises(FileError, match=words):
        wb.files.read_plan(folder, trial)


def test_a_trial_with_other_factors_is_told_from_its_plan(written):
    folder, trial, _ = written
    other = trial_of(number("bead volume", 1, 11), number("D"), trial.factors[2])
    with pytest.raises(FileError, match=r"lacks 'D \(mm³\)' and has 'C \(mm³\)'.*new plan"):
        wb.files.read_plan(folder, other)


@pytest.mark.parametrize("name", ["plan.csv", "plan.toml"])
def test_half_a_plan_is_refused(written, name):
    folder, trial, _ = written
    (folder / name).unlink()
    with pytest.raises(FileError, match=f"{name} is not.*Put {name} back"):
        wb.files.read_plan(folder, trial)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("schema = 1", "schema = 2", "schema 2, this workbench knows schema 1"),
        ("parts_per_run", "parts_per_rum", "'parts_per_rum' is not known.*parts_per_run"),
        ("seed = 7", 'seed = "seven"', "'seven' is not a number"),
        ("standard = [", "standard = [99, ", "no order of"),
        ('"tip"', '"tup"', "'tup', which is no factor"),
        ("[recipe]", "[recipy]", "recipy"),
        ("schema = 1", "schema = ", "plan.toml, line"),
    ],
    ids=str,
)
def test_slips_in_plan_toml_are_named(written, old, new, words):
    folder, trial, _ = written
    edit(folder, old, new, name="plan.toml")
    with pytest.raises(WorkbenchError, match=words) as caught:
        wb.files.read_plan(folder, trial)
    assert "plan.toml" in str(caught.value)


@pytest.mark.parametrize("text", ["", "run,block\n", 'run,"block\n'])
def test_files_that_are_no_plan_are_refused(written, text):
    folder, trial, _ = written
    (folder / "plan.csv").write_text(text, "utf-8")
    with pytest.raises(FileError, match=r"plan\.csv"):
        wb.files.read_plan(folder, trial)
