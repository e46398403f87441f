"""What `handover` says on a terminal: what was written, and whether it was confirmed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.cli.tables import folded

if TYPE_CHECKING:
    from workbench.decide.handover_made import NoHandOver
    from workbench.steps.handover import HandedOver


def handover_text(found: HandedOver) -> str:
    """Return what was written, first of all whether it stands confirmed."""
    made = found.made
    said = [folded(made.standing), folded(made.promise)]
    said += [f"wrote {found.page}", f"wrote {found.workbook}"]
    if made.proof.is_confirmed:
        said.append("next: fill in what is left open, and have it signed")
    else:
        said.append(f"next: workbench confirm {found.page.parent}")
    return "\n".join(said)


def no_handover_text(none: NoHandOver) -> str:
    """Return why nothing is handed over, and what to do next."""
    return "\n".join(
        [
            folded(f"Nothing to hand over: {none.reason}"),
            folded(f"next: {none.next_step}", hanging="  "),
        ]
    )
