"""Values side by side: the cases of several in a row, what is one for all of a value written out."""

from dataclasses import dataclass

import numpy as np
import pytest

from filtration.base.arrays import Array
from filtration.base.cases import side_by_side


@dataclass(frozen=True)
class Value:
    """A figure by case, a table by case, a pair, and a word."""

    figure: Array
    table: Array
    pair: tuple[Array, Array]
    word: str = "same"


def value_of(first: float, sizes: tuple[int, int]) -> Value:
    wide, deep = np.arange(first, first + sizes[0]), np.arange(first, first + 2.0 * sizes[1]).reshape(2, sizes[1])
    return Value(figure=wide, table=deep, pair=(wide, deep))


@pytest.mark.parametrize("sizes", [(2, 2), (1, 2), (2, 1), (1, 1)])
def test_what_is_one_for_all_cases_is_written_out(sizes: tuple[int, int]) -> None:
    one, other = value_of(1.0, sizes), value_of(10.0, (3, 3))
    both = side_by_side([one, other], [2, 3])
    assert both.word == "same"
    for figure in (both.figure, both.pair[0]):
        assert figure.tolist() == [1.0, 1.0 if sizes[0] == 1 else 2.0, 10.0, 11.0, 12.0]
    for table in (both.table, both.pair[1]):
        assert table.shape == (2, 5)
        assert table[:, :2].tolist() == np.broadcast_to(one.table, (2, 2)).tolist()
        assert table[:, 2:].tolist() == other.table.tolist()


def test_one_value_alone_stays_itself() -> None:
    one = value_of(1.0, (2, 2))
    assert side_by_side([one], [2]) is one
