"""confirmation.toml: what was foreseen of a confirmation, locked before its first part.

The digest in it is that of the rest of the file, so that a later change is noticed; it also
stands in decisions.toml.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import tomlkit

from workbench.decide.confirmation import JudgedBy
from workbench.errors import FileError, Unavailable
from workbench.files.atomic import write_text_atomically
from workbench.files.confirmation_tables import plan_from
from workbench.files.digests import text_digest
from workbench.files.migration import in_schema
from workbench.files.toml_fields import Table
from workbench.files.toml_text import parse_toml, read_text

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.decide.confirmation import ConfirmationPlan, Foreseen, Place

NAME = "confirmation.toml"
SCHEMA = 1
HEAD = "Foreseen and locked before the first part was made; not for editing. A change is noticed."
PLACE = (
    "name",
    "why",
    "parts",
    "failures_allowed",
    "chance",
    "assured_share",
    "failures_low",
    "failures_high",
    "chance_to_confirm",
)
_DIGEST = "digest = "


@dataclass(frozen=True, slots=True, kw_only=True)
class LockedConfirmation:
    """A confirmation as it was locked, and the digest of its file."""

    plan: ConfirmationPlan
    digest: str


def write_confirmation(folder: Path, plan: ConfirmationPlan) -> LockedConfirmation:
    """Write confirmation.toml and return it with its digest.

    Raises
    ------
    FileError
        If it cannot be written.
    """
    body = tomlkit.dumps(_document(plan))
    digest = text_digest(body)
    head, rest = body.split("\n", 1)
    write_text_atomically(folder / NAME, f'{head}\n{_DIGEST}"{digest}"\n{rest}')
    return LockedConfirmation(plan=plan, digest=digest)


def read_confirmation(folder: Path) -> LockedConfirmation | None:
    """Return the confirmation that was locked in a trial folder, None if none was.

    Raises
    ------
    FileError
        If the file was changed after it was locked, or cannot be read.
    """
    path = folder / NAME
    if not path.is_file():
        return None
    text = in_schema(read_text(path), file=NAME, schema=SCHEMA)
    source = parse_toml(text, name=NAME)
    top = Table(source=source, values=source.values)
    digest = top.text("digest")
    if text_digest(_without_digest(text)) != digest:
        raise FileError(
            "confirmation.toml was changed after it was locked.",
            why="A prediction that is changed after the parts were made predicts nothing.",
            next_step="Put the file back as it was locked (decisions.toml names its digest), or "
            "lock a new confirmation in its place and make its parts anew.",
            place=str(path),
        )
    return LockedConfirmation(plan=plan_from(top), digest=digest)


def _without_digest(text: str) -> str:
    """Return the text without its own digest, which is the first of its keys."""
    lines = text.replace("\r\n", "\n").split("\n")
    own = next((i for i, line in enumerate(lines) if line.startswith(_DIGEST)), len(lines))
    return "\n".join(lines[:own] + lines[own + 1 :])


def _document(plan: ConfirmationPlan) -> tomlkit.TOMLDocument:
    document = tomlkit.document()
    document.add(tomlkit.comment(HEAD))
    document["schema"] = SCHEMA
    for key in ("share", "confidence", "interval_confidence", "seed", "model_form"):
        document[key] = getattr(plan, key)
    document["judged_by"] = JudgedBy(plan.judged_by).value
    document["locked_at"] = plan.locked_at
    document["locked_by"] = plan.locked_by
    for key in ("sittings", "number", "fewer", "notes"):
        lines = tomlkit.array().multiline(multiline=True)
        lines.extend(getattr(plan, key))
        document[key] = lines
    if plan.rests_on:
        document["rests_on"] = _tables(
            [{"what": one.what, "digest": one.digest} for one in plan.rests_on]
        )
    document["place"] = _tables([_place(one) for one in plan.places])
    return document


def _place(place: Place) -> dict[str, object]:
    written = {key: getattr(place, key) for key in PLACE if getattr(place, key) is not None}
    names = [name for name, _ in place.settings]
    values = [value for _, value in place.settings]
    return written | {
        "factors": names,
        "set_to": values,
        "outcome": [_outcome(one) for one in place.outcomes],
    }


def _outcome(one: Foreseen) -> dict[str, object]:
    written: dict[str, object] = {"name": one.outcome, "unit": one.unit}
    keys = ("requirement", "mean", "mean_low", "mean_high", "chance")
    written |= {key: getattr(one, key) for key in keys}
    for pair in ("new_part", "parts_mean"):
        for end in ("low", "high"):
            value = getattr(one, f"{pair}_{end}")
            if isinstance(value, Unavailable):
                written[f"no_{pair}"] = value.reason
            else:
                written[f"{pair}_{end}"] = value
    for key in ("may_fall_below", "may_fall_above"):
        if getattr(one, key) is not None:
            written[key] = getattr(one, key)
    return written


def _tables(entries: Any) -> tomlkit.items.AoT:
    found = tomlkit.aot()
    for entry in entries:
        table = tomlkit.table()
        for key, value in entry.items():
            table[key] = _tables(value) if key == "outcome" else value
        found.append(table)
    return found
