"""What is too large, too deep or folded up is refused in words, in seconds, in little memory."""

import io
import multiprocessing
import resource
import shutil
import time
import zipfile

import pytest

from workbench import files
from workbench.errors import WorkbenchError
from workbench.steps.checking import check_trial

SECONDS_ALLOWED = 10
BYTES_ALLOWED = 1 << 30

TYPES = """<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/\
content-types"><Default Extension="xml" ContentType="application/xml"/><Default Extension="rels" \
ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Override \
PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.\
spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType=\
"application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>"""
RELATIONS = """<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/\
package/2006/relationships"><Relationship Id="r1" Type="http://schemas.openxmlformats.org/\
officeDocument/2006/relationships/{kind}" Target="{target}"/></Relationships>"""
BOOK = """<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/\
2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets>\
<sheet name="pulls" sheetId="1" r:id="r1"/></sheets></workbook>"""
SHEET = '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
END = "</sheetData></worksheet>"
ENTITIES = (
    '<!DOCTYPE a [<!ENTITY a "aaaaaaaaaa">'
    + "".join(f'<!ENTITY {"abcdefghi"[i + 1]} "{f"&{chr(97 + i)};" * 10}">' for i in range(8))
    + "]>"
)


def workbook(sheet, *, level=6):
    """Return a workbook whose one sheet is given as bytes, or as chunks of bytes."""
    stream = io.BytesIO()
    with zipfile.ZipFile(
        stream, "w", zipfile.ZIP_DEFLATED, compresslevel=level, allowZip64=True
    ) as packed:
        packed.writestr("[Content_Types].xml", TYPES)
        packed.writestr(
            "_rels/.rels", RELATIONS.format(kind="officeDocument", target="xl/workbook.xml")
        )
        packed.writestr("xl/workbook.xml", BOOK)
        packed.writestr(
            "xl/_rels/workbook.xml.rels",
            RELATIONS.format(kind="worksheet", target="worksheets/sheet1.xml"),
        )
        with packed.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as member:
            for chunk in [sheet] if isinstance(sheet, bytes) else sheet:
                member.write(chunk)
    return stream.getvalue()


def rows(count):
    """Yield a sheet of so many rows, a thousand at a time."""
    yield SHEET.encode()
    for first in range(1, count, 1000):
        yield "".join(
            f'<row r="{i}"><c r="A{i}"><v>{i}</v></c></row>' for i in range(first, first + 1000)
        ).encode()
    yield END.encode()


def blanks(megabytes):
    """Yield a sheet that is nearly all blanks."""
    yield SHEET.encode()
    for _ in range(megabytes):
        yield b" " * 1_000_000
    yield END.encode()


def lying(data, *, said):
    """Return a packed file whose directory says that its sheet has so many bytes."""
    out = bytearray(data)
    place = out.rfind(b"PK\x01\x02")
    while place >= 0 and b"sheet1.xml" not in out[place : place + 120]:
        place = out.rfind(b"PK\x01\x02", 0, place)
    out[place + 24 : place + 28] = said.to_bytes(4, "little")
    return bytes(out)


def _bounded(pipe, read, argument):
    resource.setrlimit(resource.RLIMIT_AS, (BYTES_ALLOWED, BYTES_ALLOWED))
    start = time.process_time()
    try:
        read(argument)
        said = "answered"
    except WorkbenchError as met:
        said = str(met)
    except BaseException as met:  # noqa: BLE001 - it is what the test is after
        said = f"escaped: {met!r}"
    pipe.send((said, time.process_time() - start))


def refused(read, argument):
    """Return what is said on reading, in a worker of 1 GiB, within the seconds allowed.

    The seconds are those of the processor: what else the machine does is not our doing. The
    worker comes from a small server, so that what other tests have loaded does not count.
    """
    here, there = multiprocessing.Pipe(duplex=False)
    clean = multiprocessing.get_context("forkserver")
    clean.set_forkserver_preload(["pytest", "workbench.steps.checking"])
    worker = clean.Process(target=_bounded, args=(there, read, argument))
    worker.start()
    there.close()
    if not here.poll(10 * SECONDS_ALLOWED):
        worker.kill()
        pytest.fail("it takes too long")
    said, seconds = here.recv()
    worker.join()
    assert not said.startswith("escaped"), said
    assert seconds < SECONDS_ALLOWED
    return said


def written(place, name, data):
    path = place / name
    path.write_bytes(data)
    return path


def test_a_plain_workbook_made_here_is_read(tmp_path):
    """The workbooks below are sound but for what they are meant to have wrong."""
    cells = "".join(
        f'<row r="{i}"><c r="A{i}" t="inlineStr"><is><t>{text}</t></is></c></row>'
        for i, text in enumerate(("pull", "1", "2"), 1)
    )
    path = written(tmp_path, "t.xlsx", workbook(f"{SHEET}{cells}{END}".encode()))
    assert files.read_table(path).headings == ("pull",)


def test_a_million_rows_are_refused(tmp_path):
    said = refused(
        files.read_table, written(tmp_path, "t.xlsx", workbook(rows(1_000_000), level=1))
    )
    assert "rows" in said or "MB" in said


def test_a_million_lines_are_refused(tmp_path):
    text = "run,pull\n" + "".join(f"{i},{i}\n" for i in range(1_000_000))
    assert "200,000 rows" in refused(files.read_table, written(tmp_path, "t.csv", text.encode()))


@pytest.mark.parametrize("says", [None, 1000, 0])
def test_a_sheet_that_unfolds_without_end_is_refused(tmp_path, says):
    data = workbook(blanks(700), level=1)
    assert len(data) < 10_000_000
    whole = data if says is None else lying(data, said=says)
    said = refused(files.read_table, written(tmp_path, "t.xlsx", whole))
    assert said != "answered"


def test_a_packed_file_within_a_packed_file_is_not_unfolded(tmp_path):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
        for i in range(20_000):
            packed.writestr(f"{i}.zip", b"PK")
    said = refused(files.read_table, written(tmp_path, "t.xlsx", stream.getvalue()))
    assert said != "answered"


@pytest.mark.parametrize("suffix", ["xlsx", "ods"])
def test_entities_are_never_unfolded(tmp_path, suffix):
    cell = '<row r="1"><c r="A1" t="inlineStr"><is><t>&i;</t></is></c></row>'
    data = workbook(f"<?xml version='1.0'?>{ENTITIES}{SHEET}{cell}{END}".encode())
    if suffix == "ods":
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w") as packed:
            packed.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
            packed.writestr("content.xml", f"<?xml version='1.0'?>{ENTITIES}<a>&i;</a>")
        data = stream.getvalue()
    assert refused(files.read_table, written(tmp_path, f"t.{suffix}", data)) != "answered"


def test_an_outside_entity_is_never_fetched(tmp_path):
    secret = written(tmp_path, "secret", b"secret words")
    bomb = f'<!DOCTYPE a [<!ENTITY i SYSTEM "file://{secret}">]>'
    cell = '<row r="1"><c r="A1" t="inlineStr"><is><t>&i;</t></is></c></row>'
    data = workbook(f"<?xml version='1.0'?>{bomb}{SHEET}{cell}{END}".encode())
    assert "secret words" not in refused(files.read_table, written(tmp_path, "t.xlsx", data))


def test_cells_repeated_without_end_are_not_written_out(tmp_path):
    table = "urn:oasis:names:tc:opendocument:xmlns:table:1.0"
    office = "urn:oasis:names:tc:opendocument:xmlns:office:1.0"
    content = (
        f'<o:document-content xmlns:o="{office}" xmlns:t="{table}"><o:body><o:spreadsheet>'
        '<t:table t:name="a"><t:table-row t:number-rows-repeated="2000000000">'
        '<t:table-cell t:number-columns-repeated="2000000000" o:value-type="float" o:value="1"/>'
        "</t:table-row></t:table></o:spreadsheet></o:body></o:document-content>"
    )
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        packed.writestr("content.xml", content)
    path = written(tmp_path, "t.ods", stream.getvalue())
    assert refused(files.read_table, path) != "answered"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a = " + "[" * 100_000, "nested too deeply"),
        ("a" + ".a" * 100_000 + " = 1", ""),
        ("[" + "a." * 100_000 + "a]", ""),
        ("a = " + "{a=" * 50_000, ""),
        ("a = " + "9" * 900_000, ""),
        ("a = '" + "b" * 900_000 + "'", ""),
        ("".join(f"k{i} = 1\n" for i in range(80_000)), "80,000 lines"),
        ("".join(f"k{i} = 1\n" for i in range(9_000)), "missing"),
        ("schema = 1\ntitle = 'a'\n" + "[[factor]]\n" * 9_000, ""),
        ("schema = 1\n" + "".join(f"[[factor]]\nname='{i}'\n" for i in range(4_900)), ""),
        ("schema = 1\ntitle = ''\nmodel = '" + "a * " * 200_000 + "a'", ""),
        ("schema = 1\ntitle = '" + "\\" * 900_000 + "'", ""),
        ("#" * 999_999, ""),
        ("\n" * 999_999, "empty"),
        ('"' * 999_999, ""),
        ("'''" * 333_333, ""),
    ],
    ids=range(16),
)
def test_a_trial_of_too_much_is_refused(tmp_path, text, words):
    written(tmp_path, "trial.toml", text.encode())
    said = refused(files.read_trial, tmp_path)
    assert said != "answered"
    assert words in said
    assert len(said) < 200_000
    refused(check_trial, tmp_path)


NAMED = """schema = 1
title = "{name}"
[[factor]]
name = "{name}"
kind = "categorical"
levels = [{levels}]
[[outcome]]
name = "pull"
kind = "measured"
unit = "N"
"""


def test_names_and_levels_of_great_length_are_read_in_time(tmp_path):
    levels = ", ".join(f'"level {i}"' for i in range(40_000))
    written(tmp_path, "trial.toml", NAMED.format(name="x" * 300_000, levels=levels).encode())
    refused(files.read_trial, tmp_path)
    refused(check_trial, tmp_path)


def test_a_trial_of_a_hundred_megabytes_is_not_even_opened(tmp_path):
    with (tmp_path / "trial.toml").open("wb") as stream:
        stream.truncate(100_000_000)
    assert "100.0 MB" in refused(files.read_trial, tmp_path)
    assert refused(check_trial, tmp_path) == "answered"


@pytest.mark.parametrize("name", ["decisions.toml", "results.csv", "plan.csv", "plan.toml"])
def test_any_file_of_a_trial_may_be_too_large(hostile, tmp_path, name):
    folder = shutil.copytree(hostile, tmp_path / "trial")
    with (folder / name).open("wb") as stream:
        stream.truncate(300_000_000)
    assert refused(check_trial, folder) == "answered"


@pytest.mark.parametrize("line", [b"x" * 50_000_000, b'{"a": ' * 200_000, b"[" * 1_000_000])
def test_a_line_of_the_journal_may_be_too_long(hostile, tmp_path, line):
    folder = shutil.copytree(hostile, tmp_path / "trial")
    (journal,) = (folder / "results").glob("*.jsonl")
    with journal.open("ab") as stream:
        stream.write(line + b"\n")
    assert refused(files.read_journal, folder) != "answered"
    assert refused(check_trial, folder) == "answered"
