"""Filters, pumps and points changed as tables: what the editor says ends up in the study."""

from typing import Any

import page_answer
import page_tables
import pandas as pd
import pytest
from studies import answered, demo_data

from filtration.study.file import study_from_dict

Change = dict[str, Any]


def edited(change: Change, **data: Any) -> dict[str, Any]:
    tables = demo_data("freezer") | data
    page_tables.with_elements(tables, demo_data("freezer")["elements"], change)
    return tables


def names(tables: dict[str, Any], key: str) -> list[str]:
    return [row["name"] for row in tables[key]]


def test_a_price_is_changed_and_keys_without_a_column_stay() -> None:
    tables = edited({"edited_rows": {9: {"price": 25.0}}, "added_rows": [], "deleted_rows": []})
    row = tables["elements"][9]
    assert row == demo_data("freezer")["elements"][9] | {"price": 25}
    assert row["suppliers"] == 1
    assert tables["options"] == demo_data("freezer")["options"]


def test_a_new_name_goes_to_what_is_compared() -> None:
    tables = edited({"edited_rows": {9: {"name": "Twenty"}}})
    assert "Twenty" in names(tables, "options")
    train = next(option for option in tables["options"] if option["name"] == "Foam then pleated 20")
    assert train["stages"] == ["Foam 20 ppi", "Twenty"]
    study_from_dict(tables)


def test_a_filter_taken_away_takes_its_options_along() -> None:
    tables = edited({"deleted_rows": [11]})  # the foam
    assert "Foam 20 ppi" not in names(tables, "elements")
    assert not {"Foam 20 ppi", "Foam then pleated 20"} & set(names(tables, "options"))
    assert len(study_from_dict(tables).options) == 13


def test_a_new_filter_is_compared() -> None:
    new = {"name": "Spun 50", "kind": "spun", "size": "10 x 2.5 in", "rating": "50 um", "price": 6.0}
    tables = edited({"added_rows": [new | {"area": None}]})
    assert tables["elements"][-1] == new | {"price": 6}
    assert tables["options"][-1] == {"name": "Spun 50", "stages": ["Spun 50"]}
    assert study_from_dict(tables).options[-1].name == "Spun 50"


def test_a_row_without_anything_is_none_yet() -> None:
    assert page_tables.changed([{"name": "a"}], {"added_rows": [{}, {"name": "  "}]}) == [{"name": "a"}]


@pytest.mark.parametrize("cell", [None, "", "  "])
def test_an_emptied_cell_takes_the_key_out(cell: object) -> None:
    assert page_tables.changed([{"name": "a", "area": "1 m^2"}], {"edited_rows": {0: {"area": cell}}}) == [
        {"name": "a"}
    ]


def test_empty_cells_are_empty_and_not_a_word() -> None:
    frame = page_tables._frame(demo_data("freezer")["elements"], page_tables.ELEMENTS)
    for row, element in zip(frame.to_dict("records"), demo_data("freezer")["elements"], strict=True):
        for column in page_tables.ELEMENTS:
            assert pd.isna(row[column]) if column not in element else row[column] == element[column]


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
