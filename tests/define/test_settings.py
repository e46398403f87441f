"""Settings: rows of numbers and level names, nothing passed over."""

import numpy as np
import pytest

from workbench.define import Categorical, Continuous, Settings, from_coded, settings
from workbench.errors import DefinitionError

DWELL = Continuous(name="dwell", low=1, high=3, unit="s", setting_sd=0)
SURFACE = Categorical(name="surface", levels=("none", "wiped", "misted"))
BOTH = (DWELL, SURFACE)


def test_rows_there_and_back():
    rows = [{"dwell": 1.5, "surface": "misted"}, {"surface": "none", "dwell": 3.0}]
    found = settings(BOTH, rows)
    assert found.as_dicts() == [
        {"dwell": 1.5, "surface": "misted"},
        {"dwell": 3.0, "surface": "none"},
    ]
    np.testing.assert_array_equal(found.coded(), [[-0.5, 2], [1, 0]])
    np.testing.assert_array_equal(from_coded(BOTH, found.coded()).values, found.values)


def test_values_are_locked_and_copied():
    values = np.array([[1.0, 0.0]])
    found = Settings(factors=BOTH, values=values)
    values[0, 0] = 9
    assert found.column("dwell")[0] == 1
    with pytest.raises(ValueError, match="read-only"):
        found.values[0, 0] = 2


def test_what_was_not_recorded_is_known_to_be_missing():
    found = Settings(factors=BOTH, values=np.array([[np.nan, np.nan]]))
    assert not found.is_complete
    assert found.as_dicts()[0]["surface"] == ""


def test_no_rows():
    assert len(settings(BOTH, [])) == 0
    assert settings(BOTH, []).coded().shape == (0, 2)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"dwell": 1}, "No value is given for 'surface'"),
        ({"dwell": 1, "surface": "none", "speed": 2}, "There is no factor 'speed'"),
        ({"dwell": 1, "surface": "dipped"}, "has no level 'dipped'"),
        ({"dwell": "2,5", "surface": "none"}, "'2,5' is not a setting of 'dwell'.*decimal point"),
        ({"dwell": "nan", "surface": "none"}, "'nan' is not a setting"),
        ({"dwell": float("inf"), "surface": "none"}, "inf is not a setting"),
        ({"dwell": "1_0", "surface": "none"}, "'1_0' is not a setting"),
        ({"dwell": True, "surface": "none"}, "True is not a setting"),
        ({"dwell": None, "surface": "none"}, "None is not a setting"),
    ],
)
def test_rows_that_are_no_settings(row, said):
    with pytest.raises(DefinitionError, match=said):
        settings(BOTH, [row])


def test_a_level_number_that_is_none():
    with pytest.raises(DefinitionError, match="'surface' has no level number 3"):
        Settings(factors=BOTH, values=np.array([[1.0, 3.0]]))
    with pytest.raises(DefinitionError, match=r"no level number 0\.5"):
        Settings(factors=BOTH, values=np.array([[1.0, 0.5]]))


def test_columns_and_factors_must_match():
    with pytest.raises(DefinitionError, match="3 columns of settings for 2 factors"):
        Settings(factors=BOTH, values=np.zeros((1, 3)))
    with pytest.raises(DefinitionError, match="There is no factor 'speed'"):
        settings(BOTH, []).column("speed")
