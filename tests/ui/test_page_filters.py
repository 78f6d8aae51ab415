"""Filters, combinations and pumps as cards: what is typed there ends up in the study, and what is wrong is told."""

import copy
import tomllib
from typing import Any

import page_cache
import page_fields
import page_filters
import page_rows
import pytest
from pages import field, opened, seen, text_on
from streamlit.testing.v1 import AppTest
from studies import demo_data, demo_with

from filtration import Comparison
from filtration.base.places import template_text
from filtration.present.words import fields as field_words
from filtration.study.file import placed_faults, study_from_dict
from filtration.study.tables import TABLES, StudyFile
from filtration.study.text import text_of_tables

HERE = "your_tub"
FEW = demo_with("freezer", "Spun 10", "Pleated 10", "Foam then pleated 20")
NEW = len(FEW["elements"])


@pytest.fixture(autouse=True)
def still(monkeypatch: pytest.MonkeyPatch, freezer: Comparison) -> None:
    """Spare the working out of answers that are not looked at."""
    monkeypatch.setattr(page_cache, "answer", lambda _text: freezer)


def tables_in(page: AppTest) -> dict[str, Any]:
    return tomllib.loads(str(page.session_state["tubs"][page.session_state["place"]]))


def press(page: AppTest, label: str) -> None:
    next(button for button in page.button if label in button.label).click().run()
    assert not page.exception


def put(page: AppTest, place: str, value: Any) -> None:
    field(page, place).set_value(value).run()
    assert not page.exception


def at_home(page: AppTest) -> AppTest:
    return opened(page, text_of_tables(FEW), HERE)


def test_every_key_of_a_study_can_be_set_on_the_page() -> None:
    """The fields of the page against the schema: every table and key but the file's own format."""
    schema = {key for key in StudyFile.model_fields if key not in {*TABLES, "format", "id"}}
    schema |= {f"{name}.{key}" for name, table in TABLES.items() if name != "pumps" for key in table.model_fields}
    assert TABLES["pumps"] is TABLES["pump"]
    assert set(page_fields.BY_PLACE) == schema
    assert set(field_words.FIELDS) == schema
    assert set(field_words.COLUMNS) == {place for place in schema if page_fields.BY_PLACE[place].look == "points"}


def test_every_field_is_shown_somewhere_on_the_page(page: AppTest) -> None:
    tables = FEW | {"elements": [*FEW["elements"], {"name": "Odd", "kind": "spun", "rating": "5 um"}]}
    tables["elements"][-1] |= {"area": "0.03 m^2", "thickness": "15 mm", "price": 3}
    opened(page, text_of_tables(tables), HERE)
    shown = set[str]()
    for name in ("Foam 20 ppi", "Pleated 20", "Odd", "Foam then pleated 20"):
        press(page, f"**{name}**")
        widgets = [*page.text_input, *page.selectbox, *page.checkbox, *page.multiselect, *page.date_input]
        shown |= {str(widget.key) for widget in widgets}
    for place in page_fields.BY_PLACE:
        table, _, key = place.rpartition(".")
        inside = f".{table}." if table else "."
        of_rows = [each for each in shown if inside in each and f".{key}." in each]
        assert of_rows or place in {"prices.water_per_1000_gal", "needs.turnovers_per_hour"}, place


def test_a_filter_is_added_with_a_decimal_comma_and_joins_once_it_is_whole(page: AppTest) -> None:
    at_home(page)
    press(page, "Add a filter")
    assert "Not compared yet. Still to fill in: Kind, Price" in text_on(page)
    put(page, f"elements.{NEW}.kind", "pleated")
    put(page, f"elements.{NEW}.rating", "2,5")
    put(page, f"elements.{NEW}.price", "27,5")
    assert "Not compared yet" in text_on(page)
    assert "Still to fill in: Size." in text_on(page)
    assert tables_in(page) == FEW
    put(page, f"elements.{NEW}.size", "20 x 2.5 in")
    new = {"name": "Pleated 2.5", "kind": "pleated", "rating": "2.5 um", "price": 27.5, "size": "20 x 2.5 in"}
    assert tables_in(page)["elements"] == [*FEW["elements"], new]
    assert tables_in(page)["options"] == [*FEW["options"], {"name": "Pleated 2.5", "stages": ["Pleated 2.5"]}]
    assert "Not compared yet" not in text_on(page)
    assert any(seen(button.label).endswith("EUR 27.50") for button in page.button)
    put(page, f"elements.{NEW}.price", "28")  # the card is still open, to go on in
    assert any(seen(button.label).endswith("EUR 28") for button in page.button)
    assert tables_in(page)["elements"][NEW]["price"] == 28


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("1.200", "'1.200' may be read in two ways; write 1200 or 1.2"),
        ("1,200", "'1,200' may be read in two ways; write 1200 or 1.2"),
        ("about 20", "Needs a plain number, got 'about 20'"),
        ("-3", "Must be 0 to 1000000000, got -3"),
    ],
)
def test_a_price_that_is_none_is_told_beside_its_field(page: AppTest, typed: str, told: str) -> None:
    at_home(page)
    press(page, "**Pleated 10**")
    place = next(at for at, row in enumerate(FEW["elements"]) if row["name"] == "Pleated 10")
    put(page, f"elements.{place}.price", typed)
    assert f"▲ {told}" in text_on(page)
    assert field(page, f"elements.{place}.price").value == typed
    assert "[[" not in text_on(page)
    put(page, f"elements.{place}.price", "27,5")
    assert "▲" not in text_on(page)
    assert tables_in(page)["elements"][place]["price"] == 27.5


def test_litres_that_may_be_two_ask_and_a_comma_is_never_dropped(page: AppTest) -> None:
    at_home(page)
    put(page, "tub.volume", "1.200")
    assert "may be read in two ways; write '1200 L' or '1.2 L'" in text_on(page)
    put(page, "pump.shutoff_head", "2,9")
    put(page, "tub.volume", "1200")
    assert tables_in(page)["pump"]["shutoff_head"] == "2.9 m"
    assert tables_in(page)["tub"]["volume"] == "1200 L"
    put(page, "tub.volume", "110 gal")
    assert tables_in(page)["tub"]["volume"] == "110 gal"


def test_what_is_optional_can_be_emptied_again(page: AppTest) -> None:
    at_home(page)
    put(page, "needs.see_through", "2,5")
    assert tables_in(page)["needs"]["see_through"] == "2.5 m"
    put(page, "needs.see_through", "")
    assert "see_through" not in tables_in(page)["needs"]
    assert field(page, "needs.see_through").placeholder == "4 × depth"
    put(page, "tub.feet", "rinsed")
    put(page, "tub.feet", "")
    assert "feet" not in tables_in(page)["tub"]


def test_a_makers_figures_are_entered(page: AppTest) -> None:
    at_home(page)
    press(page, "**Pleated 10**")
    at = next(at for at, row in enumerate(FEW["elements"]) if row["name"] == "Pleated 10")
    put(page, f"elements.{at}.clean_loss.0.0", "8")
    assert "needs a flow" not in text_on(page)
    put(page, f"elements.{at}.clean_loss.0.1", "1,2")
    put(page, f"elements.{at}.clean_loss.1.0", "16")
    put(page, f"elements.{at}.clean_loss.1.1", "2,8")
    put(page, f"elements.{at}.beta.0.0", "10")
    put(page, f"elements.{at}.beta.0.1", "5")
    put(page, f"elements.{at}.dirt_capacity", "60")
    put(page, f"elements.{at}.dirt_capacity_dust", "like the tub's")
    put(page, f"elements.{at}.lead_time", "10")
    put(page, f"elements.{at}.suppliers", "2")
    row = tables_in(page)["elements"][at]
    assert row["clean_loss"] == [["8 L/min", "1.2 kPa"], ["16 L/min", "2.8 kPa"]]
    assert row["beta"] == [["10 um", 5]]
    assert (row["dirt_capacity"], row["dirt_capacity_dust"]) == ("60 g", "like the tub's")
    assert (row["lead_time"], row["suppliers"]) == ("10 day", 2)
    study_from_dict(tables_in(page))
    for cell in ("1.0", "1.1"):
        put(page, f"elements.{at}.clean_loss.{cell}", "")
    assert tables_in(page)["elements"][at]["clean_loss"] == [["8 L/min", "1.2 kPa"]]


def test_housings_side_by_side_and_filters_in_series_are_set(page: AppTest) -> None:
    plain = {key: value for key, value in FEW.items() if key != "options"}  # each filter alone
    opened(page, text_of_tables(plain), HERE)
    press(page, "**Pleated 10**")
    own = next(at for at, row in enumerate(FEW["elements"]) if row["name"] == "Pleated 10")
    put(page, f"options.{own}.housings_in_parallel", "2")
    put(page, f"options.{own}.housing_price", "38,5")
    options = tables_in(page)["options"]
    alone = [{"name": row["name"], "stages": [row["name"]]} for row in FEW["elements"]]
    assert options == [
        row | ({"housings_in_parallel": 2, "housing_price": 38.5} if at == own else {}) for at, row in enumerate(alone)
    ]
    press(page, "Add a combination")
    put(page, f"options.{NEW}.stages", ["Spun 10", "Pleated 10"])
    assert tables_in(page)["options"][-1] == {"name": "Spun 10 then Pleated 10", "stages": ["Spun 10", "Pleated 10"]}
    study_from_dict(tables_in(page))


def test_dips_by_month_are_set(page: AppTest) -> None:
    at_home(page)
    for at in range(12):
        next(each for each in page.text_input if str(each.key).endswith(f".uses_by_month.{at}.")).set_value(f"{at},5")
    page.run()
    assert tables_in(page)["tub"]["uses_by_month"] == [at + 0.5 for at in range(12)]
    next(each for each in page.text_input if str(each.key).endswith(".uses_by_month.3.")).set_value("").run()
    assert "The number of April needs a plain number" in text_on(page)


def test_a_shape_that_does_not_go_with_the_kind_is_told_and_can_be_emptied(page: AppTest) -> None:
    tables = copy.deepcopy(FEW)
    tables["elements"][1]["pleat_depth"] = "15 mm"
    opened(page, text_of_tables(tables), HERE)
    assert "Pleat depth" in text_on(page)
    assert "elements" not in text_on(page)
    assert "pleat_depth" not in text_on(page)


def test_a_filter_renamed_keeps_its_combinations() -> None:
    tables = demo_data("freezer") | {"in_use": {"option": "pleated-20", "since": "2026-01-01"}}
    page_rows.write(tables, "elements", 9, "name", "Twenty")
    assert {"name": "Twenty", "stages": ["Twenty"]} in tables["options"]
    assert {"name": "Foam then pleated 20", "stages": ["Foam 20 ppi", "Twenty"]} in tables["options"]
    assert tables["in_use"]["option"] == "twenty"
    study_from_dict(tables)


def test_a_filter_taken_away_takes_its_combinations_along(page: AppTest) -> None:
    at_home(page)
    press(page, "**Foam 20 ppi**")
    press(page, "Take it away")
    names = {row["name"] for row in tables_in(page)["elements"]}
    assert "Foam 20 ppi" not in names
    assert {row["name"] for row in tables_in(page)["options"]} == {"Spun 10", "Pleated 10"}
    press(page, "Undo")
    assert tables_in(page) == FEW


def test_the_housing_changes_its_own_size_and_no_other(page: AppTest) -> None:
    opened(page, page_cache.demo_text("freezer"), HERE)
    housing = next(each for each in page.selectbox if each.label == "Housing takes")
    assert housing.value == "10 x 2.5 in"
    housing.set_value("10 x 4.5 in").run()
    before = {row["name"]: row.get("size") for row in demo_data("freezer")["elements"]}
    after = {row["name"]: row.get("size") for row in tables_in(page)["elements"]}
    assert after["Pleated 20 long"] == before["Pleated 20 long"] == "20 x 2.5 in"
    assert {name for name in before if before[name] != after[name]} == {
        name for name, size in before.items() if size == "10 x 2.5 in"
    }


def test_a_second_pump_is_set_and_taken_away(page: AppTest) -> None:
    at_home(page)
    press(page, "Compare another pump")
    press(page, "**Another pump**")
    put(page, "pumps.1.shutoff_head", "3,5")
    assert [pump["shutoff_head"] for pump in tables_in(page)["pumps"]] == ["2.4 m", "3.5 m"]
    press(page, "Take it away")
    assert tables_in(page) == FEW


def test_no_fault_of_a_study_speaks_the_language_of_the_file() -> None:
    """Every fault that a spoilt template can have, in the page's words."""
    tables = tomllib.loads(template_text())
    tables |= {"pump": {"power": "x", "curve": [["0 L/h", "2 m"]], "max_flow": "9 m"}, "needs": {"flow": "1 L/h"}}
    tables["needs"] |= {"turnovers_per_hour": 3}
    tables["elements"] += [
        {"name": "a", "kind": "foam", "pleat_depth": "1 mm", "clean_loss_at": "4 degC"},
        {"kind": "pleated", "size": "1 in", "rinse_minutes": "2,5,1"},
        {"name": "b", "kind": "spun", "dirt_capacity_dust": "x", "outer_diameter": "1 cm", "inner_diameter": "2 cm"},
    ]
    assert len(placed_faults(tables)) > 12
    keys = {key for name in TABLES for key in TABLES[name].model_fields if "_" in key}
    for fault in page_cache.faults_in(tables):
        assert "[" not in fault, fault
        assert not [key for key in keys if key in fault], fault


def test_a_filter_is_compared_or_not_and_one_always_is() -> None:
    """Where a study lists no options each filter is one of its own; the last one compared stays."""
    tables: dict[str, Any] = {"elements": [{"name": "A"}, {"name": "B"}]}
    page_rows.compare_alone(tables, "B", compared=False)
    assert tables["options"] == [{"name": "A", "stages": ["A"]}]
    page_rows.compare_alone(tables, "A", compared=False)
    assert tables["options"] == [{"name": "A", "stages": ["A"]}]
    page_rows.compare_alone(tables, "B", compared=True)
    page_rows.compare_alone(tables, "B", compared=True)
    assert [option["name"] for option in tables["options"]] == ["A", "B"]


def test_a_filter_goes_with_what_is_compared_of_it() -> None:
    tables: dict[str, Any] = {
        "elements": [{"name": "A"}, {"name": "B"}],
        "options": [{"name": "Both", "stages": ["A", "B"]}, {"name": "B", "stages": ["B"]}],
    }
    page_rows.drop_element(tables, 0)
    assert tables == {"elements": [{"name": "B"}], "options": [{"name": "B", "stages": ["B"]}]}
    page_rows.drop_element(tables, 0)
    assert tables == {"elements": []}


def test_another_pump_comes_and_goes() -> None:
    tables: dict[str, Any] = {"pump": {"power": "38 W"}}
    page_rows.second_pump(tables)
    assert [pump["name"] for pump in tables["pumps"]] == ["Pump 1", "Another pump"]
    assert {pump["power"] for pump in tables["pumps"]} == {"38 W"}
    page_rows.drop_pump(tables, 0)
    assert tables == {"pump": {"name": "Another pump", "power": "38 W"}}


def test_a_size_changes_where_it_was_that_size_alone() -> None:
    tables = {"elements": [{"size": "10 x 2.5 in"}, {"size": "20 x 4.5 in"}, {}]}
    page_rows.resize(tables, "10 x 2.5 in", "20 x 2.5 in")
    assert tables["elements"] == [{"size": "20 x 2.5 in"}, {"size": "20 x 4.5 in"}, {}]


def test_a_cards_line_says_what_it_holds() -> None:
    line = page_filters.FILTERS.line
    pleated = {"kind": "pleated", "size": "10 x 2.5 in", "rating": "20 um", "price": 18}
    assert line(pleated, {}) == ["pleated", "10 x 2.5 in", "20 µm", "EUR 18"]
    foam = {"kind": "foam", "pores_per_inch": 20, "price": 27.5}
    assert line(foam, {"currency": "USD"}) == ["foam", "20 pores an inch", "USD 27.50"]
    assert line({}, {"currency": "USD"}) == ["no price, counted as 0"]
    combined = page_filters.COMBINATIONS
    assert combined.line({"stages": ["A", "B"], "housings_in_parallel": 2}, {}) == ["A → B", "2 side by side"]
    assert combined.line({"stages": ["A"], "housings_in_parallel": 1}, {}) == ["A"]
    assert combined.line({}, {}) == ["nothing yet"]
    assert [combined.called(row) for row in ({"stages": ["A", "B"]}, {"stages": ["A"]}, {})] == ["A then B", "A", ""]
    pump = {"power": "38 W", "max_flow": "2400 L/h", "shutoff_head": "2.4 m", "price": 60}
    assert page_filters.PUMPS.line(pump, {}) == ["2.4 m", "2400 L/h", "38 W"]


def test_a_card_shows_first_what_its_kind_is_known_by() -> None:
    keys = ("name", "kind", "price", "size", "rating", "area", "thickness", "pores_per_inch", "pleat_depth")
    first = {kind: {key for key in keys if page_filters._first(key, kind, {})} for kind in ("pleated", "foam")}
    assert first["pleated"] == {"name", "kind", "price", "size", "rating"}
    assert first["foam"] == {"name", "kind", "price", "area", "thickness", "pores_per_inch"}
    assert page_filters._first("pores_per_inch", "pleated", {"pores_per_inch": 20})  # so that it can be emptied


@pytest.mark.parametrize(("at", "own"), [(0, True), (1, False), (2, False), (3, False)])
def test_a_filter_on_its_own_is_no_combination(at: int, *, own: bool) -> None:
    options = [{"name": "A", "stages": ["A"]}, {"name": "B", "stages": ["A"]}, {"name": "C", "stages": ["A", "B"]}]
    assert page_filters._is_own(options, at) == own
