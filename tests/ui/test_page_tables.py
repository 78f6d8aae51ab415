"""A table that is changed: what the editor says ends up in its rows."""

import page_answer
import page_tables
import pytest
from studies import answered, demo_data


def test_a_row_without_anything_is_none_yet() -> None:
    assert page_tables.changed([{"name": "a"}], {"added_rows": [{}, {"name": "  "}]}) == [{"name": "a"}]


@pytest.mark.parametrize("cell", [None, "", "  "])
def test_an_emptied_cell_takes_the_key_out(cell: object) -> None:
    assert page_tables.changed([{"name": "a", "note": "b"}], {"edited_rows": {0: {"note": cell}}}) == [{"name": "a"}]


def test_the_chance_stands_beside_whether_it_meets_the_needs() -> None:
    """In cases of twenty, as the command has it; the same however many draws."""
    answer = answered(demo_data("freezer"), 16)
    table = page_answer.table_of(answer)
    assert list(table.columns[:3]) == ["option", "meets needs", "cases of 20"]
    for told, option in zip(table["cases of 20"], answer.options, strict=True):
        assert option.sureness is not None
        cases = 20.0 * option.sureness.chance_of_meeting_needs
        assert abs(float(told.strip("<>")) - cases) <= 1.0
    assert list(page_answer.table_of(answered(demo_data("freezer")))["cases of 20"]) == list(table["cases of 20"])
