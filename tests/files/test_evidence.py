"""The published checks ship with the package and say where they come from."""

import pytest

from workbench.errors import FileError
from workbench.files.evidence import published, published_names


@pytest.mark.parametrize("name", published_names())
def test_every_check_has_source_table_and_values(name):
    check = published(name)
    assert check.source
    assert len(check.tables["data"]) > 0
    assert sum(len(group) for group in check.expected.values()) > 0


def test_tolerances_and_disagreements_are_read():
    check = published("hb-ceramic-2x5")
    one = check.expected["third_order_ss"]["x1"]
    assert (one.value, one.tol) == (894.33, 0.006)
    assert ("transformed_11_coef", "x1:x2") in [(d.group, d.name) for d in check.disagreements]


def test_an_unknown_check_is_named_with_the_known_ones():
    with pytest.raises(FileError, match=r"no published check 'nothing'.*box-cox-poisons"):
        published("nothing")
