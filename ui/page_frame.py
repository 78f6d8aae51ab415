"""What stands on every page, and what several show alike: faults, figures, tables, lists, pictures, files to save."""

import json
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

import page_cache
import page_kept
import page_readings
import page_state
import pandas as pd
import streamlit as st
from page_fields import is_missing
from page_text import plain
from streamlit.runtime.uploaded_file_manager import DeletedFile, UploadedFile

from filtration import Comparison, Forecast, InputError, NoAnswerError, OptionAnswer
from filtration.present.exports import tables
from filtration.present.words import in_units, pages, phrases

R = TypeVar("R")

FIRST = "your_filter"
"""The page that opens."""
_UNITS = {"metric": "L, °C, mm", "us": "gal, °F, in"}


def every_page() -> Mapping[str, Any]:
    """Return the pages by name, in order; the first opens."""
    return {
        name: st.Page(f"screens/{name}.py", title=title, default=name == FIRST)
        for name, (title, _) in pages.PAGES.items()
    }


def _look_at() -> None:
    st.session_state.place = st.session_state["which tub"] % len(page_state.names())
    page_state.renew()


def _keep(name: str, widget: str) -> None:
    """Keep what a widget says; its own state goes where a page does not show it."""
    st.session_state[name] = st.session_state[widget]


def header(every: Mapping[str, Any]) -> None:
    """Show the way to every page, the tubs where there are several, and the units."""
    st.html(Path(__file__).with_name("look.css"))
    state, names = st.session_state, dict(enumerate(page_state.names()))
    looks: dict[str, Any] = {"label_visibility": "collapsed"}
    with st.container(horizontal=True, gap="small", vertical_alignment="center", key="ways"):
        for page in every.values():
            st.page_link(page, width="content")
        if len(names) > 1:
            pick("Tub", names, index=state.place, key="which tub", on_change=_look_at, width=220, **looks)
        looks |= {"required": True, "on_change": _keep, "args": ("units", "which units"), "width": "content"}
        shown = _UNITS.__getitem__
        st.segmented_control("Units", [*_UNITS], default=state.units, format_func=shown, key="which units", **looks)
    if state.told:
        st.warning(plain(state.told), icon="⚠️")
        state.told = ""


def opening(name: str) -> None:
    """Show a page's title and what it is for; the first page opens with the answer."""
    if name == FIRST:
        return
    title, what = pages.PAGES[name]
    st.title(title, anchor=False)
    st.caption(plain(what))


def answer() -> tuple[str, Comparison]:
    """Return the text looked at, as readings see it where there are some, and its answer; stop with its faults."""
    text = as_seen(faultless())
    return text, progressing(text)


def as_seen(text: str) -> str:
    """Return a text as readings see it; ask whether to go by them where there are some."""
    rows = page_readings.rows_that_count(page_cache.study(text))
    if rows is None:
        return text
    looks = {"on_change": _keep, "args": (page_readings.SWITCH, "go by readings"), "key": "go by readings"}
    if not st.checkbox("Go by my readings", value=page_readings.gone_by(), **looks):
        return text
    try:
        seen = telling(partial(page_readings.looked, text, rows, page_readings.today_of(rows)))
        return page_cache.as_seen(text, seen.belief)
    except (InputError, NoAnswerError) as why:
        st.caption(plain(f"These figures do not go by your readings: {why}"))
        return text


def faultless() -> str:
    """Return the text looked at; say so and stop where it has faults."""
    text = page_state.text()
    faults = page_cache.faults(text)
    if faults:
        not_yet(faults)
        st.page_link("screens/your_tub.py", label="To the tub")
        st.stop()
    return text


def not_yet(faults: Sequence[str]) -> None:
    """Say that there is no answer yet, and why."""
    missing = sum(map(is_missing, faults))
    (st.info if missing == len(faults) else st.error)(plain(pages.faulty(len(faults), missing)))


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


def step_by_step(what: str, steps: Collection[Callable[[], object]]) -> list[Any]:
    """Return what some steps give, with a bar that says how far they are where they take a while."""
    bar, found = st.empty(), list[Any]()

    def tell(share: float, now: str = what) -> None:
        whole = (len(found) + share) / len(steps)
        bar.progress(whole, text=f"{whole:.0%}, {now}")

    with page_kept.telling(tell):
        for step in steps:
            if found:
                tell(0.0)
            found.append(step())
    bar.empty()
    return found


@contextmanager
def faults_told() -> Iterator[None]:
    """Say what is wrong, or why there is no answer, and leave out the rest of the page."""
    try:
        yield
    except InputError as error:
        errors(page_cache.told(error))
        st.stop()
    except NoAnswerError as nothing:
        st.info(plain(str(nothing)))
        st.stop()


def errors(faults: Sequence[str], most: int | None = None) -> None:
    """Show faults, one below the other, so many at most."""
    for fault in faults[:most]:
        st.error(plain(fault))
    if most is not None and len(faults) > most:
        st.error(plain(f"And {len(faults) - most} more."))


def data_of(file: UploadedFile | DeletedFile) -> bytes:
    """Return what somebody brought holds; raises InputError where the server has it no more."""
    if isinstance(file, DeletedFile):
        raise InputError(pages.FAULTS["file"])
    return file.getvalue()


def tried(name: str, work: Callable[[], str | None]) -> None:
    """Do what a widget asks for, and keep what it came to, or its faults, under a name for the page to show."""
    state = st.session_state
    state[f"{name} told"], state[f"{name} faults"] = "", []
    try:
        state[f"{name} told"] = work() or ""
    except InputError as error:
        state[f"{name} faults"] = page_cache.told(error)


def pick(label: str, names: Mapping[R, str], **looks: Any) -> R:  # noqa: ANN401 - as Streamlit takes them
    """Let one of some things be chosen by its name."""
    return st.selectbox(label, list(names), format_func=names.__getitem__, **looks)


def choose(comparison: Comparison, **looks: Any) -> OptionAnswer:  # noqa: ANN401 - as Streamlit takes them
    """Let an option be chosen, the one to take to begin with; the choice goes with the person from page to page."""
    names, key = {option.id: phrases.title(option, comparison) for option in comparison.options}, "which option"
    chosen = st.session_state.get("chosen")
    st.session_state[key] = chosen if chosen in names else comparison.spoken_of.id
    keep = {"on_change": _keep, "args": ("chosen", key)}
    return comparison.option(pick("Filter looked at", names, key=key, width=320, **keep, **looks))


def beside(*parts: Callable[[], object]) -> None:
    """Show parts beside each other, where there is room."""
    for column, part in zip(st.columns(len(parts), gap="large"), parts, strict=True):
        with column:
            part()


def picture(text: str, name: str, at: str = "") -> None:
    """Show a picture, of the option of an id where it is one of single options, or the words why there is none."""
    show(page_cache.picture(text, name, page_state.display(), at))


def show(drawn: str) -> None:
    """Show a picture, or the words why there is none."""
    if page_cache.is_drawn(drawn):
        st.vega_lite_chart(json.loads(drawn), width="stretch")  # whose description tells whoever cannot see it
    else:
        st.caption(plain(drawn))


def figures(shown: Mapping[str, str], meaning: Callable[[str], str | None] = lambda _name: None) -> None:
    """Show a few figures beside each other, each with its name and what that means."""
    with st.container(horizontal=True, gap="small"):
        for name, figure in shown.items():
            st.metric(name, plain(figure), help=meaning(name), width=165)


def table(rows: object, alt: str, width: str = "content", **looks: Any) -> None:  # noqa: ANN401 - as Streamlit takes them
    """Show rows as a table."""
    st.dataframe(pd.DataFrame(rows), hide_index=True, width=width, alt=alt, **looks)


def download(label: str, data: object, file_name: str, mime: str | None = None, **looks: Any) -> None:  # noqa: ANN401 - as Streamlit takes them
    """Offer something as a file; the page stays as it is."""
    st.download_button(label, data, file_name=file_name, mime=mime, on_click="ignore", **looks)


def csv_of(shown: pd.DataFrame) -> bytes:
    """Return a table for a spreadsheet; text that one would take for a formula gets a mark in front."""
    return tables.csv_of(*tables.rows_of(shown))


def headed(parts: Mapping[str, Iterable[str]], answer: Comparison | Forecast | None = None) -> None:
    """Show lists, each below its heading; those of an answer in the units shown."""
    for heading, lines in parts.items():
        st.header(heading, anchor=False)
        st.markdown(bullets(lines, answer))


def bullets(lines: Iterable[str], answer: Comparison | Forecast | None = None) -> str:
    """Return lines as a list, ready for the page; those of an answer in the units shown."""
    return "\n".join(f"- {plain(line) if answer is None else say(line, answer)}" for line in lines)


def say(text: str, answer: Comparison | Forecast) -> str:
    """Return one of our sentences in the units shown, ready for the page."""
    return plain(in_units.converted(text, page_state.display(), in_units.own_names(answer.study)))
