"""Hand-overs as JSON objects; the keys stand in the table of `workbench.steps.answers`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.steps.json_values import number, unavailable, value, words

if TYPE_CHECKING:
    from workbench.decide.handover import Chapter, ControlRow, HandOver, LookLine, SetLine
    from workbench.decide.handover_made import NoHandOver
    from workbench.steps.handover import HandedOver
    from workbench.steps.json_values import JsonObject


def handover_answer(found: HandedOver) -> JsonObject:
    """Return the answer of `handover`."""
    made = found.made
    return {
        "confirmed": made.proof.is_confirmed,
        "standing": str(made.proof),
        "promise": made.promise,
        "share": made.window.share,
        "confidence": made.window.confidence,
        "settings": {one.name: _setting(one) for one in made.instruction.settings},
        "keep": words(made.instruction.keep),
        "do": words(made.instruction.do),
        "look_for": [_look(one) for one in made.instruction.look_for],
        "stop_if": words(made.instruction.stop_if),
        "control_plan": [_control(one) for one in made.control],
        "assured": _assured(made),
        "evidence": {one.title: _chapter(one) for one in made.evidence},
        "not_tested": words(made.not_tested),
        "files": [str(found.page), str(found.workbook)],
    }


def no_handover_answer(none: NoHandOver) -> JsonObject:
    """Return the answer of `handover` where nothing can be handed over."""
    return {"handover": unavailable(none.reason), "next_step": none.next_step}


def _setting(one: SetLine) -> JsonObject:
    return {
        "set_point": value(one.set_to),
        "low": number(one.low),
        "high": number(one.high),
        "unit": one.unit,
        "steps": [number(step) for step in one.steps],
        "setting_sd": number(one.holds),
        "below_low": one.below_low,
        "above_high": one.above_high,
    }


def _look(one: LookLine) -> JsonObject:
    return {"sign": one.sign, "reading": one.reading, "comes_with": words(one.comes_with)}


def _control(one: ControlRow) -> JsonObject:
    return {
        "characteristic": one.characteristic,
        "checked": str(one.checked),
        "specification": one.specification,
        "method": one.method or None,
        "sample": one.sample or None,
        "frequency": one.frequency or None,
        "reaction": one.reaction,
    }


def _assured(made: HandOver) -> JsonObject:
    return {
        one.outcome or "all together": {
            "requirement": one.requirement,
            "chance": number(one.chance),
            "lowest": number(one.lowest),
        }
        for one in made.assured
    }


def _chapter(one: Chapter) -> JsonObject:
    return {
        "says": one.says or None,
        "facts": [{"what": fact.what, "found": fact.found} for fact in one.facts],
    }
