"""What a page takes from a study's file and writes into it, value by value, by hand."""

import page_cache
import page_keys
import pytest
from studies import changed

from filtration.base.defaults import STUDY_DEFAULTS
from filtration.study.text import text_of_tables


def test_what_is_moved_starts_from_the_file_or_what_it_leans_on() -> None:
    """Four times half a metre is seen; of a table that the file has not, only wishes and prices are offered."""
    text = text_of_tables(changed({"tub.depth": "0.5 m", "tub.uses_per_day": 5}))
    value = page_cache.value_of
    assert value(text, "tub", "uses_per_day") == 5
    assert value(text, "needs", "see_through") == "2 m"
    assert value(text, "prices", "electricity_per_kwh") == STUDY_DEFAULTS["prices.electricity_per_kwh"]
    assert value(text, "cooling", "cop") is None
    never = text_of_tables(changed({"tub.water_change_every": "never"}))
    assert value(never, "tub", "water_change_every") is None


def test_a_value_moved_is_written_and_one_that_stays_changes_nothing() -> None:
    text = text_of_tables(changed({}))
    assert page_cache.moved(text, "tub", "uses_per_day", 6) == text
    assert page_cache.value_of(page_cache.moved(text, "tub", "uses_per_day", 9), "tub", "uses_per_day") == 9


@pytest.mark.parametrize(
    ("cell", "typed", "wrong"),
    [
        (page_keys.Cell(), "12,5", False),
        (page_keys.Cell(), "1,200", True),  # a thousand and more, or one and a fifth
        (page_keys.Cell(most=2.0), "1,200", False),
        (page_keys.Cell(least=2.0), "1,200", False),
        (page_keys.Cell(), "about 3", True),
        (page_keys.Cell("length", "mm"), "about 3", False),  # which the study tells
    ],
)
def test_a_plain_number_that_is_none_is_told(cell: page_keys.Cell, typed: str, *, wrong: bool) -> None:
    assert bool(cell.fault(typed)) == wrong


@pytest.mark.parametrize(
    ("cell", "value", "shown"),
    [
        (page_keys.Cell(), 12.5, "12.5"),
        (page_keys.Cell(), "a word", "a word"),
        (page_keys.Cell(), None, ""),
        (page_keys.Cell("volume", "gal"), "420 L", "111"),  # 420 / 3.785411784 = 110.95
        (page_keys.Cell("volume", "L"), "420.25 L", "420.25"),
        (page_keys.Cell("length", "in"), "19 mm", "0.748"),  # 19 / 25.4
        (page_keys.Cell("time", "min"), "1 h", "60"),
        (page_keys.Cell("time", "day"), "soon", "soon"),
    ],
)
def test_a_value_is_shown_in_the_unit_of_its_field(cell: page_keys.Cell, value: object, shown: str) -> None:
    assert cell.shown(value) == shown


@pytest.mark.parametrize(
    ("cell", "typed", "written"),
    [
        (page_keys.Cell(), "12", 12),
        (page_keys.Cell(), "12.5", 12.5),
        (page_keys.Cell(), "  ", None),
        (page_keys.Cell(), None, None),
        (page_keys.Cell(), " a word ", "a word"),
        (page_keys.Cell("length", "mm"), "19", "19 mm"),
        (page_keys.Cell("length", "mm"), "2 in", "2 in"),
    ],
)
def test_what_is_typed_is_written_with_its_unit(cell: page_keys.Cell, typed: str | None, written: object) -> None:
    assert cell.written(typed) == written
    assert type(cell.written(typed)) is type(written)
