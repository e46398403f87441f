"""Grades of a record: one a run, unused grades merged into their neighbours."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import FitError, Unavailable
from workbench.fit.part_rows import middle_of_runs
from workbench.fit.run_means import in_words

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Graded
    from workbench.fit.part_rows import PartRows


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunGrades:
    """Grades seen (n,), renumbered without gaps; `used` (m + 1,) are their indices in the scale.

    `has_middles` if runs had several parts and stand for them by their middle one.
    """

    data: PartRows
    grade: NDArray[np.int64]
    used: NDArray[np.int64]
    has_middles: bool


def run_grades(data: PartRows, outcome: Graded) -> RunGrades | Unavailable:
    """Return one grade a run; Unavailable where a single grade was seen.

    Raises
    ------
    FitError
        If a reading is no grade of the scale.
    """
    if (data.mark != 0).any():
        runs = in_words(np.unique(data.run[data.mark != 0]))
        return Unavailable(
            reason=f"{outcome.name!r} has grades marked as above or below ({runs}), which a "
            "scale of grades does not know; write the grade itself"
        )
    _check_grades(data, outcome)
    middles = middle_of_runs(data)
    used, grade = np.unique(middles.value.astype(np.int64), return_inverse=True)
    if used.size < 2:
        return Unavailable(
            reason=f"every run of {outcome.name!r} has the grade "
            f"{outcome.grades[int(used[0])]!r}, so nothing can be told about what changes it; "
            "widen the ranges, or read a measured size behind the grade"
        )
    return RunGrades(data=middles, grade=grade.reshape(-1), used=used, has_middles=data.has_parts)


def unused_words(grades: RunGrades, outcome: Graded) -> list[str]:
    """Return which grades of the scale nobody gave, in words."""
    unused = [name for i, name in enumerate(outcome.grades) if i not in set(grades.used.tolist())]
    if not unused:
        return []
    return [
        (
            f"No run has the grade {' or '.join(repr(one) for one in unused)}, so the model "
            "knows nothing of it and gives it no chance."
        )
    ]


def _check_grades(data: PartRows, outcome: Graded) -> None:
    wrong = (
        (data.value != np.round(data.value))
        | (data.value < 0)
        | (data.value >= len(outcome.grades))
    )
    if wrong.any():
        first = int(np.flatnonzero(wrong)[0])
        raise FitError(
            f"{outcome.name!r} reads {data.value[first]:g} in run {data.run[first]}.",
            why=f"Its grades are {', '.join(outcome.grades)}, numbered from 0.",
            next_step="Write one of the grades.",
            place=f"run {data.run[first]}",
        )
