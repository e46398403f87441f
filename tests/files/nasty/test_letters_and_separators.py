"""Text tables: letters, byte-order marks and separators."""

import pytest

PULLS = {"größe (µm)": [1.5, 3], "force (N)": [12.5, 13]}
TEXT = "größe (µm);force (N)\n1,5;12,5\n3;13,0\n"

READ = {
    "UTF-8": (TEXT, PULLS, ["semicolon separates", "decimal comma"], []),
    "a byte-order mark": (
        TEXT.encode("utf-8-sig"),
        PULLS,
        ["byte-order mark -> read as UTF-8"],
        [],
    ),
    "UTF-16 with its mark": (TEXT.encode("utf-16"), PULLS, ["read as UTF-16"], []),
    "UTF-16 little end first": (TEXT.encode("utf-16-le"), PULLS, ["read as UTF-16"], []),
    "UTF-16 big end first": (TEXT.encode("utf-16-be"), PULLS, ["read as UTF-16"], []),
    "Western letters": (TEXT.encode("cp1252"), PULLS, [], ["Latin-1"]),
    "letters garbled before": (
        TEXT.encode("utf-8").decode("cp1252"),
        {"grÃ¶ÃŸe (Âµm)": [1.5, 3], "force (N)": [12.5, 13]},
        [],
        ["saved in the wrong encoding"],
    ),
    "tabs": ("a\tb\n1\t2\n", {"a": [1], "b": [2]}, ["tab separates"], []),
    "pipes, drawn as a box": (
        "| run | force |\n|-----|-------|\n| 1 | 12.5 |\n| 2 | 13 |\n",
        {"run": [1, 2], "force": [12.5, 13]},
        ["pipe separates", "a ruled line -> left out"],
        [],
    ),
    "carriage returns alone": ("a,b\r1,2\r3,4\r", {"a": [1, 3], "b": [2, 4]}, [], []),
    "a first line that names the separator": (
        "sep=;\na;b\n1,5;2\n",
        {"a": [1.5], "b": [2]},
        ["a first line sep=;"],
        [],
    ),
    "commas in quotation marks": (
        'run,"force, after cure (N)"\n1,"12.5"\n2,13\n',
        {"run": [1, 2], "force, after cure (N)": [12.5, 13]},
        ["comma separates"],
        [],
    ),
    "a heading over two lines": (
        'run,"peel\nforce (N)"\n1,12.5\n',
        {"run": [1], "peel force (N)": [12.5]},
        [],
        [],
    ),
    "semicolons beside decimal commas in every row": (
        "x, in mm;y, in mm\n1,5;2,5\n3,5;4,5\n",
        {"x, in mm": [1.5, 3.5], "y, in mm": [2.5, 4.5]},
        [],
        ["semicolon separates"],
    ),
    "a note above, of another width": (
        "Pull test, March\n\nrun;force\n1;12,5\n2;13,5\n",
        {"run": [1, 2], "force": [12.5, 13.5]},
        ["notes above the table: Pull test, March -> left out"],
        ["semicolon separates"],
    ),
    "rows that are short": (
        "a,b,c\n1,2,3\n4,5\n",
        {"a": [1, 4], "b": [2, 5], "c": [3, None]},
        [],
        ["comma separates", "2 cells under 3 headings -> the cells at the end are empty"],
    ),
}

ASKED = {
    "decimal commas between commas": ("run,force\n1,12,5\n", "3 cells under 2 headings", ""),
    "two separators that fit": ("a;b,c;d\nx;y,z;w\n", "semicolon or by comma", "--separator"),
    "a quotation mark left open": ('a,b\n"1,2\n', "breaks off", "quotation mark"),
    "no text": (b"a\x00\x00\x01b,c\n1,2\n", "not text", "CSV"),
    "half a UTF-16 letter": (b"\xff\xfea", "begins like UTF-16", "UTF-8"),
    "an old workbook": (b"\xd0\xcf\x11\xe0\xa1\xb1", "old kind", ".xlsx"),
}


@pytest.mark.parametrize("trick", READ)
def test_read(reads, trick):
    data, expected, says, unsure = READ[trick]
    reads(data, expected, says, unsure)


@pytest.mark.parametrize("trick", ASKED)
def test_asked(asks, trick):
    data, words, next_step = ASKED[trick]
    asks(data, words, next_step=next_step)


def test_the_options_decide(reads, asks):
    reads("a;b,c;d\nx;y,z;w\n", {"a;b": ["x;y"], "c;d": ["z;w"]}, separator="comma")
    reads("a;b,c;d\nx;y,z;w\n", {"a": ["x"], "b,c": ["y,z"], "d": ["w"]}, separator="semicolon")
    western = "maß,x\n1,2\n".encode("cp1252")
    reads(western, {"maß": [1], "x": [2]}, ["--encoding cp1252"], encoding="cp1252")
    asks(western, "not written in utf-8", next_step="--encoding", encoding="utf-8")
