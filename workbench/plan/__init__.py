"""Plans of a trial: which runs, in which order, and what they can and cannot tell."""

from workbench.plan.added import with_added_block
from workbench.plan.aliases import Alias, aliases, cannot_be_told_apart
from workbench.plan.box_behnken import box_behnken
from workbench.plan.candidate_facts import aims_of
from workbench.plan.candidate_nouns import Aim, Candidate, Comparison, Detects, Leaning
from workbench.plan.candidates import NothingFitsError, candidate_named, candidates
from workbench.plan.composite import composite
from workbench.plan.composite_shape import (
    orthogonal_axial_distance,
    rotatable_axial_distance,
    uncorrelated_axial_distance,
)
from workbench.plan.definitive import definitive
from workbench.plan.fold_over import fold_over
from workbench.plan.incomplete import incomplete_blocks
from workbench.plan.margin import Margin, margin
from workbench.plan.mixing import Mixing, Overlap, mixing
from workbench.plan.orthogonal import orthogonal
from workbench.plan.plans import Plan, Recipe
from workbench.plan.power import (
    Detectable,
    DetectableAt,
    TermPower,
    detectable,
    detectable_at,
    power,
)
from workbench.plan.precision import Precision, PrecisionMap, precision, precision_map
from workbench.plan.remake import remake
from workbench.plan.repeats import corner_dry_run, with_repeats
from workbench.plan.robustness import (
    DegreesOfFreedom,
    EstimateOverlap,
    LostRun,
    against_drift,
    degrees_of_freedom,
    drift_left,
    estimate_overlap,
    leverages,
    worst_lost_run,
)
from workbench.plan.screening import screening
from workbench.plan.squares import latin_square
from workbench.plan.strata import Layer
from workbench.plan.two_level import fraction, full

__all__ = [
    "Aim",
    "Alias",
    "Candidate",
    "Comparison",
    "DegreesOfFreedom",
    "Detectable",
    "DetectableAt",
    "Detects",
    "EstimateOverlap",
    "Layer",
    "Leaning",
    "LostRun",
    "Margin",
    "Mixing",
    "NothingFitsError",
    "Overlap",
    "Plan",
    "Precision",
    "PrecisionMap",
    "Recipe",
    "TermPower",
    "against_drift",
    "aims_of",
    "aliases",
    "box_behnken",
    "candidate_named",
    "candidates",
    "cannot_be_told_apart",
    "composite",
    "corner_dry_run",
    "definitive",
    "degrees_of_freedom",
    "detectable",
    "detectable_at",
    "drift_left",
    "estimate_overlap",
    "fold_over",
    "fraction",
    "full",
    "incomplete_blocks",
    "latin_square",
    "leverages",
    "margin",
    "mixing",
    "orthogonal",
    "orthogonal_axial_distance",
    "power",
    "precision",
    "precision_map",
    "remake",
    "rotatable_axial_distance",
    "screening",
    "uncorrelated_axial_distance",
    "with_added_block",
    "with_repeats",
    "worst_lost_run",
]
