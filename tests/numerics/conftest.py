"""Published mixed-model cases as arrays."""

import itertools
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from workbench.files.evidence import published
from workbench.numerics.mixed_model import mixed_solution
from workbench.numerics.random_terms import random_terms
from workbench.numerics.reml import reml

FACTORS = {
    "mixed_oats": {"N": "nitro", "variety": "variety"},
    "mixed_few_wholeplots_4": {"film": "film"},
    "mixed_few_wholeplots_5": {"film": "film"},
    "mixed_strip_plot": {"temp": "temp", "press": "press"},
}
TERMS = {
    "mixed_oats": ["N", "variety", "N:variety"],
    "mixed_few_wholeplots_4": ["film", "S", "film:S"],
    "mixed_few_wholeplots_5": ["film", "S", "film:S"],
    "mixed_strip_plot": ["temp", "press", "temp:press"],
    "mixed_crossed": ["A", "B", "C"],
}
RANDOM = {
    "mixed_oats": {"block": "block", "variety:block": "block variety"},
    "mixed_crossed": {"operator": "operator", "lot": "lot"},
    "mixed_strip_plot": {key: key for key in ("block", "rowstrip", "colstrip")},
}
LETTERS = [*"ABCD", *(f"{a}:{b}" for a, b in itertools.combinations("ABCD", 2))]


def sum_coded(column):
    """Return sum-to-zero columns of a category, levels in order, the last one −1."""
    levels = sorted(column.unique())
    return [
        (column == level).to_numpy(float) - (column == levels[-1]).to_numpy(float)
        for level in levels[:-1]
    ]


def columns_of(name, data):
    """Return the columns of each term by name, the intercept first."""
    categories = FACTORS.get(name, {})
    found = {"Intercept": [np.ones(len(data))]}
    for term in TERMS.get(name, LETTERS):
        parts = [
            sum_coded(data[categories[part]])
            if part in categories
            else [data[part].to_numpy(float)]
            for part in term.split(":")
        ]
        # Columns of an interaction run through the first factor fastest.
        products = itertools.product(*reversed(parts))
        found[term] = [np.prod(one, axis=0) for one in products]
    return found


def level_numbers(data, names):
    keys = data[names.split()].astype(str).agg(" ".join, axis=1)
    return pd.factorize(keys)[0]


class Case:
    """A published case as arrays, with the rows of the model matrix that make up each term."""

    def __init__(self, name, *, negative=False, random=None):
        self.check = published(name)
        data = self.check.tables["data"]
        columns = columns_of(name, data)
        self.X = np.column_stack([one for term in columns.values() for one in term])
        self.y = data["y"].to_numpy(float)
        ends = np.cumsum([len(one) for one in columns.values()])
        starts = np.append(0, ends[:-1])
        whole = np.eye(self.X.shape[1])
        self.rows = {
            term: whole[start:end] for term, start, end in zip(columns, starts, ends, strict=True)
        }
        self.groups = RANDOM.get(name, {"wp": "wp"}) if random is None else random
        self.terms = random_terms(
            self.X, [level_numbers(data, one) for one in self.groups.values()]
        )
        self.fit = reml(self.terms, self.y, negative=negative)
        self.solution = mixed_solution(self.terms, self.y, self.fit)

    def log_likelihood(self):
        """Return the restricted log-likelihood by the other library's convention, log|X′X| in."""
        return self.fit.log_likelihood - 0.5 * np.linalg.slogdet(self.X.T @ self.X)[1]

    def variances(self):
        return dict(zip([*self.groups, "residual"], self.fit.variances, strict=True))


def digits(found, expected):
    return -np.log10(np.max(np.abs(np.array(found) / np.array(expected) - 1)) + 1e-16)


def values(group):
    return np.array([one.value for one in group.values()])


@pytest.fixture(scope="session")
def mixed():
    """Return what the tests of mixed models share."""
    return SimpleNamespace(
        Case=Case, digits=digits, values=values, level_numbers=level_numbers, sum_coded=sum_coded
    )
