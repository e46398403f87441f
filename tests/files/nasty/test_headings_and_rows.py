"""Headings of several rows, units below them, notes, totals, repeated headings, several tables."""

import pytest

RUNS = {"run": [1, 2, 3], "force (N)": [10, 20, 33]}

READ = {
    "a row of units below": (
        "run,bead,force\n,mm³,N\n1,5,10\n2,6,20\n",
        {"run": [1, 2], "bead (mm³)": [5, 6], "force (N)": [10, 20]},
        ["row 2: a row of units"],
        [],
    ),
    "a labelled row of units in brackets": (
        "run,bead,force\nunit,[mL],[N]\n1,5,10\n2,6,20\n",
        {"run": [1, 2], "bead (mL)": [5, 6], "force (N)": [10, 20]},
        ["row 2: a row of units"],
        [],
    ),
    "groups over headings": (
        "run;peel force (N);;gap (mm)\n;part 1;part 2;\n1;10;11;0,5\n2;20;21;0,7\n",
        {
            "run": [1, 2],
            "peel force, part 1 (N)": [10, 20],
            "peel force, part 2 (N)": [11, 21],
            "gap (mm)": [0.5, 0.7],
        },
        [],
        ["2 rows of headings -> joined: peel force, part 1 (N)"],
    ),
    "groups over headings that stand twice": (
        ";;force;;gap;\nrun;t;part 1;part 2;part 1;part 2\n1;20;10;11;0,5;0,6\n2;30;20;21;0,7;1\n",
        {
            "run": [1, 2],
            "t": [20, 30],
            "force, part 1": [10, 20],
            "force, part 2": [11, 21],
            "gap, part 1": [0.5, 0.7],
            "gap, part 2": [0.6, 1],
        },
        [],
        ["2 rows of headings"],
    ),
    "part numbers as headings": (
        "run,temp,1,2\n1,20,10.5,11\n2,30,12,13\n",
        {"run": [1, 2], "temp": [20, 30], "1": [10.5, 12], "2": [11, 13]},
        [],
        [],
    ),
    "names and values above": (
        "Operator;Kim\nRoom (°C);23,4\n\nrun;temp;force (N)\n1;20;10\n2;30;20\n",
        {"run": [1, 2], "temp": [20, 30], "force (N)": [10, 20]},
        ["Operator Kim; Room (°C) 23,4 -> left out"],
        ["semicolon separates"],
    ),
    "a note right above": (
        "Pull test of March,,\nrun,temp,force (N)\n1,20,10\n2,30,20\n",
        {"run": [1, 2], "temp": [20, 30], "force (N)": [10, 20]},
        ["a note above the headings: Pull test of March -> left out"],
        [],
    ),
    "notes below": (
        "run,force (N)\n1,10\n2,20\n3,33\n\n* run 3 by another hand,\n",
        RUNS,
        [],
        ["a note, no run: * run 3 by another hand -> left out"],
    ),
    "a note between the runs": (
        "run,force (N)\n1,10\n2,20\nnozzle changed,\n3,33\n",
        RUNS,
        [],
        ["row 4: a note, no run: nozzle changed"],
    ),
    "headings again in the middle": (
        "run,force (N)\n1,10\n2,20\nrun,force (N)\n3,33\n",
        RUNS,
        ["row 4: the headings again -> left out"],
        [],
    ),
    "a page break with headings again": (
        "run,force (N)\n1,10\n2,20\n\nrun,force (N)\n3,33\n",
        RUNS,
        ["row 4: an empty row", "row 5: the headings again"],
        [],
    ),
    "a mean and a sum": (
        "run,force (N)\n1,10\n2,20\n3,33\nMean,21\nSum,63\n",
        RUNS,
        ["row 5: 'Mean': a row of the mean", "row 6: 'Sum': a row of the sum"],
        [],
    ),
    "a mean and a deviation in another tongue": (
        "run;force (N)\n1;10,5\n2;20,5\n3;33,5\nMittelwert:;21,5\nStabw;11,53\n",
        {"run": [1, 2, 3], "force (N)": [10.5, 20.5, 33.5]},
        ["'Mittelwert:': a row of the mean", "'Stabw': a row of the standard deviation"],
        [],
    ),
    "totals of each block": (
        "lot,run,n\nA,1,3\nA,2,4\nSubtotal,,7\nB,3,5\nB,4,6\nSubtotal,,11\nTotal,,18\n",
        {"lot": ["A", "A", "B", "B"], "run": [1, 2, 3, 4], "n": [3, 4, 5, 6]},
        ["row 4: 'Subtotal': a row of the sum", "row 7: 'Subtotal'", "row 8: 'Total'"],
        [],
    ),
    "levels called min and max": (
        "speed,force\nmin,10\nmax,20\nmin,11\nmax,21\n",
        {"speed": ["min", "max", "min", "max"], "force": [10, 20, 11, 21]},
        [],
        [],
    ),
    "a centre point that is the mean of the settings": (
        "run,bead,force\n1,-1,10\n2,1,20\n3,0,33\n",
        {"run": [1, 2, 3], "bead": [-1, 1, 0], "force": [10, 20, 33]},
        [],
        [],
    ),
    "empty rows and columns": (
        "run,,force (N),x\n1,,10,\n\n2,,20,\n,,,\n3,,33,\n",
        RUNS,
        ["row 3, 5: empty rows", "column 'x': a heading without any value"],
        ["empty column between"],
    ),
    "an analysis beside": (
        "run,force (N),,effect,estimate\n1,10,,bead,3.5\n2,20,,dwell,1.2\n3,33,,,\n",
        RUNS,
        [],
        ["cell D1: a block of statistics: D1 (effect, estimate; "],
    ),
    "an analysis below": (
        "run,force (N)\n1,10\n2,20\n3,33\n\nsource,ss\nbead,266.5\nerror,3.2\n",
        RUNS,
        [],
        ["cell A6: a block of statistics"],
    ),
    "a note beside": (
        "run,force (N),,\n1,10,,old nozzle!\n2,20,,\n3,33,,\n",
        RUNS,
        [],
        ["cell D2: notes beside the table: old nozzle! -> left out"],
    ),
}

TWO = "run,force,,run,force\n1,10,,1,30\n2,20,,2,40\n"
BELOW = "run,force\n1,10\n2,20\n\nrun,gap\n1,0.3\n2,0.4\n"
ASKED = {
    "two tables side by side": (TWO, "2 tables stand here. Found: A1 (run, force; 2", "--table 1"),
    "two tables one below the other": (BELOW, "A5 (run, gap; 2 rows below)", "--table A1"),
    "a block beside that nothing explains": (
        "run,force,,bead,speed\n1,10,,5,1\n2,20,,6,2\n3,33,,,\n",
        "2 tables stand here",
        "--table",
    ),
    "no headings": ("1,10\n2,20\n3,33\n", "The first row holds numbers only", "--headings 0"),
    "words over numbers": (
        "bead,force\nsmall,weak\n5,10\n6,20\n",
        "headings or a run",
        "--headings 2 or --headings 1",
    ),
    "a unit said twice": ("run,force (N)\n,mm\n1,10\n2,20\n", "says N, the row of units", ""),
    "a total that does not agree": (
        "run,force\n1,10\n2,20\n3,33\nTotal,64\n",
        "its numbers do not agree",
        "--totals leave-out or --totals keep",
    ),
    "numbers that are a mean, without a label": (
        "lot,force,gap\nA,10,1\nB,20,2\nC,33,6\n,21,3\n",
        "mean of those above, but nothing says so",
        "--totals",
    ),
    "a value without a heading": ("run,,force\n1,2,3\n", "Column 2 (B) holds values", "heading"),
    "a heading twice": ("run,force,force\n1,2,3\n", "stands twice", "own heading"),
    "headings alone": ("run,force\n", "no rows", "row"),
}


@pytest.mark.parametrize("trick", READ)
def test_read(reads, trick):
    data, expected, says, unsure = READ[trick]
    reads(data, expected, says, unsure)


@pytest.mark.parametrize("trick", ASKED)
def test_asked(asks, trick):
    data, words, next_step = ASKED[trick]
    asks(data, words, next_step=next_step)


def test_the_table_option_decides(reads, asks):
    second = {"run": [1, 2], "force": [30, 40]}
    for wanted in ("2", "D1", "d1:e3"):
        reads(TWO, second, table=wanted)
    reads(BELOW, {"run": [1, 2], "gap": [0.3, 0.4]}, ["empty row"][:0], table="A5")
    asks(TWO, "There is no table 3", next_step="--table", table="3")
    asks(TWO, "No table stands at H9", table="H9")
    asks(TWO, "Nothing stands in H9:I12", next_step="from A1 to E3", table="H9:I12")


def test_the_headings_option_decides(reads):
    words = "bead,force\nsmall,weak\n5,10\n6,20\n"
    joined = {"bead, small": [5, 6], "force, weak": [10, 20]}
    reads(words, joined, unsure=["2 rows of headings"], headings=2)
    plain = "1,10\n2,20\n"
    reads(plain, {"1": [2], "10": [20]}, headings=1)
    reads(plain, {"column A": [1, 2], "column B": [10, 20]}, headings=0)


def test_the_totals_option_decides(reads):
    odd = "run,force\n1,10\n2,20\n3,33\nTotal,64\n"
    left = {"run": [1, 2, 3], "force": [10, 20, 33]}
    reads(odd, left, ["labelled like a total -> left out"], totals="leave-out")
    kept = {"run": ["1", "2", "3", "Total"], "force": [10, 20, 33, 64]}
    reads(odd, kept, ["labelled like a total -> kept as a run"], totals="keep")
