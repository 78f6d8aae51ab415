"""What stands on every page: the way to the others, the tub looked at, the units; and faults in place of an answer."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any, TypeVar

import page_cache
import page_kept
import page_state
import streamlit as st
from page_fields import is_missing
from page_text import plain, told_in

from filtration import Comparison, OptionAnswer
from filtration.present.words import in_units as unit_words
from filtration.present.words import pages as page_words
from filtration.present.words import phrases

R = TypeVar("R")

_UNITS = {"metric": "L, °C, mm", "us": "gal, °F, in"}


def pages() -> Mapping[str, Any]:
    """Return the pages by name, in order; the first opens."""
    return {
        name: st.Page(f"screens/{name}.py", title=title, default=name == "your_tub")
        for name, (title, _) in page_words.PAGES.items()
    }


def _look_at() -> None:
    names = page_state.names()
    st.session_state.place = st.session_state["which tub"] % len(names)
    page_state.renew()


def _units() -> None:
    st.session_state.units = st.session_state["which units"]


def header(every: Mapping[str, Any]) -> None:
    """Show the way to every page, the tubs where there are several, and the units."""
    with st.container(horizontal=True, gap="small", vertical_alignment="center", key="ways"):
        for page in every.values():
            st.page_link(page, width="content")
        names = page_state.names()
        if len(names) > 1:
            st.selectbox(
                "Tub",
                range(len(names)),
                index=st.session_state.place,
                format_func=names.__getitem__,
                key="which tub",
                on_change=_look_at,
                label_visibility="collapsed",
                width=220,
            )
        st.segmented_control(
            "Units",
            list(_UNITS),
            default=st.session_state.units,
            format_func=_UNITS.__getitem__,
            required=True,
            key="which units",
            on_change=_units,
            label_visibility="collapsed",
            width="content",
        )
    if st.session_state.told:
        st.warning(plain(st.session_state.told), icon="⚠️")
        st.session_state.told = ""


def opening(name: str) -> None:
    """Show a page's title and what it is for."""
    title, what = page_words.PAGES[name]
    st.title(title, anchor=False)
    st.caption(plain(what))


def answer() -> tuple[str, Comparison]:
    """Return the text looked at and its answer; stop with its faults where it has some."""
    text = page_state.text()
    faults = page_cache.faults(text)
    if faults:
        missing = sum(map(is_missing, faults))
        (st.info if missing == len(faults) else st.error)(plain(page_words.faulty(len(faults), missing)))
        st.page_link("screens/your_tub.py", label="To the tub")
        st.stop()
    return text, progressing(text)


def progressing(text: str) -> Comparison:
    """Return an answer, with a bar that says how far it is."""
    return telling(partial(page_cache.answer, text))


def telling(work: Callable[[], R]) -> R:
    """Return what some work gives, with a bar that says how far it is where it has to be done."""
    bar = st.empty()
    with page_kept.telling(lambda share, what: bar.progress(share, text=f"{share:.0%}, {what}") and None):
        found = work()
    bar.empty()
    return found


def step_by_step(what: str, steps: Sequence[Callable[[], object]]) -> list[Any]:
    """Return what some steps give, with a bar that says how far they are where they take a while."""
    bar, found = st.empty(), []
    for done, step in enumerate(steps):
        if done:
            bar.progress(done / len(steps), text=f"{done / len(steps):.0%}, {what}")
        found.append(step())
    bar.empty()
    return found


def choose(comparison: Comparison) -> OptionAnswer:
    """Let an option be chosen, the one to take to begin with; the choice goes with the person from page to page."""
    ids = [option.id for option in comparison.options]
    names = {option.id: phrases.title(option, comparison) for option in comparison.options}
    chosen = st.session_state.get("chosen")
    place = ids.index(chosen if chosen in ids else comparison.spoken_of.id)

    def keep() -> None:
        st.session_state.chosen = st.session_state["which option"]

    at = st.selectbox(
        "Filter looked at",
        ids,
        index=place,
        format_func=names.__getitem__,
        key="which option",
        on_change=keep,
        width=320,
    )
    return comparison.option(at)


def show(drawn: str) -> None:
    """Show a picture, or the words why there is none."""
    import json

    if drawn.startswith("{"):
        spec = json.loads(drawn)
        st.vega_lite_chart(spec, width="stretch")  # its description is what it says to whoever cannot see it
    else:
        st.caption(plain(drawn))


def say(text: str, comparison: Comparison) -> str:
    """Return one of our sentences in the units shown, ready for the page."""
    return told_in(text, page_state.display(), unit_words.own_names(comparison.study))
