"""trial.toml: what it can say, and what each mistake in it is told."""

import pytest

from workbench.define import (
    Categorical,
    Continuous,
    Forbidden,
    LinearLimit,
    Role,
    Stepped,
)
from workbench.errors import DefinitionError, WorkbenchError
from workbench.files import read_trial, starter_text, trial_from_text

GOOD = """\
schema = 1
title = "Lid seal"
share = 0.99
model = "second-order"

[budget]
parts = 60

[[factor]]
name = "bead volume"
kind = "continuous"
low = 60
high = 100.5
unit = "mm3"
setting_sd = 2

[[factor]]
name = "surface"
kind = "categorical"
levels = ["none", "wiped"]
hazards = ["solvent"]

[[held]]
name = "bore"
value = 0.8
unit = "mm"

[[outcome]]
name = "peel"
kind = "measured"
unit = "N"
at_least = 20

[[constraint]]
forbidden = {"bead volume" = [95, 100], surface = "none"}
reason = "drips"
"""


def told(text):
    with pytest.raises(WorkbenchError) as caught:
        trial_from_text(text)
    assert caught.value.why
    assert caught.value.next_step
    return caught.value


def line_with(text, words):
    return max(i for i, line in enumerate(text.splitlines(), 1) if words in line)


def test_a_trial_is_read():
    trial = trial_from_text(GOOD)
    assert trial.factors == (
        Continuous(name="bead volume", low=60, high=100.5, unit="mm³", setting_sd=2),
        Categorical(name="surface", levels=("none", "wiped"), hazards=("solvent",)),
    )
    assert trial.held[0].value == "0.8"
    assert trial.outcome("peel").requirement.words() == "at least 20"
    assert trial.constraints == (
        Forbidden(
            where=(("bead volume", 95.0, 100.0),), levels=(("surface", "none"),), reason="drips"
        ),
    )
    assert (trial.share, trial.confidence, trial.seed) == (0.99, None, 1)
    assert (trial.budget.parts, trial.budget.days) == (60, None)


def factor(extra, *, drop=()):
    keys = {
        "name": '"dwell"',
        "kind": '"continuous"',
        "low": "1",
        "high": "3",
        "unit": '"s"',
        "setting_sd": "0.1",
    }
    lines = [f"{key} = {value}" for key, value in keys.items() if key not in drop]
    section = "\n".join(["", "[[factor]]", *lines, extra, ""])
    return GOOD.replace("\n[[held]]", f"{section}\n[[held]]")


def outcome(lines):
    return GOOD + f'\n[[outcome]]\nname = "other"\n{lines}\n'


def test_every_kind_of_factor():
    text = factor('role = "noise"\nvaries = {shape = "normal", centre = 2, width = 0.5}')
    assert trial_from_text(text).factor("dwell").spread.width == 0.5
    text = factor('role = "observed"', drop=("setting_sd",))
    assert trial_from_text(text).factor("dwell").role is Role.OBSERVED
    text = factor('kind = "stepped"\nsteps = [1, 2.5, 4]', drop=("kind", "low", "high"))
    assert trial_from_text(text).factor("dwell") == Stepped(
        name="dwell", steps=(1, 2.5, 4), unit="s", setting_sd=0.1
    )


def test_what_is_not_stated_is_kept_as_such():
    text = factor('setting_sd = "not stated"\nunit = "not stated"', drop=("setting_sd", "unit"))
    dwell = trial_from_text(text).factor("dwell")
    assert dwell.setting_sd is None
    assert dwell.unit == ""


@pytest.mark.parametrize(
    ("lines", "low", "high"),
    [
        ('kind = "measured"\nunit = "mm"\nbetween = [1, 2]', 1, 2),
        ('kind = "measured"\nunit = "mm"\nat_least = 1\nat_most = 2', 1, 2),
        ('kind = "measured"\nunit = "mm"\ntarget = 5\ntolerance = 0.5', 4.5, 5.5),
        ('kind = "measured"\nunit = "mm"\nat_most = 2\ntarget = 0.5', None, 2),
        ('kind = "graded"\ngrades = ["none", "slight", "bad"]\nat_most = "slight"', None, 1),
        ('kind = "counted"\nout_of = 40\nat_most = 2', None, 2),
    ],
)
def test_requirements(lines, low, high):
    requirement = trial_from_text(outcome(lines)).outcome("other").requirement
    assert (requirement.low, requirement.high) == (low, high)


def test_pass_or_fail_has_its_own_words():
    lines = 'kind = "pass/fail"\npasses = "dry"\nfails = "wet"'
    assert trial_from_text(outcome(lines)).outcome("other").passes == "dry"


def test_an_inequality():
    text = GOOD + '\n[[constraint]]\nat_most = 90\nreason = "feed"\n[constraint.coefficients]\n'
    trial = trial_from_text(text + '"bead volume" = 1\n')
    assert trial.constraints[1] == LinearLimit(
        coefficients=(("bead volume", 1.0),), at_most=90.0, reason="feed"
    )


def test_a_byte_order_mark_and_windows_line_ends_are_read(tmp_path):
    (tmp_path / "trial.toml").write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert read_trial(tmp_path) == trial_from_text(GOOD)


def test_the_starter_is_a_trial_and_says_it_is_invented():
    trial = trial_from_text(starter_text(title='A "quoted" title', seed=7, date="2026-01-01"))
    assert trial.title == 'A "quoted" title'
    assert trial.seed == 7
    assert "Invented" in trial.invented
    assert {one.name for one in trial.outcomes} == {"peel_force", "squeeze_out", "leak_rate"}
    assert all(one.setting_sd is not None for one in trial.factors)


# ------------------------------------------------------------------- keys and values


@pytest.mark.parametrize(
    ("extra", "drop", "where", "said"),
    [
        ("lowest = 3", (), "lowest", "Known keys: name, kind"),
        ("hihg = 3", (), "hihg", "Did you mean high?"),
        ('levels = ["a", "b"]', (), "levels", "Another kind has it"),
        ("low = 3", ("low",), "low", "goes from low 3 to high 3"),
        ("low = 5", ("low",), "low", "Exchange the two"),
        ("low = nan", ("low",), "low", "nan is not a finite number"),
        ("low = -inf", ("low",), "low", "-inf is not a finite number"),
        ('low = "60,5"', ("low",), "low", "Write 60.5, without quotes"),
        ('low = "60 s"', ("low",), "low", "The unit has a key of its own"),
        ('low = "a few"', ("low",), "low", "'a few' is not a number"),
        ("low = true", ("low",), "low", "true is not a number"),
        ("low = [1]", ("low",), "low", "A list is not a number"),
        ("low = -1e308", ("low", "high"), "high", "The key high is missing"),
        ("low = " + "9" * 30, ("low",), "low", "more than 19 digits"),
        ("", ("unit",), "unit", "The key unit is missing"),
        ('unit = " "', ("unit",), "unit", "The unit is empty"),
        ("unit = 1", ("unit",), "unit", 'Put it in quotes: unit = "1"'),
        ("", ("setting_sd",), "setting_sd", "no usual value to assume"),
        ('setting_sd = "unknown"', ("setting_sd",), "setting_sd", "'unknown' is not a number"),
        ("setting_sd = -1", ("setting_sd",), "setting_sd", "cannot be below zero"),
        ("", ("kind",), "kind", "The key kind is missing"),
        ('kind = "continous"', ("kind",), "kind", "Did you mean 'continuous'?"),
        ("", ("name",), "name", "The key name is missing"),
        ('name = " dwell"', ("name",), "name", "blanks at its ends"),
        ('name = "surface"', ("name",), "name", "stands twice; first in trial.toml, line"),
        ('name = "run"', ("name",), "name", "used for a column of every run table"),
        ('role = "held back"', (), "role", "Use one of: control, noise, observed, held"),
        ("slow = 1", (), "slow", "Write slow = true or slow = false"),
        ('hazards = "solvent"', (), "hazards", "Put the entries in brackets"),
        ('hazards = ["fire"]', (), "hazards", "The hazard 'fire' has no caution text"),
        ("hazards = [1]", (), "hazards", 'Put it in quotes: "1"'),
        ("varies = 3", (), "varies", "3 is not a table"),
        ('varies = {shape = "normal"}', (), "varies", "The key centre is missing"),
        ('varies = {shape = "odd", centre = 1, width = 1}', (), "varies", "no shape known"),
        ('varies = {shape = "normal", centre = 1, width = 1}', (), "varies", "role is control"),
    ],
)
def test_mistakes_in_a_factor(extra, drop, where, said):
    text = factor(extra, drop=drop)
    error = told(text)
    assert said in str(error)
    shown = line_with(text, extra) if extra and not said.startswith("The key") else None
    assert error.place.startswith("trial.toml, line ")
    if shown is not None:
        assert error.place.startswith(f"trial.toml, line {shown},")
        assert where in error.place


def test_a_missing_key_is_placed_at_its_section():
    text = factor("", drop=("unit",))
    line = line_with(text, 'name = "dwell"') - 1
    assert told(text).place == f"trial.toml, line {line}, factor 'dwell', key unit"


@pytest.mark.parametrize(
    ("levels", "said"),
    [
        ('["one"]', "'surface' has 1 level"),
        ("[]", "'surface' has 0 levels"),
        ('["a", "a"]', "A level of 'surface' stands twice"),
        ('["a", ""]', "has an empty name"),
        ("[1, 2]", 'Put it in quotes: "1"'),
    ],
)
def test_mistakes_in_levels(levels, said):
    text = GOOD.replace('["none", "wiped"]', levels)
    error = told(text)
    assert said in str(error)
    assert (
        error.place
        == f"trial.toml, line {line_with(text, 'levels')}, factor 'surface', key levels"
    )


@pytest.mark.parametrize(
    ("steps", "said"), [("[1]", "has 1 level"), ("[2, 1]", "Sort them"), ("[1, inf]", "finite")]
)
def test_mistakes_in_steps(steps, said):
    text = factor(f'kind = "stepped"\nsteps = {steps}', drop=("kind", "low", "high"))
    assert said in str(told(text))


@pytest.mark.parametrize(
    ("lines", "where", "said"),
    [
        ('kind = "measured"', "unit", "The key unit is missing"),
        ('kind = "measures"', "kind", "Did you mean 'measured'?"),
        ("at_most = 1", "kind", "The key kind is missing"),
        ('kind = "measured"\nunit = "N"\nbetween = [5, 3]', "between", "No part can meet it"),
        ('kind = "measured"\nunit = "N"\nbetween = [5]', "between", "between has 1 entries"),
        (
            'kind = "measured"\nunit = "N"\nat_least = 5\nat_most = 3',
            "at_least",
            "No part can meet",
        ),
        (
            'kind = "measured"\nunit = "N"\nbetween = [1, 2]\nat_most = 3',
            "between",
            "Two requirements stand at once: at_most, between",
        ),
        (
            'kind = "measured"\nunit = "N"\nat_most = 3\ntarget = 2\ntolerance = 1',
            "tolerance",
            "Two requirements stand at once",
        ),
        ('kind = "measured"\nunit = "N"\ntarget = 2', "target", "without a tolerance"),
        ('kind = "measured"\nunit = "N"\ntolerance = 2', "tolerance", "without its target"),
        ('kind = "measured"\nunit = "N"\ntarget = 2\ntolerance = 0', "target", "is 0"),
        ('kind = "measured"\nunit = "N"\nat_most = 3\ntarget = 4', "at_most", "would be scrap"),
        ('kind = "measured"\nunit = "N"\nat_least = "5"', "at_least", "Write 5, without quotes"),
        ('kind = "measured"\nunit = "N"\nat_least = nan', "at_least", "not a finite number"),
        (
            'kind = "measured"\nunit = "N"\nat_least = 300\ngauge_high = 250',
            "",
            "No part could be shown to meet it",
        ),
        ('kind = "measured"\nunit = "N"\ngauge_low = 3\ngauge_high = 2', "gauge_low", "Exchange"),
        ('kind = "measured"\nunit = "N"\nresolution = 0', "resolution", "smallest step"),
        ('kind = "measured"\nunit = "N"\nscale = "cubic"', "scale", "'cubic' is no scale"),
        ('kind = "measured"\nunit = "N"\nscale = "log"\nat_least = 0', "scale", "above zero only"),
        (
            'kind = "measured"\nunit = "N"\nscale = "log"\nworth_finding = 0.5',
            "worth_finding",
            "ratio above 1",
        ),
        ('kind = "pass/fail"\nat_least = 1', "at_least", "Another kind has it"),
        ('kind = "pass/fail"\npasses = "x"\nfails = "x"', "", "both written"),
        ('kind = "graded"\ngrades = ["a"]', "grades", "two or more different grades"),
        ('kind = "graded"\ngrades = ["a", "b"]\nat_most = 1', "at_most", "1 is not a text"),
        ('kind = "graded"\ngrades = ["a", "b"]\nat_most = "c"', "at_most", "Use one of: a, b"),
        ('kind = "counted"\nout_of = 2.5', "out_of", "2.5 is not a whole number"),
        ('kind = "counted"\nout_of = 0', "out_of", "The out_of of 'other' is 0"),
        ('kind = "counted"\nout_of = 4\nat_least = 5', "", "No part could be shown"),
    ],
)
def test_mistakes_in_an_outcome(lines, where, said):
    text = outcome(lines)
    error = told(text)
    assert said in str(error)
    assert "outcome 'other'" in error.place
    assert error.place.endswith(f"key {where}" if where else "outcome 'other'")


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ('reason = "x"', "either coefficients or forbidden"),
        ('forbidden = {surface = "none"}', "The key reason is missing"),
        ('forbidden = {surface = "none"}\nreason = " "', "A constraint has no reason"),
        ('forbidden = {}\nreason = "x"', "names no factor"),
        ('forbidden = {speed = [1, 2]}\nreason = "x"', "There is no factor 'speed'"),
        ('forbidden = {surface = "dipped"}\nreason = "x"', "has no level 'dipped'"),
        ('forbidden = {surface = [1, 2]}\nreason = "x"', "Its levels are names"),
        ('forbidden = {"bead volume" = "low"}\nreason = "x"', "which is numeric"),
        ('forbidden = {"bead volume" = [1]}\nreason = "x"', "has 1 ends of a range"),
        ('forbidden = {"bead volume" = [2, 1]}\nreason = "x"', "the lower first"),
        ('forbidden = {surface = "none"}\nat_most = 1\nreason = "x"', "belongs to coefficients"),
        ('coefficients = {surface = 1}\nat_most = 1\nreason = "x"', "Its levels are names"),
        ('coefficients = {"bead volume" = 1}\nreason = "x"', "The key at_most is missing"),
        ('coefficients = {"bead volume" = "1"}\nat_most = 1\nreason = "x"', "Write 1, without"),
        ('coefficients = {}\nat_most = 1\nreason = "x"', "names no factor"),
    ],
)
def test_mistakes_in_a_constraint(lines, said):
    text = GOOD + f"\n[[constraint]]\n{lines}\n"
    error = told(text)
    assert said in str(error)
    first = line_with(text, lines.split("\n")[0])
    assert any(
        error.place.startswith(f"trial.toml, line {n},") for n in range(first - 1, first + 3)
    )


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("schema = 1\n", "", "The key schema is missing"),
        ("schema = 1", "schema = 2", "this workbench reads schema 1.*Install a newer workbench"),
        ("schema = 1", 'schema = "1"', "Write schema = 1"),
        ("schema = 1", "schema = true", "Write schema = 1"),
        ('title = "Lid seal"\n', "", "The key title is missing"),
        ("share = 0.99", "share = 99", "key share: The share is 99"),
        ("share = 0.99", "share = nan", "key share: nan is not a finite number"),
        ("share = 0.99", "shares = 0.99", "Did you mean share"),
        ("share = 0.99", "seed = -1", "key seed: The seed is -1"),
        ("share = 0.99", "seed = 1.5", "key seed: 1.5 is not a whole number"),
        (
            '"second-order"',
            '"second order"',
            "line 4, key model, model 'second order', character 1",
        ),
        ('"second-order"', '"bead volume"', "stands without quotes"),
        ("parts = 60", "parts = 0", "budget, key parts: The budget states 0 parts"),
        ("parts = 60", "pieces = 60", "The key 'pieces' is not known here"),
        ("[budget]", "[[budget]]", "A list is not a table"),
        ("[[held]]", "[held]", "the heading of each in double brackets: .*held"),
        ("value = 0.8", "", "held 'bore', key value: The key value is missing"),
        ("value = 0.8", "value = inf", "inf is not a finite number"),
    ],
)
def test_mistakes_at_the_top(old, new, said):
    with pytest.raises(WorkbenchError, match=said):
        trial_from_text(GOOD.replace(old, new))


@pytest.mark.parametrize("key", ["factor", "outcome"])
def test_a_section_that_is_missing(key):
    start = GOOD.index(f"[[{key}]]")
    end = GOOD.index("[[held]]" if key == "factor" else "[[constraint]]")
    error = told(GOOD[:start] + GOOD[end:])
    assert f"There is no [[{key}]] section" in error.wrong
    assert f"Add [[{key}]]" in error.next_step


def test_the_second_of_two_like_sections_is_the_one_named():
    text = GOOD.replace("[[held]]", '[[factor]]\nname = "x"\nkind = "categorical"\n\n[[held]]')
    error = told(text)
    assert isinstance(error, DefinitionError)
    line = line_with(text, 'name = "x"') - 1
    assert error.place == f"trial.toml, line {line}, factor 'x', key levels"
