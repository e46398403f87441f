"""Which factors were tried at their ends only."""

import numpy as np

from workbench.decide import two_level_factors
from workbench.define import Categorical, Continuous, Settings


def tried(*columns):
    factors = tuple(
        Continuous(name=f"f{j}", low=0, high=10, unit="mm", setting_sd=0)
        for j in range(len(columns))
    )
    return Settings(factors=factors, values=np.array(columns, dtype=float).T)


def test_ends_only():
    assert two_level_factors(tried([0, 10, 0, 10], [0, 0, 10, 10])) == ("f0", "f1")


def test_a_centre_point_vouches_for_all():
    assert two_level_factors(tried([0, 10, 0, 10, 5], [0, 0, 10, 10, 5])) == ()


def test_settings_that_wander_about_two_ends_are_still_two_ends():
    assert two_level_factors(tried([0.4, 9.8, 0, 10.3])) == ("f0",)


def test_a_factor_that_never_moved_and_a_category_are_not_asked():
    kind = Categorical(name="kind", levels=("a", "b"))
    gap = Continuous(name="gap", low=0, high=10, unit="mm", setting_sd=0)
    settings = Settings(factors=(kind, gap), values=np.array([[0, 5.0], [1, 5.0]]))
    assert two_level_factors(settings) == ()
