"""Whether the confirmation of a trial still is the one that was locked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import WorkbenchError
from workbench.files.confirmation_file import NAME, read_confirmation
from workbench.files.confirmation_rests import check_parts_files
from workbench.steps.check_nouns import Remarks, remark

if TYPE_CHECKING:
    from pathlib import Path

FOLDER = "confirmation"


def confirmation_remarks(folder: Path) -> Remarks:
    """Return what was changed in a confirmation after it was locked; nothing if there is none."""
    try:
        locked = read_confirmation(folder)
        if locked is not None:
            check_parts_files(folder / FOLDER, locked.plan)
    except WorkbenchError as met:
        return Remarks(mend=(remark(met, place=NAME),))
    return Remarks()
