"""JupyterLab is started for this machine alone, with the token that it makes itself."""

import shlex
import subprocess

import pytest

from workbench.errors import WorkbenchError
from workbench.steps.opening import open_in_jupyter, server_command

LOOPBACK = "--ServerApp.ip=127.0.0.1"


@pytest.mark.parametrize("port", [None, 9001])
@pytest.mark.parametrize("shows_browser", [True, False])
def test_the_server_listens_on_loopback_with_its_token(tmp_path, port, shows_browser):
    command = server_command(tmp_path, port=port, shows_browser=shows_browser)
    words = shlex.join(command).casefold()
    assert LOOPBACK in command
    assert [one for one in command if "ip=" in one.casefold()] == [LOOPBACK]
    for opening in ("token", "password", "allow_origin", "allow_remote", "disable_check_xsrf"):
        assert opening not in words
    assert "0.0.0.0" not in words  # noqa: S104 - the address that must not be there


@pytest.mark.parametrize("name", ["--ServerApp.token=", "-h", "; touch owned", "a b'\"c", "~"])
def test_a_folder_of_any_name_is_one_word_of_the_command(tmp_path, name):
    folder = tmp_path / name
    folder.mkdir()
    command = server_command(folder, port=None, shows_browser=False)
    assert f"--ServerApp.root_dir={folder.resolve()}" in command
    assert [one for one in command if name in one] == [f"--ServerApp.root_dir={folder}"]


def test_modules_of_a_stranger_in_the_folder_are_not_loaded(tmp_path):
    """`workbench open .` is started in the trial folder itself."""
    for name in ("jupyterlab", "json", "jupyter_server_config", "jupyter_lab_config"):
        (tmp_path / f"{name}.py").write_text("open('owned', 'w').close()")
    command = server_command(tmp_path, port=None, shows_browser=False)
    done = subprocess.run(
        [*command, "--version"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip()[0].isdigit()
    assert not (tmp_path / "owned").exists()


def test_what_is_no_folder_is_not_opened(tmp_path):
    with pytest.raises(WorkbenchError, match="no such folder"):
        open_in_jupyter(tmp_path / "none", port=None, shows_browser=False)
