"""A file is written whole or not at all."""

import os
import stat

import pytest

from workbench.errors import FileError
from workbench.files import write_text_atomically


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
