"""Mistakes on adopting: named, located, and nothing is left behind."""

import pytest

from workbench import files
from workbench.errors import WorkbenchError
from workbench.steps.adopt import adopt
from workbench.steps.adopt_options import (
    AdoptOptions,
    parse_exclusion,
    parse_factor,
    parse_outcome,
)

PLAIN = "run,dwell,tip,pull\n1,1,a,5.1\n2,3,a,6.2\n3,1,b,7.4\n4,3,b,8.5\n"


@pytest.fixture
def refused(tmp_path):
    """Adopt and return the message, having looked that nothing was written."""

    def adopt_it(text, **options):
        table = tmp_path / "t.csv"
        table.write_text(text, encoding="utf-8")
        before = sorted(tmp_path.rglob("*"))
        with pytest.raises(WorkbenchError) as met:
            adopt(table, tmp_path / "trial", AdoptOptions(who="Mira", **options))
        assert sorted(tmp_path.rglob("*")) == before
        assert met.value.why
        assert met.value.next_step
        return str(met.value)

    return adopt_it


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("run,dwell,pull\n", "no rows"),
        (PLAIN.replace("6.2", "6.2x"), "row 3, column 'pull': '6.2x' is not a number"),
        (PLAIN.replace("6.2", "NaN"), "row 3, column 'pull': 'NaN' is not a number"),
        (PLAIN.replace("6.2", "inf"), "'inf' is not a number"),
        (PLAIN.replace("6.2", "#DIV/0!"), "error of a spreadsheet formula"),
        (PLAIN.replace("tip", "dwell"), "'dwell' stands twice"),
        (PLAIN.replace("4,3,b", "3,3,b"), "Run 3 has other settings here than in row 4"),
        (PLAIN.replace("4,3,b", "four,3,b"), "'run': The column is headed like run numbers"),
        (PLAIN.replace("2,3,a", "2,>3,a"), "'>3' is no setting"),
        ("x,pull\n1,5\n1,6\n1,7\n1,8.1\n", "No column is a factor"),
    ],
)
def test_the_table(refused, text, words):
    assert words in refused(text)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"outcomes": (parse_outcome("peel"),)}, "no column 'peel'"),
        (
            {"blocks": ("pull",), "outcomes": (parse_outcome("pull"),)},
            "named by --outcome already",
        ),
        ({"factors": (parse_factor("dwell:low=3,high=1"),)}, "low 3 to high 1"),
        ({"factors": (parse_factor("dwell:setting_sd=-1"),)}, "setting_sd of 'dwell' is -1"),
        ({"factors": (parse_factor("tip:unit=mm"),)}, "whose levels are names"),
        ({"factors": (parse_factor("tip:kind=continuous"),)}, "'a' is not a number"),
        ({"outcomes": (parse_outcome("pull:at_least=9,at_most=2"),)}, "at least 9 and at most 2"),
        ({"outcomes": (parse_outcome("pull:target=9"),)}, "target is 9, without limits"),
        ({"exclude": (parse_exclusion("9=wet"),)}, "no run 9"),
        ({"terms": "dwell + tip"}, "model 'dwell + tip'"),
        ({"terms": "dwell, force"}, "force"),
        ({"sheet": "x"}, "not a workbook"),
    ],
)
def test_the_options(refused, options, words):
    assert words in refused(PLAIN, **options)


@pytest.mark.parametrize(
    ("text", "option"),
    [
        ("a,b,c\n1.1,2.2,3\n1.2,2.5,4\n1.4,2.9,5\n1.5,2.7,6\n", "--outcome"),
        ("lot,a,y\n1,1,5.1\n2,1,5.2\n1,2,5.3\n2,2,5.4\n", "--block"),
        ("a,y,b\n1,5.1,1\n2,5.2,1\n1,5.3,2\n2,5.4,2\n", "--ignore"),
        ("a,z,y\n1,5.1,7.1\n2,5.2,7.4\n1,5.3,7.2\n2,5.4,7.9\n", "--outcome"),
    ],
)
def test_what_has_two_readings_is_refused_with_the_option_that_decides(refused, text, option):
    message = refused(text)
    assert "two readings" in message
    assert option in message


def test_a_word_among_numbers_names_the_cell_and_the_way_to_levels(refused):
    text = PLAIN.replace("2,3,a", "2,x3,a")
    message = refused(text, outcomes=(parse_outcome("pull"),))
    assert "row 3, column 'dwell': 'x3' is not a number" in message
    assert '--factor "dwell:kind=categorical"' in message


def test_a_folder_in_use_is_left_alone(tmp_path):
    table = tmp_path / "t.csv"
    table.write_text(PLAIN, encoding="utf-8")
    folder = tmp_path / "trial"
    adopt(table, folder, AdoptOptions(who="Mira"))
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    with pytest.raises(WorkbenchError, match="not empty"):
        adopt(table, folder, AdoptOptions(who="Mira"))
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1=", "without a reason"),
        ("1", "without a reason"),
        ("one=wet", "not a run number"),
    ],
)
def test_exclusions(text, words):
    with pytest.raises(WorkbenchError, match=words):
        parse_exclusion(text)


@pytest.mark.parametrize(
    ("parse", "text", "words"),
    [
        (parse_outcome, "pull:colour=red", "'colour' is not known.*at_least"),
        (parse_outcome, "pull:unit=N,unit=kN", "stands twice"),
        (parse_outcome, ":unit=N", "No column is named"),
        (parse_outcome, "pull:at_least", "not KEY=VALUE"),
        (parse_outcome, "pull:at_least=nan", "not a number"),
        (parse_outcome, "pull:at_least=1e999", "not a number"),
        (parse_outcome, "pull:kind=fuzzy", "measured, pass-fail"),
        (parse_outcome, "pull:out_of=2.5", "not a whole number"),
        (parse_factor, "dwell:slow=maybe", "slow is 'maybe'"),
        (parse_factor, "dwell:role=boss", "control, noise"),
    ],
)
def test_option_text(parse, text, words):
    with pytest.raises(WorkbenchError, match=words) as met:
        parse(text)
    assert met.value.place.startswith("--")


def test_the_columns_file_takes_names_with_any_letters(tmp_path):
    table = tmp_path / "t.csv"
    table.write_text('a:b,"c,=d"\n1,5.1\n2,6.2\n1,5.3\n2,6.6\n', encoding="utf-8")
    columns = tmp_path / "columns.toml"
    columns.write_text(
        '[factor."a:b"]\nunit = "s"\nlow = 0.5\nslow = true\n[outcome."c,=d"]\nat_most = 9\n',
        encoding="utf-8",
    )
    answer = adopt(table, tmp_path / "trial", AdoptOptions(who="Mira", columns=columns))
    (factor,) = answer.trial.factors
    assert (factor.name, factor.unit, factor.low, factor.high, factor.slow) == (
        "a:b",
        "s",
        0.5,
        2,
        True,
    )
    assert answer.trial.outcomes[0].requirement.high == 9
    assert files.read_trial(answer.folder) == answer.trial
    columns.write_text("[outcom]\n", encoding="utf-8")
    with pytest.raises(WorkbenchError, match="'outcom' is not known"):
        adopt(table, tmp_path / "other", AdoptOptions(columns=columns))
