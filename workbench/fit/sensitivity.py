"""Does the conclusion survive? The same question asked in the other ways that one might."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.outcomes import Measured
from workbench.errors import Unavailable, WorkbenchError
from workbench.fit.measured import MeasuredFit
from workbench.fit.outcome import outcome
from workbench.fit.outcome_model import OutcomeModel
from workbench.fit.scales import turns_round
from workbench.fit.strata import AS_RUN, INDEPENDENT
from workbench.run.record import Status

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from workbench.define.terms import Terms
    from workbench.fit.faces import Fit
    from workbench.fit.nouns import Effect
    from workbench.run.record import Record

SUSPICIOUS = (
    3.0  # studentised residual beyond which a run is left out once to see; common practice
)
RUNS_AT_MOST = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One other way to ask, and what came of it.

    `lost` are effects that are clear in the fit but not here, `gained` those clear only here,
    `turned` those clear in both with opposite directions. `reason` says why this way gives no
    answer, empty if it does.
    """

    name: str
    lost: tuple[str, ...] = ()
    gained: tuple[str, ...] = ()
    turned: tuple[str, ...] = ()
    reason: str = ""

    @property
    def agrees(self) -> bool:
        """Whether the same effects are clear, in the same directions."""
        return not (self.lost or self.gained or self.turned or self.reason)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensitivity:
    """The conclusion (clear effects and their directions) and every other way of asking."""

    clear: tuple[str, ...]
    variants: tuple[Variant, ...]

    def words(self) -> str:
        """Return one sentence: what the conclusion survives and what it does not."""
        answered = [one for one in self.variants if not one.reason]
        if not answered:
            return "There is no other way to ask these runs, so nothing was held against the fit."
        differing = [one for one in answered if not one.agrees]
        if not differing:
            others = len(answered)
            how_many = "the one other way" if others == 1 else f"all {others} other ways"
            return f"The conclusion is the same in {how_many} of asking."
        turned = [one.name for one in differing if one.turned]
        if turned:
            return f"An effect turns round: {'; '.join(turned)}. Decide nothing on it."
        named = "; ".join(one.name for one in differing)
        return (
            f"Which effects are clear depends on the way of asking: {named}. No direction turns "
            "round."
        )


def sensitivity(record: Record, fit: Fit, *, terms: Terms | str | None = None) -> Sensitivity:
    """Return what becomes of a fit's conclusion when it is asked in every other sensible way.

    With runs that were excluded by hand counted in, without each suspicious run (at most five),
    on the other usual scale, with settings as planned instead of as run, and with every run
    taken as independent where the fit has strata.
    """
    base = _directions(fit)
    chosen = fit.terms if terms is None else terms
    return Sensitivity(
        clear=tuple(name for name, sign in base.items() if sign),
        variants=tuple(
            _variant(way.name, base, _asked(way, fit.outcome.name, chosen))
            for way in _ways(record, fit)
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Way:
    """One way of asking: the record it is asked of, and how."""

    name: str
    record: Record
    uses_as_run: bool
    scale: str | None = None
    structure: str = AS_RUN


def _ways(record: Record, fit: Fit) -> Iterator[_Way]:
    own = _Way(name="", record=record, uses_as_run=fit.uses_as_run)
    for run, reason in _excluded(record):
        counted = _with_status(record, run, (Status.DONE, ""))
        yield replace(own, name=f"run {run} counted in ({reason})", record=counted)
    for run in _suspicious(fit):
        without = _with_status(record, run, (Status.EXCLUDED, "left out to see what it does"))
        yield replace(own, name=f"without run {run} (far from the model)", record=without)
    other = _other_scale(record, fit)
    if other:
        yield replace(own, name="as read" if other == "as read" else f"on {other}", scale=other)
    if _moved(record):
        words = "as planned" if fit.uses_as_run else "as run"
        yield replace(own, name=f"settings {words}", uses_as_run=not fit.uses_as_run)
    if isinstance(fit, OutcomeModel) and fit.scatter:
        yield replace(own, name="every run taken as independent", structure=INDEPENDENT)


def _asked(way: _Way, name: str, terms: Terms | str) -> Fit | Unavailable:
    try:
        return outcome(
            way.record,
            name,
            terms=terms,
            uses_as_run=way.uses_as_run,
            scale=way.scale,
            structure=way.structure,
        )
    except WorkbenchError as met:
        return Unavailable(reason=met.wrong)


def _variant(name: str, base: dict[str, int], found: Fit | Unavailable) -> Variant:
    if isinstance(found, Unavailable):
        return Variant(name=name, reason=found.reason)
    now = _directions(found)
    return Variant(
        name=name,
        lost=tuple(one for one, sign in base.items() if sign and not now.get(one, 0)),
        gained=tuple(one for one, sign in now.items() if sign and not base.get(one, 0)),
        turned=tuple(one for one, sign in base.items() if sign and now.get(one, 0) == -sign),
    )


def _directions(fit: Fit) -> dict[str, int]:
    """Return each effect's direction in the outcome's own unit: 0 where it is not clear."""
    turned = isinstance(fit.outcome, Measured) and turns_round(fit.outcome.scale)
    return {one.name: _direction(one) * (-1 if turned else 1) for one in fit.effects}


def _direction(effect: Effect) -> int:
    if isinstance(effect.estimate, Unavailable):
        return 0
    nothing = 1.0 if effect.is_ratio else 0.0
    if effect.estimate.low > nothing:
        return 1
    return -1 if effect.estimate.high < nothing else 0


def _excluded(record: Record) -> list[tuple[int, str]]:
    found = [
        (int(run), reason)
        for run, status, reason in zip(record.run, record.status, record.reason, strict=True)
        if status is Status.EXCLUDED
    ]
    return found[:RUNS_AT_MOST]


def _suspicious(fit: Fit) -> list[int]:
    if isinstance(fit, MeasuredFit):
        runs, size = fit.run, np.abs(fit.diagnostics.studentised)
    elif isinstance(fit, OutcomeModel):
        runs, size = fit.checks.row_run, np.abs(fit.checks.residual)
    else:
        return []
    far = np.argsort(-size)[: int((size > SUSPICIOUS).sum())]
    return list(dict.fromkeys(int(runs[place]) for place in far))[:RUNS_AT_MOST]


def _with_status(record: Record, run: int, said: tuple[Status, str]) -> Record:
    place = int(np.flatnonzero(record.run == run)[0])
    statuses, reasons = list(record.status), list(record.reason)
    statuses[place], reasons[place] = said
    return replace(record, status=tuple(statuses), reason=tuple(reasons))


def _other_scale(record: Record, fit: Fit) -> str:
    if not isinstance(fit.outcome, Measured):
        return ""
    readings = record.readings.get(fit.outcome.name)
    positive = readings is not None and bool((_finite(readings.value) > 0).all())
    if fit.outcome.scale != "as read":
        return "as read"
    return "log" if positive else ""


def _finite(values: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(values[np.isfinite(values)])


def _moved(record: Record) -> bool:
    """Return whether any setting as run is not the planned one."""
    if record.planned is None:
        return False
    known = np.isfinite(record.as_run.values) & np.isfinite(record.planned.values)
    return bool((record.as_run.values != record.planned.values)[known].any())
