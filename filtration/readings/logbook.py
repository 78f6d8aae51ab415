"""The logbook: what was read and done at every tub, in one SQLite file.

What a call has added is on the disk when the call returns. Every change is one transaction with a rollback journal;
a file that is damaged, foreign or newer is refused and left as it is; a plain copy of the file is a backup.
"""

import errno
import os
import sqlite3
import stat
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Self

from filtration.base.errors import InputError
from filtration.base.whole_file import put_new
from filtration.readings.logbook_rows import (
    Row,
    difference,
    known_of,
    last_change,
    microseconds,
    put_down,
    rows_of,
    tub_number,
)
from filtration.readings.logbook_tables import MIGRATIONS as _MIGRATIONS
from filtration.readings.logbook_tables import KnownAs
from filtration.readings.reading import Reading, beside, cells, reading_of

ENVIRONMENT = "FILTRATION_LOGBOOK"
MOST_READINGS = 100_000

_APPLICATION = 0x54754C6F  # "TuLo", in every logbook's header
_BUSY_S = 10.0
_OLDEST_SQLITE = (3, 37)  # the first with STRICT tables

_TUBS = "SELECT key, name, litres, file, (SELECT count(*) FROM entry WHERE tub = tub.id AND gone IS NULL) FROM tub"

_NO_LOGBOOK = "is no logbook, or is damaged; it was left as it is, name another file or put a good copy in its place"
_DAMAGED = "is damaged; it was left as it is, put a good copy in its place"
_NEWER = "is of version {}, made by a newer version of this program, which knows up to {}; it was left as it is"
_FULL = "the disk is full; nothing was written"
_NOT_DONE = {
    sqlite3.SQLITE_BUSY: "another program keeps it in use; nothing was written, try again",
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_READONLY: "may not be written; see the permissions of the file; nothing was written",
    sqlite3.SQLITE_CANTOPEN: "cannot be opened; see the permissions of the file and its folder; nothing was written",
    sqlite3.SQLITE_IOERR: "the disk failed or is full; nothing was written",
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_ERROR: _DAMAGED,  # its tables are not ours
    sqlite3.SQLITE_NOTADB: _NO_LOGBOOK,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone:
    """What undoing the last change took out and brought back; both empty where there was none."""

    taken_out: tuple[Reading, ...] = ()
    brought_back: tuple[Reading, ...] = ()


def logbook_path(given: str | os.PathLike[str] | None = None) -> Path:
    """Return where the logbook lies: as its owner says, or the variable FILTRATION_LOGBOOK, or in its usual place."""
    chosen = given or os.environ.get(ENVIRONMENT)
    return Path(chosen) if chosen else _usual_folder() / "logbook.sqlite"


def _usual_folder() -> Path:
    from platformdirs import user_data_path

    try:
        return user_data_path("filtration", appauthor=False)
    except RuntimeError:
        raise InputError(f"there is no home folder to keep a logbook in; name its file by {ENVIRONMENT}") from None


class Logbook:
    """An open logbook; use it in a ``with`` statement.

    A file that is not there counts as empty and is made by the first ``add`` or ``rewrite``.

    Parameters
    ----------
    path : str or path
        Its file.

    Raises
    ------
    InputError
        If the file cannot be opened, is damaged, is no logbook, or is of a newer version; it is left as it is.

    Examples
    --------
    >>> with Logbook("no such file.sqlite") as book:
    ...     book.list("North tub")
    ()
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        if sqlite3.sqlite_version_info < _OLDEST_SQLITE:
            raise InputError(f"a logbook needs SQLite 3.37 or newer, this Python has {sqlite3.sqlite_version}")
        self.path = Path(path)
        self._connection: sqlite3.Connection | None = None
        with self._told():
            self._found()

    def __enter__(self) -> Self:
        """Return the logbook itself."""
        return self

    def __exit__(self, *error: object) -> None:
        """Close the file."""
        if self._connection is not None:
            self._connection.close()

    def list(self, tub: str | KnownAs) -> tuple[Reading, ...]:
        """Return a tub's readings.

        Parameters
        ----------
        tub : str or KnownAs
            Its name, or all it is known by.

        Returns
        -------
        tuple of Reading
            In order of time; those of one time as they were added.

        Raises
        ------
        InputError
            If the file cannot be read or holds an entry that is no reading.
        """
        with self._told():
            connection = self._found()
            return self._readings(rows_of(connection, tub_number(connection, tub))) if connection else ()

    def add(self, tub: str | KnownAs, readings: Iterable[Reading], *, skip_known: bool = False) -> tuple[int, ...]:
        """Add readings, all or none; they are on the disk when this returns.

        Parameters
        ----------
        tub : str or KnownAs
            Its name, or all it is known by.
        readings : iterable of Reading
            What to add; one ``undo`` takes all of them out again.
        skip_known : bool, optional
            Leave out rows that the tub has already, each as often as it has it.

        Returns
        -------
        tuple of int
            Numbers of the entries made.

        Raises
        ------
        InputError
            If they cannot be written, or the tub would have more than 100,000.
        """
        with self._writing() as connection:
            number = put_down(connection, tub)
            fresh = beside(self._readings(rows_of(connection, number)), readings) if skip_known else readings
            return self._insert(connection, number, last_change(connection, number) + 1, fresh)

    def rewrite(self, tub: str | KnownAs, readings: Iterable[Reading]) -> None:
        """Make a tub's readings these and no others, in one change; they are on the disk when this returns.

        Parameters
        ----------
        tub : str or KnownAs
            Its name, or all it is known by.
        readings : iterable of Reading
            All it shall have; those of one time in this order.

        Raises
        ------
        InputError
            If they cannot be written, or are more than 100,000.
        """
        with self._writing() as connection:
            number = put_down(connection, tub)
            change = last_change(connection, number) + 1
            gone, fresh = difference(rows_of(connection, number), readings)
            connection.executemany("UPDATE entry SET gone = ? WHERE id = ?", [(change, entry) for entry in gone])
            self._insert(connection, number, change, fresh)

    def changed(self, tub: str | KnownAs) -> bool:
        """Return whether there is a change of a tub to undo; raises InputError where the file cannot be read."""
        with self._told():
            connection = self._found()
            return connection is not None and last_change(connection, tub_number(connection, tub)) > 0

    def tubs(self) -> tuple[tuple[KnownAs, int], ...]:
        """Return every tub it knows and how many readings it holds of each, by name."""
        with self._told():
            connection = self._found()
            found = connection.execute(f"{_TUBS} ORDER BY name, key").fetchall() if connection else ()
        return tuple((known_of(*row), count) for *row, count in found)

    def kept_as(self, tub: KnownAs) -> KnownAs | None:
        """Return what the tub of an id was last known by; None where none has it."""
        with self._told():
            connection = self._found()
            row = connection.execute(f"{_TUBS} WHERE key = ?", (tub.id,)).fetchone() if connection and tub.id else None
        return known_of(*row[:-1]) if row else None

    def rename(self, tub: KnownAs, was: str = "") -> int:
        """Let a tub be known as given, and take over what was kept under another name or id, if one is named.

        Parameters
        ----------
        tub : KnownAs
            What it is known by from now on.
        was : str, optional
            The name, without an id, or the id that readings were kept under.

        Returns
        -------
        int
            How many readings it has now.

        Raises
        ------
        InputError
            If it cannot be written, or nothing was kept under that name or id.
        """
        with self._writing() as connection:
            where = "SELECT id FROM tub WHERE key = ? OR (key IS NULL AND name = ?) ORDER BY key IS NULL"
            old = connection.execute(where, (was, was)).fetchone() if was else None
            if was and old is None:
                raise InputError(f"{self.path}: has no readings of a tub named {was!r}; nothing was written")
            number = put_down(connection, tub)
            if old is not None and old[0] != number:
                before = last_change(connection, old[0])
                later = "UPDATE entry SET batch = batch + ?, gone = gone + ? WHERE tub = ?"
                connection.execute(later, (before, before, number))
                connection.execute("UPDATE entry SET tub = ? WHERE tub = ?", (number, old[0]))
                connection.execute("DELETE FROM tub WHERE id = ?", old)
            return len(rows_of(connection, number))

    def undo(self, tub: str | KnownAs) -> Undone:
        """Undo the last change of a tub: what one ``add`` or one ``rewrite`` did.

        Parameters
        ----------
        tub : str or KnownAs
            Its name, or all it is known by.

        Returns
        -------
        Undone
            What is out again and what is back.

        Raises
        ------
        InputError
            If it cannot be written.
        """
        with self._told():
            if self._found() is None:
                return Undone()
        with self._writing() as connection:
            number = tub_number(connection, tub)
            change = last_change(connection, number)
            out, back = (rows_of(connection, number, f"{column} = ?", change) for column in ("batch", "gone"))
            connection.executemany("DELETE FROM entry WHERE id = ?", [row[:1] for row in out])
            connection.executemany("UPDATE entry SET gone = NULL WHERE id = ?", [row[:1] for row in back])
            return Undone(taken_out=self._readings(out), brought_back=self._readings(back))

    def _readings(self, rows: Iterable[Row]) -> tuple[Reading, ...]:
        return tuple(reading_of(*row[2:], where=f"{self.path}, entry {row[0]}") for row in rows)

    def _insert(
        self, connection: sqlite3.Connection, number: int, change: int, new: Iterable[Reading]
    ) -> tuple[int, ...]:
        entry = "INSERT INTO entry (tub, batch, at_utc, at_text, kind, value, note) VALUES (?, ?, ?, ?, ?, ?, ?)"
        rows = ((number, change, microseconds(reading), *cells(reading)) for reading in new)
        made = tuple(connection.execute(entry, row).lastrowid or 0 for row in rows)
        (count,) = connection.execute("SELECT count(*) FROM entry WHERE tub = ? AND gone IS NULL", (number,)).fetchone()
        if count > MOST_READINGS:
            raise InputError(f"{self.path}: a tub has at most {MOST_READINGS} readings, got {count}; none was written")
        return made

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """Open a transaction that is kept whole or not at all."""
        with self._told(), _transaction(self._found() or self._created()) as connection:
            yield connection

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Say in plain words what the file or its disk refuses."""
        try:
            yield
        except sqlite3.DatabaseError as error:
            reason = _NOT_DONE.get(getattr(error, "sqlite_errorcode", 0) & 0xFF)
            if reason is None:
                raise
            raise InputError(f"{self.path}: {reason}") from None
        except OSError as error:
            known = {errno.ENOSPC: _FULL, errno.ENOENT: "there is no such folder; nothing was written"}
            other = f"cannot be opened or made ({error.strerror}); nothing was written"
            raise InputError(f"{self.path}: {known.get(error.errno or 0, other)}") from None

    def _found(self) -> sqlite3.Connection | None:
        """Return the connection, None while there is no file."""
        if self._connection is None:
            try:
                found = self.path.stat()
            except FileNotFoundError:
                return None
            if not stat.S_ISREG(found.st_mode):
                what = "is a folder, not a file" if stat.S_ISDIR(found.st_mode) else "is no ordinary file"
                raise InputError(f"{self.path}: {what}")
            if not found.st_size:  # not even a new one is: see _created
                raise InputError(f"{self.path}: {_NO_LOGBOOK}")
            self._connection = self._opened()
        return self._connection

    def _opened(self) -> sqlite3.Connection:
        with closing(_connect(self.path, "mode=ro&immutable=1")) as look:  # leaves even a stranger's journal alone
            look.execute("PRAGMA writable_schema = ON")  # or a size that its journal will set right passes for damage
            if _number(look, "application_id") != _APPLICATION:
                raise InputError(f"{self.path}: {_NO_LOGBOOK}")
        connection = _connect(self.path, "mode=rw")
        try:
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute("PRAGMA synchronous = FULL")
            self._check(connection)
            connection.execute("PRAGMA journal_mode = DELETE")
            _migrate(connection)
        except BaseException:
            connection.close()
            raise
        return connection

    def _check(self, connection: sqlite3.Connection) -> None:
        """Refuse a file of a newer version and a damaged one; the lock keeps others from writing meanwhile."""
        connection.execute("BEGIN")
        sound = connection.execute("PRAGMA integrity_check(1)").fetchone() == ("ok",)
        sound = sound and connection.execute("PRAGMA foreign_key_check").fetchone() is None
        whole = _number(connection, "page_count") * _number(connection, "page_size") == self.path.stat().st_size
        version = _number(connection, "user_version")
        connection.execute("ROLLBACK")
        if version > len(_MIGRATIONS):
            raise InputError(f"{self.path}: {_NEWER.format(version, len(_MIGRATIONS))}")
        if not sound or not whole:
            raise InputError(f"{self.path}: {_DAMAGED}")

    def _created(self) -> sqlite3.Connection:
        """Make the file whole in one step, so that neither a crash nor another writer ever sees a part of it."""
        if self.path.parent == _usual_folder():
            self.path.parent.mkdir(parents=True, exist_ok=True)
        with TemporaryDirectory(dir=self.path.parent, prefix=".logbook-") as beside:
            fresh = Path(beside) / "fresh.sqlite"
            with closing(sqlite3.connect(fresh, isolation_level=None)) as connection:
                connection.execute(f"PRAGMA application_id = {_APPLICATION}")
                _migrate(connection)
                connection.execute("VACUUM")  # no page is left that a check would not look at
            with suppress(FileExistsError):  # another writer was quicker
                put_new(fresh, self.path)
        self._connection = self._opened()
        return self._connection


def _connect(path: Path, how: str) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.absolute().as_uri()}?{how}", uri=True, timeout=_BUSY_S, isolation_level=None)


@contextmanager
def _transaction(connection: sqlite3.Connection) -> Iterator[sqlite3.Connection]:
    """Keep what is done whole or not at all."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield connection
        connection.execute("COMMIT")
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def _number(connection: sqlite3.Connection, pragma: str) -> int:
    return int(connection.execute(f"PRAGMA {pragma}").fetchone()[0])


def _migrate(connection: sqlite3.Connection) -> None:
    """Bring a file to the newest version, whole or not at all."""
    if _number(connection, "user_version") < len(_MIGRATIONS):
        with _transaction(connection):
            for statement in chain(*_MIGRATIONS[_number(connection, "user_version") :]):
                connection.execute(statement)
            connection.execute(f"PRAGMA user_version = {len(_MIGRATIONS)}")
