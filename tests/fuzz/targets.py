"""Small sound inputs of every kind that the workbench reads, and what reads them."""

import hashlib
import io
import json
import shutil
import zipfile
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from workbench import files
from workbench.define.factors import Categorical, Continuous, Role
from workbench.define.outcomes import Counted, Graded, Measured, PassFail, at_least
from workbench.define.settings import settings as settings_of
from workbench.define.terms import preset
from workbench.define.trial import Budget, Trial
from workbench.files.decisions import DecisionEntry, add_decision, read_decisions
from workbench.files.entries import Attachment, ReadingEntry, Reset, RunEntry, Setting
from workbench.plan.plans import Plan, Recipe
from workbench.steps.adopt import adopt
from workbench.steps.adopt_options import AdoptOptions, FactorWish, OutcomeWish
from workbench.steps.checking import check_trial
from workbench.steps.exporting import export_trial
from workbench.steps.sheets import write_sheet
from workbench.steps.take import take_table

WHEN = datetime(2026, 3, 9, 8, tzinfo=UTC)  # so that each input can be made again
KINDS = (
    "trial",
    "plan table",
    "plan recipe",
    "journal",
    "journal signed",
    "decisions",
    "results table",
    "text table",
    "taken table",
    "workbook",
    "run sheet workbook",
    "open workbook",
)
PACKED = ("workbook", "run sheet workbook", "open workbook")

TRIAL = Trial(
    title="Small",
    question="",
    factors=(
        Continuous(name="dwell", low=1, high=3, unit="s", setting_sd=0.1, slow=True),
        Categorical(name="tip", levels=("flat", "round")),
        Continuous(name="room", low=20, high=80, unit="%RH", setting_sd=None, role=Role.OBSERVED),
    ),
    outcomes=(
        Measured(name="pull", unit="N", requirement=at_least(3), gauge_low=0.5, gauge_high=250),
        PassFail(name="wetted", passes="yes", fails="no"),
        Graded(name="look", grades=("clean", "hazy")),
        Counted(name="voids", unit="voids", out_of=12),
    ),
    budget=Budget(parts=12, parts_per_run=2),
    model="dwell, tip, dwell * tip",
    share=0.9,
    confidence=0.9,
)
TABLE = (
    "run;dwell (s);tip;pull (N);wetted;status;reason\n"
    "1;1,0;flat;69,5 N;yes;;\n"
    "2;2,5;round;>250;no;;\n"
    "3;1,0;flat;<0,01;yes;;\n"
    "4;3,0;round;n/a;no;failed;cracked\n"
    "5;2,0;flat;12,25;yes;;\n"
    "6;2,0;round;1.234,5;yes;;\n"
)
FILLED = (
    "run,block,dwell (s),dwell as run (s),tip,room (%RH),pull (N),wetted,look,status,reason,"
    "notes\n"
    "1,lot 1,1,1.02,flat,45,69.5,yes,clean,,,\n"
    "2,lot 1,3,,round,45.5,>250,no,hazy,,,late\n"
    "3,lot 2,1,,flat,46,<0.5,yes,clean,excluded,dropped,\n"
    "4,lot 2,3,,round,44,,,,failed,cracked,\n"
)


def plan():
    """Four runs."""
    rows = [
        {"dwell": d, "tip": t} for d, t in ((1, "flat"), (3, "round"), (1, "flat"), (3, "round"))
    ]
    return Plan(
        settings=settings_of(TRIAL.planned_factors, rows),
        block=np.array([1, 1, 2, 2]),
        setup=np.array([1, 2, 3, 4]),
        point=("factorial",) * 4,
        standard=np.array([2, 1, 3, 4]),
        parts_per_run=2,
        terms=preset("first-order", TRIAL.planned_factors),
        recipe=Recipe(kind="full", options=(("replicates", "2"),), seed=1, version="0"),
    )


def entries():
    """A few entries of every kind."""
    photo = Attachment(path="photos/run_1.jpg", digest="0" * 64, note="bent lead")
    yield RunEntry(
        run=1,
        block="lot 1",
        blocked_by="lot",
        setup=1,
        settings=(
            Setting(factor="dwell", value=1.02, unit="s"),
            Setting(factor="tip", value="flat", unit=""),
        ),
        resets=(Reset(factor="dwell", was_reset=True),),
        attachments=(photo,),
        made_at="2026-03-09T08:00:00",
        note="late",
    )
    yield RunEntry(run=2, status="failed", reason="cracked")
    for part in (1, 2):
        yield ReadingEntry(
            run=1, part=part, reading=1, outcome="pull", text="69,5", value=69.5, unit="N"
        )
    yield ReadingEntry(run=1, part=1, reading=1, outcome="wetted", text="yes", value=1.0, unit="")
    yield ReadingEntry(
        run=2, part=1, reading=1, outcome="pull", text=">250", value=250.0, unit="N", mark=1
    )


def make(folder):
    """Write a sound trial into a folder, with every file that a trial may have."""
    folder.mkdir(parents=True)
    files.write_trial(folder, TRIAL)
    files.write_plan(folder, plan())
    files.append(folder, tuple(entries()), writer="bench", who="Mira", when=WHEN)
    write_sheet(folder)
    table = folder / "filled.csv"
    table.write_text(FILLED.replace("69.5", "69.5"), encoding="utf-8")
    add_decision(folder, DecisionEntry(what="run", reason="it holds", by="Mira", at="2026-03-09"))
    (folder / "report.html").unlink(missing_ok=True)
    (folder / "run_sheet.html").unlink()
    return folder


def without_sheet(folder):
    """Take the run sheet away: it is a kind of its own, and slow to read at every check."""
    (folder / "run_sheet.xlsx").unlink()
    return folder


def workbook():
    """A small workbook with a heading, numbers, text, a date and a percentage."""
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    for row in (
        ("run", "dwell (s)", "tip", "pull (N)", "share"),
        (1, 1.0, "flat", 69.5, 0.45),
        (2, 2.5, "round", ">250", 0.5),
        (3, 1.0, "flat", 12, 0.5),
        (4, 3.0, "round", 14.5, 0.25),
    ):
        sheet.append(row)
    sheet["E2"].number_format = "0 %"
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _cell(kind, words, value=""):
    return f'<t:table-cell o:value-type="{kind}"{value}><x:p>{words}</x:p></t:table-cell>'


URN = "urn:oasis:names:tc:opendocument:xmlns"
ROWS = (
    _cell("string", "run") + _cell("string", "pull (N)"),
    _cell("float", "1", ' o:value="1"') + _cell("float", "69,5", ' o:value="69.5"'),
    _cell("percentage", "50 %", ' o:value="0.5"')
    + _cell("date", "09.03.26", ' o:date-value="2026-03-09"'),
    '<t:table-cell t:number-columns-repeated="2"/>',
)
CONTENT = (
    f'<?xml version="1.0" encoding="UTF-8"?><o:document-content xmlns:o="{URN}:office:1.0" '
    f'xmlns:t="{URN}:table:1.0" xmlns:x="{URN}:text:1.0" o:version="1.3"><o:body>'
    '<o:spreadsheet><t:table t:name="pulls">'
    + "".join(f"<t:table-row>{one}</t:table-row>" for one in ROWS)
    + "</t:table></o:spreadsheet></o:body></o:document-content>"
)


def open_workbook():
    """A small workbook of the open format."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        packed.writestr("content.xml", CONTENT)
    return stream.getvalue()


@dataclass(frozen=True, kw_only=True)
class Bench:
    """A folder to work in, the sound trial in it, and the sound bytes of each kind of input."""

    place: Path
    trial: Path
    plan: Plan
    sound: dict


def bench(place):
    """Make the sound inputs in a folder."""
    folder = make(place / "sound")
    journal = (folder / "results" / "bench.jsonl").read_bytes()
    results = place / "with_results"
    shutil.copytree(folder, results)
    take_table(results, results / "filled.csv", who="Tomas")
    sheet = (folder / "run_sheet.xlsx").read_bytes()
    without_sheet(folder)
    sound = {
        "trial": (folder / "trial.toml").read_bytes(),
        "plan table": (folder / "plan.csv").read_bytes(),
        "plan recipe": (folder / "plan.toml").read_bytes(),
        "journal": journal,
        "journal signed": journal,
        "decisions": (folder / "decisions.toml").read_bytes(),
        "results table": (results / "results.csv").read_bytes(),
        "text table": TABLE.encode(),
        "taken table": FILLED.encode(),
        "workbook": workbook(),
        "run sheet workbook": sheet,
        "open workbook": open_workbook(),
    }
    return Bench(place=place, trial=folder, plan=files.read_plan(folder, TRIAL), sound=sound)


FILES_OF = {
    "trial": "trial.toml",
    "plan table": "plan.csv",
    "plan recipe": "plan.toml",
    "journal": "results/bench.jsonl",
    "journal signed": "results/bench.jsonl",
    "decisions": "decisions.toml",
    "results table": "results.csv",
}


def signed(data):
    """Return a journal whose lines carry right numbers and digests, whatever they say."""
    lines, previous, sequence = [], "0" * 64, 0
    for line in data.split(b"\n"):
        try:
            fields = json.loads(line)
        except (ValueError, RecursionError):
            continue
        if not isinstance(fields, dict):
            continue
        sequence += 1
        fields |= {"sequence": sequence, "previous": previous}
        fields.pop("digest", None)
        fields.pop("schema", None)
        try:
            text = json.dumps(fields, sort_keys=True, ensure_ascii=True, allow_nan=False)
        except ValueError:
            continue
        previous = hashlib.sha256(text.encode()).hexdigest()
        lines.append(json.dumps({**fields, "digest": previous}).encode())
    return b"\n".join(lines) + b"\n"


CHECKED = 5  # every so many inputs the whole folder is checked as well
TAKEN = 3  # every so many tables are taken or adopted, and journals exported


def readers(bench_, kind, data, number):
    """Return what reads this input, each a call without arguments; `number` counts the inputs."""
    if kind in FILES_OF:
        whole = signed(data) if kind == "journal signed" else data
        return _of_trial(bench_, kind, whole, number)
    return _of_table(bench_, kind, data, number)


def _of_trial(bench_, kind, data, number):
    folder = bench_.place / "work"
    _fresh(bench_.trial, folder)
    (folder / FILES_OF[kind]).write_bytes(data)
    if "journal" in kind:
        (folder / "results" / "bench.end").unlink(missing_ok=True)
    yield {
        "trial": lambda: files.read_trial(folder),
        "plan table": lambda: files.read_plan(folder, TRIAL),
        "plan recipe": lambda: files.read_plan(folder, TRIAL),
        "journal": lambda: files.read_record(folder, TRIAL, bench_.plan),
        "journal signed": lambda: files.read_record(folder, TRIAL, bench_.plan),
        "decisions": lambda: read_decisions(folder),
        "results table": lambda: files.read_table(folder / "results.csv"),
    }[kind]
    if number % CHECKED == 0:
        yield lambda: check_trial(folder)
    if kind == "results table" and number % TAKEN == 0:
        yield lambda: take_table(folder, folder / "results.csv", who="x")
    if kind in ("journal", "journal signed", "trial") and number % TAKEN == 0:
        yield lambda: export_trial(folder)


def _of_table(bench_, kind, data, number):
    suffix = {"open workbook": ".ods"}.get(kind, ".xlsx" if kind in PACKED else ".csv")
    table = bench_.place / f"table{suffix}"
    table.write_bytes(data)
    yield lambda: files.read_table(table)
    if number % TAKEN:
        return
    if kind in ("taken table", "run sheet workbook"):
        folder = bench_.place / "work"
        _fresh(bench_.trial, folder)
        yield lambda: take_table(folder, table, who="x")
        return
    target = bench_.place / "adopted"
    shutil.rmtree(target, ignore_errors=True)
    options = replace(OPTIONS, who="x") if number % 2 else AdoptOptions(who="x")
    yield lambda: adopt(table, target, options)


OPTIONS = AdoptOptions(
    outcomes=(OutcomeWish(name="pull", unit="N"),),
    factors=(FactorWish(name="dwell", unit="s"), FactorWish(name="tip", kind="categorical")),
    run="run",
)


def _fresh(source, folder):
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(source, folder)
