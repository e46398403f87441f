"""Files that belong to a run: inside the folder, with a digest, gone or changed."""

import hashlib
import os

import pytest

from workbench.errors import FileError
from workbench.files.attached_files import attached_file, state_of
from workbench.files.entries import Attachment, RunEntry, entry_from_json, entry_to_json
from workbench.run import FileState


def test_a_file_is_named_by_its_path_and_digest(tmp_path):
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "run_07.jpg").write_bytes(b"a picture")
    found = attached_file(tmp_path, "photos/run_07.jpg", note="gap at the corner")
    assert found.digest == hashlib.sha256(b"a picture").hexdigest()
    assert state_of(tmp_path, found) is FileState.UNCHANGED


def test_a_file_that_is_gone_or_changed_is_noticed(tmp_path):
    path = tmp_path / "run_07.jpg"
    path.write_bytes(b"a picture")
    found = attached_file(tmp_path, "run_07.jpg")
    path.write_bytes(b"b picture")  # of the same size
    os.utime(path, ns=(1, 1))
    assert state_of(tmp_path, found) is FileState.CHANGED
    path.unlink()
    assert state_of(tmp_path, found) is FileState.MISSING


@pytest.mark.parametrize(
    "path",
    [
        "",
        ".",
        "/etc/passwd",
        "../secret",
        "a/../../b",
        "C:/x",
        "c:x",
        "\\\\host\\x",
        "a\\b",
        "a\nb",
    ],
)
def test_a_path_that_may_leave_the_folder_is_refused(path):
    with pytest.raises(FileError, match="does not lie inside the trial folder"):
        Attachment(path=path, digest="0")
    fields = {"kind": "run", "run": 1, "attachments": [{"path": path, "sha256": "0"}]}
    with pytest.raises(FileError, match="does not lie inside"):
        entry_from_json(fields)


def test_a_link_out_of_the_folder_is_never_opened(tmp_path):
    folder = tmp_path / "trial"
    folder.mkdir()
    (tmp_path / "secret").write_text("s")
    (folder / "photo.jpg").symlink_to(tmp_path / "secret")
    with pytest.raises(FileError, match="leads out"):
        attached_file(folder, "photo.jpg")
    state = state_of(folder, Attachment(path="photo.jpg", digest="0"))
    assert state is FileState.NOT_LOOKED_AT


def test_what_is_no_file_is_not_attached(tmp_path):
    with pytest.raises(FileError, match="not a file"):
        attached_file(tmp_path, "photos")


def test_there_and_back_through_json():
    entry = RunEntry(run=7, attachments=(Attachment(path="ü/run 7.jpg", digest="ab", note="n"),))
    assert entry_from_json(entry_to_json(entry)) == entry
