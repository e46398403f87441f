"""The notebooks that go into a trial's folder: each a page of words and cells, made a notebook."""

from __future__ import annotations

import json
import re
from importlib import resources

NAMES = ("plan_this_trial", "read_this_trial")
_CELL = re.compile(r"^```python\n(.*?)\n```$", re.DOTALL | re.MULTILINE)
_KERNEL = {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"}
_MARKS = re.compile(r"([\\`*_{}\[\]<>#$|~!])")


def trial_notebooks(title: str, question: str) -> dict[str, str]:
    """Return the text of each notebook by its file name, headed by the trial's own words."""
    said = {"TITLE": _plain(title), "QUESTION": _plain(question) or "not stated yet."}
    return {f"{name}.ipynb": _notebook(_page(name), said) for name in NAMES}


def _page(name: str) -> str:
    shelf = resources.files("workbench") / "files" / "starters"
    return (shelf / f"{name}.md").read_text("utf-8")


def _notebook(page: str, said: dict[str, str]) -> str:
    # Split by a pattern with one group: words and cells take turns, words first.
    parts = [part.strip("\n") for part in _CELL.split(page)]
    numbered = [(i, part) for i, part in enumerate(parts, start=1) if part]
    cells = [_words(i, _filled(p, said)) if i % 2 else _code(i, p) for i, p in numbered]
    whole = {"cells": cells, "metadata": {"kernelspec": _KERNEL}, "nbformat": 4}
    return json.dumps(whole | {"nbformat_minor": 5}, ensure_ascii=False, indent=1) + "\n"


def _filled(words: str, said: dict[str, str]) -> str:
    return re.sub(r"@(TITLE|QUESTION)@", lambda found: said[found[1]], words)


def _words(number: int, text: str) -> dict[str, object]:
    return {"cell_type": "markdown", "id": f"cell-{number:02d}", "metadata": {}, "source": text}


def _code(number: int, text: str) -> dict[str, object]:
    ran: dict[str, object] = {"execution_count": None, "outputs": []}
    return ran | {"cell_type": "code", "id": f"cell-{number:02d}", "metadata": {}, "source": text}


def _plain(text: str) -> str:
    """Return a user's words as one line that a notebook shows as they are."""
    return _MARKS.sub(r"\\\1", " ".join(text.split()))
