"""Your readings: typed or brought as a file, the run fitted to them, the next service, what is going on."""

from collections.abc import Mapping
from functools import partial
from typing import Any

import page_cache
import page_frame
import page_readings
import page_state
import page_tables
import pandas as pd
import streamlit as st
from page_entry import MOST_FAULTS, entry
from page_readings import Book, Row
from page_text import plain

from filtration import Forecast, Study
from filtration.present.words import forecast as forecast_words
from filtration.present.words import readings as readings_words
from filtration.readings.reading import KINDS

_WIDTHS = {"when": 175, "kind": 90, "value": 130, "note": 120}


def ask_fitted(study: Study) -> None:
    """Ask what is fitted, and since when."""
    several = len(study.pumps) > 1
    names = {
        option_id: f"{option.name}, {pump.name}" if several else option.name
        for option_id, (option, pump) in study.on_pumps.items()
    }

    def put() -> None:
        chosen, since = st.session_state["fitted"], st.session_state["fitted since"]
        if chosen is None or since is None:
            return
        if several:
            page_state.change(lambda into: into.update(in_use={"option": chosen, "since": since.isoformat()}))
        else:
            page_readings.add(page_readings.tub_of(study), [(f"{since.isoformat()} 00:00", "fitted", chosen, "")])
            page_frame.tried("readings", partial(page_readings.save, study))

    with st.container(border=True):
        st.markdown(plain(readings_words.ASK_FITTED))
        with st.container(horizontal=True, gap="small", vertical_alignment="bottom"):
            page_frame.pick("Fitted now", names, index=None, placeholder="choose", key="fitted", width=260)
            today = page_readings.now().date()
            st.date_input("New on", max_value=today, format="YYYY-MM-DD", key="fitted since", width=150)
            st.button("This is fitted", on_click=put)


def _shown(row: Row) -> Mapping[str, object]:
    """Return a row as the table has it, and as it was."""
    reading, _ = page_readings.read(row)
    when = row[0] if reading is None else readings_words.when_of(reading)
    return dict(zip(readings_words.COLUMNS, (when, *row[1:]), strict=True)) | {"row": row}


def _row(cells: Mapping[str, Any]) -> Row:
    """Return a row as the table says it; as it was where nothing of it was changed."""
    was: Row | None = cells.get("row")
    if was is not None and cells == _shown(was):
        return was
    when, kind, value, note = (str(cells.get(column, "")) for column in readings_words.COLUMNS)
    return when, kind, value, note


def editor(study: Study, book: Book) -> list[Row]:
    """Show the table to change, and return its rows as they stand there."""
    state, tub, columns = st.session_state, page_readings.tub_of(study), readings_words.COLUMNS
    whose = page_readings.key_of(tub)
    if state.get("readings from") != (whose, book.rows):
        page_readings.renew()
        state["readings from"] = (whose, book.rows)
    key = f"readings.{whose}.{state.edition}.{state['readings edition']}"
    table, most = page_readings.table_of(book, page_readings.changes(tub, book)), page_readings.MOST_SHOWN
    if key not in state:
        state["readings older"] = table[:-most]
    before, older = page_tables.begun("readings", key, map(_shown, table[-most:])), state["readings older"]
    looks: dict[str, Any] = {
        column: st.column_config.TextColumn(title, help=how, width=_WIDTHS[column])
        for column, (title, how) in columns.items()
    }
    title, how = columns["kind"]
    looks["kind"] = st.column_config.SelectboxColumn(title, help=how, options=KINDS, width=_WIDTHS["kind"])

    def rows() -> list[Row]:
        return [*older, *map(_row, page_tables.changed(before, state.get(key, {})))]

    def keep() -> None:
        state["readings faults"] = []
        page_readings.put(tub, page_readings.changes_to(page_readings.book_of(tub), rows()))
        page_frame.tried("readings", partial(page_readings.save, study))

    frame, height = pd.DataFrame(before, columns=list(columns), dtype="string"), min(420, 38 * (len(before) + 3))
    page_tables.editor(key, frame, keep, height=height, column_config=looks, placeholder="", alt="Readings")
    if older:
        st.caption(plain(readings_words.the_latest(len(before), len(older) + len(before))))
    return rows()


def keeping(study: Study, book: Book, rows: list[Row]) -> None:
    """Say what is saved and what waits, and offer to download all and to drop what waits."""
    tub = page_readings.tub_of(study)
    made = page_readings.changes(tub, book)
    unsaved = bool(made.new or made.gone)
    if book.fault:
        st.error(plain(book.fault))
    else:
        if book.place is None:
            st.caption(plain(readings_words.NO_LOGBOOK))
        line = readings_words.saved_state(tub.name, len(book.rows), len(made.new), len(made.gone), book.place)
        st.markdown(("▲ " if unsaved else "") + plain(line))
    if unsaved:
        st.caption(plain(readings_words.CARRIED if page_readings.packed() else readings_words.TOO_LONG))
    with st.container(horizontal=True, gap="small"):
        data = partial(page_readings.csv_bytes, rows)
        page_frame.download("Download CSV", data, "readings.csv", "text/csv", disabled=not rows)
        nothing = (tub, page_readings.Changes())
        st.button("Drop what is not saved", on_click=page_readings.replace, args=nothing, disabled=not unsaved)
    page_frame.errors(st.session_state.get("readings faults", []), MOST_FAULTS)


def bringing(study: Study) -> None:
    """Take a file into the table."""
    state = st.session_state

    def brought() -> None:
        file = state["readings file"]
        if file is not None:
            page_frame.tried("readings", lambda: take(page_frame.data_of(file), file.name))

    def take(data: bytes, name: str) -> str:
        told = page_readings.bring(page_readings.tub_of(study), data, name)
        return f"{told} {page_readings.save(study)}".strip()

    with st.expander("Bring a table (CSV)"):
        label = "Columns when, kind, value, note; at most 1 MB, more by filtration log import"
        st.file_uploader(label, type="csv", max_upload_size=1, key="readings file", on_change=brought)


def rest(forecast: Forecast) -> None:
    """Show what is going on, which readings count for little, and what they say of the tub."""
    aside = [*forecast_words.refused(forecast), *forecast_words.doubted(forecast)]
    left = {
        "What is going on": forecast_words.diagnosis(forecast),
        "Readings that do not count, or for little": forecast_words.asides(aside),
        "At the service": forecast_words.cautions(forecast),
    }
    right = {
        "What the readings say of your tub": forecast_words.fitted(forecast),
        "Notes": forecast_words.notes(forecast),
    }
    filled = ({heading: lines for heading, lines in parts.items() if lines} for parts in (left, right))
    page_frame.beside(*(partial(page_frame.headed, parts, forecast) for parts in filled))


text = page_frame.faultless()
study = page_cache.study(text)
book = page_readings.book_of(page_readings.tub_of(study))
top = st.container()
typed, drawn = st.columns(2, gap="large")
with typed:
    entry(study, book)
    rows = editor(study, book)
    faults = page_readings.faults_in(rows, study)
    page_frame.errors([fault for each in faults for fault in each], MOST_FAULTS)
    if faults:
        st.caption(plain(readings_words.left_out(len(faults))))
    keeping(study, book, rows)
    bringing(study)
good = page_readings.good_rows(rows, study)
today = page_readings.today_of(good)
steps = [partial(each, text, good, today) for each in (page_readings.looked, page_readings.runs)]
with top:
    if not rows:
        st.caption(plain(readings_words.NOTHING_YET))
    if not page_readings.fitted_is_known(study, good):
        ask_fitted(study)
        st.stop()
    with page_frame.faults_told():
        forecast, _ = page_frame.step_by_step("fitting your readings", steps)
    lines = [*forecast_words.today(forecast), *forecast_words.figures(forecast), *forecast_words.measure(forecast)]
    with st.container(border=True):
        st.markdown(f"**{page_frame.say(forecast_words.headline(forecast), forecast)}**")
        st.markdown(page_frame.bullets(lines, forecast))
with drawn:
    for name in ("flow", "loss"):
        picture = page_readings.picture(text, good, today, name, page_state.display())
        if page_cache.is_drawn(picture):
            page_frame.show(picture)
rest(forecast)
