"""What a page keeps of readings until they are saved, function by function, without a page."""

from datetime import datetime, timedelta

import page_readings
import page_state
import pytest
from page_readings import Book, Changes, Row
from pages import Session
from studies import demo_data, study_of

from filtration.readings.logbook_tables import KnownAs

FLOW: Row = ("2026-01-03T09:00:00+01:00", "flow", "22 L/min", "after the weekend")
NEW: Row = ("2026-01-01T08:00:00+01:00", "replace", "pleated-20", "")
HALF: Row = ("2026-01-02", "flow", "1,5", "")
OTHER: Row = ("2026-01-04T09:00:00+01:00", "replace", "pleated-99", "")
TUB = KnownAs(id="own", name="Own")


@pytest.fixture
def session(monkeypatch: pytest.MonkeyPatch) -> Session:
    """Hold no readings, with a table that was started thrice."""
    holds = Session({"readings": {}, "readings edition": 3})
    monkeypatch.setattr(page_state.st, "session_state", holds)
    return holds


def test_a_fault_says_which_row_it_is_of() -> None:
    study = study_of(demo_data("freezer"))
    first, empty, unknown = page_readings.faults_in([FLOW, HALF, ("", "", "", "note"), OTHER, NEW], study)
    assert first[0].startswith("Row 2 (2026-01-02 flow 1,5), flow: needs a flow")
    assert all(told.startswith("Row 3 (empty), ") for told in empty)
    assert unknown[0].startswith("Row 4 (2026-01-04T09:00:00+01:00 replace pleated-99), replace: no option")
    assert page_readings.good_rows([FLOW, HALF, OTHER, NEW], study) == (FLOW, NEW)


def test_a_table_has_what_is_saved_and_what_is_not_in_order_and_faults_last() -> None:
    book = Book(rows=(NEW, FLOW, FLOW))
    assert page_readings.table_of(book, Changes()) == (NEW, FLOW, FLOW)
    shown = page_readings.table_of(book, Changes(new=(HALF, OTHER), gone=(FLOW,)))
    assert shown == (NEW, FLOW, OTHER, HALF)
    assert page_readings.changes_to(book, shown) == Changes(new=(OTHER, HALF), gone=(FLOW,))
    assert page_readings.changes_to(book, book.rows) == Changes()


def test_changes_are_kept_by_tub_and_no_change_leaves_nothing(session: Session) -> None:
    page_readings.put(TUB, Changes(new=(FLOW,)))
    assert session.readings == {"own": Changes(new=(FLOW,))}
    page_readings.replace(KnownAs(id="", name="Other"), Changes(gone=(NEW,)))
    assert session.readings == {"own": Changes(new=(FLOW,)), "Other": Changes(gone=(NEW,))}
    assert session["readings edition"] == 4
    word = page_readings.packed()
    assert word is not None
    assert page_readings._unpacked(word) == session.readings
    page_readings.put(TUB, Changes())
    assert list(session.readings) == ["Other"]
    page_readings.replace(KnownAs(id="", name="Other"), Changes())
    assert (session.readings, session["readings edition"], page_readings.packed()) == ({}, 5, None)


def test_a_forecast_is_as_of_the_hour_or_a_later_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    noon = datetime.fromisoformat("2026-01-03T12:40:00+01:00")
    monkeypatch.setattr(page_readings, "now", lambda: noon)
    hour = noon.replace(minute=0)
    assert page_readings.today_of(()) == page_readings.today_of((FLOW, HALF)) == hour
    later = [((noon + timedelta(minutes=by)).isoformat(), "flow", "22 L/min", "") for by in (-10, 10)]
    assert page_readings.today_of(later) == noon - timedelta(minutes=10)  # what lies ahead does not count


def test_what_is_fitted_is_known_from_study_or_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page_readings, "now", lambda: datetime.fromisoformat("2026-01-02T12:00:00+01:00"))
    bare = study_of(demo_data("freezer"))
    assert bare.in_use is None
    known = page_readings.fitted_is_known
    assert [known(bare, rows) for rows in ((), (FLOW,), (NEW,), (OTHER,))] == [False, False, True, False]
    told = study_of(demo_data("freezer") | {"in_use": {"option": "pleated-20", "since": "2026-01-01"}})
    assert known(told, ())


@pytest.mark.parametrize("kept", [{}, {page_readings.SWITCH: True}, {page_readings.SWITCH: False}])
def test_readings_are_gone_by_unless_the_switch_is_off(session: Session, kept: dict[str, bool]) -> None:
    session.update(kept)
    assert page_readings.gone_by() == kept.get(page_readings.SWITCH, True)
