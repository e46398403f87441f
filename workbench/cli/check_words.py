"""What a check found, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.cli.tables import folded
from workbench.cli.tables import notes as notes_text

if TYPE_CHECKING:
    from workbench.steps.check_nouns import CheckUp, Remark


def check_text(found: CheckUp) -> str:
    """Return what must be mended, what is worth a look, and what the runs show."""
    mend, notes = found.remarks.mend, found.remarks.notes
    parts = [_verdict(found)]
    if mend:
        parts.append("\n".join(_mend(one) for one in mend))
    if notes:
        parts.append("\n".join(["Worth a look:", *map(_note, notes)]))
    if found.happened:
        parts.append(f"What happened:\n{notes_text([one.words for one in found.happened])}")
    return "\n\n".join(parts)


def _verdict(found: CheckUp) -> str:
    count = len(found.remarks.mend)
    if not count:
        named = ", ".join(found.looked_at)
        return folded(f"Nothing must be mended. Looked at {named}.", hanging="  ")
    return f"{count} thing{'s' if count > 1 else ''} must be mended:"


def _mend(one: Remark) -> str:
    head = f"✕ {one.place}: {one.wrong}" if one.place else f"✕ {one.wrong}"
    lines = [folded(head, hanging="  ")]
    lines += [folded(f"  why:  {one.why}", hanging="        ")] * bool(one.why)
    lines += [folded(f"  next: {one.next_step}", hanging="        ")] * bool(one.next_step)
    return "\n".join(lines)


def _note(one: Remark) -> str:
    return folded(f"- {one}", hanging="  ")
