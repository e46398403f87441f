"""Let one program at a time write to a file of the trial."""

from __future__ import annotations

import errno
import importlib
import os
import time
from contextlib import contextmanager
from typing import IO, TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

IS_WINDOWS = os.name == "nt"
# Windows bars others from reading a locked stretch, so the byte locked lies far behind any text.
FAR_BYTE = 2**40
PAUSE = 0.05  # seconds between tries on Windows, where waiting has no call of its own
BUSY = (errno.EACCES, errno.EDEADLK)  # what Windows says of a byte that another one holds


@contextmanager
def locked(stream: IO[bytes]) -> Iterator[bool]:
    """Wait until no other program holds the open file, and hold it; yield whether that worked.

    It does not on some network drives, where locks are unknown; then nothing is held. The lock
    goes with the program: one that is killed leaves none behind.
    """
    is_held = _take(stream.fileno())
    try:
        yield is_held
    finally:
        if is_held:
            _give(stream.fileno())


def _take(handle: int) -> bool:
    try:
        if IS_WINDOWS:
            _wait_on_windows(handle)
        else:
            fcntl = importlib.import_module("fcntl")
            fcntl.flock(handle, fcntl.LOCK_EX)
    except OSError:
        return False
    return True


def _give(handle: int) -> None:
    if IS_WINDOWS:
        _far_byte(handle, "LK_UNLCK")
    else:
        fcntl = importlib.import_module("fcntl")
        fcntl.flock(handle, fcntl.LOCK_UN)


def _wait_on_windows(handle: int) -> None:
    while True:
        try:
            _far_byte(handle, "LK_NBLCK")
        except OSError as met:
            if met.errno not in BUSY:
                raise
            time.sleep(PAUSE)
        else:
            return


def _far_byte(handle: int, what: str) -> None:
    msvcrt = importlib.import_module("msvcrt")
    os.lseek(handle, FAR_BYTE, os.SEEK_SET)
    msvcrt.locking(handle, getattr(msvcrt, what), 1)
