"""Write trial.toml: what differs changes, comments and the order of an existing file stay."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from workbench.errors import FileError
from workbench.files.atomic import write_text_atomically
from workbench.files.migration import in_schema, keep_backup
from workbench.files.toml_edit import blocks, edited, exchanged, joined, new_block, pair
from workbench.files.toml_outcomes import REQUIREMENT_KEYS
from workbench.files.toml_text import read_text
from workbench.files.trial_changes import trial_changes
from workbench.files.trial_document import trial_document
from workbench.files.trial_toml import SCHEMA, SECTIONS, TRIAL_FILE, trial_from_text

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.define.trial import Trial
    from workbench.files.toml_edit import Block

    Document = dict[str, Any]


def write_trial(folder: Path, trial: Trial, *, read_as: Trial | None = None) -> None:
    """Write a trial to trial.toml in a folder, which is made if it is not there.

    An existing file is edited: keys that say the same stay as they are written, with their
    comments. What is to be written is read back and compared before it takes the file's place.
    `read_as` is the trial as it was read before it was changed: if the file says anything else
    by now, it stays. A file of an older schema is kept in backup/ before it is brought up to date.

    Raises
    ------
    FileError, DefinitionError
        If the file that is there cannot be read or was changed meanwhile, the new one could not
        be read back, or the folder cannot be written to; then nothing is changed.
    """
    path = folder / TRIAL_FILE
    before = path.read_bytes() if path.is_file() else None
    old = read_text(path) if path.exists() else ""
    now = in_schema(old, file=TRIAL_FILE, schema=SCHEMA)
    if read_as is not None and now.strip():
        _check_same(trial_from_text(now), read_as)
    new = edited_text(now, trial) if now.strip() else trial_text(trial)
    if trial_from_text(new) != trial:
        raise FileError(
            f"{TRIAL_FILE} could not be changed so that it says the same as the trial.",
            why="Nothing was written: a file that says something else is worse than none.",
            next_step="Move the file away to have it written afresh.",
            place=str(folder),
        )
    if new != old:
        _make(folder)
        if now != old and before is not None:
            keep_backup(path, before)
        write_text_atomically(path, new, expected=before)


def _check_same(here: Trial, read_as: Trial) -> None:
    if here == read_as:
        return
    changes = "; ".join(trial_changes(read_as, here)) or "its title, words or budget"
    raise FileError(
        f"The file was changed since it was read: {changes}.",
        why="Writing now would undo that; nothing was written.",
        next_step="Read the trial again and make your change in it.",
        place=TRIAL_FILE,
    )


def trial_text(trial: Trial) -> str:
    """Return a trial as the text of a new trial.toml."""
    document = trial_document(trial)
    top = "".join(pair(key, document[key]) for key in document if key not in _HEADED)
    return top + "".join(
        new_block(key, one, is_repeated=key != "budget").text
        for key in _HEADED
        for one in _listed(document.get(key, []))
    )


def edited_text(text: str, trial: Trial) -> str:
    """Return the text of a trial.toml changed to say what the trial says.

    Raises
    ------
    FileError, DefinitionError
        If the text is no trial.
    """
    was, will = trial_document(trial_from_text(text)), trial_document(trial)
    if was == will:
        return text
    found = blocks(text.replace("\r\n", "\n"))
    for key in _HEADED:
        new = _sections(found, key, _listed(was.get(key, [])), will=_listed(will.get(key, [])))
        if new is not None:
            found = exchanged(found, key, new)
            was.pop(key, None)
            will.pop(key, None)
    found[0] = edited(found[0], was, will)
    changed = joined(found)
    return changed.replace("\n", "\r\n") if "\r\n" in text else changed


_HEADED = ("budget", *SECTIONS)


def _listed(value: Document | list[Document]) -> list[Document]:
    return value if isinstance(value, list) else [value]


def _sections(
    found: list[Block], key: str, was: list[Document], *, will: list[Document]
) -> list[Block] | None:
    """Return the blocks of one heading as they will be; None if they are a key of the top."""
    old = [one for one in found if one.heading == key]
    if key == "budget" and old and not was:
        was = [{}]  # a section whose keys are all at their defaults
    if len(old) != len(was):
        return None
    left = dict(enumerate(was))
    new = []
    for values in will:
        same = sorted(
            (i for i in left if _is_same(left[i], values)), key=lambda i: was[i] != values
        )
        if same:
            before = left.pop(same[0])
            new.append(edited(old[same[0]], before, values, one_of=REQUIREMENT_KEYS))
        else:
            new.append(new_block(key, values, is_repeated=key != "budget"))
    return new


def _is_same(was: Document, will: Document) -> bool:
    known_by = next((key for key in ("name", "reason") if key in will), None)
    return known_by is None or was.get(known_by) == will[known_by]


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise FileError(
            f"The folder {folder} cannot be made: {problem.strerror or problem}.",
            why="Nothing was written.",
            next_step="Check the path and that you may write there.",
        ) from None
