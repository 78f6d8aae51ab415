"""The page shows the library's numbers, takes changes, and tells faults beside their field."""

import io
import json
import re
from collections.abc import Callable
from typing import Any

import page_answer
import page_cache
import page_text
import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from filtration import Comparison, compare
from filtration.places import demo_file, demo_names, pages_folder
from filtration.present import phrases, sure_words, words
from filtration.present.charts import METRIC, PICTURES
from filtration.study_file import study_from_dict

from conftest import DRAWS, demo_data  # isort: skip

WAIT_S = 60


@pytest.fixture
def page() -> AppTest:
    return AppTest.from_file(str(pages_folder() / "app.py"), default_timeout=WAIT_S)


def seen(text: str) -> str:
    """Return Markdown as it is read."""
    return re.sub(r"\\(.)", r"\1", text)


def text_on(page: AppTest) -> str:
    parts = [*page.title, *page.subheader, *page.caption, *page.markdown, *page.warning, *page.error]
    return "\n".join(seen(part.value) for part in parts)


def figures_on(page: AppTest) -> list[str]:
    return [seen(metric.value) for metric in page.metric]


def changed(name: str, table: str, key: str, value: object) -> Comparison:
    data = demo_data(name)
    data[table][key] = value
    return compare(study_from_dict(data), draws=0)


@pytest.mark.parametrize("name", demo_names())
def test_the_page_shows_the_librarys_answer(
    page: AppTest, drawn_answer_of: Callable[[str], Comparison], name: str
) -> None:
    answer = drawn_answer_of(name)
    assert page_cache.DRAWS == DRAWS
    page.session_state["start"] = name
    page.run()
    assert not page.exception
    assert not page.error
    best, text = answer.best, text_on(page)
    assert best is not None
    assert best.days_to_first_service is not None
    assert best.cost_per_year.total is not None
    assert figures_on(page)[0] == phrases.days(best.days_to_first_service)
    assert figures_on(page)[3] == phrases.money(best.cost_per_year.total, answer.study.currency)
    assert words.headline(answer) in text
    assert sure_words.sureness(answer)
    told = [sure_words.sureness, words.others, words.notes]
    for line in [*(line for tell in told for line in tell(answer)), *words.cautions(answer.study)]:
        assert " ".join(line.split()) in text
    table = page.dataframe[0].value
    assert list(table["option"]) == [phrases.title(option, answer) for option in answer.options]
    for shown, option in zip(table["clean flow, L/h"], answer.options, strict=True):
        assert shown == pytest.approx(option.clean_flow_l_per_h, rel=0.005)
    shown = [json.loads(chart.proto.spec) for chart in page.get("vega_lite_chart")]
    by_words = {chart["description"]: chart for chart in shown}
    assert len(by_words) == len(shown) == len(PICTURES)
    for picture in PICTURES.values():
        own = picture.draw(answer, METRIC).to_dict()
        chart = by_words[own["description"]]
        assert chart["layer"] == own["layer"]  # its data bear the name of what is in them
        assert chart.get("data") == own.get("data")


def test_a_changed_pump_changes_the_answer(page: AppTest, freezer: Comparison) -> None:
    page.run()
    before = figures_on(page)
    page.number_input(key="freezer-shutoff_head").set_value(3.5).run()
    assert not page.exception
    answer = changed("freezer", "pump", "shutoff_head", "3.5 m")
    assert words.headline(answer) in text_on(page)
    assert words.headline(answer) != words.headline(freezer)
    assert figures_on(page) != before


@pytest.mark.parametrize(
    ("field", "value", "place", "written"),
    [
        ("volume", 500.0, ("tub", "volume"), "500 L"),
        ("water_temperature", 12.0, ("tub", "water_temperature"), "12 degC"),
        ("uses_per_day", 3.0, ("tub", "uses_per_day"), 3),
        ("water_change_every", 7.0, ("tub", "water_change_every"), "7 day"),
        ("max_flow", 3000.0, ("pump", "max_flow"), "3000 L/h"),
        ("bore", 25.0, ("plumbing", "bore"), "25 mm"),
        ("turnovers_per_hour", 2.0, ("needs", "turnovers_per_hour"), 2),
        ("see_through", 4.5, ("needs", "see_through"), "4.5 m"),
    ],
)
def test_each_field_reaches_the_library(
    page: AppTest, field: str, value: float, place: tuple[str, str], written: object
) -> None:
    page.run()
    page.number_input(key=f"freezer-{field}").set_value(value).run()
    assert words.headline(changed("freezer", *place, written)) in text_on(page)


def test_a_fault_stands_below_its_field(page: AppTest) -> None:
    page.run()
    page.number_input(key="freezer-volume").set_value(0.0).run()
    assert not page.exception
    assert "Must be 1 L to 100 m^3, got '0 L'" in text_on(page)
    assert not page.metric
    page.number_input(key="freezer-volume").set_value(420.0).run()
    assert page.metric
    assert "Must be" not in text_on(page)


def test_values_stay_while_another_study_is_looked_at(page: AppTest) -> None:
    page.run()
    page.number_input(key="freezer-volume").set_value(500.0).run()
    page.button_group(key="start").set_value("barrel").run()
    assert page.number_input(key="barrel-volume").value == 220.0
    page.button_group(key="start").set_value("freezer").run()
    assert page.number_input(key="freezer-volume").value == 500.0


def test_a_study_with_curve_or_several_pumps_says_so(page: AppTest) -> None:
    page.session_state["start"] = "quay"
    page.run()
    assert "The file compares pumps: Pond pump, Dry pump." in text_on(page)
    assert "quay-max_flow" not in [field.key for field in page.number_input]


def upload(page: AppTest, content: bytes, name: str = "mine.toml") -> AppTest:
    page.session_state["start"] = "own"
    page.run()
    page.file_uploader[0].set_value((name, content, "application/toml")).run()
    assert not page.exception
    return page


def test_before_a_file_is_there_the_page_says_how_to_get_one(page: AppTest) -> None:
    page.session_state["start"] = "own"
    page.run()
    assert "filtration new" in text_on(page)
    assert not page.metric


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"\xff\xfe\x00", "is not UTF-8 text"),
        (b"[tub", "is not TOML"),
        (b"", "is missing"),
        (b"x = 1\n" * 200_000, "more than the 1 MB allowed"),
        (b'[tub]\nvolume = "3 m"\nvolumme = 1', "needs a volume such as '420 L', got '3 m'"),
    ],
)
def test_a_bad_file_is_told_in_words(page: AppTest, content: bytes, told: str) -> None:
    upload(page, content)
    assert told in text_on(page)
    assert not page.metric


def test_a_file_is_used_and_can_be_changed(page: AppTest, freezer: Comparison) -> None:
    upload(page, demo_file("freezer").read_bytes())
    assert words.headline(freezer) in text_on(page)
    field = next(field for field in page.number_input if str(field.key).endswith("-volume"))
    field.set_value(500.0).run()
    assert words.headline(changed("freezer", "tub", "volume", "500 L")) in text_on(page)


def test_names_are_shown_and_not_obeyed(page: AppTest) -> None:
    name = "![x](http://example.com/x.png) :red[a] $b$ <i>"
    content = demo_file("freezer").read_text(encoding="utf-8").replace('"Pleated 50"', f'"{name}"')
    upload(page, content.encode())
    assert page.subheader[0].value == page_text.plain(name)
    assert seen(page.subheader[0].value) == name
    assert not re.search(r"(?<!\\)!(?<!\\)\[", "".join(part.value for part in page.markdown))


def file_with(old: str, new: str) -> bytes:
    text = demo_file("freezer").read_text(encoding="utf-8")
    assert old in text
    return text.replace(old, new).encode()


@pytest.mark.parametrize(
    ("old", "new", "note", "gone"),
    [
        (
            'water_change_every = "14 day"',
            'water_change_every = "never"',
            "the water is never changed",
            "water_change_every",
        ),
        ("turnovers_per_hour = 3", 'flow = "1200 L/h"', "The file says which flow is wanted", "turnovers_per_hour"),
        (
            'shutoff_head = "2.4 m"\nmax_flow = "2400 L/h"',
            'curve = [["0 L/h", "2.4 m"], ["1200 L/h", "1.9 m"], ["2400 L/h", "0 m"]]',
            "The file gives the pump by its curve",
            "max_flow",
        ),
    ],
)
def test_what_the_file_says_in_another_way_is_no_field(page: AppTest, old: str, new: str, note: str, gone: str) -> None:
    upload(page, file_with(old, new))
    assert note in text_on(page)
    assert len(page.dataframe[0].value) == 14
    assert not [field for field in page.number_input if str(field.key).endswith(f"-{gone}")]


def test_no_option_that_meets_the_needs_is_an_answer_too(page: AppTest) -> None:
    page.run()
    page.number_input(key="freezer-turnovers_per_hour").set_value(50.0).run()
    assert not page.exception
    assert "No option meets the needs" in text_on(page)
    assert not page.metric


def test_the_table_goes_to_a_spreadsheet_unharmed(freezer: Comparison) -> None:
    table = page_answer.table_of(freezer)
    table.loc[0, "option"] = "=1+1"
    back = pd.read_csv(io.BytesIO(page_answer.csv_of(table)), encoding="utf-8-sig")
    assert list(back.columns) == list(table.columns)
    assert back["option"][0] == "'=1+1"
    assert list(back["option"][1:]) == [option.name for option in freezer.options[1:]]
    assert back["a year, EUR"][0] == round(freezer.options[0].cost_per_year.total or 0.0)


def test_an_answer_is_worked_out_once_and_tells_its_progress() -> None:
    text = page_cache.demo_text("freezer")
    edits: Any = (("tub", "volume", "431 L"),)
    told: list[float] = []
    first = page_cache.answer(text, edits, lambda share, _what: told.append(share))
    assert told == sorted(told)
    assert told[-1] == 1.0
    told.clear()
    assert page_cache.answer(text, edits, lambda share, _what: told.append(share)) is first
    assert not told


def test_every_picture_has_its_place() -> None:
    assert sorted(name for row in page_answer.BESIDE for name in row) == sorted(PICTURES)


def test_a_picture_that_cannot_be_drawn_is_told_in_words(page: AppTest) -> None:
    page.run()
    page.number_input(key="freezer-max_flow").set_value(20.0).run()
    assert not page.exception
    assert "No option meets the needs" in text_on(page)
    assert "How sure" in text_on(page)
    assert "In 20 of 20 no option meets them." in text_on(page)
    assert "No picture: no cases to show" in text_on(page)
