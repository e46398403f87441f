"""What differs between two versions of a trial, in the words of trial.toml."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from workbench.files.trial_document import trial_document
from workbench.files.trial_toml import SECTIONS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from workbench.define.trial import Trial

    Document = dict[str, Any]

# What no result depends on.
ASIDE = (
    "schema",
    "title",
    "question",
    "people",
    "date",
    "invented",
    "cautions",
    "hazards",
    "stopping_rule",
    "seed",
    "budget",
)


def trial_changes(was: Trial, now: Trial) -> tuple[str, ...]:
    """Return what was changed in a trial that results depend on, a phrase for each key.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from workbench.define import Continuous, Measured, Trial
    >>> dwell = Continuous(name="dwell", low=1, high=4, unit="s", setting_sd=0)
    >>> pull = Measured(name="pull", unit="N")
    >>> was = Trial(title="t", question="?", factors=(dwell,), outcomes=(pull,))
    >>> trial_changes(was, replace(was, factors=(replace(dwell, high=5),)))
    ("factor 'dwell': high was 4, is 5",)
    """
    before, after = trial_document(was), trial_document(now)
    top = [key for key in {**before, **after} if key not in (*ASIDE, *SECTIONS)]
    found = list(_keys(_only(before, top), _only(after, top)))
    for section in SECTIONS:
        found += _sections(section, _named(before, section), _named(after, section))
    return tuple(found)


def _only(document: Document, keys: list[str]) -> Document:
    return {key: document[key] for key in keys if key in document}


def _named(document: Document, section: str) -> dict[str, Document]:
    return {
        str(one.get("name", one.get("reason", i))): one
        for i, one in enumerate(document.get(section, []))
    }


def _sections(
    section: str, before: dict[str, Document], after: dict[str, Document]
) -> Iterator[str]:
    for name in {**before, **after}:
        thing = f"{section} {name!r}"
        if name not in after:
            yield f"{thing} is gone"
        elif name not in before:
            yield f"{thing} is new"
        else:
            changes = "; ".join(_keys(before[name], after[name]))
            if changes:
                yield f"{thing}: {changes}"


def _keys(before: Document, after: Document) -> Iterator[str]:
    for key in {**before, **after}:
        was, now = before.get(key), after.get(key)
        if was != now:
            yield f"{key} was {_shown(was)}, is {_shown(now)}"


def _shown(value: object) -> str:
    if value is None:
        return "not stated"
    if isinstance(value, list):
        return ", ".join(map(_shown, value))
    return f"{value:g}" if isinstance(value, float) else str(value)
