"""A table that is changed: what the editor says ends up in its rows."""

import page_answer
import page_tables
import pytest
from studies import answered, demo_data

from filtration.present.documents import answer_document


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


def test_each_column_has_the_figure_it_names() -> None:
    """Every cell against the document, option by option, rounded to what is known: two digits, flows three."""
    answer = answered(demo_data("freezer"), 16)
    document = answer_document(answer)["options"]
    columns = {
        "a year, EUR": "cost_per_year.total",
        "lowest visibility, m": "worst_view_m",
        "clean flow, L/h": "clean_flow_l_per_h",
        "flow at rinse, L/h": "due_flow_l_per_h",
        "cartridge-related, EUR": "choice_cost_per_year",
        "taken when new, cm of water": "clean_filter_loss_kpa",
        "pressure drop at rinse, cm of water": "due_filter_loss_kpa",
        "dirt held at rinse, g": "deposit_when_due_g",
        "clean visibility, m": "see_through_clean_m",
        "clear again after, h": "hours_to_clear_after_session",
        "services a year": "services_per_year",
        "cartridges, EUR": "cost_per_year.elements",
        "rinsing, EUR": "cost_per_year.rinsing",
        "own time, EUR": "cost_per_year.own_time",
        "pumping, EUR": "cost_per_year.pumping",
        "cooling the pump's and hoses' heat, EUR": "cost_per_year.cooling",
        "disposal, EUR": "cost_per_year.disposal",
        "pump and housings, EUR": "cost_per_year.equipment",
        "pumping, kWh": "energy_kwh_per_year.pumping",
        "cooling, kWh": "energy_kwh_per_year.cooling",
    }
    for row, option in zip(page_answer.table_of(answer).to_dict("records"), document, strict=True):
        for column, path in columns.items():
            value = option
            for key in path.split("."):
                value = value[key]
            if value is None:
                assert row[column] is None or row[column] != row[column], (option["id"], column)
            elif "visibility" in column and value > 10.0:
                assert row[column] == 10.0
            else:
                shown = value * 100.0 / 9.80665 if "cm of water" in column else value  # a metre of water is 9.80665 kPa
                whole = 0.5 if column.endswith(("EUR", "kWh")) else 0.0
                digits = 3 if "flow" in column else 2
                near = pytest.approx(shown, abs=whole) if whole else float(f"{shown:.{digits}g}")
                assert row[column] == near, (option["id"], column)
        assert row["turnovers an hour"] == pytest.approx(option["clean_flow_l_per_h"] / 420.0, rel=0.051)
        days = option["days_to_first_service"]
        assert (days is None and row["first service, days"] != row["first service, days"]) or (
            0.0 <= days - row["first service, days"] < max(0.1, 0.1 * days)
        )
