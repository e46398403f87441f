"""The columns of the surface from which shares are drawn, and how settings scatter."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

import numpy as np

from workbench.define.factors import Categorical, Role
from workbench.define.model_matrix import model_matrix
from workbench.define.settings import Settings
from workbench.fit.left_out import left_out_exponents, tried_exponents
from workbench.fit.matrix import fit_matrix
from workbench.numerics.monomials import monomials

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor, Numeric
    from workbench.define.terms import Terms


class Surfaced(Protocol):
    """A model whose location is a polynomial of coded settings: what its surface is made of.

    `estimable` (p,) are the columns of `fit_matrix` that have an estimate, blocks last.
    """

    @property
    def terms(self) -> Terms:
        """Terms of the model."""

    @property
    def settings(self) -> Settings:
        """Settings (n, k) of the rows used."""

    @property
    def uses_as_run(self) -> bool:
        """Whether these are the settings really set."""

    @property
    def block(self) -> NDArray[np.int64]:
        """Index (n,) of each row's block."""

    @property
    def block_labels(self) -> tuple[str, ...]:
        """Labels of the blocks."""

    @property
    def n_block_columns(self) -> int:
        """Number of block columns."""

    @property
    def estimable(self) -> NDArray[np.bool_]:
        """Columns (p,) that have an estimate."""


NORMAL, UNIFORM = 3.0, 1.8  # fourth moment over squared variance


def moving(factors: tuple[Factor, ...]) -> tuple[Numeric, ...]:
    """Return the numeric factors that are set on purpose (control and noise)."""
    roles = (Role.CONTROL, Role.NOISE)
    return tuple(one for one in factors if not isinstance(one, Categorical) and one.role in roles)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShareBasis:
    """The surface's q columns: those of the model that the runs can tell, then those left out.

    `exponents` (q, k) belong to the k moving factors; `columns` (p,) index the model matrix and
    `is_slope` (p,) marks first-order numeric ones. `sd` and `fourth` (k,) describe the scatter
    of each setting in coded units, `centre` (k,) where a noise factor stands (NaN: as set).
    `projection` (p, q − p) is A = (F′F)⁻¹F′Z: what the fitted columns F take over of those left
    out, Z.
    """

    terms: Terms
    factors: tuple[Numeric, ...]
    columns: NDArray[np.intp]
    is_slope: NDArray[np.bool_]
    exponents: NDArray[np.int64]
    sd: NDArray[np.float64]
    fourth: NDArray[np.float64]
    centre: NDArray[np.float64]
    projection: NDArray[np.float64]

    @property
    def n_left_out(self) -> int:
        """Number of columns that the model leaves out."""
        return int(self.exponents.shape[0] - self.columns.size)

    def straight(self) -> ShareBasis:
        """Return the basis without what the model leaves out."""
        own = self.columns.size
        return replace(
            self, exponents=self.exponents[:own], projection=np.empty((own, 0), dtype=np.float64)
        )

    @property
    def scattering(self) -> tuple[int, ...]:
        """Axes along which settings scatter."""
        return tuple(int(axis) for axis in np.flatnonzero(self.sd > 0))

    def positions(self, settings: Settings) -> NDArray[np.float64]:
        """Return coded positions (n, k), noise factors at the centre of their spread."""
        x = _coded(settings, self.factors)
        return np.where(np.isnan(self.centre), x, self.centre)

    def level_part(self, settings: Settings) -> NDArray[np.float64]:
        """Return what the levels of the categories multiply each column by (n, q).

        It is the model matrix with every numeric factor at coded 1; a left-out column is the
        same curve at every level.
        """
        values = np.array(settings.values)
        for j, factor in enumerate(settings.factors):
            if not isinstance(factor, Categorical):
                values[:, j] = factor.high
        fixed = Settings(factors=settings.factors, values=values)
        known = model_matrix(self.terms, fixed).X[:, self.columns]
        return np.hstack([known, np.ones((len(settings), self.n_left_out))])

    def surface(
        self, x: NDArray[np.float64], levels: NDArray[np.float64], by: tuple[int, ...] = ()
    ) -> NDArray[np.float64]:
        """Return the columns (n, q) at coded positions, differentiated by the axes `by`."""
        return levels * monomials(x, self.exponents, by)


def share_basis(fit: Surfaced) -> ShareBasis:
    """Return the columns from which the shares of a fit are drawn."""
    factors = moving(fit.settings.factors)
    n_columns = fit.estimable.size - fit.n_block_columns
    columns = np.flatnonzero(fit.estimable[:n_columns])
    tried = tried_exponents(fit.terms, fit.settings, factors)[columns]
    x = _coded(fit.settings, factors)
    left_out = left_out_exponents(tried, x)
    scatter = [_scatter(one, as_run=fit.uses_as_run) for one in factors]
    fitted = fit_matrix(fit.terms, fit.settings, (fit.block, fit.block_labels)).X
    solved = np.linalg.lstsq(fitted[:, fit.estimable], monomials(x, left_out))[0]
    return ShareBasis(
        terms=fit.terms,
        factors=factors,
        columns=columns,
        is_slope=(tried.sum(axis=1) == 1) & _without_category(fit)[columns],
        exponents=np.vstack([tried, left_out]),
        sd=np.array([one.sd for one in scatter]),
        fourth=np.array([one.fourth for one in scatter]),
        centre=np.array([one.centre for one in scatter]),
        projection=np.asarray(solved[: columns.size]),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scatter:
    sd: float
    fourth: float
    centre: float


def _scatter(factor: Numeric, *, as_run: bool) -> _Scatter:
    """Return how a setting scatters in production, in coded units.

    A fit on planned settings holds the trial's setting error in its residual, so only a fit on
    as-run settings gets it added. A noise factor's spread is in no residual.
    """
    half = (factor.high - factor.low) / 2
    if factor.spread is None:
        sd = (factor.setting_sd or 0.0) / half if as_run else 0.0
        return _Scatter(sd=sd, fourth=NORMAL, centre=np.nan)
    centre = float(factor.coded(np.array([factor.spread.centre]))[0])
    if factor.spread.shape == "uniform":
        sd = factor.spread.width / half / float(np.sqrt(3))
        return _Scatter(sd=sd, fourth=UNIFORM, centre=centre)
    return _Scatter(sd=factor.spread.width / half, fourth=NORMAL, centre=centre)


def _coded(settings: Settings, factors: tuple[Numeric, ...]) -> NDArray[np.float64]:
    columns = [one.coded(settings.column(one.name)) for one in factors]
    return np.column_stack(columns) if columns else np.empty((len(settings), 0))


def _without_category(fit: Surfaced) -> NDArray[np.bool_]:
    named = {one.name for one in fit.settings.factors if isinstance(one, Categorical)}
    owner = model_matrix(fit.terms, fit.settings.rows(np.array([0])))
    return np.array([not named & set(owner.terms[index].factors) for index in owner.term])
