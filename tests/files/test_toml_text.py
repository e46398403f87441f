"""A file that cannot be read at all: which line, and what to write instead."""

import pytest

from workbench.errors import FileError
from workbench.files import read_trial
from workbench.files.toml_lines import line_of
from workbench.files.toml_text import parse_toml

GOOD = """\
schema = 1
title = "Lid seal"

[[factor]]
name = "bead volume"
unit = "mm3"

"""


def line_with(text, words):
    return max(i for i, line in enumerate(text.splitlines(), 1) if words in line)


def test_a_folder_that_is_not_there(tmp_path):
    with pytest.raises(FileError, match=r"is not there.*workbench new"):
        read_trial(tmp_path / "none")


def test_a_folder_that_is_not_a_trial(tmp_path):
    with pytest.raises(FileError, match=r"holds no trial\.toml, so it is not a trial"):
        read_trial(tmp_path)


def test_a_file_instead_of_its_folder(tmp_path):
    path = tmp_path / "trial.toml"
    path.write_text(GOOD)
    with pytest.raises(FileError, match=r"is a file.*Give the folder"):
        read_trial(path)


@pytest.mark.parametrize("text", ["", "  \n\n"])
def test_an_empty_file(tmp_path, text):
    (tmp_path / "trial.toml").write_text(text)
    with pytest.raises(FileError, match=r"trial\.toml: The file is empty"):
        read_trial(tmp_path)


def test_a_file_in_another_encoding(tmp_path):
    (tmp_path / "trial.toml").write_bytes(GOOD.replace("mm3", "mm³").encode("latin-1"))
    line = line_with(GOOD, "mm3")
    with pytest.raises(FileError, match=f"line {line}: The byte b3 is not UTF-8.*Save the file"):
        read_trial(tmp_path)


def test_a_file_too_large(tmp_path):
    (tmp_path / "trial.toml").write_text("#" * 1_000_001)
    with pytest.raises(FileError, match=r"has 1\.0 MB"):
        read_trial(tmp_path)


def test_brackets_without_end():
    with pytest.raises(FileError, match="nested too deeply"):
        parse_toml("a = " + "[" * 50_000, name="trial.toml")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("low = 60,5", "Write a decimal point, not a comma: 60.5"),
        ("low = 60 mm", "Write the number alone"),
        ("low: 60", "Write = between a key and its value"),
        ("low =", "Write a value after the ="),
        ("low = None", "Write a value after the ="),
        ("unit = mm", "Put text in quotes"),
        ("slow = True", "Write true, in small letters"),
        ("bead volume = 60", 'in quotes: "key with blanks"'),
        ("unit = “mm”", "straight quotes"),
        ('method = "C:\\parts"', "Write a backslash twice"),
        ("high = 3\nhigh = 4", "The key stands twice"),
        ("[budget]\nparts = 1", "double brackets"),
        ("[1, 2", "Check its quotes, brackets"),
    ],
)
def test_slips_of_the_pen_are_named_by_line(line, said):
    text = f"{GOOD}[budget]\ndays = 1\n{line}\n"
    with pytest.raises(FileError) as caught:
        parse_toml(text, name="trial.toml")
    error = caught.value
    first = line_with(text, line.split("\n")[0])
    assert error.place in (f"trial.toml, line {first}", f"trial.toml, line {first + 1}")
    assert said in error.next_step


AWKWARD = '''\
a = """three
# no comment
lines""""
b = [1,  # one
  2,
]
"c.d" = "x # y"

[[s]]
k = {l = 1}
[s.inner]
'm n' = 5
[[s]]
k.l = 1
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("a",), 1),
        (("b",), 4),
        (("c.d",), 7),
        (("s", 0), 9),
        (("s", 0, "k", "l"), 10),
        (("s", 0, "inner"), 11),
        (("s", 0, "inner", "m n"), 12),
        (("s", 1), 13),
        (("s", 1, "k", "l"), 14),
        (("s", 1, "missing"), 13),
        (("missing",), None),
    ],
)
def test_lines_are_found_among_strings_lists_and_comments(path, line):
    assert line_of(AWKWARD, path) == line
