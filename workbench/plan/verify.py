"""Every array is checked before use: balance, orthogonality, resolution, distinct runs, rank."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.model_matrix import model_matrix
from workbench.errors import PlanError
from workbench.numerics.words import resolution_of
from workbench.plan.aliases import groups_of, refuse_mixed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.model_matrix import ModelMatrix
    from workbench.define.settings import Settings
    from workbench.define.terms import Terms

ROUNDING = 1e-9


class BrokenArrayError(AssertionError):
    """An array of ours is not what it claims to be: a fault of the workbench, not of its user."""


def verify_two_level(array: NDArray[np.float64], *, resolution: int | None) -> None:
    """Check a two-level array (n, k) of −1 and +1, every run once, against its claim.

    `resolution` None claims a full factorial. The claim is recomputed from the runs.

    Raises
    ------
    BrokenArrayError
        If the array is not balanced, orthogonal, distinct and of that very resolution.
    """
    _require(bool((np.abs(array) == 1).all()), "an entry is neither −1 nor +1")
    _require(len(np.unique(array, axis=0)) == len(array), "two runs are the same")
    _require(bool((array.sum(axis=0) == 0).all()), "a column is not balanced")
    products = array.T @ array
    _require(
        bool((products == len(array) * np.eye(array.shape[1])).all()),
        "two columns are not orthogonal",
    )
    found = resolution_of(array)
    _require(found == resolution, f"its resolution is {found}, not {resolution}")


def verify_blocks(array: NDArray[np.float64], block: NDArray[np.int64]) -> None:
    """Check that blocks (n,) of a two-level array (n, k) are of one size and each balanced.

    Raises
    ------
    BrokenArrayError
        If a block differs in size or a main effect is lost to the blocks.
    """
    _, sizes = np.unique(block, return_counts=True)
    _require(len(set(sizes.tolist())) == 1, "its blocks differ in size")
    for one in np.unique(block):
        _require(bool((array[block == one].sum(axis=0) == 0).all()), "a block is not balanced")


def verify_axial(array: NDArray[np.float64], distance: float) -> None:
    """Check that axial runs (2k, k) stand in pairs at −distance and +distance on each axis.

    Raises
    ------
    BrokenArrayError
        If an axis has another number of runs or another distance.
    """
    off = np.abs(array) > ROUNDING
    _require(bool((off.sum(axis=1) == 1).all()), "an axial run leaves its axis")
    _require(bool((off.sum(axis=0) == 2).all()), "an axis does not have two runs")
    _require(bool(np.allclose(array.sum(axis=0), 0)), "an axial pair is lopsided")
    _require(bool(np.allclose(np.abs(array[off]), distance)), "an axial distance is wrong")


def verify_product(array: NDArray[np.float64], sizes: tuple[int, ...]) -> None:
    """Check that every combination of levels stands once in an array (n, k) of level indices.

    Raises
    ------
    BrokenArrayError
        If one is missing or stands twice.
    """
    _require(len(array) == int(np.prod(sizes)), "it has the wrong number of runs")
    _require(len(np.unique(array, axis=0)) == len(array), "two runs are the same")
    inside = (array >= 0) & (array < np.array(sizes))
    _require(bool(inside.all()), "a level does not exist")


def carried(terms: Terms, settings: Settings, block: NDArray[np.int64]) -> int:
    """Return the degrees of freedom left for error once the model and the blocks are fitted.

    Raises
    ------
    PlanError
        If the runs cannot tell the terms apart, from one another or from the blocks.
    """
    return carried_matrix(model_matrix(terms, settings), block)


def carried_matrix(model: ModelMatrix, block: NDArray[np.int64]) -> int:
    """Return the degrees of freedom that a model matrix and blocks (n,) leave for error.

    Raises
    ------
    PlanError
        If the runs cannot tell the terms apart, from one another or from the blocks.
    """
    between = block_columns(block)
    X = np.hstack([model.X[:, :1], between, model.X[:, 1:]])
    n_runs = int(X.shape[0])
    refuse_too_many(X.shape[1], n_runs)
    owners = [model.terms[t] for t in model.term]
    blocks = ["blocks"] * between.shape[1]
    refuse_mixed(groups_of(X, [owners[0], *blocks, *owners[1:]]))
    return n_runs - int(X.shape[1])


def block_columns(block: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return columns (n, blocks − 1) that sum to zero over the blocks."""
    names = np.unique(block)
    own = (block[:, None] == names[:-1]).astype(float)
    return np.asarray(own - (block == names[-1])[:, None])


def refuse_too_many(n_columns: int, n_runs: int) -> None:
    """Refuse a model with more coefficients than there are runs.

    Raises
    ------
    PlanError
        If there are more.
    """
    if n_columns > n_runs:
        raise PlanError(
            f"The model has {n_columns} coefficients (mean and blocks among them) "
            f"for {n_runs} runs.",
            why="Each coefficient needs at least one run of its own.",
            next_step=f"Ask for {n_columns} runs or more, or for fewer terms.",
        )


def _require(holds: bool, fault: str) -> None:  # noqa: FBT001 -- reads as "require this, or say that"
    if not holds:
        raise BrokenArrayError(f"An array made by the workbench is broken: {fault}.")


def verify_strength_two(array: NDArray[np.int64]) -> None:
    """Check that every two columns of an array (n, k) show all pairs of levels equally often.

    Raises
    ------
    BrokenArrayError
        If a pair is missing or more frequent than another.
    """
    index = [np.unique(column, return_inverse=True)[1] for column in array.T]
    sizes = [int(one.max()) + 1 for one in index]
    for b in range(len(index)):
        for a in range(b):
            pairs = np.bincount(index[a] * sizes[b] + index[b], minlength=sizes[a] * sizes[b])
            _require(int(np.ptp(pairs)) == 0, "a pair of levels is more frequent than another")


def verify_fold_over(array: NDArray[np.float64]) -> None:
    """Check that with every run of an array (n, k) of −1, 0, +1 stands its mirror image.

    Then main effects are clear of squares and of products of two (Box and Wilson 1951).

    Raises
    ------
    BrokenArrayError
        If a mirror image is missing or the columns are dependent.
    """
    there = {tuple(row) for row in (array + 0.0).tolist()}
    mirrored = {tuple(row) for row in (0.0 - array).tolist()}
    _require(there == mirrored, "a run lacks its mirror image")
    _require(int(np.linalg.matrix_rank(array)) == array.shape[1], "its columns are dependent")
