"""What a session holds: its tubs as the texts of study files, which one is looked at, and the units shown.

A tub's text is the one truth: fields start from it and write into it, and every answer is that of a text. It outlasts a
change of page in the session, and a reload in the page's address.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import page_cache
import page_link
import streamlit as st

from filtration.present.charts.catalogue import METRIC, US, Display
from filtration.study.text import text_of_tables

_INKS = {"light": "#33434c", "dark": "#c3d0d6"}
_LINK = "study"
MOST_TUBS = 12
BEFORE = ".before"
"""How the keys end under which tables keep what they started from, until they start anew."""


def start() -> None:
    """Fill a new session from its address, or with a demo; then keep the address in step."""
    state = st.session_state
    if "tubs" not in state:
        state.tubs, state.place, state.edition, state.told = [page_cache.demo_text("freezer")], 0, 0, ""
        word = st.query_params.get(_LINK)
        if word is not None:
            _take_link(word)
        if st.query_params.get("tub", "").isdecimal():
            state.place = min(int(st.query_params["tub"][:3]), len(state.tubs) - 1)
        state.units = "us" if st.query_params.get("units") == "us" else "metric"
    _keep_address()


def _take_link(word: str) -> None:
    try:
        texts = page_link.unpacked(word)[:MOST_TUBS]
        good = all(map(page_cache.is_shaped, texts))
    except ValueError:  # and InputError, which is one
        good = False
    if good:
        st.session_state.tubs = texts
    else:
        st.session_state.told = "The link holds no study that can be read; here is a demo instead."


def _keep_address() -> None:
    """Write tubs and units into the address, where they differ from what stands there."""
    state = st.session_state
    untouched = state.tubs == [page_cache.demo_text("freezer")]
    wanted = {
        _LINK: None if untouched else page_link.packed(state.tubs),
        "tub": str(state.place) if state.place else None,
        "units": "us" if state.units == "us" else None,
    }
    for key, value in wanted.items():
        if value is None and key in st.query_params:
            del st.query_params[key]
        elif value is not None and st.query_params.get(key) != value:
            st.query_params[key] = value


def text() -> str:
    """Return the text of the tub that is looked at."""
    state = st.session_state
    found: str = state.tubs[state.place]
    return found


def link_fits() -> bool:
    """Return whether the address can carry the tubs."""
    return page_link.packed(st.session_state.tubs) is not None


def put(new: str) -> None:
    """Let the tub that is looked at be another text, told by a field."""
    st.session_state.tubs[st.session_state.place] = new


def change(work: Callable[[dict[str, Any]], None]) -> None:
    """Change the tables of the tub that is looked at."""
    tables = page_cache.tables(text())
    work(tables)
    put(text_of_tables(tables))


def renew() -> None:
    """Let the fields start anew from the text, as it was not they that changed it."""
    state = st.session_state
    state.edition += 1
    state.pop("chosen", None)
    for key in [key for key in state if str(key).endswith(BEFORE)]:
        del state[key]


def edit(table: str, key: str, value: object) -> None:
    """Write one value into a table, or take it out where it is None."""

    def work(tables: dict[str, Any]) -> None:
        into = tables.setdefault(table, {}) if table else tables
        if value is None:
            into.pop(key, None)
        else:
            into[key] = value
        if table and not into:
            del tables[table]

    change(work)


def add(new: str) -> None:
    """Look at another tub; an untouched demo gives way to it."""
    state = st.session_state
    demos = {page_cache.demo_text(name) for name in page_cache.demos()}
    if text() in demos or len(state.tubs) >= MOST_TUBS:
        put(new)
    else:
        state.tubs.append(new)
        state.place = len(state.tubs) - 1
    renew()


def remove() -> None:
    """Take away the tub that is looked at, unless it is the last."""
    state = st.session_state
    if len(state.tubs) > 1:
        del state.tubs[state.place]
        state.place = max(0, state.place - 1)
        renew()


def names() -> list[str]:
    """Return what the tubs are called."""
    found = []
    for place, each in enumerate(st.session_state.tubs):
        name = page_cache.tables(each).get("name")
        found.append(name if isinstance(name, str) and name.strip() else f"Tub {place + 1}")
    return found


def display() -> Display:
    """Return the units and the colour of letters in charts: the theme's own is too pale."""
    units = US if st.session_state.units == "us" else METRIC
    return replace(units, ink=_INKS.get(st.context.theme.type or ""))
