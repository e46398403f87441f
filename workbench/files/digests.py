"""Digests of texts, by which a change is noticed."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

POINTER_DIGITS = 16


def text_digest(text: str) -> str:
    """Return the digest of a text, the same whatever its line ends."""
    # Line ends may change on the way through version control or mail without any harm.
    plain = text.replace("\r\n", "\n").encode()
    return f"sha256:{hashlib.sha256(plain).hexdigest()}"


def file_digest(path: Path) -> str:
    """Return the SHA-256 of a file in hexadecimal, however large it is.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    # Piece by piece: a table put in place of ours may be larger than the memory.
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def pointer_to(digest: str) -> str:
    """Return the first digits of a digest, by which an entry of the journal names a version."""
    return digest.removeprefix("sha256:")[:POINTER_DIGITS]
