"""What stands in a logbook's file of one tub: its number there, its rows, its changes."""

import sqlite3
from collections import defaultdict
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from itertools import takewhile

from filtration.readings.logbook_tables import KnownAs
from filtration.readings.reading import Reading, cells

Row = tuple[int, int, str, str, str, str]  # number, microseconds, then what ``cells`` gives

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_ROWS = "SELECT id, at_utc, at_text, kind, value, note FROM entry WHERE tub = ? AND {} ORDER BY at_utc, id"
_LAST_CHANGE = "SELECT ifnull(max(max(batch, ifnull(gone, 0))), 0) FROM entry WHERE tub = ?"
_KNOWN_NOW = """
    UPDATE tub SET key = ?, name = ?, litres = ifnull(?, litres), file = coalesce(nullif(?, ''), file) WHERE id = ?
"""


def known_of(key: str | None, name: str, litres: float | None, file: str | None) -> KnownAs:
    """Return what a row of the table of tubs says that a tub is known by."""
    return KnownAs(name=name, id=key or "", litres=litres, file=file or "")


def tub_number(connection: sqlite3.Connection, tub: str | KnownAs) -> int:
    """Return the number of a tub, 0 where there is none: that of its id, else that of its name without any."""
    name, key = (tub, "") if isinstance(tub, str) else (tub.name, tub.id)
    found = connection.execute(
        "SELECT id FROM tub WHERE key = ? OR (key IS NULL AND name = ?) ORDER BY key IS NULL", (key, name)
    ).fetchone()
    return int(found[0]) if found else 0


def put_down(connection: sqlite3.Connection, tub: str | KnownAs) -> int:
    """Return the number of a tub, made where there was none, and write down what it is known by now."""
    known = KnownAs(name=tub) if isinstance(tub, str) else tub
    number = tub_number(connection, known)
    if not number:
        number = connection.execute("INSERT INTO tub (name) VALUES (?)", (known.name,)).lastrowid or 0
    if known.id:
        now = (known.id, known.name, known.litres, known.file)
        connection.execute(_KNOWN_NOW, (*now, number))
    return number


def rows_of(connection: sqlite3.Connection, number: int, which: str = "gone IS NULL", *values: object) -> list[Row]:
    """Return the rows of a tub of which something holds, in order of time; those that count unless told otherwise."""
    return connection.execute(_ROWS.format(which), (number, *values)).fetchall()


def last_change(connection: sqlite3.Connection, number: int) -> int:
    """Return the number of a tub's last change, 0 before any."""
    return int(connection.execute(_LAST_CHANGE, (number,)).fetchone()[0])


def microseconds(reading: Reading) -> int:
    """Return when a reading was taken, since 1970."""
    return (reading.when - _EPOCH) // timedelta(microseconds=1)


def difference(present: Iterable[Row], wanted: Iterable[Reading]) -> tuple[list[int], list[Reading]]:
    """Return which entries have to go and which readings to come; of one time, what begins alike stays."""
    old, new = defaultdict[int, list[Row]](list), defaultdict[int, list[Reading]](list)
    for row in present:
        old[row[1]].append(row)
    for reading in wanted:
        new[microseconds(reading)].append(reading)
    gone, fresh = list[int](), list[Reading]()
    for at in sorted(old.keys() | new.keys()):
        pairs = zip(old[at], new[at], strict=False)
        same = sum(1 for _ in takewhile(lambda pair: pair[0][2:] == cells(pair[1]), pairs))
        gone += [row[0] for row in old[at][same:]]
        fresh += new[at][same:]
    return gone, fresh
