"""Cautions: what can hurt someone at the bench, said on every sheet and report it applies to.

The texts are the trade's common knowledge, short enough for a run sheet. They replace no data
sheet: `DEFERRAL` says so and is shown wherever a caution is.
"""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING

from workbench.errors import DefinitionError

if TYPE_CHECKING:
    from collections.abc import Iterable

DEFERRAL = (
    "The maker's safety and technical data sheets, local codes and licensed practice always come "
    "first; these lines are reminders and complete nothing."
)
COMMON = "common practice, no source"
TRADE = "trade guidance on adhesives"
SOLDERING = "trade guidance on soldering"
MAGNETS = "trade guidance on permanent magnets"


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One hazard in plain words; `basis` is the kind of source, or that there is none."""

    tag: str
    title: str
    text: str
    basis: str


_CAUTIONS = (
    Caution(
        tag="acrylate",
        title="Acrylates sensitise skin",
        text="Acrylate and methacrylate monomers can cause a lasting allergy, and thin gloves may "
        "let monomer through. Wear the glove that the data sheet names, change it as soon as it "
        "is wetted, and ventilate.",
        basis=TRADE,
    ),
    Caution(
        tag="activator vapour",
        title="Activator: flammable vapour",
        text="Many activators and primers are carried in a flammable solvent. Ventilate, keep "
        "every ignition source away and let the carrier flash off before parts are heated or "
        "closed.",
        basis=COMMON,
    ),
    Caution(
        tag="flux fume",
        title="Flux fume",
        text="Rosin fume irritates the airways and can cause asthma; many countries set a limit "
        "for it. Extract it at the tip, not above the head.",
        basis=SOLDERING,
    ),
    Caution(
        tag="high-voltage magnetising",
        title="Capacitor bank: stored charge",
        text="A magnetising bank can kill after it is switched off. Discharge and short it, keep "
        "the interlock closed, and let only people licensed for the work open it.",
        basis=COMMON,
    ),
    Caution(
        tag="hot iron",
        title="Hot tip: burns",
        text="The tip, fresh joints and the parts near them burn skin. Park the iron in its "
        "stand, keep cables and solvents clear of it, and let joints cool before handling.",
        basis=COMMON,
    ),
    Caution(
        tag="instant adhesive",
        title="Instant adhesive bonds skin and eyelids",
        text="Wear eye protection. Never pull bonded skin or eyelids apart: get medical help. It "
        "heats up on cotton and wool, so keep it off clothing and tissue, and ventilate.",
        basis=f"{TRADE}; heat on cotton: {COMMON}",
    ),
    Caution(
        tag="oven",
        title="Oven: burns and vapour",
        text="Use heat-proof gloves and wait for parts to cool. Put nothing that still holds "
        "solvent into an oven that is not rated for it.",
        basis=COMMON,
    ),
    Caution(
        tag="press",
        title="Press: crushing",
        text="Keep hands out while it closes; use both-hand release or the guard. Set force and "
        "travel low before the first part of a new setting.",
        basis=COMMON,
    ),
    Caution(
        tag="pressurised dispenser",
        title="Pressurised syringe",
        text="Release the pressure before a tip or syringe is changed. Wear eye protection: a "
        "blocked tip can let go at once. Never point it at anyone.",
        basis=COMMON,
    ),
    Caution(
        tag="pull test",
        title="Parts under load break suddenly",
        text="Push-off, pull and peel tests throw fragments, ceramic above all. Close the screen "
        "and wear eye protection before load goes on.",
        basis=COMMON,
    ),
    Caution(
        tag="sharp",
        title="Sharp edges",
        text="Blades, needles, trimmed leads and broken parts cut. Cut away from the hand and put "
        "needles and blades into a rigid container.",
        basis=COMMON,
    ),
    Caution(
        tag="silicone",
        title="Silicone cure vapour",
        text="Moisture-cure silicone gives off vapour while it cures (acetic acid, an oxime or an "
        "alcohol, by type) that irritates eyes and airways. Ventilate the cure chamber too.",
        basis=COMMON,
    ),
    Caution(
        tag="solvent",
        title="Flammable solvent",
        text="Ventilate, keep every ignition source away, use small amounts in closed vessels and "
        "keep it off skin.",
        basis=COMMON,
    ),
    Caution(
        tag="strong magnets",
        title="Strong magnets",
        text="They pinch, shatter and disturb implants such as pacemakers: keep people with "
        "implants, and tools of steel, at a distance. Wear eye protection.",
        basis=MAGNETS,
    ),
)
HAZARDS = tuple(one.tag for one in _CAUTIONS)
_OTHER_NAMES = {"cyanoacrylate": "instant adhesive", "methacrylate": "acrylate"}


def cautions_for(hazards: Iterable[str]) -> tuple[Caution, ...]:
    """Return the caution of each hazard, each once, in the order of first mention.

    Raises
    ------
    DefinitionError
        If a hazard is unknown; the message names the known ones.
    """
    by_tag = {one.tag: one for one in _CAUTIONS}
    found: dict[str, Caution] = {}
    for hazard in hazards:
        tag = _OTHER_NAMES.get(hazard, hazard)
        if tag not in by_tag:
            raise _unknown(hazard)
        found.setdefault(tag, by_tag[tag])
    return tuple(found.values())


def _unknown(hazard: str) -> DefinitionError:
    near = get_close_matches(hazard, [*HAZARDS, *_OTHER_NAMES], n=1)
    hint = f"Did you mean {near[0]!r}? " if near else ""
    return DefinitionError(
        f"The hazard {hazard!r} has no caution text.",
        why="A hazard that prints nothing would be missed on the sheet.",
        next_step=f"{hint}Use one of: {', '.join(HAZARDS)}; write anything else in full under "
        "cautions.",
    )
