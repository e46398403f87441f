"""A draft of a trial: what stands in the fields of the planning form, and as trial.toml."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from workbench.files.toml_edit import new_block, pair
from workbench.files.toml_lines import line_of
from workbench.files.trial_document import trial_document
from workbench.files.trial_mistakes import text_mistakes
from workbench.files.trial_toml import SECTIONS
from workbench.steps.panel_fields import FIELDS, fields_of
from workbench.steps.panel_texts import text_in, value_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from workbench.define.trial import Trial
    from workbench.errors import WorkbenchError

    Document = dict[str, Any]

_SPREAD = ("shape", "centre", "width")
_LINE = re.compile(r"line (\d+)")
_KEY = re.compile(r"key (\w+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftSection:
    """One section of the form: its kind of section and the text in each field."""

    section: str
    texts: Mapping[str, str]

    @property
    def kind(self) -> str:
        """The kind that decides which fields the section has; "" where none does."""
        return self.texts.get("kind", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftProblem:
    """What is wrong in a draft, and in which field: section, its place in the list, key.

    `key` is "" where it is the whole section.
    """

    section: str
    index: int
    key: str
    words: str


def draft_of(trial: Trial) -> tuple[DraftSection, ...]:
    """Return what stands in the form of a trial."""
    document = trial_document(trial)
    return (
        _shown("trial", document),
        _shown("budget", document.get("budget", {})),
        *(_shown(section, one) for section in SECTIONS for one in document.get(section, [])),
    )


def _shown(section: str, values: Document) -> DraftSection:
    said = dict(values) | dict(values.get("varies", {}))
    if "between" in said:
        said["at_least"], said["at_most"] = said["between"]
    if section == "constraint":
        said["kind"] = "forbidden" if "forbidden" in said else "limit"
    known = [field for field in FIELDS[section] if field.key in said]
    texts = {field.key: text_in(field, said[field.key]) for field in known}
    return DraftSection(section=section, texts=texts)


def text_of(draft: Sequence[DraftSection]) -> str:
    """Return a draft as the text of a trial.toml, right or wrong."""
    top: Document = {"schema": 1}
    blocks: list[str] = []
    for one in draft:
        values = _document(one)
        if one.section == "trial":
            top |= values
        elif values or one.section != "budget":
            blocks.append(new_block(one.section, values, is_repeated=one.section != "budget").text)
    return "".join(pair(key, value) for key, value in top.items()) + "".join(blocks)


def _document(one: DraftSection) -> Document:
    values = {
        field.key: value_of(field, text, of=one.kind)
        for field in fields_of(one.section, one.kind)
        if (text := one.texts.get(field.key, "").strip())
    }
    if one.section == "constraint":
        values.pop("kind", None)
    spread = {key: values.pop(key) for key in _SPREAD if key in values}
    return values | ({"varies": spread} if spread and one.section == "factor" else {})


def problems_of(draft: Sequence[DraftSection]) -> tuple[DraftProblem, ...]:
    """Return every problem of a draft, each with its field; none if it is a trial."""
    text = text_of(draft)
    starts = _starts(text, draft)
    return tuple(_problem(met, starts) for met in text_mistakes(text))


@dataclass(frozen=True, slots=True)
class _Start:
    line: int
    section: str
    index: int


def _starts(text: str, draft: Sequence[DraftSection]) -> list[_Start]:
    starts = [_Start(1, "trial", 0)]
    counts = dict.fromkeys(("budget", *SECTIONS), 0)
    for one in draft:
        if one.section == "trial":
            continue
        index = counts[one.section]
        counts[one.section] = index + 1
        line = line_of(text, ("budget",) if one.section == "budget" else (one.section, index))
        if line is not None:
            starts.append(_Start(line, one.section, index))
    return sorted(starts, key=lambda start: start.line)


def _problem(met: WorkbenchError, starts: Sequence[_Start]) -> DraftProblem:
    line = _LINE.search(met.place)
    at = starts[0]
    if line:
        at = [one for one in starts if one.line <= int(line[1])][-1]
    key = _KEY.search(met.place)
    return DraftProblem(
        section=at.section,
        index=at.index,
        key=_field_key(key[1] if key else "", at.section),
        words=f"{met.wrong} {met.why} {met.next_step}",
    )


def _field_key(key: str, section: str) -> str:
    known = {field.key for field in FIELDS[section]}
    other = {"between": "at_least", "varies": "shape"}.get(key, key)
    return other if other in known else ""
