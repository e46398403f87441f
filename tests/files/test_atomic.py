"""A file is written whole or not at all."""

import os
import stat
import time
from functools import partialmethod
from pathlib import Path

import pytest

from workbench.errors import FileError
from workbench.files import atomic, write_text_atomically


def test_text_is_utf8_with_its_own_line_ends(tmp_path):
    write_text_atomically(tmp_path / "a.txt", "5 µL\n°C\r\n")
    assert (tmp_path / "a.txt").read_bytes() == "5 µL\n°C\r\n".encode()


def test_an_old_file_is_replaced_and_keeps_its_mode(tmp_path):
    path = tmp_path / "a.txt"
    path.write_text("old")
    path.chmod(0o640)
    write_text_atomically(path, "new")
    assert path.read_text() == "new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert [one.name for one in tmp_path.iterdir()] == ["a.txt"]


def test_a_new_file_can_be_read_by_the_team(tmp_path):
    write_text_atomically(tmp_path / "a.txt", "new")
    (tmp_path / "b.txt").write_text("usual")
    assert (tmp_path / "a.txt").stat().st_mode == (tmp_path / "b.txt").stat().st_mode


def test_a_link_goes_on_pointing_at_its_file(tmp_path):
    (tmp_path / "real.txt").write_text("old")
    (tmp_path / "link.txt").symlink_to(tmp_path / "real.txt")
    write_text_atomically(tmp_path / "link.txt", "new")
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real.txt").read_text() == "new"


def test_a_missing_folder_is_named(tmp_path):
    with pytest.raises(FileError, match=r"a\.txt cannot be written: No such file"):
        write_text_atomically(tmp_path / "none" / "a.txt", "new")


def test_a_failure_leaves_the_old_file_and_no_litter(tmp_path, monkeypatch):
    path = tmp_path / "a.txt"
    path.write_text("old")

    def full(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FileError, match=r"No space left on device.*stands as before"):
        write_text_atomically(path, "new")
    assert path.read_text() == "old"
    assert [one.name for one in tmp_path.iterdir()] == ["a.txt"]


def test_a_file_changed_since_it_was_read_stays(tmp_path):
    path = tmp_path / "a.txt"
    path.write_text("by hand")
    for expected in (b"as read", b""):
        with pytest.raises(FileError, match=r"a\.txt was changed or removed on the disk since"):
            write_text_atomically(path, "new", expected=expected)
    path.write_text("as read")
    write_text_atomically(path, "new", expected=b"as read")
    assert path.read_text() == "new"
    path.unlink()
    with pytest.raises(FileError, match="changed or removed"):
        write_text_atomically(path, "newer", expected=b"new")
    assert list(tmp_path.iterdir()) == []


def test_a_file_held_open_by_another_program_is_said_and_tried_again(tmp_path, monkeypatch):
    path = tmp_path / "a.csv"
    path.write_text("old")
    monkeypatch.setattr(atomic, "PAUSES", (0.0, 0.0))
    tries = []
    real = Path.replace

    def held(self, target, *, until):
        tries.append(target)
        if len(tries) <= until:
            raise PermissionError(13, "Access is denied")
        return real(self, target)

    monkeypatch.setattr(Path, "replace", partialmethod(held, until=99))
    with pytest.raises(FileError, match=r"another program holds it open.*Close a\.csv there"):
        write_text_atomically(path, "new")
    assert len(tries) == 3
    assert path.read_text() == "old"
    assert [one.name for one in tmp_path.iterdir()] == ["a.csv"]
    tries.clear()
    monkeypatch.setattr(Path, "replace", partialmethod(held, until=2))
    write_text_atomically(path, "new")
    assert path.read_text() == "new"


def test_what_a_killed_program_left_is_cleared_when_it_is_old(tmp_path):
    old, young = tmp_path / ".a.txt.1234.new", tmp_path / ".a.txt.5678.new"
    for one in (old, young):
        one.write_text("half")
    yesterday = time.time() - 2 * atomic.LEFT_OVER
    os.utime(old, (yesterday, yesterday))
    write_text_atomically(tmp_path / "a.txt", "new")
    assert not old.exists()
    assert young.exists()  # another program may be about to use it
