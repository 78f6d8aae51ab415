"""A session's readings: what the logbook holds, what stands in the table but is not saved, and what they say.

Only the changes are kept, never a copy of the logbook: what is saved meanwhile from elsewhere joins the table, and
saving never takes it out. The changes outlast a change of page in the session, and a reload in the page's address.
"""

import json
import os
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache

import page_cache
import page_file
import page_kept
import page_link
import page_state
import streamlit as st

from filtration import Forecast, InputError, Study, forecast
from filtration.base.errors import no_option
from filtration.cli.serve import NO_LOGBOOK
from filtration.plan.outcome import Outcome, outcome_of
from filtration.present.charts.catalogue import Display
from filtration.present.charts.readings import flow_readings_chart, loss_readings_chart
from filtration.present.words import readings as readings_words
from filtration.readings.csv_file import csv_of, readings_from_csv
from filtration.readings.entering import would_refuse
from filtration.readings.fitted_runs import seen_runs
from filtration.readings.logbook import Logbook, logbook_path
from filtration.readings.logbook_tables import KnownAs, is_another, known_as
from filtration.readings.reading import Reading, beside, cells, in_order, reading_of

Row = tuple[str, str, str, str]
"""When, kind, value and note, as written."""

MOST_SHOWN = 5000
"""Rows that the table shows to be changed; older ones count as they are."""

_LINK = "readings"
_REMEMBERED = 1 << 17  # rows: all that one logbook can hold of a tub


@dataclass(frozen=True, slots=True)
class Changes:
    """Rows that stand in the table alone, and rows of the logbook that it has no more."""

    new: tuple[Row, ...] = ()
    gone: tuple[Row, ...] = ()


@dataclass(frozen=True, slots=True)
class Book:
    """What the logbook holds of a tub, where it lies, whether a change can be undone; a fault where it is no good."""

    rows: tuple[Row, ...] = ()
    place: str | None = None
    fault: str = ""
    changed: bool = False


SWITCH = "by readings"
"""Where the session keeps whether to go by readings."""


def gone_by() -> bool:
    """Return whether the person goes by readings where there are some."""
    return bool(st.session_state.get(SWITCH, True))


def now() -> datetime:
    """Return the present time of this machine."""
    return datetime.now().astimezone()


def tub_of(study: Study) -> KnownAs:
    """Return what the tub of the page is known by in the logbook."""
    return known_as(study, page_file.path() if page_file.is_of_file(st.session_state.place) else None)


def book_of(tub: KnownAs) -> Book:
    """Return what is saved of a tub."""
    if os.environ.get(NO_LOGBOOK):
        return Book()
    try:
        with Logbook(logbook_path()) as book:
            kept = book.kept_as(tub)
            if kept is not None and is_another(kept, tub):
                return Book(fault=readings_words.another(kept, tub))
            rows = tuple(map(_row_of, book.list(tub)))
            return Book(rows=rows, place=str(book.path), changed=book.changed(tub))
    except InputError as error:
        return Book(fault="; ".join(error.faults))


@lru_cache(maxsize=_REMEMBERED)
def _known(row: Row) -> tuple[Row, Reading | None, tuple[str, ...]]:
    """Return a row as it came first, so that there is one of each, its reading, None where it has faults, and those."""
    try:
        return row, reading_of(*row, where="row"), ()
    except InputError as error:
        return row, None, tuple(fault.removeprefix("row, ") for fault in error.faults)


def read(row: Row) -> tuple[Reading | None, tuple[str, ...]]:
    """Return a row's reading, None where it has faults, and those."""
    return _known(row)[1:]


def _row_of(reading: Reading) -> Row:
    """Return a reading's row."""
    return _known(cells(reading))[0]


def readings_in(rows: Iterable[Row]) -> list[Reading]:
    """Return the readings of the rows that have no fault, in order of time."""
    return in_order(reading for reading, _ in map(read, rows) if reading)


def _wrong(row: Row, study: Study) -> tuple[str, ...]:
    """Return what is wrong with a row in itself, or as the study knows no such option."""
    reading, faults = read(row)
    if reading is None or reading.option is None or reading.option in study.names:
        return faults
    return (f"{reading.kind}: {no_option(study.names, reading.option)}",)


def faults_in(rows: Sequence[Row], study: Study) -> list[list[str]]:
    """Return what is wrong with each row that has a fault, with its place in the table and what it says."""
    told = []
    for place, row in enumerate(rows, 1):
        said = " ".join(" ".join(row[:3]).split()) or "empty"
        told.append([f"Row {place} ({said}), {fault}" for fault in _wrong(row, study)])
    return [each for each in told if each]


def good_rows(rows: Sequence[Row], study: Study) -> tuple[Row, ...]:
    """Return the rows without a fault."""
    return tuple(_normal(row) for row in rows if not _wrong(row, study))


def _normal(row: Row) -> Row:
    reading, _ = read(row)
    return row if reading is None else _row_of(reading)


def _less(rows: Iterable[Row], others: Iterable[Row]) -> tuple[Row, ...]:
    """Return rows without others, each as often as it is there."""
    taken = Counter(others)
    return tuple((Counter(rows) - taken).elements()) if taken else tuple(rows)


def table_of(book: Book, changes: Changes) -> tuple[Row, ...]:
    """Return what the table shows: in order of visits, rows without a time last."""
    rows = (*_less(book.rows, changes.gone), *changes.new)
    return (*map(_row_of, readings_in(rows)), *(row for row in rows if read(row)[0] is None))


def changes_to(book: Book, rows: Iterable[Row]) -> Changes:
    """Return what makes a table of what is saved."""
    wanted = tuple(map(_normal, rows))
    return Changes() if wanted == book.rows else Changes(new=_less(wanted, book.rows), gone=_less(book.rows, wanted))


def key_of(tub: KnownAs) -> str:
    """Return what the session keeps a tub's changes under."""
    return tub.id or tub.name


def changes(tub: KnownAs, book: Book) -> Changes:
    """Return what is not saved of a tub."""
    return changes_to(book, table_of(book, st.session_state.readings.get(key_of(tub), Changes())))


def put(tub: KnownAs, new: Changes) -> None:
    """Let the unsaved changes of a tub be others, told by the table."""
    st.session_state.readings.pop(key_of(tub), None)
    if new != Changes():
        st.session_state.readings[key_of(tub)] = new


def replace(tub: KnownAs, new: Changes) -> None:
    """Let the unsaved changes of a tub be others, and the table start anew from them."""
    put(tub, new)
    renew()


def add(tub: KnownAs, rows: Iterable[Row]) -> None:
    """Put rows into the table."""
    before = changes(tub, book_of(tub))
    replace(tub, Changes(new=(*before.new, *map(_normal, rows)), gone=before.gone))


def renew() -> None:
    """Let the table start anew, as it was not typed into."""
    st.session_state["readings edition"] += 1


def bring(tub: KnownAs, data: bytes, where: str) -> str:
    """Take the rows of a file into the table but those that stand there; raises InputError with its faults."""
    given = readings_from_csv(page_cache.text_of(data), where=where)
    book = book_of(tub)
    fresh = beside(readings_in(table_of(book, changes(tub, book))), given)
    add(tub, map(cells, fresh))
    return readings_words.was_brought(len(fresh), len(given) - len(fresh), where)


def save(study: Study) -> str:
    """Write the changes into the logbook, if there is a sound one; raises InputError where it cannot be written.

    Rows with faults wait in the table, and with them what was taken out, as one may have been made of the other.
    """
    tub = tub_of(study)
    before = book_of(tub)
    if before.place is None or changes(tub, before) == Changes():
        return ""
    with Logbook(logbook_path()) as book:
        there = Book(rows=tuple(map(cells, book.list(tub))))
        made = changes(tub, there)
        waiting = tuple(row for row in made.new if _wrong(row, study))
        taken = Changes(new=_less(made.new, waiting), gone=() if waiting else made.gone)
        if taken == Changes():
            return ""
        wanted = readings_in(table_of(there, taken))
        book.rewrite(tub, wanted)
    replace(tub, Changes(new=waiting, gone=made.gone if waiting else ()))
    return readings_words.was_saved(len(taken.new), len(taken.gone), len(wanted), str(book.path))


def undo(study: Study) -> str:
    """Take the last change out of the logbook; raises InputError where it cannot."""
    tub = tub_of(study)
    waiting = changes(tub, book_of(tub))
    with Logbook(logbook_path()) as book:
        undone = book.undo(tub)
    replace(tub, waiting)
    return readings_words.was_undone(len(undone.taken_out), len(undone.brought_back), str(book.path))


def not_taken(study: Study, reading: Reading) -> tuple[str, ...]:
    """Return why a forecast would leave a new row out; nothing where it would not."""
    tub = tub_of(study)
    book = book_of(tub)
    there = readings_in(good_rows(table_of(book, changes(tub, book)), study))
    try:
        return tuple(readings_words.not_taken(would_refuse(study, there, [reading], now())))
    except InputError as error:
        return error.faults


def csv_bytes(rows: Sequence[Row]) -> bytes:
    """Return the rows without a fault as a CSV file."""
    return csv_of(readings_in(rows)).encode()


def start() -> None:
    """Fill a new session from its address; then keep the address in step."""
    state = st.session_state
    if "readings" not in state:
        state.readings, state["readings edition"] = {}, 0
        state.readings = page_state.from_address(_LINK, _unpacked, "The link's unsaved readings cannot be read.") or {}
    page_state.keep_in_address(_LINK, packed())


def packed() -> str | None:
    """Return the unsaved changes as a word for the address; None where there are none, or too many."""
    every = st.session_state.readings
    texts = [json.dumps([name, made.new, made.gone]) for name, made in every.items()]
    return page_link.packed(texts) if texts else None


def _unpacked(word: str) -> dict[str, Changes]:
    found = {}
    for text in page_link.unpacked(word):
        try:
            name, new, gone = json.loads(text)
            parts = [tuple((when, kind, value, note) for when, kind, value, note in rows) for rows in (new, gone)]
        except (TypeError, RecursionError) as error:
            raise ValueError("no readings") from error
        if not all(isinstance(cell, str) for rows in parts for row in rows for cell in row):
            raise ValueError("no readings")
        page_link.whole([str(name), *(cell for rows in parts for row in rows for cell in row)])
        found[str(name)] = Changes(new=parts[0], gone=parts[1])
    return found


def fitted_is_known(study: Study, rows: Sequence[Row]) -> bool:
    """Return whether study or rows say what is fitted."""
    moment = now()
    fitted = (reading.when for reading in readings_in(rows) if reading.option is not None)
    return study.in_use is not None or any(when <= moment for when in fitted)


def today_of(rows: Sequence[Row]) -> datetime:
    """Return the present hour, or a later reading's time: so that what is worked out holds for a while."""
    moment = now()
    hour = moment.replace(minute=0, second=0, microsecond=0)
    return max([hour, *(reading.when for reading in readings_in(rows) if reading.when <= moment)])


@page_kept.kept
def looked(text: str, rows: tuple[Row, ...], today: datetime) -> Forecast:
    """Return the forecast of a study and rows; raises InputError and NoAnswerError."""
    progress = page_kept.progress_of_now()
    return forecast(page_cache.study(text), readings_in(rows), today=today, progress=progress)


runs = page_kept.kept(lambda text, rows, today: seen_runs(looked(text, rows, today)))
"""The runs since the option in use was new."""


def rows_that_count(study: Study) -> tuple[Row, ...] | None:
    """Return a tub's rows without a fault; None where they and the study do not say what is fitted."""
    tub = tub_of(study)
    book = book_of(tub)
    good = good_rows(table_of(book, changes(tub, book)), study)
    return good if good and fitted_is_known(study, good) else None


@page_kept.kept
def outcome(text: str, option: str, first_day: date, rows: tuple[Row, ...] | None) -> Outcome:
    """Return answer and plan; raises InputError, and NoAnswerError where readings say nothing."""
    known, compared = None if rows is None else readings_in(rows), page_cache.answer(text)
    how = {"draws": page_cache.DRAWS, "progress": page_kept.progress_of_now()}
    return outcome_of(page_cache.study(text), option=option, today=first_day, rows=known, compared=compared, **how)


@page_kept.kept
def picture(text: str, rows: tuple[Row, ...], today: datetime, name: str, display: Display) -> str:
    """Return the chart of flow or loss as JSON, or the words why there is none."""
    draw = {"flow": flow_readings_chart, "loss": loss_readings_chart}[name]
    return page_cache.as_json(lambda: draw(runs(text, rows, today), looked(text, rows, today), display))
