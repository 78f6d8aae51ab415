"""Many tubs in files: the same numbers in the workbook, the calendar, the table, the page and the document."""

import csv
import io
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from command import run
from icalendar import Calendar
from studies import demo_with

from filtration.base.errors import InputError
from filtration.plan.fleet import Fleet, budget
from filtration.plan.fleet_rows import FleetRow
from filtration.present import fleet_tables as words
from filtration.present.documents import fleet_document
from filtration.present.exports.fleet import ENDINGS, bytes_of_fleet
from filtration.study.text import text_of_tables

FIRST_DAY = date(2026, 3, 1)
NAMES = ("Quayside", "=1+1", "<b>Guest</b>")


@pytest.fixture(scope="module")
def club() -> Fleet:
    """Three tubs, of which one has nothing that meets its needs; names that a spreadsheet or a browser would run."""
    rows = []
    for place, name in enumerate(NAMES):
        data = demo_with("freezer", "Pleated 10", "Pleated 20")
        tub = data["tub"] | {"uses_per_day": 4 + place} | ({"dye_even_after": "60 min"} if place == 2 else {})
        needs = data["needs"] | ({"see_through": "9 m"} if place == 2 else {})
        rows.append(FleetRow(where=f"{place}.toml", tables=data | {"name": name, "tub": tub, "needs": needs}))
    return budget(rows, draws=16, today=FIRST_DAY)


def test_the_workbook_read_back(club: Fleet) -> None:
    """Real numbers and dates, sums that hold, and no text that is worked out."""
    book = openpyxl.load_workbook(io.BytesIO(bytes_of_fleet(club, ".xlsx")))
    sheets = {sheet.title: [[cell.value for cell in row] for row in sheet.iter_rows()] for sheet in book}
    total, amounts = club.year.total["EUR"], []
    for name in ("Year by tub", "Year by month"):
        _, *rows, last = sheets[name]
        assert (last[0], last[-1]) == ("in all", pytest.approx(total))
        for place in range(2, len(last)):  # down and across
            assert sum(row[place] for row in rows) == pytest.approx(last[place])
        assert all(sum(row[2:-1]) == pytest.approx(row[-1]) for row in [*rows, last])
        amounts.append(last[2:])
    assert amounts[0] == pytest.approx(amounts[1])
    lines = sheets["All lines"][1:]
    assert sum(row[-1] for row in lines) == pytest.approx(total)
    assert {type(row[0]).__name__ for row in lines} == {"datetime"}
    schedule = sheets["Schedule"][1:]
    assert len({row[0] for row in schedule}) == len(club.year.visits)
    assert sum(row[1] for row in sheets["Visits by month"][1:]) == len(club.year.visits)
    assert sum(row[2] for row in sheets["Visits by month"][1:]) == len(club.year.alone)
    figures = {(row[0], row[1]): row[2:] for row in sheets["Long run"][1:]}
    assert figures["all of it", "EUR"] == pytest.approx([club.cost["EUR"].central, *(club.cost["EUR"].range or ())])
    tubs = {row[0]: row for row in sheets["Tubs"][1:]}
    assert set(tubs) == set(NAMES)
    for told in fleet_document(club)["tubs"]:  # type: ignore[attr-defined]  # a list
        row = dict(zip(sheets["Tubs"][0], tubs[told["name"]], strict=True))
        assert (row["from"], row["option"]) == (told["where"], told["option"])
        meets = told["meets_needs"]
        assert bool(row["why not"]) != meets
        expected = {
            "pump": told["pump"],
            "chance of meeting its needs": told["chance_of_meeting_needs"],
            "currency": told["currency"],
            "amount a year": meets and told["cost_per_year"]["central"],
            "amount a year, 10 %": meets and told["cost_per_year"]["range"][0],
            "amount a year, 90 %": meets and told["cost_per_year"]["range"][2],
            "days to the first service": meets and told["days_to_first_service"]["central"],
            "rinses a year": told["rinses_per_year"],
            "hours a year": told["hours_per_year"],
        }
        for heading, value in expected.items():
            assert row[heading] == ((pytest.approx(value) if isinstance(value, float) else value) if meets else None)
    assert "Nothing meets the needs of 1" in sheets["Summary"][1][0]
    assert not [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]


def test_the_table_holds_every_line(club: Fleet) -> None:
    rows = list(csv.DictReader(io.StringIO(bytes_of_fleet(club, ".csv").decode("utf-8-sig"))))
    assert len(rows) == len(club.year.lines)
    assert round(sum(float(row["amount"]) for row in rows), 2) == club.year.total["EUR"]
    assert {row["tub"] for row in rows} == {"Quayside", "'=1+1"}


def test_the_calendar_has_a_day_a_visit_and_drops_what_is_gone(club: Fleet) -> None:
    data = bytes_of_fleet(club, ".ics")
    days = {event["dtstart"].dt: event for event in Calendar.from_ical(data).walk("VEVENT")}
    assert list(days) == [visit.date for visit in club.year.visits]
    assert all(str(event["summary"]).startswith(("1 tub: ", "2 tubs: ")) for event in days.values())
    fewer = budget([FleetRow(where="a", tables=demo_with("freezer", "Pleated 20"))], draws=0, today=FIRST_DAY)
    again = Calendar.from_ical(bytes_of_fleet(fewer, ".ics", data)).walk("VEVENT")
    gone = {event["dtstart"].dt for event in again if event.get("status") == "CANCELLED"}
    assert gone == set(days) - {visit.date for visit in fewer.year.visits}


def test_the_page_says_it_all_and_runs_nothing(club: Fleet) -> None:
    page = bytes_of_fleet(club, ".html").decode()
    assert "<b>Guest" not in page
    assert f"{club.year.total['EUR']:,.2f}" in page
    assert page.count("<table>") == len([table for table in words.tables(club) if table.rows])
    assert page.count("rinse Pleated") + page.count("rinse and soak Pleated") >= len(club.year.visits) // 2


def test_the_document_has_the_same(club: Fleet) -> None:
    told = fleet_document(club)
    assert told["tubs_covered"] == 2
    assert [each["name"] for each in told["without_option"]] == ["<b>Guest</b>"]  # type: ignore[attr-defined]
    assert told["year_ahead"]["total"] == club.year.total  # type: ignore[index]
    assert told["visits_if_each_alone"] == len(club.year.alone)
    assert [each["date"] for each in told["visits"]] == [  # type: ignore[attr-defined]
        visit.date.isoformat() for visit in club.year.visits
    ]
    assert told["shopping"][0]["count"] == club.year.shopping[0].count  # type: ignore[index]
    assert told["hours_by_month"] == club.year.hours_by_month


def test_every_file_from_the_command(tmp_path: Path) -> None:
    (tmp_path / "tubs").mkdir()
    data = demo_with("freezer", "Pleated 20")
    for name in ("A", "B"):
        (tmp_path / "tubs" / f"{name}.toml").write_text(text_of_tables(data | {"name": name}), encoding="utf-8")
    words_ = ("fleet", str(tmp_path / "tubs"), "--draws", "0", "--today", "2026-03-01")
    for ending in ENDINGS:
        done = run(*words_, "--to", str(tmp_path / f"out{ending}"))
        assert (done.returncode, done.stderr) == (0, f"Wrote {tmp_path / f'out{ending}'}.\n")
        assert (tmp_path / f"out{ending}").stat().st_size > 500
    taken = run(*words_, "--to", str(tmp_path / "out.csv"))
    assert (taken.returncode, taken.stdout) == (2, "")
    wrong = run(*words_, "--to", str(tmp_path / "out.pdf"))
    assert (wrong.returncode, wrong.stdout) == (2, "")
    assert wrong.stderr == "--to: must end in .xlsx, .ics, .csv, .html, got 'out.pdf'\n"


def test_an_ending_that_is_none(club: Fleet) -> None:
    with pytest.raises((KeyError, InputError)):
        bytes_of_fleet(club, ".pdf")
