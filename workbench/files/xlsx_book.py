"""What a workbook (.xlsx) says beside its sheets: their names, shared texts and formats.

Element and attribute names are those of the open standard ISO/IEC 29500-1.
"""

from __future__ import annotations

import posixpath
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from workbench.files.limits import CELLS_AT_MOST, LETTERS_AT_MOST, too_long, too_many_cells
from workbench.files.number_formats import PLAIN, number_format
from workbench.files.packed import no_workbook
from workbench.files.xml_events import listen, local

if TYPE_CHECKING:
    from collections.abc import Mapping

    from workbench.files.number_formats import NumberFormat
    from workbench.files.packed import Package

ROOT_LINKS = "_rels/.rels"
TRUE = ("1", "true")


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetName:
    """A sheet: its name, the part that holds its cells, and whether it is hidden."""

    name: str
    part: str
    is_hidden: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CellStyle:
    """How a cell is shown: the format of its number, and whether it is crossed out."""

    format: NumberFormat
    is_struck: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedTexts:
    """Texts that cells refer to by number, and which of them are crossed out in part or whole."""

    texts: list[str]
    struck: frozenset[int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """An opened .xlsx workbook."""

    package: Package
    sheets: tuple[SheetName, ...]
    shared: SharedTexts
    styles: tuple[CellStyle, ...]
    from_1904: bool


PLAIN_STYLE = CellStyle(format=PLAIN, is_struck=False)


def book_in(package: Package) -> Book:
    """Return what a workbook says beside its sheets.

    Raises
    ------
    FileError
        If it is no .xlsx workbook, is damaged or breaks a limit.
    """
    root = _links(package, ROOT_LINKS, folder="")
    part = next((one.part for one in root if one.kind == "officeDocument"), "xl/workbook.xml")
    folder, name = posixpath.split(part)
    links = _links(package, f"{folder}/_rels/{name}.rels", folder=folder)
    listener = _Workbook()
    listen(package, part, listener)
    parts = {one.number: one for one in links}
    sheets = tuple(
        SheetName(name=sheet.name, part=parts[sheet.link].part, is_hidden=sheet.is_hidden)
        for sheet in listener.sheets
        if sheet.link in parts and parts[sheet.link].kind == "worksheet"
    )
    if not sheets:
        raise no_workbook(package.source)
    return Book(
        package=package,
        sheets=sheets,
        shared=_shared(package, _one(links, "sharedStrings")),
        styles=_styles(package, _one(links, "styles")),
        from_1904=listener.from_1904,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Link:
    number: str
    kind: str
    part: str


def _one(links: tuple[_Link, ...], kind: str) -> str:
    return next((one.part for one in links if one.kind == kind), "")


def _links(package: Package, part: str, *, folder: str) -> tuple[_Link, ...]:
    listener = _Links(folder=folder)
    listen(package, part, listener)
    return tuple(listener.found)


@dataclass(slots=True)
class _Links:
    folder: str
    found: list[_Link] = field(default_factory=list)

    def start(self, name: str, values: Mapping[str, str]) -> None:
        if name != "Relationship" or values.get("TargetMode") == "External":
            return
        target = values.get("Target", "")
        path = target.lstrip("/") if target.startswith("/") else f"{self.folder}/{target}"
        self.found.append(
            _Link(
                number=values.get("Id", ""),
                kind=values.get("Type", "").rpartition("/")[2],
                part=posixpath.normpath(path).lstrip("/"),
            )
        )

    def end(self, name: str) -> None:
        """Nothing ends that matters."""

    def text(self, text: str) -> None:
        """No text matters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    name: str
    link: str
    is_hidden: bool


@dataclass(slots=True)
class _Workbook:
    sheets: list[_Sheet] = field(default_factory=list)
    from_1904: bool = False

    def start(self, name: str, values: Mapping[str, str]) -> None:
        if name == "workbookPr":
            self.from_1904 = values.get("date1904", "") in TRUE
        elif name == "sheet":
            hidden = values.get("state", "visible") != "visible"
            sheet = _Sheet(name=values.get("name", ""), link=local(values, "id"), is_hidden=hidden)
            self.sheets.append(sheet)

    def end(self, name: str) -> None:
        """Nothing ends that matters."""

    def text(self, text: str) -> None:
        """No text matters."""


def _shared(package: Package, part: str) -> SharedTexts:
    if part not in package.names:
        return SharedTexts(texts=[], struck=frozenset())
    listener = TextRuns(source=package.source, item="si")
    listen(package, part, listener)
    return SharedTexts(texts=listener.texts, struck=frozenset(listener.struck))


@dataclass(slots=True)
class TextRuns:
    """Hears texts made of runs, each `item` one; reading aids (phonetic runs) are left out."""

    source: str
    item: str
    texts: list[str] = field(default_factory=list)
    struck: set[int] = field(default_factory=set)
    pieces: list[str] = field(default_factory=list)
    hears: bool = False
    in_aid: bool = False
    run_is_struck: bool = False

    def start(self, name: str, values: Mapping[str, str]) -> None:
        """Hear that an element begins."""
        if name == self.item:
            self.pieces = []
            self.run_is_struck = False
        elif name == "t":
            self.hears = not self.in_aid
        elif name == "r":
            self.run_is_struck = False
        elif name in ("strike", "dstrike"):
            self.run_is_struck = values.get("val", "1") in TRUE
        elif name == "rPh":
            self.in_aid = True

    def end(self, name: str) -> None:
        """Hear that an element ends."""
        if name == "t":
            self.hears = False
            if self.run_is_struck:
                self.struck.add(len(self.texts))
        elif name == "rPh":
            self.in_aid = False
        elif name == self.item:
            self._add("".join(self.pieces).strip())

    def _add(self, text: str) -> None:
        if len(text) > LETTERS_AT_MOST:
            raise too_long(len(text), self.source)
        if len(self.texts) >= CELLS_AT_MOST:
            raise too_many_cells(self.source)
        self.texts.append(text)

    def text(self, text: str) -> None:
        """Hear text."""
        if self.hears:
            self.pieces.append(text)


def _styles(package: Package, part: str) -> tuple[CellStyle, ...]:
    if part not in package.names:
        return ()
    listener = _Styles()
    listen(package, part, listener)
    formats = {
        number: number_format(number, listener.codes.get(number, ""))
        for number in {one.format for one in listener.styles}
    }
    return tuple(
        CellStyle(format=formats[one.format], is_struck=one.font in listener.struck)
        for one in listener.styles
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Style:
    format: int
    font: int


@dataclass(slots=True)
class _Styles:
    codes: dict[int, str] = field(default_factory=dict)
    struck: set[int] = field(default_factory=set)
    styles: list[_Style] = field(default_factory=list)
    n_fonts: int = 0
    inside: str = ""

    def start(self, name: str, values: Mapping[str, str]) -> None:
        if name in ("fonts", "cellXfs", "numFmts", "cellStyleXfs", "dxfs"):
            self.inside = name
        elif name == "numFmt" and self.inside == "numFmts":
            self.codes[_whole(values.get("numFmtId"))] = values.get("formatCode", "")
        elif name == "font" and self.inside == "fonts":
            self.n_fonts += 1
        elif name == "strike" and self.inside == "fonts" and values.get("val", "1") in TRUE:
            self.struck.add(self.n_fonts - 1)
        elif name == "xf" and self.inside == "cellXfs":
            number, font = _whole(values.get("numFmtId")), _whole(values.get("fontId"))
            self.styles.append(_Style(format=number, font=font))

    def end(self, name: str) -> None:
        if name == self.inside:
            self.inside = ""

    def text(self, text: str) -> None:
        """No text matters."""


def _whole(text: str | None) -> int:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 10 else 0
