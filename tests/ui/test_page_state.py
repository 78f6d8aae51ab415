"""What a session holds, function by function, without a page."""

from types import SimpleNamespace
from typing import Any

import page_cache
import page_file
import page_state
import pytest
from pages import Session

from filtration.cli.serve import STUDY

OWN, OTHER, THIRD = ('name = "Own"\n', 'name = "Other"\n', 'name = "Third"\n')


@pytest.fixture
def session(monkeypatch: pytest.MonkeyPatch) -> Session:
    """Hold three tubs, of which the second is looked at, with no study file behind them."""
    holds = Session(tubs=[OWN, OTHER, THIRD], place=1, edition=4, before=[], units="metric", chosen="pleated-20")
    monkeypatch.setattr(page_state.st, "session_state", holds)
    monkeypatch.delenv(STUDY, raising=False)
    return holds


def test_no_two_tubs_are_called_alike(session: Session) -> None:
    session.tubs = [OWN, OTHER, OWN, "", 'name = " "\n', "name = 3\n", OWN]
    assert page_state.names() == ["Own", "Other", "Own (2)", "Tub 4", "Tub 5", "Tub 6", "Own (3)"]


def test_what_a_field_changed_is_brought_back_in_turn(session: Session) -> None:
    page_state.put(OTHER)  # the same: nothing to bring back
    assert session.before == []
    page_state.put("a = 1\n")
    session.place = 2
    page_state.put("b = 1\n")
    assert session.tubs == [OWN, "a = 1\n", "b = 1\n"]
    assert session.edition == 4
    page_state.undo()
    assert (session.tubs, session.place, session.edition) == ([OWN, "a = 1\n", THIRD], 2, 5)
    assert "chosen" not in session
    page_state.undo()
    assert (session.tubs, session.place, session.edition) == ([OWN, OTHER, THIRD], 1, 6)
    page_state.undo()
    assert (session.tubs, session.edition) == ([OWN, OTHER, THIRD], 6)


def test_fifty_changes_can_be_brought_back_and_the_one_before_them(session: Session) -> None:
    for number in range(60):
        page_state.put(f"a = {number}\n")
    assert session.before == [(1, f"a = {number}\n") for number in range(8, 59)]


def test_a_tub_taken_away_takes_its_changes_along(session: Session) -> None:
    session.before = [(0, "x = 0\n"), (1, "x = 1\n"), (2, "x = 2\n")]
    page_state.remove()
    assert (session.tubs, session.place, session.edition) == ([OWN, THIRD], 0, 5)
    assert session.before == [(0, "x = 0\n"), (1, "x = 2\n")]
    page_state.remove()
    assert (session.tubs, session.place) == ([THIRD], 0)
    page_state.remove()  # the last one stays
    assert (session.tubs, session.edition) == ([THIRD], 6)


def test_the_tub_of_the_file_stays(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(STUDY, "tub.toml")
    assert [page_file.is_of_file(place) for place in (0, 1)] == [True, False]
    session.place = 0
    page_state.remove()
    assert session.tubs == [OWN, OTHER, THIRD]


def test_another_tub_takes_the_place_of_an_untouched_demo_alone(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    page_state.add("a = 1\n")
    assert (session.tubs, session.place, session.edition) == ([OWN, OTHER, THIRD, "a = 1\n"], 3, 5)
    session.tubs, session.place = [page_cache.demo_text("quay")], 0
    page_state.add("a = 1\n")
    assert (session.tubs, session.place) == (["a = 1\n"], 0)
    session.tubs = [page_cache.demo_text("quay")]
    monkeypatch.setenv(STUDY, "tub.toml")  # what is of the file gives way to nothing
    page_state.add("a = 1\n")
    assert (session.tubs, session.place) == ([page_cache.demo_text("quay"), "a = 1\n"], 1)
    session.tubs = [OWN] * page_state.MOST_TUBS
    page_state.add("b = 1\n")
    assert session.tubs == [OWN, "b = 1\n", *[OWN] * (page_state.MOST_TUBS - 2)]


def test_a_value_goes_into_its_table_and_an_empty_table_goes(session: Session) -> None:
    tables: dict[str, Any] = {"elements": [{"name": "A"}, {"name": "B"}]}
    page_state.write(tables, "tub", "volume", "400 L")
    page_state.write(tables, "", "name", "Own")
    page_state.write(tables, "elements", "price", 9, at=1)
    assert tables == {"tub": {"volume": "400 L"}, "name": "Own", "elements": [{"name": "A"}, {"name": "B", "price": 9}]}
    for table, key, at in (("tub", "volume", None), ("", "name", None), ("elements", "name", 0)):
        page_state.write(tables, table, key, None, at)
    assert tables == {"elements": [{}, {"name": "B", "price": 9}]}
    assert page_state.table_in(tables, "elements", 1) == {"name": "B", "price": 9}
    assert page_state.table_in(tables, "elements", 2) == page_state.table_in({"elements": 3}, "elements", 0) == {}
    assert page_state.table_in(tables, "") is tables
    assert session.tubs == [OWN, OTHER, THIRD]


def test_a_field_has_a_key_of_its_tub_until_the_fields_start_anew(session: Session) -> None:
    assert page_state.key("volume") == "1.4.volume"
    remembered = page_state.till_renewed()
    remembered["typed"] = "12"
    assert page_state.till_renewed() == {"typed": "12"}
    page_state.renew()
    assert page_state.key("volume") == "1.5.volume"
    assert page_state.till_renewed() == {}
    page_state.till_renewed()["typed"] = "13"
    session.place = 0
    assert page_state.till_renewed() == {}


def test_the_address_is_written_where_it_changes_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    written: list[tuple[str, str]] = []

    class Address(dict[str, str]):
        def __setitem__(self, key: str, word: str) -> None:
            written.append((key, word))
            super().__setitem__(key, word)

    at = Address({"tub": "1", "units": "us"})
    monkeypatch.setattr(page_state.st, "query_params", at)
    for key, word in (("tub", "1"), ("units", None), ("tub", "2"), ("study", None)):
        page_state.keep_in_address(key, word)
    assert (written, at) == ([("tub", "2")], {"tub": "2"})


@pytest.mark.parametrize(("units", "theme"), [("us", "dark"), ("metric", "light")])
def test_units_and_ground_are_the_sessions(
    session: Session, monkeypatch: pytest.MonkeyPatch, units: str, theme: str
) -> None:
    session.units = units
    monkeypatch.setattr(page_state.st, "context", SimpleNamespace(theme=SimpleNamespace(type=theme)))
    shown = page_state.display()
    assert (shown.us, shown.dark) == (units == "us", theme == "dark")


@pytest.mark.parametrize(
    ("file", "held", "unsaved"),
    [("", OWN, [OWN, OTHER, THIRD]), ("tub.toml", OWN, [OTHER, THIRD]), ("tub.toml", OTHER, [OWN, OTHER, THIRD])],
)
def test_tubs_that_no_file_holds(
    session: Session, monkeypatch: pytest.MonkeyPatch, file: str, held: str, unsaved: list[str]
) -> None:
    monkeypatch.setenv(STUDY, file)
    session["file holds"] = (held, held.encode())
    assert page_file.unsaved(session.tubs) == unsaved
