"""The model of an adopted table when nobody has named one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.algebra import parse_terms, terms_text
from workbench.define.factors import Categorical
from workbench.define.model_matrix import model_matrix
from workbench.define.terms import Term
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.settings import Settings

FEW_SETTINGS = 5
FACTORS_AT_MOST = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """The text of a model, and the line that says why it was chosen."""

    text: str
    line: ReceiptLine


def model_of(asked: str, settings: Settings, block: NDArray[np.int64], *, source: str) -> Model:
    """Return the model asked for, or the one proposed for runs at these settings.

    An unreplicated complete two-level factorial: all products. Every numeric factor at a few
    settings only: products of two, if an error degree of freedom is left. Otherwise main effects.

    Raises
    ------
    DefinitionError
        If the model asked for cannot be read.
    """
    if asked:
        parse_terms(asked, settings.factors)
        line = ReceiptLine(where="--terms", met=asked, understood="the model asked for")
        return Model(text=asked, line=line)
    if _is_single_two_level(settings):
        whole = Term(powers=tuple((factor.name, 1) for factor in settings.factors))
        text, why = terms_text((whole,)), "every combination of two levels once"
    else:
        text, why = _proposed(settings, block)
    line = ReceiptLine(
        where=source,
        met=why,
        understood=f"the model {text}; --terms decides otherwise",
        sure=False,
    )
    return Model(text=text, line=line)


def _proposed(settings: Settings, block: NDArray[np.int64]) -> tuple[str, str]:
    if not all(_is_at_few(settings, factor) for factor in settings.factors):
        return "first-order", f"a factor at more than {FEW_SETTINGS} settings"
    if len(settings.factors) == 1:
        return "first-order", "one factor"
    if _rank("interactions", settings, block) == _rank("first-order", settings, block):
        return "first-order", "no product of factors can be told from the factors themselves"
    if _error_df("interactions", settings, block) >= 1:
        return "interactions", f"every numeric factor at {FEW_SETTINGS} settings or fewer"
    return "first-order", "too few runs for products of factors"


def _is_single_two_level(settings: Settings) -> bool:
    k = len(settings.factors)
    if k > FACTORS_AT_MOST or len(settings) != 2**k:
        return False
    two = all(np.unique(settings.values[:, j]).size == 2 for j in range(k))
    return two and len(np.unique(settings.values, axis=0)) == 2**k


def _is_at_few(settings: Settings, factor: Factor) -> bool:
    if isinstance(factor, Categorical):
        return True
    return np.unique(settings.column(factor.name)).size <= FEW_SETTINGS


def _error_df(text: str, settings: Settings, block: NDArray[np.int64]) -> int:
    return len(settings) - _rank(text, settings, block)


def _rank(text: str, settings: Settings, block: NDArray[np.int64]) -> int:
    """Return the rank of the model with its blocks; rows of the same settings add nothing."""
    _, first = np.unique(np.column_stack([settings.values, block]), axis=0, return_index=True)
    some = settings.rows(first)
    X = model_matrix(parse_terms(text, settings.factors), some).X
    lots = (block[first, None] == np.unique(block)[None, 1:]).astype(float)
    return int(np.linalg.matrix_rank(np.hstack([X, lots])))
