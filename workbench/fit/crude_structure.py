"""The structure of a fit: which columns its rows can tell, by least squares on crude numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.fit.core import core
from workbench.fit.left_out_remarks import left_out
from workbench.fit.matrix import fit_matrix
from workbench.fit.remarks import block_remarks, mixed_remarks
from workbench.fit.run_means import RunMeans

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from workbench.define.terms import Terms
    from workbench.fit.core import Core
    from workbench.fit.part_rows import PartRows


def crude_structure(data: PartRows, terms: Terms, crude: NDArray[np.float64]) -> Core:
    """Return columns, aliases and leverages of the terms at the rows (crude numbers (n,))."""
    return core(fit_matrix(terms, data.settings, (data.block, data.block_labels)), crude)


def structure_notes(structure: Core, data: PartRows, terms: Terms) -> tuple[str, ...]:
    """Return what the rows cannot tell apart, and what is left out of the model."""
    crude = RunMeans(
        settings=data.settings,
        run=data.run,
        block=data.block,
        block_labels=data.block_labels,
        response=structure.response,
        as_read=structure.response,
        part_scatter=None,
        n_excluded=data.n_excluded,
        notes=(),
    )
    return (
        *mixed_remarks(structure),
        *block_remarks(structure, crude),
        *left_out(structure, crude, terms),
    )
