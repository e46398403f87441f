"""One program at a time writes to a file; Windows is played by a stand-in for its module."""

import errno
import os
import sys
import types

import pytest

from workbench.files import append, locks, read_journal
from workbench.files.entries import RunEntry


class Byte:
    """The lock of one byte as Windows keeps it: held by one, refused to others at once."""

    LK_NBLCK, LK_UNLCK = 2, 0

    def __init__(self, busy=0, problem=errno.EACCES):
        self.busy, self.problem, self.calls = busy, problem, []

    def locking(self, handle, mode, n_bytes):
        self.calls.append((mode, os.lseek(handle, 0, os.SEEK_CUR), n_bytes))
        if mode == self.LK_NBLCK and self.busy > 0:
            self.busy -= 1
            raise OSError(self.problem, "busy")


@pytest.fixture
def windows(monkeypatch):
    def play(byte):
        module = types.ModuleType("msvcrt")
        module.locking, module.LK_NBLCK, module.LK_UNLCK = byte.locking, 2, 0
        monkeypatch.setitem(sys.modules, "msvcrt", module)
        monkeypatch.setattr(locks, "IS_WINDOWS", True)
        monkeypatch.setattr(locks, "PAUSE", 0.001)
        return byte

    return play


def test_windows_waits_for_a_busy_byte_far_behind_the_text_and_gives_it_back(tmp_path, windows):
    byte = windows(Byte(busy=3))
    append(tmp_path, [RunEntry(run=1, note="x")], writer="a", who="A")
    assert [mode for mode, _, _ in byte.calls] == [2, 2, 2, 2, 0]
    assert {place for _, place, _ in byte.calls} == {locks.FAR_BYTE}
    found = read_journal(tmp_path)
    assert [one.is_locked for one in found.entries] == [True]
    assert found.notes == ()


def test_a_windows_drive_without_locks_is_said(tmp_path, windows):
    windows(Byte(busy=1, problem=errno.EINVAL))
    append(tmp_path, [RunEntry(run=1, note="x")], writer="a", who="A")
    assert "cannot keep a second program out" in read_journal(tmp_path).notes[0]


@pytest.mark.skipif(os.name != "posix", reason="plays the lock of POSIX systems")
def test_a_drive_without_locks_holds_nothing(tmp_path, monkeypatch):
    def unknown(_handle, _what):
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr("fcntl.flock", unknown)
    with (tmp_path / "x").open("ab") as stream, locks.locked(stream) as is_held:
        assert is_held is False


@pytest.mark.skipif(os.name != "posix", reason="needs fork")
def test_a_second_program_waits_for_the_first(tmp_path):
    path = tmp_path / "x"
    ready, go = os.pipe()
    with path.open("ab") as stream, locks.locked(stream):
        child = os.fork()
        if child == 0:
            with path.open("ab") as other, locks.locked(other):
                os.write(go, b"held")
            os._exit(0)
        os.set_blocking(ready, False)
        with pytest.raises(BlockingIOError):
            os.read(ready, 4)
    os.set_blocking(ready, True)
    assert os.read(ready, 4) == b"held"
    os.waitpid(child, 0)
    os.close(ready)
    os.close(go)
