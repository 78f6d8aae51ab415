"""The plan's page: its days, sums and files are the library's, and readings move them."""

from datetime import date, timedelta

import page_cache
import page_readings
import pytest
from icalendar import Calendar
from pages import at, field, opened, text_on
from streamlit.testing.v1 import AppTest
from studies import demo_with

from filtration import compare
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.plan.dated_plan import plan
from filtration.present.charts.pictures import CHARTS
from filtration.present.exports.by_ending import PICTURES, WAYS, bytes_of
from filtration.present.words import exports as ways_words
from filtration.present.words import phrases
from filtration.present.words import plan as plan_words
from filtration.study.text import text_of_tables

FIRST = date(2026, 3, 1)
TEXT = text_of_tables(demo_with("freezer", "Spun 1", "Pleated 20", "Pleated 50"))


def at_plan(page: AppTest) -> AppTest:
    opened(page, TEXT, "plan_ahead")
    page.date_input[0].set_value(FIRST).run()
    assert not page.exception
    return page


def test_the_days_and_sums_are_the_librarys(page: AppTest) -> None:
    at_plan(page)
    study = page_cache.study(TEXT)
    own = plan(study, today=FIRST)
    text = text_on(page)
    assert plan_words.headline(own) in text
    for line in (*plan_words.shopping(own), *plan_words.years(own), *plan_words.gap(own), plan_words.break_even(own)):
        assert line in text
    table = page.dataframe[0].value
    year = [event for event in own.events if event.day < DAYS_PER_YEAR]
    assert [day.date() if hasattr(day, "date") else day for day in table["day"]] == [event.date for event in year]
    assert list(table["EUR"]) == pytest.approx([event.amount for event in year])
    assert list(table["what"]) == [plan_words.what(event) for event in year]


def test_every_file_offered_can_be_made_and_every_way_is_offered(page: AppTest) -> None:
    at_plan(page)
    outcome = page_readings.outcome(TEXT, "pleated-50", FIRST, None)
    offered = {ending: {held for end, held in ways_words.FILES if end == ending} for ending in WAYS}
    assert all(held <= set(WAYS[ending]) for ending, held in offered.items())
    assert all(offered.values())
    for ending, held in ways_words.FILES:
        assert len(bytes_of(outcome, ending, held)) > 200
    events = Calendar.from_ical(bytes_of(outcome, ".ics", "plan")).walk("VEVENT")
    rinses = [event for event in outcome.planned.events if event.what == "rinse" and event.day < DAYS_PER_YEAR]
    assert sum("Rinse" in str(event["SUMMARY"]) for event in events) == len(rinses)
    assert set(ways_words.CHARTS) == set(CHARTS)
    assert bytes_of(outcome, PICTURES[0], "life", "pleated-50").startswith(b"\x89PNG")
    labels = [button.proto.label for button in page.get("download_button")]
    assert labels == [*ways_words.FILES.values(), "PNG", "SVG"]


def test_what_cannot_be_planned_is_said(page: AppTest) -> None:
    at_plan(page)
    page.selectbox(key="which option").set_value("spun-1").run()
    assert not page.exception
    assert "even clean it lacks the flow" in text_on(page)
    labels = [button.proto.label for button in page.get("download_button")]
    assert not [label for label in labels if "Calendar" in label or "Water" in label]
    assert "Wall card" not in labels
    assert "Workbook" in labels


def test_readings_move_the_days(page: AppTest) -> None:
    opened(page, TEXT, "your_tub")
    now = page_readings.now()
    rows = [
        ((now - timedelta(days=9)).isoformat(timespec="minutes"), "replace", "pleated-50", ""),
        ((now - timedelta(days=1)).isoformat(timespec="minutes"), "flow", "1350 L/h", ""),
    ]
    name = page_cache.study(TEXT).name
    page.session_state["readings"] = {name: page_readings.Changes(new=tuple(rows))}
    at(page, "plan_ahead")
    assert page.checkbox[0].value
    moved = page.dataframe[0].value
    page.checkbox[0].set_value(False).run()
    assert not page.exception
    assert list(page.dataframe[0].value["day"]) != list(moved["day"])
    assert moved["what"][0].startswith(("rinse", "change", "buy"))


def test_a_tub_with_faults_sends_to_the_fields(page: AppTest) -> None:
    opened(page, page_cache.demo_text("freezer").replace('"420 L"', '"-1 L"'), "plan_ahead")
    assert "does not fit yet" in text_on(page) or "do not fit yet" in text_on(page)
    at(page, "your_tub")
    assert field(page, "tub.volume").label


def test_an_empty_tub_lacks_things_and_none_of_them_is_unfit(page: AppTest) -> None:
    opened(page, text_of_tables(page_cache.empty_tables()), "plan_ahead")
    assert "are still to fill in" in text_on(page)
    assert "not fit" not in text_on(page)


def test_a_fault_of_a_filter_is_told_beside_its_field(page: AppTest) -> None:
    opened(page, page_cache.demo_text("freezer").replace('rating = "5 um"', 'rating = "5 kg"', 1), "your_tub")
    assert "Micron rating: Needs a length such as '20 µm', got '5 kg'" in text_on(page)
    assert "[[elements]]" not in text_on(page)


@pytest.mark.parametrize("stated", [True, False])
def test_what_if_says_that_an_assumed_water_change_moves_with_the_dips(page: AppTest, stated: bool) -> None:  # noqa: FBT001 - one of two cases
    """Where it is filled in it stays, and nothing is said."""
    data = demo_with("freezer", "Pleated 20")
    data["tub"] |= {"uses_per_day": 20}
    data["tub"].pop("water_change_every", None)
    data["tub"] |= {"water_change_every": "14 day"} if stated else {}
    opened(page, text_of_tables(data), "what_if")
    page.selectbox(key="what if").set_value("tub.uses_per_day").run()
    page.slider[0].set_value(page.slider[0].max).run()
    assert not page.exception
    assert ("The water change is not filled in" in text_on(page)) == (not stated)


def test_where_there_are_readings_every_page_goes_by_them_with_one_switch(page: AppTest) -> None:
    """A flow lower than foreseen makes the first service sooner on the answer's page too, until it is told not to."""
    opened(page, TEXT, "your_tub")
    now = page_readings.now()
    rows = [
        ((now - timedelta(days=9)).isoformat(timespec="minutes"), "replace", "pleated-50", ""),
        *(
            ((now - timedelta(days=day)).isoformat(timespec="minutes"), "flow", f"{flow} L/h", "")
            for day, flow in ((8, 1440), (4, 1330), (1, 1250))
        ),
    ]
    name = page_cache.study(TEXT).name
    page.session_state["readings"] = {name: page_readings.Changes(new=tuple(rows))}
    seen = {}
    for place in ("which_filter", "money"):
        at(page, place)
        assert page.checkbox[0].label == "Go by my readings"
        assert page.checkbox[0].value
        seen[place] = [metric.value for metric in page.metric]
    page.checkbox[0].set_value(False).run()
    assert not page.exception
    assert [metric.value for metric in page.metric] != seen["money"]
    at(page, "which_filter")
    assert not page.checkbox[0].value
    bare = [metric.value for metric in page.metric]
    assert bare != seen["which_filter"]
    assert bare[0] == phrases.first_run(compare(page_cache.study(TEXT)).spoken_of)
