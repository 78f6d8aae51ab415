"""What the browser kept is brought back where nothing else came, and only what is a tub."""

from typing import Any

import page_cache
import page_link
import page_memory
import pytest
import streamlit as st


class State(dict[str, Any]):
    """The state of a session, by key or by attribute."""

    __getattr__ = dict.__getitem__
    __setattr__ = dict.__setitem__  # type: ignore[assignment]


KEPT, OWN = (page_cache.demo_text(name) for name in ("barrel", "freezer"))


def brought_back(monkeypatch: pytest.MonkeyPatch, found: str | None, **changes: Any) -> State:
    """Return the state of a session once the browser has said what it kept."""
    state = State(tubs=[OWN], began=[OWN], place=0, units="metric", edition=1, remembered={"found": found})
    state |= {"asks the browser": True, "place": 1} | changes
    monkeypatch.setattr(st, "session_state", state)
    page_memory._bring_back()
    return state


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_tubs_come_back_with_their_units(monkeypatch: pytest.MonkeyPatch, units: str) -> None:
    state = brought_back(monkeypatch, page_link.packed([units, KEPT, OWN]))
    assert (state.tubs, state.began, state.place, state.units) == ([KEPT, OWN], [KEPT, OWN], 0, units)
    assert state.edition == 2
    assert state["asks the browser"] is False


def test_units_that_are_none_stay_as_they_were(monkeypatch: pytest.MonkeyPatch) -> None:
    state = brought_back(monkeypatch, page_link.packed(["cubits", KEPT]))
    assert (state.tubs, state.units) == ([KEPT], "metric")


@pytest.mark.parametrize(
    "found", [None, "", "no word of ours", page_link.packed(["us"]), page_link.packed(["us", "volume = ["])]
)
def test_what_is_no_tub_changes_nothing(monkeypatch: pytest.MonkeyPatch, found: str | None) -> None:
    state = brought_back(monkeypatch, found)
    assert (state.tubs, state.units, state.edition) == ([OWN], "metric", 1)
    assert state["asks the browser"] is False


def test_what_was_changed_meanwhile_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    word = page_link.packed(["us", KEPT])
    assert brought_back(monkeypatch, word, tubs=[OWN + "\n"]).tubs == [OWN + "\n"]
    assert brought_back(monkeypatch, word, **{"asks the browser": False}).tubs == [OWN]
