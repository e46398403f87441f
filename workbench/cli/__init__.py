"""The command line: read the options, take one step, print what it says."""

from __future__ import annotations

import io
import os
import sys
import traceback
from typing import TYPE_CHECKING

from workbench.cli.screen import plain_screen
from workbench.errors import WorkbenchError

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["main"]

OUR_FAULT = 1
USERS_MISTAKE = 2
INTERRUPTED = 130
READER_GONE = 141  # 128 + SIGPIPE, as the shell itself would report it


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status.

    0: answered. 4: answered that it cannot be answered, with the reason. 2: a mistake the user
    can mend. 1: a fault of the workbench. 130: interrupted.
    """
    _spare_narrow_screens()
    with plain_screen():
        return _guarded(arguments)


def _guarded(arguments: Sequence[str] | None) -> int:
    try:
        return _run(arguments)
    except WorkbenchError as mistake:
        return _say_mistake(mistake)
    except KeyboardInterrupt:
        _say("Interrupted. Files stand as the last finished step left them.")
        return INTERRUPTED
    except BrokenPipeError:
        # Python flushes standard output again on leaving; it must find somewhere to write.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return READER_GONE
    except Exception:  # noqa: BLE001 - the last line of defence says whose fault it is
        traceback.print_exc()
        _say("This is a fault of the workbench, not of your files. Please report the lines above.")
        return OUR_FAULT


def _run(arguments: Sequence[str] | None) -> int:
    from workbench.cli.options import parse

    try:
        chosen = parse(arguments)
    except SystemExit as leaving:  # argparse has said what is wrong, or shown its help
        return leaving.code if isinstance(leaving.code, int) else USERS_MISTAKE
    from workbench.cli.commands import run

    status = run(chosen)
    sys.stdout.flush()
    return status


def _spare_narrow_screens() -> None:
    """Show a question mark for a sign that the screen's encoding lacks, such as ² or −."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and stream.errors == "strict":
            stream.reconfigure(errors="replace")


def _say(line: str) -> None:
    print(f"workbench: {line}", file=sys.stderr)


def _say_mistake(mistake: WorkbenchError) -> int:
    where = f"{mistake.place}: " if mistake.place else ""
    _say(f"{where}{mistake.wrong}")
    print(f"  why:  {mistake.why}\n  next: {mistake.next_step}", file=sys.stderr)
    return USERS_MISTAKE
