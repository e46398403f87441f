"""What the explorer answers: settings in, ladders and chances out."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from workbench.define.factors import Categorical, Stepped
from workbench.errors import OptionError, WorkbenchError
from workbench.files.numbers import Decimal, read_number
from workbench.show.numbers import setting, tried
from workbench.steps.panel_explore import look, look_inside

if TYPE_CHECKING:
    from collections.abc import Mapping

    from workbench.decide.windows import Decision
    from workbench.define.factors import Factor
    from workbench.steps.panel_explore import Promise, Side

    Message = dict[str, Any]

PARTS = 20  # of a range: the step of a field whose setting error is not known, or none


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ExploreDesk:
    """One or two sets of fits over the same factors, the promise asked, and the seed."""

    sides: tuple[Side, ...]
    promise: Promise
    seed: int
    decision: Decision | None = None

    @property
    def factors(self) -> tuple[Factor, ...]:
        """The factors that are set."""
        return self.sides[0].fits[0].settings.factors

    def start(self) -> Message:
        """Return what the page begins with: fields at the set point, or at the middle."""
        fields = [self._field(factor) for factor in self.factors]
        return {
            "fields": fields,
            "share": self.promise.share,
            "confidence": self.promise.confidence,
            "has_window": any(one["low"] for one in fields),
            "look": self.answer({"kind": "look", "at": {f["name"]: f["value"] for f in fields}}),
        }

    def _field(self, factor: Factor) -> Message:
        point = _set_point(self.decision)
        limits = _limits(self.decision)
        if isinstance(factor, Categorical):
            value = str(point.get(factor.name, factor.levels[0]))
            return _choice(factor.name, factor.levels, value)
        middle = (factor.low + factor.high) / 2
        if isinstance(factor, Stepped):
            middle = min(factor.steps, key=lambda one: abs(one - middle))
        low, high = limits.get(factor.name, (None, None))
        return {
            "name": factor.name,
            "unit": factor.unit,
            "tried": tried(factor),
            "choices": [],
            "step": factor.setting_sd or (factor.high - factor.low) / PARTS,
            "is_sd": bool(factor.setting_sd),
            "ends": [factor.low, factor.high],
            "value": setting(factor, float(point.get(factor.name, middle))),
            "low": "" if low is None else setting(factor, low),
            "high": "" if high is None else setting(factor, high),
        }

    def answer(self, message: Mapping[str, Any]) -> Message:
        """Return the answer to a message of the page; slips are named by their field."""
        at, slips = self._read(message.get("at", {}))
        if message.get("kind") == "box":
            box, more = self._read_box(message.get("box", {}))
            if slips or more:
                return {"slips": slips | more}
            return {"boxes": [self._inside(one, box, at) for one in self.sides]}
        if slips:
            return {"slips": slips}
        return {"looks": [self._look(one, at) for one in self.sides]}

    def _look(self, side: Side, at: Mapping[str, float]) -> Message:
        try:
            return asdict(look(side, at, self.promise, seed=self.seed))
        except WorkbenchError as met:
            return {"name": side.name, "ladders": [], "problem": str(met)}

    def _inside(
        self, side: Side, box: Mapping[str, tuple[float, float]], at: Mapping[str, float]
    ) -> Message:
        try:
            return asdict(look_inside(side, box, at=at, promise=self.promise, seed=self.seed))
        except WorkbenchError as met:
            return {"name": side.name, "problem": str(met)}

    def _read(self, texts: Mapping[str, str]) -> tuple[dict[str, float], dict[str, str]]:
        at: dict[str, float] = {}
        slips: dict[str, str] = {}
        for factor in self.factors:
            try:
                at[factor.name] = _number(factor, str(texts.get(factor.name, "")))
            except WorkbenchError as met:
                slips[factor.name] = f"{met.wrong} {met.next_step}"
        return at, slips

    def _read_box(
        self, texts: Mapping[str, Any]
    ) -> tuple[dict[str, tuple[float, float]], dict[str, str]]:
        box: dict[str, tuple[float, float]] = {}
        slips: dict[str, str] = {}
        for factor in self.factors:
            ends = [str(one).strip() for one in texts.get(factor.name, ("", ""))]
            if isinstance(factor, Categorical) or not any(ends):
                continue
            try:
                low, high = (_number(factor, one) for one in ends)
                box[factor.name] = _in_order(low, high)
            except WorkbenchError as met:
                slips[factor.name] = f"{met.wrong} {met.next_step}"
        return box, slips


def _choice(name: str, levels: tuple[str, ...], value: str) -> Message:
    empty = {"unit": "", "tried": "", "step": 0, "is_sd": False, "low": "", "high": ""}
    return {"name": name, "choices": list(levels), "value": value, "ends": []} | empty


def _set_point(decision: Decision | None) -> dict[str, Any]:
    best = None if decision is None else decision.best
    made = getattr(best, "set_point", None)
    if made is not None:
        return dict(made())
    nearest = getattr(best, "nearest_miss", None)
    return dict(nearest.settings) if nearest is not None else {}


def _limits(decision: Decision | None) -> dict[str, tuple[float, float]]:
    best = None if decision is None else decision.best
    return {one.factor.name: (one.low, one.high) for one in getattr(best, "limits", ())}


def _number(factor: Factor, text: str) -> float:
    if isinstance(factor, Categorical):
        return float(factor.index(text))
    found = read_number(text, decimal=Decimal.EITHER, place="")
    if found is None or found.mark or found.unit not in ("", factor.unit):
        raise OptionError(
            f"{text!r} is no setting of {factor.name}.",
            why="A setting is one number in its unit.",
            next_step=f"Write a number in {factor.unit}." if factor.unit else "Write a number.",
        )
    return found.value


def _in_order(low: float, high: float) -> tuple[float, float]:
    if low <= high:
        return low, high
    raise OptionError(
        f"The window goes from {low:g} to {high:g}.",
        why="Its low side lies above its high side.",
        next_step="Exchange the two.",
    )
