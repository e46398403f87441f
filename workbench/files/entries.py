"""What the journal holds: runs, readings and receipts, each entry one line of JSON."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from workbench.files.paths_inside import check_path_inside
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Mapping

Value = float | str
MOST_COUNTED = 1_000_000  # the highest number of a run, setup, part or reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One setting as it was really run; `value` None where it is not known.

    `reason` says why it stands instead of an earlier value, empty if it replaces none.
    """

    factor: str
    value: Value | None
    unit: str
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reset:
    """Whether a setting was taken away and set anew before the run, though its value stayed."""

    factor: str
    was_reset: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Attachment:
    """A photo or file that belongs to a run, or to one part or outcome of it.

    `part` is 0 and `outcome` empty where it belongs to the whole run. `path` is inside the trial
    folder, relative to it, with forward slashes; `digest` is the SHA-256 of its bytes in
    hexadecimal when it was attached.
    """

    path: str
    digest: str
    note: str = ""
    part: int = 0
    outcome: str = ""

    def __post_init__(self) -> None:
        check_path_inside(self.path)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunEntry:
    """What is said of a run; empty or None fields say nothing and leave what was said before.

    `resets` answer "was it reset?" for settings whose value stayed, `made_at` is when the run was
    made (ISO 8601, as the clock at the bench showed). `settles` marks an entry that stands instead
    of what anybody entered before it.
    """

    run: int
    block: str = ""
    blocked_by: str = ""
    setup: int | None = None
    settings: tuple[Setting, ...] = ()
    status: str = ""
    reason: str = ""
    note: str = ""
    settles: bool = False
    resets: tuple[Reset, ...] = ()
    attachments: tuple[Attachment, ...] = ()
    made_at: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingEntry:
    """One reading: its text as written, its value in `unit`, its mark (−1 below, +1 above).

    `reason` says why it stands instead of an earlier value, empty if it replaces none. One that
    `confirms` replaces nothing: somebody looked again at a value that looks odd, and it is true.
    """

    run: int
    part: int
    reading: int
    outcome: str
    text: str
    value: float
    unit: str
    mark: int = 0
    settles: bool = False
    reason: str = ""
    confirms: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiptEntry:
    """A table that was taken in: its name, the SHA-256 of its bytes, and what was assumed."""

    source: str
    digest: str
    n_rows: int
    columns: tuple[str, ...]
    lines: tuple[ReceiptLine, ...]


Entry = RunEntry | ReadingEntry | ReceiptEntry


def entry_to_json(entry: Entry) -> dict[str, Any]:
    """Return the fields of an entry that say something, ready for JSON."""
    match entry:
        case RunEntry():
            return _run_to_json(entry)
        case ReadingEntry():
            fields = {name: getattr(entry, name) for name in ReadingEntry.__dataclass_fields__}
            return {
                "kind": "reading",
                **_saying(fields, keep=("outcome", "value", "text", "unit")),
            }
        case ReceiptEntry():
            return {
                "kind": "receipt",
                "source": entry.source,
                "source_digest": entry.digest,
                "n_rows": entry.n_rows,
                "columns": list(entry.columns),
                "lines": [_line_to_json(line) for line in entry.lines],
            }


def entry_from_json(fields: Mapping[str, Any]) -> Entry:
    """Return the entry that JSON fields hold.

    Raises
    ------
    KeyError, TypeError, ValueError
        If a field is missing or of the wrong kind.
    """
    match str(fields["kind"]):
        case "run":
            return _run_from_json(fields)
        case "reading":
            return ReadingEntry(
                run=_count(fields["run"]),
                part=_count(fields["part"]),
                reading=_count(fields["reading"]),
                outcome=str(fields["outcome"]),
                text=str(fields["text"]),
                value=_finite(fields["value"]),
                unit=str(fields["unit"]),
                mark=_mark(fields.get("mark", 0)),
                settles=bool(fields.get("settles", False)),
                reason=str(fields.get("reason", "")),
                confirms=bool(fields.get("confirms", False)),
            )
        case "receipt":
            return ReceiptEntry(
                source=str(fields["source"]),
                digest=str(fields["source_digest"]),
                n_rows=int(fields["n_rows"]),
                columns=tuple(map(str, fields["columns"])),
                lines=tuple(ReceiptLine(**line) for line in fields["lines"]),
            )
        case unknown:
            raise ValueError(unknown)


_OF_RUN = ("run", "block", "blocked_by", "setup", "status", "reason", "note", "settles", "made_at")


def _run_to_json(entry: RunEntry) -> dict[str, Any]:
    fields = {"kind": "run", **_saying({name: getattr(entry, name) for name in _OF_RUN})}
    several = {
        "settings": {one.factor: _setting_to_json(one) for one in entry.settings},
        "resets": {one.factor: one.was_reset for one in entry.resets},
        "attachments": [
            _saying(
                {
                    "path": one.path,
                    "sha256": one.digest,
                    "note": one.note,
                    "part": one.part or None,
                    "outcome": one.outcome,
                }
            )
            for one in entry.attachments
        ],
    }
    return fields | {name: value for name, value in several.items() if value}


def _setting_to_json(one: Setting) -> dict[str, Any]:
    return {"value": one.value, "unit": one.unit} | _saying({"reason": one.reason})


def _run_from_json(fields: Mapping[str, Any]) -> RunEntry:
    setup = fields.get("setup")
    return RunEntry(
        run=_count(fields["run"]),
        block=str(fields.get("block", "")),
        blocked_by=str(fields.get("blocked_by", "")),
        setup=None if setup is None else _count(setup),
        settings=tuple(
            Setting(
                factor=name,
                value=_setting_value(one["value"]),
                unit=str(one["unit"]),
                reason=str(one.get("reason", "")),
            )
            for name, one in fields.get("settings", {}).items()
        ),
        status=str(fields.get("status", "")),
        reason=str(fields.get("reason", "")),
        note=str(fields.get("note", "")),
        settles=bool(fields.get("settles", False)),
        resets=_resets_from_json(fields.get("resets", {})),
        attachments=tuple(
            Attachment(
                path=str(one["path"]),
                digest=str(one["sha256"]),
                note=str(one.get("note", "")),
                part=_count(one.get("part", 0)),
                outcome=str(one.get("outcome", "")),
            )
            for one in fields.get("attachments", ())
        ),
        made_at=str(fields.get("made_at", "")),
    )


def _finite(value: Any) -> float:
    number = float(value)
    if not math.isfinite(number):
        raise ValueError(value)
    return number


def _setting_value(value: Any) -> Value | None:
    return value if value is None or isinstance(value, str) else _finite(value)


def _count(value: Any) -> int:
    if isinstance(value, bool) or abs(int(value)) > MOST_COUNTED:
        raise ValueError(value)
    return int(value)


def _mark(value: Any) -> int:
    if value not in (-1, 0, 1):
        raise ValueError(value)
    return int(value)


def _resets_from_json(fields: Mapping[str, Any]) -> tuple[Reset, ...]:
    for value in fields.values():
        if not isinstance(value, bool):
            raise TypeError(value)
    return tuple(Reset(factor=name, was_reset=value) for name, value in fields.items())


def _saying(fields: Mapping[str, Any], *, keep: tuple[str, ...] = ()) -> dict[str, Any]:
    return {
        name: value
        for name, value in fields.items()
        if name in keep or (value is not None and value != "" and value is not False)
    }


def _line_to_json(line: ReceiptLine) -> dict[str, Any]:
    return {
        "where": line.where,
        "met": line.met,
        "understood": line.understood,
        "sure": line.sure,
    }
