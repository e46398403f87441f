"""The published checks that ship with the package: data, printed values, tolerances, sources."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import resources
from typing import TYPE_CHECKING, Any

import pandas as pd
import yaml

from workbench.errors import FileError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from importlib.resources.abc import Traversable

Scalar = float | int | bool
Published = Scalar | list[int] | list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedValue:
    """A printed or recomputed value with its absolute tolerance (0: exact).

    `prov` says how it is known: a read in a retrieved source, b recomputed independently,
    c from memory of the published work, f, m or t as the check's own provenance explains.
    `recomputed` is the value at full precision where one was computed.
    """

    value: Published
    tol: float
    prov: str
    recomputed: float | None = None
    from_memory: bool = False
    use: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """A value whose print differs from every recomputation."""

    group: str
    name: str
    published: float
    recomputed: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedCheck:
    """One published example: its source, its tables, and what must come out (group, name)."""

    name: str
    title: str
    source: str
    description: str
    models: Mapping[str, str]
    expected: Mapping[str, Mapping[str, ExpectedValue]]
    tables: Mapping[str, pd.DataFrame]
    disagreements: tuple[Disagreement, ...]
    notes: tuple[str, ...]


def published_names() -> tuple[str, ...]:
    """Return the names of all checks that ship with the package, sorted."""
    return tuple(sorted(one.name for one in _shelf().iterdir() if one.is_dir()))


def published(name: str) -> PublishedCheck:
    """Return one published check with its tables (file name without ending, "data" first).

    Raises
    ------
    FileError
        If no check of that name ships with the package.
    """
    folder = _shelf() / name
    if not folder.is_dir():
        raise FileError(
            f"There is no published check {name!r}.",
            why="Only the checks that ship with the package can be rerun.",
            next_step=f"Use one of: {', '.join(published_names())}.",
        )
    said: dict[str, Any] = yaml.safe_load((folder / "expected.yaml").read_text("utf-8"))
    return PublishedCheck(
        name=name,
        title=said["title"],
        source=_source_words(said["source"]),
        description=said["description"].strip(),
        models={key: str(words) for key, words in (said.get("models") or {}).items()},
        expected={
            group: {key: ExpectedValue(**_known_keys(one)) for key, one in values.items()}
            for group, values in said["expected"].items()
        },
        tables=_tables(folder),
        disagreements=tuple(Disagreement(**one) for one in said.get("disagreements") or ()),
        notes=tuple(said.get("notes") or ()),
    )


def _shelf() -> Traversable:
    return resources.files("workbench") / "evidence"


def _tables(folder: Traversable) -> dict[str, pd.DataFrame]:
    files = sorted((one for one in folder.iterdir() if one.name.endswith(".csv")), key=_file_name)
    tables = {}
    for file in files:
        with file.open("r", encoding="utf-8") as opened:
            tables[file.name.removesuffix(".csv")] = pd.read_csv(opened)
    return tables


def _file_name(file: Traversable) -> str:
    return file.name


def _known_keys(one: Mapping[str, Any]) -> dict[str, Any]:
    known = ("value", "prov", "recomputed", "from_memory", "use")
    return {"tol": float(one.get("tol", 0.0))} | {key: one[key] for key in known if key in one}


def _source_words(source: str | Mapping[str, Any]) -> str:
    if isinstance(source, str):
        return source
    parts = (source.get(key, "") for key in ("author", "year", "title", "section", "reference"))
    return ", ".join(str(part) for part in parts if part)
