"""Plans of a trial: which runs, in which order, and what they can and cannot tell."""

from workbench.plan.aliases import Alias, aliases, cannot_be_told_apart
from workbench.plan.composite import composite
from workbench.plan.composite_shape import orthogonal_axial_distance, rotatable_axial_distance
from workbench.plan.plans import Plan, Recipe
from workbench.plan.power import Detectable, TermPower, detectable, power
from workbench.plan.remake import remake
from workbench.plan.two_level import fraction, full

__all__ = [
    "Alias",
    "Detectable",
    "Plan",
    "Recipe",
    "TermPower",
    "aliases",
    "cannot_be_told_apart",
    "composite",
    "detectable",
    "fraction",
    "full",
    "orthogonal_axial_distance",
    "power",
    "remake",
    "rotatable_axial_distance",
]
