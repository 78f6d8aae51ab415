"""The page for many tubs: what it shows is the library's, and it takes no more than it can work out."""

from datetime import date

import page_link
import page_many
import pytest
from pages import at, text_on
from streamlit.testing.v1 import AppTest
from studies import demo_with

from filtration import InputError
from filtration.present import fleet_tables as words
from filtration.present.exports.fleet import ENDINGS
from filtration.study.text import text_of_tables

FIRST = date(2026, 3, 1)
TEXTS = [text_of_tables(demo_with("freezer", "Pleated 20") | {"name": name}) for name in ("East", "West")]
OPEN = tuple((f"tub {place}", text) for place, text in enumerate(TEXTS, start=1))


def test_the_tubs_open_here_are_budgeted_together(page: AppTest) -> None:
    word = page_link.packed(TEXTS)
    assert word is not None
    page.query_params["study"] = word
    page.run()
    at(page, "many_tubs")
    page.date_input[0].set_value(FIRST).run()
    assert not page.exception
    own = page_many.fleet(OPEN, TEXTS[0], FIRST)
    text = text_on(page)
    assert words.headline(own)[0] in text
    for line in (words.gathering(own), words.taken(own), *words.notes(own)):
        assert line in text
    tables = [table for table in words.tables(own) if table.rows]
    assert [shown.value.shape for shown in page.dataframe] == [
        (len(table.rows), len(table.columns)) for table in tables
    ]
    assert len(page.get("download_button")) == len(ENDINGS)
    page.checkbox[0].uncheck().run()
    assert not page.exception
    assert not page.dataframe


def test_studies_and_tables_side_by_side() -> None:
    """A table's rows change the tub looked at; a fault names its file and line."""
    files = (*OPEN[:1], ("more.csv", "name,tub.uses_per_day\nGuest,9\nBad,x\n"), ("none.toml", "volume ="))
    rows = page_many.rows_of(files, TEXTS[1])
    assert [(row.where, bool(row.faults)) for row in rows] == [
        ("tub 1", False), ("more.csv, line 2", False), ("more.csv, line 3", False), ("none.toml", True),
    ]  # fmt: skip
    assert dict(rows[1].tables or {})["name"] == "Guest"
    many = "name\n" + "".join(f"Tub {at}\n" for at in range(page_many.MOST_TUBS))
    with pytest.raises(InputError, match="51 tubs; a page works out at most 50"):
        page_many.fleet((*OPEN[:1], ("more.csv", many)), TEXTS[0], FIRST)
