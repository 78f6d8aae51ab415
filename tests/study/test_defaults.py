"""The table of defaults: what it says can be read as a study's own keys are."""

import pytest

from filtration.answers.assumptions import RANGES
from filtration.study.tables import TABLES


@pytest.mark.parametrize("place", RANGES)
def test_what_is_tried_instead_of_a_default_is_read(place: str) -> None:
    """Two values each, one on either side or the default and another; one that cannot be read would tell nothing."""
    table, name = place.split(".")
    key = TABLES[table].key(name)
    assert key is not None
    low, high = (key.read(value) for value in RANGES[place])
    assert low < high
