"""What is asked of a plan on the command line or in a notebook."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanWish:
    """What is asked of a plan; None or empty where the plan's own rule decides.

    `axial` is "rotatable", "face", "uncorrelated squares", "orthogonal blocks" or a number of
    half ranges as text; `centre_at` says whether centre points stand at "every" combination of
    category levels or at a balanced "subset". `take` names a candidate, found among at most
    `runs_at_most` runs. `repeats` runs are made twice; `against_drift` seeks an order that a
    drift disturbs little.
    """

    kind: str = ""
    take: str = ""
    runs_at_most: int | None = None
    runs: int | None = None
    resolution: int | None = None
    axial: str = ""
    centre_points: int | None = None
    centre_at: str = "every"
    replicates: int = 1
    blocks: int = 1
    block_size: int | None = None
    extra_pairs: int = 0
    repeats: int = 0
    against_drift: bool = False
    seed: int | None = None
