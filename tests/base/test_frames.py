"""Tables in the units of a study, against the definitions of the units."""

from functools import cache

import pandas as pd
import pint
import pytest

from filtration.base.frames import frame_of, in_us_units, us_figure

BY_HAND = {
    "clean_flow_l_per_h": ("clean_flow_gph", "litre / hour", "gallon / hour"),
    "due_filter_loss_kpa": ("due_filter_loss_in_of_water", "kilopascal", "inch_H2O"),
    "see_through_worst_m": ("see_through_worst_ft", "metre", "foot"),
    "deposit_when_due_g": ("deposit_when_due_oz", "gram", "ounce"),
    "warming_k_per_day": ("warming_degf_per_day", "delta_degree_Celsius / day", "delta_degree_Fahrenheit / day"),
    "see_through_worst_m.p90": ("see_through_worst_ft.p90", "metre", "foot"),
    "days_to_first_service": ("days_to_first_service", "day", "day"),
    "cost_per_year.total": ("cost_per_year.total", "1", "1"),
}


@cache
def library() -> "pint.UnitRegistry[float]":
    return pint.UnitRegistry()


@pytest.mark.parametrize("name", BY_HAND)
def test_a_figure_in_us_units_by_a_library(name: str) -> None:
    """What a name says stands there is there, by the library's own definitions."""
    called, unit, us = BY_HAND[name]
    times = float(library().Quantity(2.0, unit).to(us).magnitude)
    assert us_figure(name) == (called, pytest.approx(times / 2.0, rel=1e-4))  # its column of water is a little warmer
    table = in_us_units(pd.DataFrame({name: [2.0, None], "name": ["a", "b"]}))
    assert list(table.columns) == [called, "name"]
    assert table[called][0] == pytest.approx(times, rel=1e-4)
    assert pd.isna(table[called][1])
    assert list(table["name"]) == ["a", "b"]


def test_a_table_has_its_columns_without_a_row() -> None:
    assert list(frame_of([], ["a", "b"]).columns) == ["a", "b"]
    assert frame_of([{"a": 1}, {"a": 2}]).to_dict("list") == {"a": [1, 2]}
