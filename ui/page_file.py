"""The study file that the pages were started with: the first tub of each session, saved after every change of it."""

import os
from collections.abc import Sequence
from pathlib import Path
from threading import Lock

import page_cache
import streamlit as st
from page_text import plain

from filtration import InputError
from filtration.base.whole_file import write_whole
from filtration.cli.serve import READ_ONLY, STUDY
from filtration.present.words import fields as field_words
from filtration.study.file import text_of_file

_one_writes = Lock()


def path() -> Path | None:
    """Return the file; None where the pages were started without one."""
    named = os.environ.get(STUDY)
    return Path(named) if named else None


def is_of_file(place: int) -> bool:
    """Return whether a tub of the session is the file's."""
    return place == 0 and path() is not None


def first(linked: Sequence[str] | None) -> list[str] | None:
    """Return what a session begins with: the file's tub, then what the address carries besides; None without a file."""
    file = path()
    if file is None:
        return None
    try:
        text = _read(file)
    except InputError as error:
        st.session_state.told = "; ".join(error.faults)
        text = page_cache.demo_text("freezer")
    return [text, *(other for other in linked or () if other != text)]


def _read(file: Path) -> str:
    """Return the text of the file, and remember its bytes, which are replaced when it is saved."""
    text = text_of_file(file, file.name)
    if not page_cache.is_shaped(text):
        raise InputError(f"{file.name}: holds no study that a page can show")
    st.session_state["file holds"] = (text, file.read_bytes())
    return text


def unsaved(tubs: Sequence[str]) -> list[str]:
    """Return the tubs that no file holds."""
    return list(tubs) if path() is None or tubs[0] != _held()[0] else list(tubs[1:])


def _held() -> tuple[str, bytes]:
    held: tuple[str, bytes] = st.session_state.get("file holds", ("", b""))
    return held


def writable() -> bool:
    """Return whether the session is one on this machine, to which alone the pages are served."""
    forwarded = {"x-forwarded-for", "x-forwarded-host", "forwarded", "x-real-ip"}
    return not os.environ.get(READ_ONLY) and not forwarded & {name.lower() for name in st.context.headers}


def keep() -> None:
    """Save the file's tub if it was changed, or follow the file if that was; keep how it stands for ``tell``."""
    file = path()
    if file is None:
        return
    state, (held, data) = st.session_state, _held()
    mine, theirs = state.tubs[0] != held, False
    try:
        theirs = file.read_bytes() != data
        told = field_words.FILE_SAVED if writable() else field_words.FILE_READ_ONLY
        if theirs and mine:
            told = field_words.FILE_CHANGED
        elif theirs:
            state.tubs[0] = _read(file)
            state.edition += 1  # the fields start anew
            told = field_words.FILE_FOLLOWED
        elif mine and writable():
            told = _saved(file, state.tubs[0], data)
    except (InputError, OSError) as error:
        told = f"{field_words.FILE_LOST} {error}"
    state["file stands"] = (f"{file.name}: {told}", theirs and mine)


def tell() -> None:
    """Say how the file stands, where there is one."""
    told, parted = st.session_state.get("file stands", ("", False))
    if told:
        st.caption(plain(told))
    if parted:
        st.button("Read the file, and keep mine beside it", on_click=_both)


def _saved(file: Path, text: str, data: bytes) -> str:
    """Save the file's tub unless something in it is wrong, and return how it stands."""
    if page_cache.faults(text):
        return field_words.FILE_WAITS
    new = text.encode()
    with _one_writes:
        write_whole(file, new, instead_of=data)
    st.session_state["file holds"] = (text, new)
    return field_words.FILE_SAVED


def _both() -> None:
    """Let the file's tub be what it holds now, and what was made of it here another."""
    state, file = st.session_state, path()
    try:
        theirs = _read(file) if file else state.tubs[0]
    except InputError as error:
        state.told = "; ".join(error.faults)
        return
    state.tubs = [theirs, *state.tubs[1:], state.tubs[0]]
    state.edition += 1
