"""The parts of a packed file (.xlsx, .ods), unpacked no further than the limits allow."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from dataclasses import dataclass, field

from workbench.errors import FileError
from workbench.files.limits import (
    ELEMENTS_AT_MOST,
    PARTS_AT_MOST,
    UNPACKED_AT_MOST,
    unpacks_too_far,
)

CHUNK = 1 << 16
PACKINGS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
DAMAGE = (
    zipfile.BadZipFile, zlib.error, struct.error, OSError, EOFError, KeyError, ValueError,
    RuntimeError, NotImplementedError, OverflowError,
)  # fmt: skip


@dataclass(slots=True)
class Package:
    """An opened packed file: parts are read by name, all bytes and elements are counted."""

    archive: zipfile.ZipFile
    source: str
    unpacked: int = field(default=0)
    elements_left: int = field(default=ELEMENTS_AT_MOST)

    @property
    def names(self) -> frozenset[str]:
        """Names of the parts."""
        return frozenset(self.archive.namelist())

    def part(self, name: str) -> bytes:
        """Return the bytes of a part.

        The sizes that the file states are not believed: the bytes are counted as they come.

        Raises
        ------
        FileError
            If the part is missing or damaged, or unfolds too far.
        """
        try:
            info = self.archive.getinfo(name)
            if info.compress_type not in PACKINGS:
                raise no_workbook(self.source)
            pieces = []
            with self.archive.open(info) as stream:
                while piece := stream.read(CHUNK):
                    self.unpacked += len(piece)
                    if self.unpacked > UNPACKED_AT_MOST:
                        raise unpacks_too_far(self.source)
                    pieces.append(piece)
        except DAMAGE:
            raise no_workbook(self.source) from None
        return b"".join(pieces)


def opened(data: bytes, source: str) -> Package:
    """Return a packed file, opened.

    Raises
    ------
    FileError
        If it is damaged or states more parts or bytes than any workbook has.
    """
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        members = archive.infolist()
    except DAMAGE:
        raise no_workbook(source) from None
    if len(members) > PARTS_AT_MOST:
        raise no_workbook(source)
    return Package(archive=archive, source=source)


def no_workbook(source: str) -> FileError:
    """Return the error of a packed file that is no workbook."""
    return FileError(
        "The file is not a readable .xlsx or .ods workbook.",
        why="It is damaged, protected by a password, or of another kind.",
        next_step="Open it in a spreadsheet program and save it as .xlsx or CSV (UTF-8).",
        place=source,
    )
