"""XML read as a run of events, with nothing that a stranger's file could make it do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol
from xml.parsers import expat

from workbench.errors import FileError
from workbench.files.limits import too_many_elements
from workbench.files.packed import no_workbook

if TYPE_CHECKING:
    from collections.abc import Mapping

    from workbench.files.packed import Package

CHUNK = 1 << 20


class Listener(Protocol):
    """Hears the elements of an XML part; names come without their prefix."""

    def start(self, name: str, values: Mapping[str, str]) -> None:
        """Hear that an element begins, with its attributes (with their prefix)."""

    def end(self, name: str) -> None:
        """Hear that an element ends."""

    def text(self, text: str) -> None:
        """Hear text."""


def listen(package: Package, part: str, listener: Listener) -> None:
    """Tell a listener of every element in an XML part.

    A document type is refused: it can name entities that unfold without end or lie outside.

    Raises
    ------
    FileError
        If it is no XML, holds a document type, or has too many elements.
    """
    data = package.part(part)
    source = package.source
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)

    def start(name: str, values: dict[str, str]) -> None:
        package.elements_left -= 1
        if package.elements_left <= 0:
            raise too_many_elements(source)
        listener.start(name.rpartition(":")[2] if ":" in name else name, values)

    def end(name: str) -> None:
        listener.end(name.rpartition(":")[2] if ":" in name else name)

    def document_type(*_said: object) -> None:
        raise FileError(
            "The workbook holds a document type declaration.",
            why="No spreadsheet program writes one; it can make a small file unfold without end.",
            next_step="Copy the cells into a new workbook or a CSV file.",
            place=source,
        )

    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = listener.text
    parser.StartDoctypeDeclHandler = document_type
    try:
        for place in range(0, len(data), CHUNK):
            parser.Parse(data[place : place + CHUNK], False)  # noqa: FBT003 - its own signature
        parser.Parse(b"", True)  # noqa: FBT003 - its own signature
    except (expat.ExpatError, ValueError, LookupError):
        raise no_workbook(source) from None


def local(values: Mapping[str, str], name: str) -> str:
    """Return the attribute of that name, whatever its prefix; empty if there is none."""
    found = values.get(name)
    if found is not None:
        return found
    return next((value for key, value in values.items() if key.rpartition(":")[2] == name), "")
