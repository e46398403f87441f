"""Every mistake that a user can make: named, placed, with what to do; files stay as they were."""

import hashlib

import pytest


def snapshot(folder):
    """Return every file below a folder with the digest of its bytes."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def refused(said, *words):
    """Hold a refusal to its form: status, what is wrong, why, what next, no traceback."""
    assert said.status == 2, said.out + said.err
    assert said.out == ""
    assert said.err.startswith("workbench: ")
    assert "\n  why:  " in said.err
    assert "\n  next: " in said.err
    assert "Traceback" not in said.err
    for word in words:
        assert word in said.err, said.err


BEAD = "low = 60            # the two ends"
TRIAL_MISTAKES = {
    "unknown key": ('unit = "mm3" ', 'units = "mm3" ', ("units", "trial.toml")),
    "unknown section": ("[budget]", "[bugdet]", ("bugdet",)),
    "low above high": (BEAD, "low = 160            # the two ends", ("bead_volume", "160")),
    "low equals high": (BEAD, "low = 100            # the two ends", ("bead_volume", "100")),
    "one level": ("steps = [10, 20, 30]", "steps = [10]", ("nozzle_speed", "1 level")),
    "duplicate name": ('name = "nozzle_height"', 'name = "bead_volume"', ("bead_volume", "twice")),
    "duplicate outcome": ('name = "squeeze_out"', 'name = "peel_force"', ("peel_force", "twice")),
    "missing unit": ('unit = "%RH"\n', "\n", ("cure_humidity", "unit")),
    "text for a number": (BEAD, 'low = "sixty"            # the two ends', ("low", "sixty")),
    "decimal comma": (BEAD, "low = 60,5            # the two ends", ("trial.toml", "line")),
    "not a number": (BEAD, "low = nan            # the two ends", ("nan",)),
    "infinity": (BEAD, "low = -inf            # the two ends", ("inf",)),
    "impossible requirement": ("between = [0.2, 1.2]", "between = [1.2, 0.2]", ("1.2", "0.2")),
    "two requirements": ("at_least = 20", "at_least = 20\nbetween = [1, 2]", ("peel_force",)),
    "unknown kind": ('kind = "stepped"', 'kind = "notched"', ("notched", "stepped")),
    "unknown model": ('model = "second-order"', 'model = "cubic"', ("cubic",)),
    "unknown factor in the model": ('"second-order"\n', '"bead, dwell"\n', ("bead",)),
    "code in the model": ('"second-order"\n', "\"__import__('os')\"\n", ("__import__",)),
    "certainty asked for": ("share = 0.99", "share = 1", ("share", "1")),
    "negative setting sd": ("setting_sd = 0.05", "setting_sd = -0.05", ("-0.05",)),
    "later schema": ("schema = 1", "schema = 99", ("99",)),
    "unknown hazard": ('hazards = ["silicone"', 'hazards = ["dragons"', ("dragons",)),
    "unclosed quote": ('title = "Bead', "title = Bead", ("trial.toml", "line")),
}


@pytest.fixture
def trial(command, tmp_path):
    folder = tmp_path / "trial"
    assert command("new", folder).status == 0
    return folder


@pytest.mark.parametrize("mistake", sorted(TRIAL_MISTAKES))
def test_mistakes_in_trial_toml(command, trial, mistake):
    old, new, words = TRIAL_MISTAKES[mistake]
    path = trial / "trial.toml"
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")
    before = snapshot(trial)
    refused(command("plan", trial), *words)
    assert snapshot(trial) == before


def test_an_empty_trial_toml(command, trial):
    (trial / "trial.toml").write_text("", "utf-8")
    refused(command("plan", trial), "trial.toml")


def test_a_trial_toml_that_is_no_text(command, trial):
    (trial / "trial.toml").write_bytes(b"\xff\xfe\x00\x01")
    refused(command("plan", trial), "trial.toml")


@pytest.mark.parametrize(
    "arguments",
    [
        ("plan",),
        ("sheet",),
        ("fit",),
        ("predict", "--at=a=1"),
        ("window", "--share=0.9", "--confidence=0.9"),
        ("report",),
    ],
    ids=lambda arguments: arguments[0],
)
def test_a_folder_that_is_no_trial(command, tmp_path, arguments):
    name, *rest = arguments
    refused(command(name, tmp_path / "missing", *rest), "no such folder")
    (tmp_path / "empty").mkdir()
    refused(command(name, tmp_path / "empty", *rest), "no trial.toml")
    (tmp_path / "file").write_text("x", "utf-8")
    refused(command(name, tmp_path / "file", *rest), "a file, not a folder")


def test_take_into_a_folder_that_is_no_trial(command, tmp_path):
    table = tmp_path / "table.csv"
    table.write_text("run,a\n1,2\n", "utf-8")
    refused(command("take", tmp_path / "missing", table))
    assert not (tmp_path / "missing").exists()


def test_new_keeps_its_hands_off_a_used_folder(command, trial):
    before = snapshot(trial)
    refused(command("new", trial), "not empty")
    assert snapshot(trial) == before


def test_demo_keeps_its_hands_off_a_used_folder(command, tmp_path):
    (tmp_path / "lid_seal").mkdir()
    (tmp_path / "lid_seal" / "mine.txt").write_text("mine", "utf-8")
    refused(command("demo", tmp_path), "not empty")
    assert snapshot(tmp_path) == {
        "lid_seal/mine.txt": hashlib.sha256(b"mine").hexdigest(),
    }


PLAN_MISTAKES = {
    "no such fraction": (["--kind=fraction", "--runs=7"], ("7",)),
    "resolution too weak": (
        ["--kind=fraction", "--runs=8", "--resolution=5"],
        ("resolution IV at most, not V",),
    ),
    "no replicates": (["--kind=full", "--replicates=0"], ("0 replicates",)),
    "negative centre points": (["--kind=composite", "--centre-points=-1"], ("-1",)),
    "axial distance in words": (["--kind=composite", "--axial=far"], ("far", "--axial")),
    "axial distance below zero": (["--kind=composite", "--axial=-1"], ("-1", "--axial")),
    "axial without axial runs": (["--kind=fraction", "--runs=8", "--axial=face"], ("--axial",)),
    "runs of a full factorial": (["--kind=full", "--runs=8"], ("--runs",)),
    "negative seed": (["--kind=composite", "--seed=-1"], ("-1",)),
}


@pytest.mark.parametrize("mistake", sorted(PLAN_MISTAKES))
def test_mistakes_in_the_options_of_a_plan(command, trial, mistake):
    options, words = PLAN_MISTAKES[mistake]
    path = trial / "trial.toml"
    text = path.read_text("utf-8").replace('"second-order"\n', '"first-order"\n', 1)
    path.write_text(text, "utf-8")
    before = snapshot(trial)
    refused(command("plan", trial, *options), *words)
    assert snapshot(trial) == before


GOOD = "run,gap,force\n1,1,9\n2,2,7\n3,1,9.2\n4,2,7.1\n"
TABLE_MISTAKES = {
    "empty file": ("", [], ("empty",)),
    "no rows": ("run,gap,force\n", [], ("no row",)),
    "text in a number": (GOOD.replace("9.2", "nine"), [], ("nine", "force")),
    "not a number": (GOOD.replace("9.2", "inf"), [], ("inf", "force")),
    "two readings of a number": (
        GOOD.replace("9.2", '"1,234"').replace("7.1", "71"),
        [],
        ("1,234", "two readings"),
    ),
    "duplicate column": ("run,gap,gap,force\n1,1,1,9\n2,2,2,7\n", [], ("gap",)),
    "a run twice": (GOOD.replace("\n4,", "\n3,"), ["--part=part"], ("part",)),
    "unknown outcome": (GOOD, ["--outcome=froce"], ("froce", "force")),
    "unknown factor": (GOOD, ["--factor=gpa"], ("gpa",)),
    "unknown key": (GOOD, ["--factor=gap:colour=red"], ("colour",)),
    "low above high": (GOOD, ["--factor=gap:low=3,high=2"], ("gap", "3", "2")),
    "exclude without a reason": (GOOD, ["--exclude=2="], ("2", "reason")),
    "exclude no run": (GOOD, ["--exclude=99=broken"], ("99",)),
    "unknown term": (GOOD, ["--terms=gap, dwell"], ("dwell",)),
    "code as terms": (GOOD, ["--terms=__import__('os')"], ("__import__",)),
    "impossible requirement": (
        GOOD,
        ["--outcome=force:at_least=9,at_most=1"],
        ("9", "1"),
    ),
    "columns file missing": (GOOD, ["--columns=missing.toml"], ("missing.toml",)),
    "planned file missing": (GOOD, ["--planned=missing.csv"], ("missing.csv",)),
}


@pytest.mark.parametrize("mistake", sorted(TABLE_MISTAKES))
def test_mistakes_in_a_table_or_what_is_said_of_it(command, tmp_path, mistake):
    text, options, words = TABLE_MISTAKES[mistake]
    table = tmp_path / "table.csv"
    table.write_text(text, "utf-8")
    folder = tmp_path / "trial"
    named = [] if any(one.startswith("--outcome") for one in options) else ["--outcome=force"]
    said = command("adopt", table, folder, *named, *options)
    refused(said, *words)
    assert not folder.exists()
    assert list(tmp_path.iterdir()) == [table]


def test_a_table_that_is_not_there(command, tmp_path):
    refused(command("adopt", tmp_path / "none.csv", tmp_path / "trial"), "none.csv")
    refused(command("adopt", tmp_path, tmp_path / "trial"))
    assert not (tmp_path / "trial").exists()


def test_adopt_keeps_its_hands_off_a_used_folder(command, trial, tmp_path):
    table = tmp_path / "table.csv"
    table.write_text(GOOD, "utf-8")
    before = snapshot(trial)
    refused(command("adopt", table, trial, "--outcome=force"))
    assert snapshot(trial) == before


SHEET_MISTAKES = {
    "text in a number": ("12.5", "twelve", ("twelve", "peel_force")),
    "unknown level of status": ("done", "perhaps", ("perhaps",)),
    "a run that was not planned": ("\n3,", "\n333,", ("333",)),
}


@pytest.mark.parametrize("mistake", sorted(SHEET_MISTAKES))
def test_mistakes_in_a_filled_in_sheet(command, trial, mistake, tmp_path):
    assert command("plan", trial, "--kind=composite", "--seed=7").status == 0
    assert command("sheet", trial).status == 0
    head, *rows = (trial / "run_sheet.csv").read_text("utf-8-sig").splitlines()
    place = head.split(",").index('"peel_force (N)')
    columns = head.count(",") - head.count(", part")
    assert place > 0
    filled = []
    for row in rows:
        cells = row.split(",")
        assert len(cells) == columns + 1
        first = next(i for i, cell in enumerate(cells) if i > 4 and i >= len(cells) - 9)
        cells[first] = "12.5"
        cells[-3] = "done"
        filled.append(",".join(cells))
    old, new, words = SHEET_MISTAKES[mistake]
    text = "\n".join([head, *filled])
    assert old in text
    table = tmp_path / "filled.csv"
    table.write_text(text.replace(old, new, 1), "utf-8")
    before = snapshot(trial)
    refused(command("take", trial, table), *words)
    assert snapshot(trial) == before


def test_more_terms_than_runs_is_answered_with_what_can_be_told(command, tmp_path):
    table = tmp_path / "table.csv"
    table.write_text("gap,dwell,force\n1,5,9\n2,7,7\n1.5,6,8\n", "utf-8")
    said = command(
        "adopt",
        table,
        tmp_path / "trial",
        "--outcome=force:kind=measured",
        "--factor=gap:kind=continuous",
        "--factor=dwell:kind=continuous",
        "--terms=second-order",
    )
    if said.status == 2:  # said at once, and nothing was made
        refused(said)
        assert not (tmp_path / "trial").exists()
        return
    said = command("fit", tmp_path / "trial", "--json")
    assert said.status in (0, 4)
    outcome = said.json["outcomes"]["force"]
    assert "unavailable" in outcome or outcome["cannot_tell_apart"]
    assert "Traceback" not in said.err
