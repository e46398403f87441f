"""Records made in memory, and published values held against fits."""

from collections.abc import Callable, Iterable, Mapping
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from workbench.define.factors import Categorical, Continuous, Factor
from workbench.define.outcomes import Measured, Outcome
from workbench.define.settings import Settings, settings
from workbench.define.trial import Trial
from workbench.errors import Unavailable
from workbench.run.record import Readings, Record, Status

RecordMaker = Callable[..., Record]


def make_readings(values: Iterable[float], rows: Iterable[int] | None = None) -> Readings:
    value = np.array(list(values), dtype=float)
    row = np.arange(value.size) if rows is None else np.array(list(rows), dtype=np.int64)
    part = np.array([1 + int((row[:i] == one).sum()) for i, one in enumerate(row)], dtype=np.int64)
    return Readings(
        row=row.astype(np.int64),
        part=part,
        reading=np.ones(value.size, dtype=np.int64),
        value=value,
        mark=np.zeros(value.size, dtype=np.int64),
    )


def factor_of(name: str, column: pd.Series) -> Factor:
    if column.dtype.kind in "iuf":
        return Continuous(
            name=name, low=float(column.min()), high=float(column.max()), unit="", setting_sd=0
        )
    return Categorical(name=name, levels=tuple(dict.fromkeys(column)))


def make_record(
    table: pd.DataFrame,
    *,
    factors: Iterable[Factor | str],
    outcome: Outcome | str,
    values: Iterable[float] | None = None,
    rows: Iterable[int] | None = None,
    model: str = "",
    blocks: str | None = None,
    planned: Settings | None = None,
    status: Mapping[int, tuple[Status, str]] | None = None,
) -> Record:
    chosen = tuple(f if not isinstance(f, str) else factor_of(f, table[f]) for f in factors)
    wanted = Measured(name=outcome, unit="") if isinstance(outcome, str) else outcome
    n = len(table)
    stood = status or {}
    labels = ("one",) if blocks is None else tuple(dict.fromkeys(table[blocks].astype(str)))
    block = [0] * n if blocks is None else [labels.index(str(b)) for b in table[blocks]]
    seen = table[wanted.name] if values is None else values
    named = table[[f.name for f in chosen]].to_dict("records")
    return Record(
        trial=Trial(title="t", question="q", factors=chosen, outcomes=(wanted,), model=model),
        plan=None,
        run=np.arange(1, n + 1),
        planned=planned,
        as_run=settings(chosen, named),
        block=np.array(block, dtype=np.int64),
        block_labels=labels,
        setup=np.arange(1, n + 1),
        status=tuple(stood.get(i + 1, (Status.DONE, ""))[0] for i in range(n)),
        reason=tuple(stood.get(i + 1, (Status.DONE, ""))[1] for i in range(n)),
        readings={wanted.name: make_readings(seen, rows)},
        blocked_by=blocks or "",
    )


@pytest.fixture
def record_of() -> RecordMaker:
    """Make a record from a table: factor names (or factors), an outcome, a model."""
    return make_record


def ours(name):
    """Return a printed column name as this project writes it."""
    if name == "Intercept":
        return "mean"
    return name.replace("^2", "²").replace(":", " × ")


def text(terms):
    """Return printed terms as a model text."""
    return ", ".join(one.replace(":", " * ") for one in terms)


def meets(expected, found):
    """Hold every expected value of a group against what was found."""
    assert expected, "an empty group checks nothing"
    for name, one in expected.items():
        value = found[name]
        assert abs(value - one.value) <= one.tol, (name, value, one)


def columns_of(fit):
    """Return coefficients by printed name: value, se, t and p."""
    return {one.name: one for one in fit.coefficients}


def model_answers(fit):
    """Return the overall numbers of a fit under the names that the checks use."""
    model_df = int(fit.estimable.sum()) - 1
    rss = fit.residual_variance * fit.error_df
    total = float(((fit.response - fit.response.mean()) ** 2).sum())
    statistic = (total - rss) / model_df / fit.residual_variance
    found = {
        "ss_model": total - rss,
        "ms_model": (total - rss) / model_df,
        "ss_error": rss,
        "ms_error": fit.residual_variance,
        "df_model": model_df,
        "df_error": fit.error_df,
        "df_residual": fit.error_df,
        "F": statistic,
        "p": stats.f.sf(statistic, model_df, fit.error_df),
        "residual_sd": fit.residual_variance**0.5,
        "r_squared": fit.r_squared,
        "r_squared_adj": fit.adjusted_r_squared,
        "mean": fit.response.mean(),
    }
    lack = fit.lack_of_fit
    if not isinstance(lack, Unavailable):
        found |= {
            "ss_lack_of_fit": lack.mean_square * lack.df,
            "ms_lack_of_fit": lack.mean_square,
            "df_lack_of_fit": lack.df,
            "ss_pure_error": lack.pure_error_mean_square * lack.pure_error_df,
            "ms_pure_error": lack.pure_error_mean_square,
            "df_pure_error": lack.pure_error_df,
            "F_lack_of_fit": lack.statistic,
            "p_lack_of_fit": lack.p,
        }
    return found


def meets_columns(expected, fit, prefix):
    """Hold groups <prefix>_coef, _se, _t and _p, as far as the check has them, against a fit."""
    known = columns_of(fit)
    answers = {
        "coef": lambda one: one.value,
        "se": lambda one: one.estimate.std_error,
        "t": lambda one: one.statistic,
        "p": lambda one: one.p,
    }
    held = 0
    for kind, answer in answers.items():
        group = expected.get(f"{prefix}_{kind}")
        if group:
            meets(group, {name: answer(known[ours(name)]) for name in group})
            held += len(group)
    assert held


def coded(names):
    return [Continuous(name=n, low=-1, high=1, unit="", setting_sd=None) for n in names]


@pytest.fixture
def printed() -> SimpleNamespace:
    """Hold printed values against a fit, under the names that the checks use."""
    return SimpleNamespace(
        coded=coded,
        meets=meets,
        meets_columns=meets_columns,
        model_answers=model_answers,
        ours=ours,
        text=text,
    )
