"""Files that leave the program, read back by other libraries than those that wrote them."""

import csv
import io
import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache, partial
from typing import Any

import html5lib
import openpyxl
import pandas as pd
import pytest
import vobject
from icalendar import Calendar, Event
from plans import FIRST_DAY, NOW, Case, case_of, cents, hostile_data
from studies import Given, answered, demo_data, demo_with, study_of

from filtration import forecast
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.plan.dated_plan import plan
from filtration.plan.outcome import numbered, services_done
from filtration.present.charts.pictures import CHARTS, chart, png_of, svg_of
from filtration.present.exports.calendar import build_calendar
from filtration.present.exports.message import write_message
from filtration.present.exports.tables import csv_of, options_rows, plan_rows
from filtration.present.exports.workbook import build_workbook
from filtration.present.words import exports as ways_words
from filtration.present.words import plan as plan_words
from filtration.readings.reading import Reading, reading_of

DAY_50 = FIRST_DAY + timedelta(days=50)


def over_two_years(data: Given) -> Given:
    """Return a study whose plan is long enough for a second year and no longer."""
    return data | {"prices": data["prices"] | {"horizon": "2 year"}}


@pytest.fixture(scope="module")
def tub() -> Case:
    return case_of(over_two_years(demo_data("freezer")))


@pytest.fixture(scope="module")
def hostile() -> Case:
    return case_of(over_two_years(hostile_data()))


@pytest.fixture(scope="module", params=["tub", "hostile"])
def either(request: pytest.FixtureRequest, tub: Case, hostile: Case) -> Case:
    return {"tub": tub, "hostile": hostile}[request.param]


# Workbook


def sheets(data: bytes) -> dict[str, list[tuple[Any, ...]]]:
    book = openpyxl.load_workbook(io.BytesIO(data))
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f"
                assert cell.hyperlink is None
    return {sheet.title: list(sheet.iter_rows(values_only=True)) for sheet in book.worksheets}


def test_a_workbook_carries_the_plan_to_a_cent(either: Case) -> None:
    found = sheets(build_workbook(either.answer, either.plan))
    assert list(found) == ["Answer", "Options", "Schedule", "Months", "Years", "Shopping", "Assumptions"]
    head, *rows = found["Schedule"]
    assert head[:6] == ("date", "earliest", "latest", "what", "item", "count")
    assert len(rows) == len(either.plan.events)
    for row, event in zip(rows, either.plan.events, strict=True):
        day, _, _, what, item, count, amount = row
        assert isinstance(day, datetime)
        assert (day.date(), what, item, count) == (event.date, event.what, event.item, pytest.approx(event.count))
        assert round(100 * amount) == round(100 * event.amount)
    total = cents(row[6] for row in rows)
    assert total == cents(row[1] for row in found["Months"][1:]) == cents(row[1] for row in found["Years"][1:])
    assert total == round(100 * found["Answer"][1][1])
    assert sum(row[0] == date(2027, 3, 1) or row[0] == datetime(2027, 3, 1) for row in found["Months"]) == 1  # noqa: DTZ001 - a workbook knows no zones


def test_a_workbook_has_the_answer_and_what_is_assumed(either: Case) -> None:
    found = sheets(build_workbook(either.answer, either.plan))
    head, *rows = found["Options"]
    assert [row[head.index("name")] for row in rows] == [option.name for option in either.answer.options]
    costs = [row[head.index("cost_per_year.total")] for row in rows]
    assert costs == [pytest.approx(option.cost_per_year.total) for option in either.answer.options]
    assumed = [f"{key} = {value}" for key, value in found["Assumptions"][1:]]
    assert assumed == [str(each) for each in either.answer.study.assumed]
    assert found["Answer"][0][0] == either.answer.study.name


def test_the_shopping_list_has_a_column_for_each_thing(either: Case) -> None:
    """Number times price is money, and what is bought in the first year adds up to what the schedule has of it."""
    head, *rows = sheets(build_workbook(either.answer, either.plan))["Shopping"]
    assert head[:4] == ("what", "item", "count", "price each")
    assert head[4].startswith("amount")
    assert [row[1] for row in rows] == [line.item for line in either.plan.shopping]
    for _, _, count, each, amount, *_ in rows:
        assert (each is None) == (not count)
        assert (each or 0.0) * count == pytest.approx(amount, abs=0.01)
    elements = {stage.name for option in either.answer.study.options for stage in option.stages}
    year = [event for event in either.plan.events if event.what == "buy" and event.day < DAYS_PER_YEAR]
    bought = cents(event.amount for event in year if event.item in elements)
    assert cents(row[4] for row in rows if row[0] == "cartridge") == bought


def test_parts_of_a_workbook(tub: Case) -> None:
    assert list(sheets(build_workbook(tub.answer, tub.plan, "answer"))) == ["Answer", "Options", "Assumptions"]
    assert list(sheets(build_workbook(tub.answer, tub.plan, "plan"))) == ["Schedule", "Months", "Years", "Shopping"]
    assert list(sheets(build_workbook(tub.answer, None))) == ["Answer", "Options", "Assumptions"]


def test_pandas_reads_the_workbook(either: Case) -> None:
    read = pd.read_excel(io.BytesIO(build_workbook(either.answer, either.plan)), sheet_name="Schedule")
    assert str(read["date"].dtype).startswith("datetime64")
    assert read.iloc[:, 6].sum() == pytest.approx(either.plan.total.undiscounted, abs=0.005)


# CSV


def test_tables_are_read_back(either: Case) -> None:
    read = pd.read_csv(io.BytesIO(csv_of(*plan_rows(either.plan))), parse_dates=["date"])
    assert len(read) == len(either.plan.events)
    assert cents(read["amount"]) == cents(event.amount for event in either.plan.events)
    assert [day.date() for day in read["date"]] == [event.date for event in either.plan.events]
    options = pd.read_csv(io.BytesIO(csv_of(*options_rows(either.answer))))
    for read_back, option in zip(options["cost_per_year.total"], either.answer.options, strict=True):
        assert read_back == option.cost_per_year.total or option.cost_per_year.total is None


def test_no_cell_of_text_begins_like_a_formula(hostile: Case) -> None:
    for table in (options_rows(hostile.answer), plan_rows(hostile.plan)):
        for row in csv.reader(io.StringIO(csv_of(*table).decode("utf-8-sig"))):
            for cell in row:
                assert cell[:1] not in "=@+\t\r" or not cell
                assert not cell.startswith("-") or float(cell) < 0


def test_text_numbers_and_dates_of_a_table() -> None:
    cells = ["=1+1", "a\nb", "'=x", "x", -0.5, 3, 1e-7, True, date(2028, 2, 29), None, float("nan"), float("inf")]
    data = csv_of([str(place) for place in range(len(cells))], [cells])
    _, row = csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""))
    assert row == ["'=1+1", "a\nb", "''=x", "x", "-0.5", "3", "1e-07", "true", "2028-02-29", "", "", ""]


@pytest.mark.parametrize("cell", ["\uff1d1+1", "\uff0b1", "\uff0d1", "\uff20SUM(A1)"])
def test_full_width_signs_begin_no_formula_either(cell: str) -> None:
    _, (found,) = csv.reader(io.StringIO(csv_of(["name"], [[cell]]).decode("utf-8-sig")))
    assert found == f"'{cell}"


# Calendar


def entries(data: bytes) -> dict[str, Any]:
    """Read a calendar with another parser; return its events by identity."""
    read = vobject.readOne(data.decode())
    found = {event.uid.value: event for event in read.vevent_list}
    assert len(found) == len(read.vevent_list)
    return found


def written(case: Case, readings: tuple[Reading, ...] = (), at: datetime = NOW) -> bytes:
    return calendar(case.plan, services_done(case.plan, case.answer, readings), at)


calendar = partial(build_calendar, years=5.0)
"""The calendar of services and purchases over whole plans."""


@pytest.fixture(scope="module")
def whole(tub: Case) -> bytes:
    """Return the calendar of a plan."""
    return written(tub)


@pytest.fixture(scope="module")
def number(whole: bytes) -> int:
    """Return how many events it has."""
    return len(entries(whole))


def test_calendars_have_every_event_that_is_to_do_in_one_entry_a_day(either: Case) -> None:
    """Services and purchases in one file, water changes in another; what falls on one day is one walk to the tub."""
    done = services_done(either.plan, either.answer)
    water = entries(calendar(either.plan, done, NOW, what="water"))
    found = entries(written(either))
    assert not water.keys() & found.keys()
    for data, whats in ((water, {"change water"}), (found, {"rinse", "soak", "replace", "buy"})):
        by_day: dict[date, list[Any]] = {}
        for event in either.plan.events:
            if event.what in whats and (event.what, event.item) != ("buy", "electricity"):
                by_day.setdefault(event.date, []).append(event)
        assert {each.dtstart.value: each.summary.value for each in data.values()} == {
            day: ways_words.title(events) for day, events in by_day.items()
        }
        for each in data.values():
            for event in by_day[each.dtstart.value]:
                assert plan_words.what(event) in each.summary.value.lower() or event.item in each.summary.value
            paid = sum(round(100.0 * event.amount) for event in by_day[each.dtstart.value])
            assert not paid or f"{paid / 100.0:,.2f}." in each.description.value
    for each in [*found.values(), *water.values()]:
        assert type(each.dtstart.value) is date
        assert each.dtend.value - each.dtstart.value == timedelta(days=1)
        assert each.description.value.startswith(f"{either.answer.study.name}: ")


def test_a_calendar_keeps_to_the_grammar(either: Case) -> None:
    """RFC 5545, 3.1: lines end in CRLF, have at most 75 octets, and go on after one blank."""
    data = written(either)
    assert data.endswith(b"\r\n")
    assert b"\n" not in data.replace(b"\r\n", b"")
    lines = data[:-2].split(b"\r\n")
    assert max(map(len, lines)) <= 75
    names = {line.split(b":")[0].split(b";")[0] for line in lines if not line.startswith(b" ")}
    assert names <= set(
        b"BEGIN END VERSION PRODID CALSCALE METHOD X-WR-CALNAME UID DTSTAMP SEQUENCE DTSTART DTEND SUMMARY DESCRIPTION "
        b"TRANSP".split()
    )


def in_use() -> Given:
    data = over_two_years(demo_with("freezer", "Pleated 50", "Wound 50"))
    return data | {"in_use": {"option": "pleated-50", "since": "2027-03-01"}}


@cache
def later(days: int, rows: tuple[Reading, ...] = ()) -> Case:
    study, day = study_of(in_use()), FIRST_DAY + timedelta(days=days)
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
    ahead = forecast(study, rows, today=noon, draws=64) if rows else None
    answer = answered(in_use())
    return Case(answer, plan(study, answer=answer, today=day, draws=16, forecast=ahead))


def test_a_calendar_made_later_has_the_same_events_with_the_same_identities() -> None:
    """Without readings nothing moves: what is still to come keeps its day, and nothing is there twice."""
    first, again = entries(written(later(0))), entries(written(later(100)))
    end = max(event.dtstart.value for event in first.values())
    kept = {uid for uid, event in first.items() if event.dtstart.value >= FIRST_DAY + timedelta(days=100)}
    assert kept == {uid for uid, event in again.items() if event.dtstart.value <= end}
    assert all(again[uid].dtstart.value == first[uid].dtstart.value for uid in kept)


def test_a_reading_moves_events_and_doubles_none() -> None:
    """A bucket that fills more slowly than foreseen: the first rinse, not yet done, comes on another day."""
    rows = (reading_of("2027-03-08T18:00Z", "bucket", "10 L in 24.2 s", where="row"),)
    before, after = later(0), later(8, rows)
    old = entries(written(before))
    new = entries(written(after, rows, NOW + timedelta(days=8)))
    first = {event.summary.value: uid for uid, event in reversed(old.items())}
    uid = first["Rinse Pleated 50"]
    assert new[uid].summary.value.startswith("Rinse Pleated 50")
    assert new[uid].dtstart.value != old[uid].dtstart.value
    assert int(new[uid].sequence.value) > int(old[uid].sequence.value)
    both = {**old, **new}
    rinses = [each.dtstart.value for each in both.values() if each.summary.value == "Rinse Pleated 50"]
    assert len(rinses) == max(
        sum(each.summary.value == "Rinse Pleated 50" for each in some.values()) for some in (old, new)
    )


def cancelled(data: bytes) -> dict[str, Event]:
    """Read a calendar with the library that wrote it; return its cancelled events by identity."""
    found = Calendar.from_ical(data).walk("VEVENT")
    return {str(event["uid"]): event for event in found if event.get("status") == "CANCELLED"}


def test_what_a_new_plan_has_not_is_cancelled() -> None:
    """Another filter is taken on day 50: what is to come for the old one is cancelled, what is past stays as it was.

    RFC 5545: 3.8.1.11 (STATUS) and 3.8.7.4 (SEQUENCE: higher with each change).
    """
    old, new = later(0), later(50)
    new = replace(new, plan=plan(new.answer.study, option="wound-50", answer=new.answer, today=DAY_50, draws=16))
    first = written(old)
    second = calendar(new.plan, {}, NOW, first)  # within the same minute
    before, after, gone = entries(first), entries(second), cancelled(second)
    assert {uid for uid, each in before.items() if each.dtstart.value >= DAY_50} == set(gone)
    assert set(after) - set(gone) == set(entries(calendar(new.plan, {}, NOW)))
    assert gone.keys().isdisjoint(entries(calendar(new.plan, {}, NOW)))
    for uid, event in gone.items():
        assert event["sequence"] > int(before[uid].sequence.value)
        assert (event["dtstart"].dt, str(event["summary"])) == (before[uid].dtstart.value, before[uid].summary.value)
    third = calendar(old.plan, services_done(old.plan, old.answer), NOW, second)  # the old filter after all
    assert set(before) == set(entries(third)) - set(cancelled(third))
    assert set(cancelled(third)) == {uid for uid in after if uid not in before}
    back = entries(third)
    assert all(int(back[uid].sequence.value) > event["sequence"] for uid, event in gone.items())


def test_a_plan_that_shrinks_cancels_its_end() -> None:
    """A horizon of a year instead of two: what lies beyond is cancelled, the rest is as it was."""
    long = later(0)
    study = replace(long.plan.study, prices=replace(long.plan.study.prices, horizon_days=365.25))
    short = plan(study, option=long.plan.option, answer=long.answer, today=FIRST_DAY, draws=16)
    first = written(long)
    second = calendar(short, {}, NOW, first)
    beyond = {uid for uid, each in entries(first).items() if each.dtstart.value > FIRST_DAY + timedelta(days=366)}
    assert len(beyond) > 20
    assert set(cancelled(second)) == beyond
    assert set(entries(second)) == set(entries(first))
    assert set(cancelled(calendar(short, {}, NOW, second))) == beyond  # they stay cancelled


def test_only_a_calendar_of_ours_and_of_this_study_is_cancelled(tub: Case, hostile: Case, whole: bytes) -> None:
    nothing = replace(tub.plan, events=())
    assert cancelled(calendar(nothing, {}, NOW, whole)).keys() == entries(whole).keys()
    foreign = whole.replace(b"-//filtration//", b"-//elsewhere//")
    damaged = (whole[: len(whole) // 2], whole.replace(b"BEGIN:VEVENT", b"BEGIN:VTODO"), b"", b"\xff" * 99)
    for before in (foreign, written(hostile), *damaged):
        assert not Calendar.from_ical(calendar(nothing, {}, NOW, before)).walk("VEVENT"), before[:200]


@pytest.mark.parametrize("line", ["UID", "DTSTART", "SEQUENCE", "SUMMARY"])
@pytest.mark.parametrize("odd", ["", "{0}:x\r\n", "{0};VALUE=x:20270401T080000Z\r\n", "{0}:1\r\n{0}:2\r\n"])
def test_entries_that_somebody_broke_do_no_harm(tub: Case, whole: bytes, number: int, line: str, odd: str) -> None:
    nothing = replace(tub.plan, events=())
    field = rf"(?m)^{line}[:;].*\r\n(?: .*\r\n)*".encode()
    before = re.sub(field, odd.format(line).encode(), whole, count=3)
    assert before != whole
    found = cancelled(calendar(nothing, {}, NOW, before))
    assert number - 3 <= len(found) <= number


def test_services_are_numbered_as_the_log_counts_them() -> None:
    """Two rinses done, one of them a soak; the next is the third rinse, the second soak, the first replacement."""
    rows = tuple(
        reading_of(when, kind, where="row")
        for when, kind in (("2027-03-12T08:00Z", "rinse"), ("2027-03-24T08:00Z", "soak"))
    )
    found = later(30, rows)
    done = services_done(found.plan, found.answer, rows)
    item = "Pleated 50"
    assert [done[what, item] for what in ("rinse", "soak", "replace", "buy")] == [2, 1, 0, 1]
    assert done["change water", "water"] == 30 // 14
    numbers = {}
    for event, number in numbered(found.plan, done):
        numbers.setdefault((event.what, event.item), number)
    assert [numbers[what, item] for what in ("rinse", "soak", "replace", "buy")] == [3, 2, 1, 2]


def test_a_line_break_in_a_name_stays_one(tub: Case) -> None:
    """The study file takes no such name; whatever else makes a plan may."""
    name = "North\r\nEND:VEVENT\nBEGIN:VALARM, tub; \\ x"
    event = replace(tub.plan.events[-1], what="rinse", item=name, count=1.0)
    odd = Case(
        replace(tub.answer, study=replace(tub.answer.study, name=name)),
        replace(tub.plan, study=replace(tub.plan.study, name=name), events=(event,)),
    )
    data = calendar(odd.plan, {}, NOW)
    (entry,) = entries(data).values()
    assert vobject.readOne(data.decode()).x_wr_calname.value.replace("\\n", "\n").count("BEGIN:VALARM") == 1
    assert entry.summary.value.replace("\r", "") == f"Rinse {name}".replace("\r", "")
    assert [component.name for component in entry.components()] == []
    (_, row) = sheets(build_workbook(odd.answer, odd.plan, "plan"))["Schedule"]
    assert row[4].replace("\r", "").replace("_x000D_", "") == name.replace("\r", "")
    read = pd.read_csv(io.StringIO(csv_of(*plan_rows(odd.plan)).decode("utf-8-sig"), newline=""))
    assert read["item"].tolist() == [name]


# Message and pictures


def test_a_message_is_short_plain_text(either: Case) -> None:
    text = write_message(either.answer, either.plan)
    assert text.startswith(either.answer.study.name)
    assert "Clear is not clean." in text
    assert text.count("\n") < 25
    assert write_message(either.answer, None).startswith(either.answer.study.name)


def test_seconds_and_centimetres_by_hand() -> None:
    """1,200 L/h are 20 L/min, 10 L in half a minute; 9.80665 kPa lift water of 1000 kg/m3 by a metre."""
    assert ways_words.flow_words(1200.0) == "20 L/min: a 10 L bucket in 30 seconds"
    assert ways_words.tube_cm(9.80665) == pytest.approx(100.0, rel=1e-4)


@pytest.mark.parametrize("name", ["map", "days", "cost", "days_cases", "view"])
def test_pictures_of_either(either: Case, name: str) -> None:
    svg = svg_of(chart(either.answer, name))
    assert html5lib.HTMLParser(strict=True).parseFragment(svg) is not None
    assert svg.count("<text") > 5  # letters do not vanish
    assert "<script" not in svg


@pytest.mark.parametrize("name", CHARTS)
def test_every_chart_can_be_a_picture(tub: Case, name: str) -> None:
    from PIL import Image

    picture = Image.open(io.BytesIO(png_of(chart(tub.answer, name))))
    picture.load()
    assert picture.width == 2 * 720
