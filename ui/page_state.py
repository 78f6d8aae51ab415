"""What a session holds: its tubs as the texts of study files, which one is looked at, and the units shown.

A tub's text is the one truth: fields start from it and write into it, and every answer is that of a text. It outlasts a
change of page in the session, and a reload in the page's address.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, TypeVar

import page_cache
import page_file
import page_link
import streamlit as st

from filtration.present.charts.catalogue import METRIC, US, Display
from filtration.study.text import text_with

T = TypeVar("T")

_LINK = "study"
MOST_TUBS = 12
_MOST_BEFORE = 50


def start() -> None:
    """Fill a new session from its address, or with a demo; then keep the address in step."""
    state, demo = st.session_state, [page_cache.demo_text("freezer")]
    if "tubs" not in state:
        state.place, state.edition, state.told, state.before = 0, 0, "", []
        told = "The link holds no study that can be read; here is a demo instead."
        linked = from_address(_LINK, _texts, told)
        state.linked = linked is not None
        state.tubs = page_file.first(linked) or linked or demo
        state.began = list(state.tubs)
        if st.query_params.get("tub", "").isdecimal():
            state.place = min(int(st.query_params["tub"][:3]), len(state.tubs) - 1)
        state.units = "us" if st.query_params.get("units") == "us" else "metric"
    page_file.keep()
    carried = page_file.unsaved(state.tubs)
    keep_in_address(_LINK, None if carried in ([], demo) else page_link.packed(carried))
    keep_in_address("tub", str(state.place) if state.place else None)
    keep_in_address("units", "us" if state.units == "us" else None)


def still_asked() -> None:
    """End the page here where its visitor has gone, or asks for something else: Streamlit sees to it on every look."""
    st.session_state.get("tubs")


def _texts(word: str) -> list[str]:
    texts = page_link.unpacked(word)[:MOST_TUBS]
    if not are_tubs(texts):
        raise ValueError("no study")
    return texts


def are_tubs(texts: Sequence[str]) -> bool:
    """Return whether every text is one that fields can show; raises InputError where one is no TOML."""
    return all(map(page_cache.is_shaped, texts))


def from_address(key: str, read: Callable[[str], T], told: str) -> T | None:
    """Return what the address carries under a key; None, and a line for the page, where it cannot be read."""
    word = st.query_params.get(key)
    try:
        return None if word is None else read(word)
    except ValueError:  # and InputError, which is one
        st.session_state.told = told
        return None


def keep_in_address(key: str, word: str | None) -> None:
    """Let the address carry a word under a key, or nothing there; it is written only where that changes it."""
    if word is None:
        st.query_params.pop(key, None)
    elif st.query_params.get(key) != word:
        st.query_params[key] = word


def text() -> str:
    """Return the text of the tub that is looked at."""
    return str(st.session_state.tubs[st.session_state.place])


def key(name: str) -> str:
    """Return the key of a field of the tub that is looked at; another one once the fields start anew."""
    return f"{st.session_state.place}.{st.session_state.edition}.{name}"


def till_renewed() -> dict[str, Any]:
    """Return what is remembered of the fields of the tub that is looked at, until they start anew."""
    state = st.session_state
    now = (state.place, state.edition)
    if state.get("till renewed", (None,))[0] != now:
        state["till renewed"] = (now, {})
    remembered: dict[str, Any] = state["till renewed"][1]
    return remembered


def put(new: str) -> None:
    """Let the tub that is looked at be another text, told by a field; what it was can be brought back."""
    state = st.session_state
    if new != text():
        state.before = [*state.before[-_MOST_BEFORE:], (state.place, text())]
    state.tubs[state.place] = new


def undo() -> None:
    """Bring back what the last change of a tub took away."""
    state = st.session_state
    if state.before:
        place, old = state.before.pop()
        state.place = place
        state.tubs[place] = old
        renew()


def change(work: Callable[[dict[str, Any]], object]) -> None:
    """Change the tables of the tub that is looked at; its text keeps its remarks."""
    tables = page_cache.tables(text())
    work(tables)
    put(text_with(text(), tables))


def renew() -> None:
    """Let the fields start anew from the text, as it was not they that changed it."""
    st.session_state.edition += 1
    st.session_state.pop("chosen", None)


def table_in(tables: Mapping[str, Any], name: str, at: int | None = None) -> Mapping[str, Any]:
    """Return a table of a study, an entry of a list, or the top where no name is given; empty where there is none."""
    found = tables.get(name) if name else tables
    if at is not None:
        found = found[at] if isinstance(found, list) and at < len(found) else None
    return found if isinstance(found, Mapping) else {}


def write(tables: dict[str, Any], table: str, key: str, value: object, at: int | None = None) -> None:
    """Write one value into a study's table or an entry of a list, or take it out where it is None."""
    into = tables if not table else tables.setdefault(table, {}) if at is None else tables[table][at]
    if value is None:
        into.pop(key, None)
    else:
        into[key] = value
    if table and at is None and not into:
        del tables[table]


def add(new: str) -> None:
    """Look at another tub; an untouched demo gives way to it."""
    state = st.session_state
    untouched = text() in map(page_cache.demo_text, page_cache.demos()) or len(state.tubs) >= MOST_TUBS
    if untouched and not page_file.is_of_file(state.place):
        put(new)
    else:
        state.tubs.append(new)
        state.place = len(state.tubs) - 1
    renew()


def remove() -> None:
    """Take away the tub that is looked at, unless it is the last."""
    state = st.session_state
    if len(state.tubs) > 1 and not page_file.is_of_file(state.place):
        del state.tubs[state.place]
        state.before = [(place - (place > state.place), old) for place, old in state.before if place != state.place]
        state.place = max(0, state.place - 1)
        renew()


def names() -> list[str]:
    """Return what the tubs are called, no two alike."""
    given = [page_cache.tables(each).get("name") for each in st.session_state.tubs]
    told = [name if isinstance(name, str) and name.strip() else f"Tub {place}" for place, name in enumerate(given, 1)]
    return [
        f"{name} ({told[:place].count(name) + 1})" if name in told[:place] else name for place, name in enumerate(told)
    ]


def display() -> Display:
    """Return the units shown, and whether charts stand on a dark ground."""
    units = US if st.session_state.units == "us" else METRIC
    return replace(units, dark=st.context.theme.type == "dark")
