"""The page of readings: the library's figures, faults in words, each change saved at once, nothing lost."""

import os
import tomllib
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import page_cache
import page_link
import page_readings
import page_tables
import pytest
from browsing import CHROMIUM, PHONE_PX, WAIT_S, settle, visit
from page_readings import Changes, Row
from pages import ANSWER, at, charts_on, figures_on, opened, text_on
from playwright.sync_api import Browser, expect
from spent import spent
from streamlit.testing.v1 import AppTest
from studies import demo_with
from typer.testing import CliRunner
from visitor import Served

from filtration import InputError, forecast
from filtration.cli import serve
from filtration.cli.commands import app
from filtration.present.charts.readings import flow_readings_chart, flow_readings_words, loss_readings_words
from filtration.present.words import forecast as forecast_words
from filtration.present.words import phrases
from filtration.present.words import readings as readings_words
from filtration.readings.csv_file import readings_from_csv
from filtration.readings.fitted_runs import seen_runs
from filtration.readings.logbook import Logbook
from filtration.readings.logbook_tables import KnownAs
from filtration.readings.reading import Reading
from filtration.study.text import text_of_tables

HERE, NAME = "your_readings", "Harbour freezer tub"
NOW = datetime(2026, 2, 20, 12, 30, tzinfo=UTC)
TODAY = NOW.replace(minute=0)
HOSTILE = "<img src=x onerror=alert(1)> ![](http://x.test/y.png) **dull** $x$ :red[z]"
CSV = f"""\
when,kind,value,note
2026-02-02 18:00+01:00,bucket,10 L in 20.9 s,
2026-02-06 18:00+01:00,column,45 cm,
2026-02-12 18:00+01:00,bucket,10 L in 24.5 s,{HOSTILE}
2026-02-14 18:00+01:00,rinse,,
2026-02-15 18:00+01:00,bucket,10 L in 21.2 s,
2026-02-16 18:00+01:00,flow,3 L/min,
2026-03-15 18:00+01:00,bucket,10 L in 21.2 s,
"""


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return where the logbook will lie; there is none yet, and it is the 20th of February."""
    path = tmp_path / "book.sqlite"
    monkeypatch.setenv("FILTRATION_LOGBOOK", str(path))
    monkeypatch.delenv(serve.NO_LOGBOOK, raising=False)
    monkeypatch.setattr(page_readings, "now", lambda: NOW)
    return path


def study_text(option: str | None = "pleated-20", name: str = "freezer") -> str:
    data = demo_with(name, "Pleated 20", "Pleated 50")
    if option is not None:
        data["in_use"] = {"option": option, "since": "2026-02-01"}
    return text_of_tables(data)


def bring(page: AppTest, text: str = CSV) -> None:
    page.file_uploader[0].set_value(("rows.csv", text.encode(), "text/csv")).run()
    assert not page.exception


def press(page: AppTest, label: str) -> None:
    next(button for button in page.button if button.label == label).click().run()
    assert not page.exception


def unsaved(page: AppTest, rows: Sequence[Row]) -> None:
    """Let rows stand in the table that are not saved."""
    page.session_state["readings"] = {NAME: Changes(new=tuple(rows))}
    page.session_state["readings edition"] += 1
    page.run()
    assert not page.exception


def saved(path: Path) -> tuple[Reading, ...]:
    with Logbook(path) as there:
        return there.list(NAME)


def notes_on(page: AppTest) -> list[str]:
    return list(page.data_editor[0].value["note"])


def test_the_figures_are_the_forecasts(page: AppTest, book: Path) -> None:
    opened(page, study_text(), HERE)
    bring(page)
    assert not page.error
    text = text_on(page)
    readings = readings_from_csv(CSV, where="rows.csv")
    told = forecast(page_cache.study(study_text()), readings, today=TODAY)
    assert forecast_words.headline(told) in text
    for tell in (
        forecast_words.today,
        forecast_words.figures,
        forecast_words.diagnosis,
        forecast_words.fitted,
        forecast_words.cautions,
    ):
        for line in tell(told):
            assert " ".join(line.split()) in text
    (refused,), (doubted,) = told.refused, told.doubted
    assert (refused.why.kind, doubted.reading.value) == ("future", "3 L/min")
    for which, why in (*forecast_words.refused(told), *forecast_words.doubted(told)):
        assert f"{which}: {why}." in text
    runs, charts = seen_runs(told), charts_on(page)
    assert set(charts) == {flow_readings_words(runs, told), loss_readings_words(runs, told)}
    drawn: dict[str, Any] = flow_readings_chart(runs, told).to_dict()
    assert charts[flow_readings_words(runs, told)]["layer"] == drawn["layer"]  # whose data bear the sum of their rows
    points = [row for table in drawn["datasets"].values() for row in table if "how" in row]
    assert [(row["how"], row["read"]) for row in points] == [
        *[("bucket", value) for value in ("10 L in 20.9 s", "10 L in 24.5 s", "10 L in 21.2 s")],
        ("doubted", "3 L/min"),
    ]
    assert saved(book) == readings


def test_the_runs_go_from_new_through_services_to_what_lies_ahead() -> None:
    readings = readings_from_csv(CSV, where="rows.csv")
    told = forecast(page_cache.study(study_text()), readings, today=TODAY)
    runs = seen_runs(told).runs
    assert [run.begins_with for run in runs] == ["new", "rinse", "today"]
    assert sum(len(run.when) for run in runs) <= 200
    for run in runs:
        assert (run.flow_l_per_h[0] <= run.flow_l_per_h[1]).all()
        assert (run.flow_l_per_h[1] <= run.flow_l_per_h[2]).all()
    assert runs[1].flow_l_per_h[1, 0] > runs[0].flow_l_per_h[1, -1]
    assert runs[2].when[0] == TODAY
    assert runs[2].flow_l_per_h[1, 0] == pytest.approx(told.flow_today_l_per_h[1], rel=0.02)


def test_a_year_of_rinses_stays_few_points() -> None:
    rows = "\n".join(f"2026-{month:02}-{day:02},rinse," for month in range(2, 8) for day in range(2, 28, 2))
    readings = readings_from_csv(f"when,kind,value\n{rows}\n2026-07-26,bucket,10 L in 25 s\n", where="rows.csv")
    told = forecast(page_cache.study(study_text()), readings, today=datetime(2026, 8, 1, tzinfo=UTC), draws=64)
    found = seen_runs(told)
    assert len(found.runs) <= 60
    assert sum(len(run.when) for run in found.runs) <= 200
    assert len(found.seen) == 1


def test_each_change_is_saved_at_once_and_can_be_taken_back(page: AppTest, book: Path) -> None:
    opened(page, study_text(), HERE)
    assert next(each for each in page.button if each.label == "Undo").disabled
    assert f"Saved for {NAME}: 0 readings in {book}. Nothing is unsaved." in text_on(page)
    bring(page)
    assert "7 readings of rows.csv taken into the table." in text_on(page)
    assert f"Saved: 7 added; 7 readings in all, in {book}." in text_on(page)
    assert saved(book) == readings_from_csv(CSV, where="rows.csv")
    assert f"Saved for {NAME}: 7 readings in {book}. Nothing is unsaved." in text_on(page)
    bring(page, CSV + "2026-02-17 18:00+01:00,uses,9,\n")
    assert "1 reading of rows.csv taken into the table, 7 stood there already." in text_on(page)
    assert len(saved(book)) == 8
    press(page, "Undo")
    assert len(saved(book)) == 7
    assert "Undone in" in text_on(page)
    assert "Nothing is unsaved" in text_on(page)
    assert page_readings.csv_bytes(page_readings.book_of(KnownAs(name=NAME)).rows).decode().count("\r\n") == 8


def test_names_of_one_day_stand_behind_one_another() -> None:
    """New and today on one day: one name says both, and none lies over another."""
    new = (TODAY - timedelta(hours=6)).isoformat()
    rows = [(new, "replace", "pleated-20", ""), (TODAY.isoformat(), "bucket", "10 L in 20.9 s", "")]
    readings = page_readings.readings_in(rows)
    told = forecast(page_cache.study(study_text(None)), readings, today=TODAY, draws=64)
    seen = seen_runs(told)
    spec = flow_readings_chart(seen, told).to_dict()
    names = [layer for layer in spec["layer"] if layer["encoding"].get("text", {}).get("field") == "done"]
    drawn = [row["done"] for row in spec["datasets"][names[0]["data"]["name"]]]
    assert drawn == ["new, today"]


def test_what_is_saved_from_elsewhere_meanwhile_is_never_taken_out(page: AppTest, book: Path) -> None:
    opened(page, study_text(), HERE)
    elsewhere = readings_from_csv("when,kind,value\n2026-02-18,uses,9\n", where="rows.csv")
    with Logbook(book) as there:
        there.add(NAME, elsewhere)
    bring(page)
    assert len(saved(book)) == 8
    assert elsewhere[0] in saved(book)


def test_rows_older_than_the_table_shows_count_and_stay(
    page: AppTest, book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(page_readings, "MOST_SHOWN", 3)
    opened(page, study_text(), HERE)
    bring(page)
    assert len(page.data_editor[0].value) == 3
    assert "The table shows the latest 3 of 7 readings; all of them count." in text_on(page)
    readings, editor = readings_from_csv(CSV, where="rows.csv"), page_tables.editor
    assert forecast_words.headline(forecast(page_cache.study(study_text()), readings, today=TODAY)) in text_on(page)

    def typed_into(*table: Any, **looks: Any) -> None:
        editor(*table, **looks)
        table[2]()  # as if something had been typed there

    monkeypatch.setattr(page_tables, "editor", typed_into)
    page.run()
    assert not page.exception
    assert saved(book) == readings


def test_a_flow_meters_log_takes_seconds_and_little_memory(page: AppTest, book: Path) -> None:
    """Of 10,000 rows; ``bench_limits.py`` takes what the logbook holds at most, 100,000."""
    opened(page, study_text(), HERE)
    start = datetime(2026, 2, 1, 12, tzinfo=UTC)
    flows = ((start + timedelta(minutes=2 * at), 1400 - at // 100) for at in range(10_000))
    rows = "".join(f"{when.isoformat()},flow,{flow} L/h\n" for when, flow in flows)
    with Logbook(book) as there:
        there.add(NAME, readings_from_csv(f"when,kind,value\n{rows}", where="rows.csv"))
    with spent() as took:
        page.run()
    assert took.seconds < 10.0
    assert took.megabytes < 150.0
    assert f"Saved for {NAME}: 10000 readings" in text_on(page)
    assert len(page.data_editor[0].value) == page_readings.MOST_SHOWN


def test_an_edited_row_replaces_the_one_saved(page: AppTest, book: Path) -> None:
    opened(page, study_text(), HERE)
    bring(page)
    there = page_readings.book_of(KnownAs(name=NAME))
    rows = [("2026-02-15 18:00+01:00", "bucket", "10 L in 25 s", "")]
    rows += [row for row in there.rows if row[2] != "10 L in 21.2 s" or row[0] > "2026-03"]
    made = page_readings.changes_to(there, rows)
    assert (len(made.new), len(made.gone)) == (1, 1)
    page.session_state["readings"] = {NAME: made}
    press(page, "Rinsed today, 20 February")
    assert "10 L in 25 s" in [row.value for row in saved(book)]
    assert len(saved(book)) == 8


def test_a_row_that_waits_takes_nothing_out_and_lets_others_be_saved(page: AppTest, book: Path) -> None:
    """The one being mended stays in the logbook as it was until it is whole again."""
    opened(page, study_text(), HERE)
    bring(page)
    there = page_readings.book_of(KnownAs(name=NAME))
    wrong = ("2026-02-15 18:00+01:00", "bucket", "10 L in", "")
    gone = next(row for row in there.rows if row[0].startswith("2026-02-15"))
    page.session_state["readings"] = {NAME: Changes(new=(wrong,), gone=(gone,))}
    press(page, "Water changed today, 20 February")
    kinds = [row.kind for row in saved(book)]
    assert kinds.count("water") == 1
    assert len(kinds) == 8
    assert "Not saved yet: 1 reading new or changed, 1 reading taken out." in text_on(page)
    press(page, "Drop what is not saved")
    assert "Nothing is unsaved" in text_on(page)


def test_faults_stand_beside_the_table(page: AppTest, book: Path) -> None:
    opened(page, study_text(), HERE)
    good = ("2026-02-02 18:00+01:00", "bucket", "10 L in 20.9 s", "")
    faulty = [
        ("2026-02-30", "rinse", "", ""),
        ("2026-02-12", "flow", "22", ""),
        ("2026-02-13", "replace", "nobody", ""),
        ("", "", "", ""),
    ]
    unsaved(page, [good, *faulty])
    errors = text_on(page)
    assert "Row 3 (2026-02-30 rinse), when: needs a day or a time such as '2026-03-03'" in errors
    assert ", flow: needs a flow such as '22 L/min', got '22' without a unit" in errors
    assert ", replace: no option has the id or name 'nobody'; there " in errors
    assert "Row 5 (empty), when: needs a day" in errors
    assert readings_words.left_out(4) in errors
    assert "1 reading counted." in errors  # the good row is worked with all the same
    assert not book.exists()


def test_a_file_that_is_none_is_told_in_words(page: AppTest, book: Path) -> None:
    opened(page, study_text(), HERE)
    bring(page, "when,kind,value\n2026-02-02,flow,22\n2026-02-30,rinse,\n")
    assert "rows.csv, line 2, flow: needs a flow such as" in text_on(page)
    assert "rows.csv, line 3, when: needs a day" in text_on(page)
    page.file_uploader[0].set_value(("rows.csv", b"\xff\xfe\x00", "text/csv")).run()
    assert not page.exception
    assert "is not UTF-8 text" in text_on(page)
    assert not book.exists()


def test_a_damaged_logbook_is_told_and_left_as_it_is(page: AppTest, book: Path) -> None:
    book.write_bytes(b"no logbook")
    opened(page, study_text(), HERE)
    assert f"{book}: is no logbook, or is damaged" in text_on(page)
    bring(page)
    assert "Undo" not in [each.label for each in page.button]
    assert book.read_bytes() == b"no logbook"


def test_one_reading_is_two_numbers(page: AppTest, book: Path) -> None:
    opened(page, study_text(), HERE)
    litres, seconds = page.text_input(key="reading value"), page.text_input(key="reading seconds")
    assert (litres.label, seconds.label) == ("In the bucket, L", "Seconds")
    litres.set_value("10").run()
    press(page, "Log it")
    assert "bucket: needs a volume and a time such as '10 L in 27.4 s', got '10 L'" in text_on(page)
    assert page.text_input(key="reading value").value == "10"  # to be mended, not typed anew
    page.text_input(key="reading seconds").set_value("20,9")
    page.text_input(key="reading note").set_value(HOSTILE)
    press(page, "Log it")
    assert not page.error
    assert [row.value for row in saved(book)] == ["10 L in 20.9 s"]
    assert page.text_input(key="reading value").value == "10"  # the same bucket the next time
    assert page.text_input(key="reading seconds").value == ""
    assert notes_on(page) == [HOSTILE]
    assert "1 reading counted." in text_on(page)


def test_a_reading_refused_as_impossible_is_kept_if_one_insists(page: AppTest, book: Path) -> None:
    """As the command's --anyway; what cannot be read at all is no reading, and is not offered."""
    opened(page, study_text(), HERE)
    insist = "Keep it all the same"
    press(page, "Log it")
    assert "bucket: needs a volume and a time" in text_on(page)
    assert insist not in [each.label for each in page.button]
    page.text_input(key="reading value").set_value("10")
    page.text_input(key="reading seconds").set_value("2,3")
    press(page, "Log it")
    assert "15,700 L/h is more than pump and pipes can give" in text_on(page)
    assert not book.exists()
    press(page, insist)
    assert not page.error
    assert [row.value for row in saved(book)] == ["10 L in 2.3 s"]
    assert page.text_input(key="reading seconds").value == ""
    assert insist not in [each.label for each in page.button]
    told = forecast(page_cache.study(study_text()), saved(book), today=TODAY, draws=64)
    ((which, why),) = forecast_words.refused(told)
    assert f"{which}: {why}." in text_on(page)  # the forecast leaves it out, and says so


@pytest.mark.parametrize(
    ("kind", "label", "typed", "value"),
    [
        ("column", "Above the tub's water, cm", "45,5", "45.5 cm"),
        ("flow", "Flow, L/min", "22.5", "22.5 L/min"),
        ("pressure", "Pressure, kPa", "11", "11 kPa"),
        ("see-through", "How far you see, m", "3,5", "3.5 m"),
        ("uses", "Dips", "9", "9"),
    ],
)
def test_one_reading_is_one_number(page: AppTest, book: Path, kind: str, label: str, typed: str, value: str) -> None:
    opened(page, study_text(), HERE)
    page.selectbox(key="reading kind").set_value(kind).run()
    assert page.text_input(key="reading value").label == label
    page.text_input(key="reading value").set_value(typed)
    press(page, "Log it")
    assert not page.error
    assert [(row.kind, row.value) for row in saved(book)] == [(kind, value)]


def test_a_reading_without_the_cartridge_is_a_tick(page: AppTest, book: Path) -> None:
    opened(page, study_text(), HERE)
    page.text_input(key="reading value").set_value("10")
    page.text_input(key="reading seconds").set_value("17")
    page.checkbox(key="reading out").set_value(True)
    press(page, "Log it")
    assert [row.value for row in saved(book)] == ["10 L in 17 s without element"]
    assert page.checkbox(key="reading out").value is False


def test_rinsed_is_a_button_with_todays_date(page: AppTest, book: Path) -> None:
    opened(page, study_text(), HERE)
    press(page, "Rinsed today, 20 February")
    assert [(row.kind, row.when) for row in saved(book)] == [("rinse", NOW)]
    press(page, "Undo")
    assert saved(book) == ()


def test_three_buckets_move_the_day_on_the_page_of_the_answer(page: AppTest, book: Path) -> None:
    """The answer's page goes by them at once: the answer is that of the readings' belief."""
    opened(page, study_text(), ANSWER)
    before = figures_on(page)["First service"]
    at(page, HERE)
    for day, seconds in ((2, "20,9"), (8, "22,5"), (14, "26")):
        page.text_input(key="reading value").set_value("10")
        page.text_input(key="reading seconds").set_value(seconds)
        page.datetime_input(key="reading when").set_value(datetime(2026, 2, day, 18))  # noqa: DTZ001 - as one types it
        press(page, "Log it")
        assert not page.error
    assert len(saved(book)) == 3
    at(page, ANSWER)
    told = forecast(page_cache.study(study_text()), saved(book), today=TODAY)
    seen = page_cache.answer(page_cache.as_seen(study_text(), told.belief))
    assert seen.advised is not None
    assert figures_on(page)["First service"] == phrases.first_run(seen.advised) != before


def test_what_is_fitted_is_asked_where_nothing_says_it(page: AppTest, book: Path) -> None:
    opened(page, study_text(None), HERE)
    bring(page)
    assert readings_words.ASK_FITTED in text_on(page)
    assert not charts_on(page)
    page.selectbox(key="fitted").set_value("pleated-20")
    page.date_input(key="fitted since").set_value(datetime(2026, 2, 1, tzinfo=UTC).date())
    press(page, "This is fitted")
    assert readings_words.ASK_FITTED not in text_on(page)
    assert len(saved(book)) == 8
    assert len(charts_on(page)) == 2


def test_of_several_pumps_the_study_says_which_runs(page: AppTest, book: Path) -> None:
    opened(page, study_text(None, "quay"), HERE)
    page.selectbox(key="fitted").set_value("pleated-20@Pond pump")
    page.date_input(key="fitted since").set_value(datetime(2026, 2, 1, tzinfo=UTC).date())
    press(page, "This is fitted")
    text = str(page.session_state["tubs"][page.session_state["place"]])
    assert tomllib.loads(text)["in_use"] == {"option": "pleated-20@Pond pump", "since": "2026-02-01"}
    assert "No reading counts yet" in text_on(page)
    assert not book.exists()


def test_what_waits_outlasts_a_change_of_page_and_a_reload(
    page: AppTest, book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(serve.NO_LOGBOOK, "1")
    opened(page, study_text(), HERE)
    bring(page)
    at(page, "how_it_works")
    word = "".join(page.query_params["readings"])
    at(page, HERE)
    assert HOSTILE in notes_on(page)
    monkeypatch.delenv(serve.NO_LOGBOOK)
    again = AppTest.from_file(page._script_path, default_timeout=WAIT_S)
    again.query_params["readings"] = word
    opened(again, study_text(), HERE)
    assert notes_on(again) == notes_on(page)
    assert readings_words.CARRIED in text_on(again)
    press(again, "Rinsed today, 20 February")
    assert "readings" not in again.query_params
    assert len(saved(book)) == 8


def test_more_than_the_address_carries_is_said(page: AppTest, book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(serve.NO_LOGBOOK, "1")
    opened(page, study_text(), HERE)
    rows = "".join(f"2026-02-{2 + n // 60:02} 12:{n % 60:02}Z,note,,{os.urandom(24).hex()}\n" for n in range(400))
    bring(page, f"when,kind,value,note\n{rows}")
    assert readings_words.TOO_LONG in text_on(page)
    assert not book.exists()


@pytest.mark.parametrize("text", ["x", "[1, 2]", '["tub", [["a"]], []]', '["tub", [[1, 2, 3, 4]], []]', "[" * 9000])
def test_a_broken_link_opens_the_page_all_the_same(page: AppTest, text: str) -> None:
    page.query_params["readings"] = page_link.packed([text]) or ""
    page.run()
    assert not page.exception
    assert "unsaved readings cannot be read" in text_on(page)


def test_without_a_logbook_rows_are_brought_and_taken_along(
    page: AppTest, book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(serve.NO_LOGBOOK, "1")
    opened(page, study_text(), HERE)
    bring(page)
    assert readings_words.NO_LOGBOOK in text_on(page)
    assert "Not saved anywhere: 7 readings." in text_on(page)
    labels = [each.label for each in page.button]
    assert "Undo" not in labels
    assert not book.exists()


@pytest.mark.parametrize("words", [["app", "--no-logbook"], ["app"]])
def test_the_command_turns_the_logbook_off(words: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "environ", {})
    monkeypatch.setattr(serve, "_check", lambda *_: None)
    monkeypatch.setattr("streamlit.web.cli.main", lambda *_, **__: None)
    assert CliRunner().invoke(app, words).exit_code == 0
    assert (serve.NO_LOGBOOK in os.environ) == (len(words) > 1)


def test_a_study_that_is_faulty_leads_to_its_fields(page: AppTest, book: Path) -> None:
    opened(page, study_text().replace('"420 L"', '"0 L"'), HERE)
    assert "One thing about this tub does not fit yet." in text_on(page)
    with pytest.raises(InputError):
        page_cache.study(study_text().replace('"420 L"', '"0 L"'))
    assert not book.exists()


@pytest.mark.skipif(not CHROMIUM, reason="chromium is not installed")
def test_a_reading_by_keyboard_on_a_phone(browser: Browser, server: Served) -> None:
    """Type a bucket, mend it in the table, and reload: it is still there, and nothing is wider than the phone."""
    query = f"study={page_link.packed([study_text()])}"
    seen = visit(browser, server, width_px=PHONE_PX, scheme="dark", name=HERE, query=query)
    page = seen.page
    litres, seconds = page.get_by_label("In the bucket, L"), page.get_by_label("Seconds")
    litres.focus()
    page.keyboard.type("10")
    page.keyboard.press("Tab")
    settle(page)
    button = page.get_by_role("button", name="Log it")
    button.focus()
    page.keyboard.press("Enter")
    page.get_by_text("needs a volume and a time such as").wait_for()
    seconds.focus()
    page.keyboard.type("20,9")
    page.keyboard.press("Tab")
    settle(page)
    button.focus()
    page.keyboard.press("Enter")
    page.get_by_text("1 reading counted.").wait_for(timeout=1000 * WAIT_S)
    settle(page)
    page.locator("[data-testid=stDataFrame]").scroll_into_view_if_needed()
    box = page.locator("[data-testid=stDataFrame] canvas").first.bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + 120.0, box["y"] + 55.0)
    for key in ("ArrowRight", "ArrowRight"):
        page.wait_for_timeout(300)
        page.keyboard.press(key)
    page.wait_for_timeout(300)
    page.keyboard.type("22", delay=300)  # the first key opens the cell and takes what stood there away
    page.wait_for_timeout(300)
    page.keyboard.press("Enter")
    page.get_by_text("needs a volume and a time").wait_for(timeout=1000 * WAIT_S)
    page.reload()
    settle(page)
    expect(page.get_by_text("Not saved yet: 1 reading new or changed, 1 reading taken out.")).to_be_visible()
    page.get_by_text("needs a volume and a time").wait_for()
    widths = "[document.documentElement.scrollWidth, document.querySelector('[data-testid=stMain]').scrollWidth]"
    assert max(page.evaluate(widths)) <= PHONE_PX
    assert page.locator(".stException").count() == 0
    seen.fine()
    page.context.close()
