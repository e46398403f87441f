"""What a command loads: nothing that it does not use, for that is what its user waits for."""

import subprocess
import sys

import pytest

HEAVY = ("pandas", "plotly", "scipy.stats", "statsmodels", "workbench.decide", "workbench.show")
TABLE = "run,bead (mm3),pull (N)\n1,1,5\n2,2,6\n3,1,5.5\n4,2,7\n"
CODE = f"""
import sys
from workbench.cli import main
status = main(sys.argv[1:])
print(status, [one for one in {HEAVY!r} if one in sys.modules])
"""


def last_line(*arguments):
    command = [sys.executable, "-P", "-c", CODE, *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=120)
    return done.stdout.splitlines()[-1]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    home = tmp_path_factory.mktemp("start")
    (home / "pulls.csv").write_text(TABLE)
    adopted = last_line("adopt", home / "pulls.csv", home / "trial", "--outcome", "pull:unit=N")
    assert adopted == "0 []"
    return home


@pytest.mark.parametrize("command", ["take", "check", "fit"])
def test_a_command_loads_only_what_it_uses(folder, command):
    more = (folder / "pulls.csv",) if command == "take" else ()
    assert last_line(command, folder / "trial", *more) == "0 []"
