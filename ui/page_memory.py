"""What the browser itself remembers: the tubs last changed in it, for whoever comes back by a bare address."""

from typing import Any

import page_file
import page_link
import page_state
import streamlit as st

_MOST_CHARACTERS = 1_000_000
_SCRIPT = """
export default function ({ data, setStateValue }) {
    try {
        if (data.keep) { window.localStorage.setItem("filtration", data.keep); }
        if (data.ask) { setStateValue("found", window.localStorage.getItem("filtration") ?? ""); }
    } catch (refused) { }  // a browser that keeps nothing is none the worse
}
"""


def remember() -> None:
    """Let the browser keep the tubs once they were changed, and bring back those it kept where nothing else came."""
    state = st.session_state
    if page_file.path() is not None:
        return
    began: list[str] = state.began
    changed = state.tubs != began
    state.setdefault("asks the browser", not state.linked)
    data: dict[str, Any] = {
        "ask": state["asks the browser"] and not changed,
        "keep": page_link.packed([state.units, *state.tubs], _MOST_CHARACTERS) if changed else None,
    }
    component = st.components.v2.component("remembered", js=_SCRIPT)
    component(key="remembered", data=data, on_found_change=_bring_back, height=0)


def _bring_back() -> None:
    """Look at what the browser kept, unless something was changed meanwhile."""
    state = st.session_state
    word = state["remembered"].get("found")
    if not state["asks the browser"] or state.tubs != state.began:
        return
    state["asks the browser"] = False
    try:
        units, *texts = page_link.unpacked(word, _MOST_CHARACTERS) if word else [""]
        good = bool(texts) and page_state.are_tubs(texts)
    except ValueError:  # and InputError, which is one
        return
    if good:
        state.tubs, state.began, state.place = texts, list(texts), 0
        state.units = units if units in {"metric", "us"} else state.units
        page_state.renew()
