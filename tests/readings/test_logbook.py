"""The logbook: what was acknowledged is there, whatever happens; damaged files are told and left alone."""

import errno
import json
import os
import random
import shutil
import signal
import sqlite3
import struct
import subprocess
import sys
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from command import Done, run
from hypothesis import given, settings
from hypothesis import strategies as st
from logbooks import HOSTILE, READINGS, TUB, crash, is_sound, listed, rows_of, start
from studies import EVERYTHING, SHORT

from filtration.base.errors import InputError
from filtration.readings import logbook
from filtration.readings.csv_file import load_readings, readings_to_csv
from filtration.readings.logbook import Logbook, Undone, logbook_path
from filtration.readings.logbook_tables import KnownAs
from filtration.readings.reading import Reading, cells, reading_of

FLOW = reading_of("2026-03-03T18:30+01:00", "flow", "22 L/min", "clear", where="row")
RINSE = reading_of("2026-03-04T08:00Z", "rinse", where="row")
USES = reading_of("2026-03-05T08:00Z", "uses", "9", where="row")
THREE = (FLOW, RINSE, USES)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return where a logbook may be made."""
    return tmp_path / "book.sqlite"


def made(path: Path, readings: Sequence[Reading] = THREE) -> bytes:
    """Make a logbook and return its bytes."""
    with Logbook(path) as book:
        book.add(TUB, readings)
    return path.read_bytes()


# ---- adding, listing, undoing ----------------------------------------------------------------------------------


def test_in_order_of_time_and_of_adding(path: Path) -> None:
    """By the instant, not by the clock on the wall; equal times as they came; tubs apart."""
    early = reading_of("2026-03-04T08:30+02:00", "soak", where="row")
    again = reading_of("2026-03-04T09:00+01:00", "water", where="row")
    with Logbook(path) as book:
        first = book.add(TUB, [USES, RINSE])
        second = book.add(TUB, [again, early, FLOW])
        book.add("Other", [RINSE])
        assert len({*first, *second}) == 5
        assert rows_of(book.list(TUB)) == rows_of((FLOW, early, RINSE, again, USES))
        assert rows_of(book.list("Other")) == rows_of((RINSE,))
        assert book.list("None") == ()


def test_undo_takes_out_one_change_of_one_tub(path: Path) -> None:
    with Logbook(path) as book:
        book.add(TUB, [FLOW])
        book.add(TUB, [RINSE, USES])
        book.add("Other", [RINSE])
        assert book.undo(TUB) == Undone(taken_out=(RINSE, USES))
        assert book.list(TUB) == (FLOW,)
        assert book.undo(TUB) == Undone(taken_out=(FLOW,))
        assert book.undo(TUB) == Undone()
        assert book.undo("None") == Undone()
        assert book.list("Other") == (RINSE,)


def test_nothing_is_made_before_something_is_added(path: Path) -> None:
    with Logbook(path) as book:
        assert book.list(TUB) == ()
        assert book.undo(TUB) == Undone()
        assert not path.exists()
        made(path)
        assert book.list(TUB) == THREE  # another made it meanwhile


def test_known_rows_are_skipped_as_often_as_they_are_there(path: Path) -> None:
    with Logbook(path) as book:
        assert len(book.add(TUB, [FLOW, RINSE, RINSE])) == 3
        assert len(book.add(TUB, [FLOW, RINSE, RINSE, RINSE, USES], skip_known=True)) == 2
        assert book.list(TUB) == (FLOW, RINSE, RINSE, RINSE, USES)
        assert book.add(TUB, book.list(TUB), skip_known=True) == ()
        assert len(book.add("Other", [FLOW], skip_known=True)) == 1


def test_an_equal_time_of_another_offset_is_another_row(path: Path) -> None:
    other = reading_of("2026-03-04T09:00+01:00", "rinse", where="row")
    assert other == RINSE
    with Logbook(path) as book:
        book.add(TUB, [RINSE])
        assert len(book.add(TUB, [other], skip_known=True)) == 1
        assert rows_of(book.list(TUB)) == rows_of((RINSE, other))


def test_all_or_none(path: Path) -> None:
    """A row the schema refuses takes the good ones with it; only a fault of ours could bring one."""
    made(path, [FLOW])
    bad = Reading(when=datetime(2026, 3, 4, tzinfo=UTC), kind="rinse", value="x")
    with Logbook(path) as book:
        with pytest.raises(sqlite3.IntegrityError):
            book.add(TUB, [RINSE, bad])
        with pytest.raises(sqlite3.IntegrityError):
            book.rewrite(TUB, [RINSE, bad])
        assert book.list(TUB) == (FLOW,)
        book.add(TUB, [USES])
    assert listed(path) == (FLOW, USES)


@pytest.mark.parametrize(
    ("at", "kind", "value", "note"),
    [
        ("2026-03-03T18:30:00+01:00", "flwo", "22 L/min", ""),
        ("2026-03-03T18:30:00+01:00", "flow", "", ""),
        ("2026-03-03T18:30:00+01:00", "flow", "fast", ""),
        ("2026-03-03T18:30:00+01:00", "bucket", "10 L", ""),
        ("2026-03-03T18:30:00+01:00", "bought", "Pleated 20", ""),
        ("2026-03-03T18:30:00+01:00", "fitted", "", ""),
        ("2026-03-03T18:30:00+01:00", "soak", "1", ""),
        ("2026-03-03T18:30:00+01:00", "note", "", ""),
        ("2026-03-03T18:30:00+01:00", "note", "", "x" * 2001),
        ("2026-03-03", "rinse", "", ""),
        (7, "rinse", "", ""),
        (None, "rinse", "", ""),
    ],
)
def test_the_schema_refuses_what_is_no_reading(path: Path, at: object, kind: str, value: str, note: str) -> None:
    made(path)
    entry = "INSERT INTO entry (tub, batch, at_utc, at_text, kind, value, note) VALUES (1, 1, 0, ?, ?, ?, ?)"
    with closing(sqlite3.connect(path)) as connection, pytest.raises(sqlite3.IntegrityError):
        connection.execute(entry, (at, kind, value, note))


def test_a_tub_has_so_many_readings(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logbook, "MOST_READINGS", 3)
    made(path)
    with (
        Logbook(path) as book,
        pytest.raises(InputError, match="a tub has at most 3 readings, got 4; none was written"),
    ):
        book.add(TUB, [FLOW])
    assert listed(path) == THREE


# ---- rewriting ---------------------------------------------------------------------------------------------------


def test_rewriting_is_one_change_that_can_be_undone(path: Path) -> None:
    changed = reading_of("2026-03-04T08:00Z", "soak", where="row")
    made(path)
    with Logbook(path) as book:
        book.rewrite(TUB, [changed, FLOW])
        assert book.list(TUB) == (FLOW, changed)
        assert book.undo(TUB) == Undone(taken_out=(changed,), brought_back=(RINSE, USES))
        assert book.list(TUB) == THREE
        book.rewrite(TUB, [])
        assert book.list(TUB) == ()
        assert book.undo(TUB) == Undone(brought_back=THREE)
        assert book.undo(TUB) == Undone(taken_out=THREE)


@given(st.lists(st.lists(st.sampled_from([FLOW, RINSE, USES]) | READINGS, max_size=5), min_size=1, max_size=4))
@settings(max_examples=25, deadline=None)
def test_rewriting_gives_what_was_asked_and_undoing_what_was(
    tmp_path_factory: pytest.TempPathFactory, books: list[list[Reading]]
) -> None:
    """Whatever stood there: the readings asked for in order of time, equal times as asked; undone step by step."""
    path = tmp_path_factory.mktemp("book") / "book.sqlite"
    seen: list[list[tuple[str, ...]]] = [[]]
    with Logbook(path) as book:
        for readings in books:
            book.rewrite(TUB, readings)
            wanted = rows_of(tuple(sorted(readings, key=lambda reading: reading.when)))
            assert rows_of(book.list(TUB)) == wanted
            if wanted != seen[-1]:
                seen.append(wanted)
        while len(seen) > 1:
            book.undo(TUB)
            seen.pop()
            assert rows_of(book.list(TUB)) == seen[-1]


# ---- out and in again --------------------------------------------------------------------------------------------


@given(st.lists(READINGS, max_size=8))
@settings(max_examples=25, deadline=None)
def test_export_then_import_gives_the_same_book(
    tmp_path_factory: pytest.TempPathFactory, readings: list[Reading]
) -> None:
    folder = tmp_path_factory.mktemp("book")
    with Logbook(folder / "one.sqlite") as one, Logbook(folder / "other.sqlite") as other:
        one.add(TUB, readings)
        readings_to_csv(one.list(TUB), folder / "out.csv")
        other.add(TUB, load_readings(folder / "out.csv"), skip_known=True)
        assert rows_of(other.list(TUB)) == rows_of(one.list(TUB))
        assert sorted(rows_of(one.list(TUB))) == sorted(rows_of(tuple(readings)))
        assert one.add(TUB, load_readings(folder / "out.csv"), skip_known=True) == ()


def test_hostile_names_and_notes(path: Path) -> None:
    """Text is text: as the tub's name, too."""
    notes = [reading_of("2026-03-03T18:30Z", "rinse", "", note, where="row") for note in HOSTILE]
    names = [text for text in HOSTILE if len(text) <= 200]
    with Logbook(path) as book:
        book.add(TUB, notes)
        for name in names:
            book.add(name, [FLOW])
        assert rows_of(book.list(TUB)) == rows_of(tuple(notes))
        assert [len(book.list(name)) for name in names] == [1] * len(names)
    assert is_sound(path)


def test_a_plain_copy_is_a_backup(path: Path, tmp_path: Path) -> None:
    made(path)
    shutil.copy(path, tmp_path / "copy.sqlite")
    made(path, [FLOW])
    assert listed(tmp_path / "copy.sqlite") == THREE


# ---- how it is kept ----------------------------------------------------------------------------------------------


def test_rollback_journal_full_sync_and_strict_tables(path: Path) -> None:
    made(path)
    with Logbook(path) as book:
        assert book._connection is not None
        asked = {
            name: book._connection.execute(f"PRAGMA {name}").fetchone()[0] for name in ("journal_mode", "synchronous")
        }
        assert asked == {"journal_mode": "delete", "synchronous": 2}  # 2 is FULL: sqlite.org/pragma.html
        schema = [sql for (sql,) in book._connection.execute("SELECT sql FROM sqlite_schema WHERE type = 'table'")]
    assert [sql.split()[2] for sql in schema] == ["tub", "entry"]
    assert all(sql.rstrip().endswith("STRICT") for sql in schema)


def test_an_older_file_is_brought_up_with_all_it_holds(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made(path)
    monkeypatch.setattr(logbook, "_MIGRATIONS", (*logbook._MIGRATIONS, ("ALTER TABLE tub ADD COLUMN place TEXT",)))
    assert listed(path) == THREE
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (3,)
        assert connection.execute("SELECT name, place FROM tub").fetchall() == [(TUB, None)]


def test_a_migration_that_fails_leaves_the_file_as_it_was(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = made(path)
    bad = ("ALTER TABLE tub ADD COLUMN place TEXT", "NO STATEMENT")
    with monkeypatch.context() as patch:
        patch.setattr(logbook, "_MIGRATIONS", (*logbook._MIGRATIONS, bad))
        with pytest.raises(InputError, match="is damaged; it was left as it is"):
            Logbook(path)
    assert listed(path) == THREE
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (2,)
    assert len(path.read_bytes()) == len(before)


def test_a_newer_file_is_left_alone(path: Path) -> None:
    made(path)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA user_version = 3")
    told = "is of version 3, made by a newer version of this program, which knows up to 2; it was left as it is"
    refused(path, told)


def test_an_old_sqlite_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 36, 0))
    with pytest.raises(InputError, match=r"^a logbook needs SQLite 3.37 or newer, this Python has "):
        Logbook(path)


def test_where_it_lies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What its owner says, or else the environment, or else the place the XDG base directories name."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.delenv("FILTRATION_LOGBOOK", raising=False)
    usual = tmp_path / "filtration" / "logbook.sqlite"
    if sys.platform == "linux":
        assert logbook_path() == usual
        made(logbook_path())
        assert listed(usual) == THREE
    monkeypatch.setenv("FILTRATION_LOGBOOK", str(tmp_path / "mine"))
    assert logbook_path() == tmp_path / "mine"
    assert logbook_path("here.sqlite") == Path("here.sqlite")


# ---- damaged, foreign, newer -------------------------------------------------------------------------------------


def refused(path: Path, told: str) -> None:
    """Whatever is asked of it, the file is told of and left as it is, byte for byte, with nothing beside it."""
    before, beside = path.read_bytes(), sorted(path.parent.iterdir())
    for _ in range(2):
        with pytest.raises(InputError) as error, Logbook(path) as book:
            book.add(TUB, [FLOW])
        assert str(error.value).startswith(f"{path}: {told}")
        assert (path.read_bytes(), sorted(path.parent.iterdir())) == (before, beside)


def _noise(size: int) -> bytes:
    return random.Random(5).randbytes(size)


DAMAGED = "is damaged; it was left as it is, put a good copy in its place"
NO_LOGBOOK = "is no logbook, or is damaged; it was left as it is, name another file or put a good copy in its place"
DAMAGES: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "empty": (lambda _: b"", NO_LOGBOOK),
    "nothing but zeros": (lambda data: bytes(len(data)), NO_LOGBOOK),
    "noise": (lambda data: _noise(len(data)), NO_LOGBOOK),
    "text": (lambda _: b"when,kind,value,note\n", NO_LOGBOOK),
    "a picture": (lambda _: b"\x89PNG\r\n\x1a\n" + _noise(5000), NO_LOGBOOK),
    "the first byte alone": (lambda data: data[:1], NO_LOGBOOK),
    "half a header": (lambda data: data[:50], NO_LOGBOOK),
    "a header": (lambda data: data[:100], DAMAGED),
    "the first page": (lambda data: data[:4096], DAMAGED),
    "half": (lambda data: data[: len(data) // 2], DAMAGED),
    "the last page lost": (lambda data: data[:-4096], DAMAGED),
    "the last ten bytes lost": (lambda data: data[:-10], DAMAGED),
    "a header, then noise": (lambda data: data[:100] + _noise(len(data) - 100), DAMAGED),
    "a page of noise": (lambda data: data[:8192] + _noise(4096) + data[12288:], DAMAGED),
    "more at the end": (lambda data: data + b"more", DAMAGED),
}


@pytest.mark.parametrize(("damage", "told"), DAMAGES.values(), ids=DAMAGES)
def test_a_damaged_file_is_left_alone(path: Path, damage: Callable[[bytes], bytes], told: str) -> None:
    path.write_bytes(damage(made(path)))
    refused(path, told)


def test_another_programs_file_is_left_alone_with_its_journal(path: Path) -> None:
    """Nor are its half-done changes rolled back, which is that program's to do."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE entry (x)")
        connection.commit()
    path.with_name("book.sqlite-journal").write_bytes(_noise(2000))
    refused(path, NO_LOGBOOK)


def test_our_mark_on_other_tables(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA application_id = {logbook._APPLICATION}")
        connection.execute("PRAGMA user_version = 1")
        connection.execute("CREATE TABLE entry (x)")
        connection.commit()
    refused(path, DAMAGED)


def test_an_entry_that_is_no_reading_is_told(path: Path) -> None:
    made(path)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE entry SET value = '22 furlong' WHERE kind = 'flow'")
        connection.commit()
    with pytest.raises(InputError) as error:
        listed(path)
    told = f"{path}, entry 1, flow: needs a flow such as '22 L/min', got '22 furlong'; units of flow are "
    assert str(error.value).startswith(told)


@pytest.mark.parametrize(
    ("place", "told"),
    [
        (".", r": is a folder, not a file$"),
        ("none/book.sqlite", r": there is no such folder; nothing was written$"),
        ("/dev/null", r"^/dev/null: is no ordinary file$"),
        ("file/book.sqlite", r": cannot be opened or made \(Not a directory\); nothing was written$"),
    ],
)
def test_what_is_no_place_for_a_file(tmp_path: Path, place: str, told: str) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(InputError, match=told), Logbook(tmp_path / place) as book:
        book.add(TUB, THREE)
    assert [each.name for each in tmp_path.iterdir()] == ["file"]


# ---- full disks, forbidden folders, busy files -------------------------------------------------------------------


def test_a_full_disk_takes_nothing_in_part(path: Path) -> None:
    """The file may not grow by a page: what does not fit is refused whole, and what was there stays."""
    made(path)
    long = [reading_of("2026-03-06", "note", "", "x" * 2000, where="row")] * 20
    with Logbook(path) as book:
        assert book._connection is not None
        pages = book._connection.execute("PRAGMA page_count").fetchone()[0]
        book._connection.execute(f"PRAGMA max_page_count = {pages + 2}")
        for change in (book.add, book.rewrite):
            with pytest.raises(InputError) as error:
                change(TUB, long)
            assert str(error.value) == f"{path}: the disk is full; nothing was written"
            assert book.list(TUB) == THREE
        book.add(TUB, [FLOW])  # a small one still fits
    assert listed(path) == (FLOW, *THREE)
    assert is_sound(path)


def test_a_write_that_the_system_cuts_short(path: Path) -> None:
    """The system itself refuses to let the file grow in the middle of a change; all that was acknowledged is there."""
    code = (
        "import resource, signal, sys\nfrom filtration.base.errors import InputError\n"
        "from filtration.readings.logbook import Logbook\nfrom filtration.readings.reading import reading_of\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000))\n"
        "with Logbook(sys.argv[1]) as book:\n"
        "    for number in range(100):\n"
        "        row = reading_of('2026-03-06', 'note', '', f'{number} ' + 'x' * 1990, where='row')\n"
        "        book.add('North tub', [row])\n"
        "        print(number, flush=True)\n"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=False)
    assert f"InputError: {path}: the disk failed or is full; nothing was written" in done.stderr
    acknowledged = done.stdout.split()
    assert 5 < len(acknowledged) < 100
    assert [reading.note.split()[0] for reading in listed(path)] == acknowledged
    assert is_sound(path)


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (errno.ENOSPC, "the disk is full; nothing was written"),
        (errno.EACCES, "cannot be opened or made (Permission denied); nothing was written"),
        (errno.EROFS, "cannot be opened or made (Read-only file system); nothing was written"),
    ],
)
def test_a_folder_that_takes_no_new_file(path: Path, monkeypatch: pytest.MonkeyPatch, number: int, told: str) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "mkdir", refuse)
    with Logbook(path) as book, pytest.raises(InputError) as error:
        book.add(TUB, THREE)
    assert str(error.value) == f"{path}: {told}"
    assert list(path.parent.iterdir()) == []


def test_a_file_that_may_only_be_read(path: Path) -> None:
    made(path)
    with Logbook(path) as book:
        assert book._connection is not None
        book._connection.execute("PRAGMA query_only = ON")
        with pytest.raises(InputError) as error:
            book.add(TUB, [FLOW])
        assert str(error.value) == f"{path}: may not be written; see the permissions of the file; nothing was written"
        assert book.list(TUB) == THREE


def test_a_folder_that_takes_no_journal(path: Path) -> None:
    """Without its journal nothing is written: here its name leads to a folder that is not there."""
    before = made(path)
    with Logbook(path) as book:
        path.with_name("book.sqlite-journal").symlink_to("none/journal")
        with pytest.raises(InputError) as error:
            book.add(TUB, [FLOW])
    told = "cannot be opened; see the permissions of the file and its folder; nothing was written"
    assert str(error.value) == f"{path}: {told}"
    assert path.read_bytes() == before


def test_another_writer_makes_the_file_first(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Between the moment we find none and the moment ours is ready; both books are one."""
    put = logbook.put_new

    def late(fresh: Path, target: Path) -> None:
        monkeypatch.setattr(logbook, "put_new", put)
        made(path)
        put(fresh, target)

    monkeypatch.setattr(logbook, "put_new", late)
    with Logbook(path) as book:
        book.add(TUB, [FLOW])
    assert listed(path) == (FLOW, *THREE)
    assert list(path.parent.iterdir()) == [path]


def test_a_disk_without_links(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The new file then takes its name first, and still never over another."""

    def refuse(*_: object) -> None:
        raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", refuse)
    made(path)
    assert listed(path) == THREE
    copy = path.with_name("copy.sqlite")
    copy.write_bytes(b"")
    with pytest.raises(FileExistsError):
        logbook.put_new(copy, path)
    assert listed(path) == THREE


def test_a_busy_file(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logbook, "_BUSY_S", 0.05)
    made(path)
    told = f"{path}: another program keeps it in use; nothing was written, try again"
    with Logbook(path) as book, closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert book.list(TUB) == THREE
        with pytest.raises(InputError) as error:
            book.add(TUB, [FLOW])
        assert str(error.value) == told
        other.execute("ROLLBACK")
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(InputError) as error:
            Logbook(path)
        assert str(error.value) == told
        other.execute("ROLLBACK")
        book.add(TUB, [FLOW])
    assert listed(path) == (FLOW, *THREE)


# ---- two writers, and writers that are killed --------------------------------------------------------------------


def test_two_writers_lose_nothing(path: Path) -> None:
    """Fifty additions each, from the first moment of the file on; each addition stays together."""
    writers = [start(path, name, 50) for name in ("a", "b")]
    acknowledged = [writer.communicate()[0].split() for writer in writers]
    assert acknowledged == [[str(number) for number in range(50)]] * 2
    notes = [reading.note for reading in listed(path)]
    assert sorted(notes) == sorted(
        f"{name} {number} {part}" for name in "ab" for number in range(50) for part in range(3)
    )
    assert all(notes[at][:-1] == notes[at + 2][:-1] for at in range(0, len(notes), 3))
    assert [each.name for each in path.parent.iterdir()] == ["book.sqlite"]
    assert is_sound(path)


@pytest.mark.parametrize("seed", range(10))
def test_what_was_acknowledged_survives_a_kill(path: Path, seed: int) -> None:
    assert crash(path, seed).wrong == ()
    with Logbook(path) as book:
        before = book.list(TUB)
        book.add(TUB, [USES])
        assert rows_of(book.list(TUB)) == [*rows_of(before), cells(USES)]


def test_a_change_cut_short_is_rolled_back(path: Path) -> None:
    """Killed with the file half written and its journal there, as SQLite spills when its cache is full."""
    made(path)
    code = (
        "import os, signal, sys\nfrom filtration.readings.logbook import Logbook\n"
        "from filtration.readings.reading import reading_of\n"
        "row = reading_of('2026-03-06', 'note', '', 'x' * 2000, where='row')\n"
        "def rows():\n    yield from [row] * 200\n    os.kill(os.getpid(), signal.SIGKILL)\n"
        "with Logbook(sys.argv[1]) as book:\n    book._connection.execute('PRAGMA cache_size = 1')\n"
        "    with book._writing() as connection:\n        book._insert(connection, 1, 9, rows())\n"
    )
    before = path.read_bytes()
    done = subprocess.run([sys.executable, "-c", code, str(path)], check=False)
    assert done.returncode == -signal.SIGKILL
    assert path.read_bytes() != before
    assert listed(path) == THREE
    assert is_sound(path)


def test_a_size_ahead_of_the_file_is_set_right_by_the_journal(path: Path) -> None:
    """Killed as the file grows: its first page says the new size, and the last pages are not written yet.

    Made by hand after SQLite's file format: size in pages at byte 28, which counts where the numbers at 24 and 92 are
    alike; a rollback journal of one page, with its checksum.
    """
    made(path)
    before = path.read_bytes()
    size, nonce = int.from_bytes(before[16:18], "big"), 7
    first, pages = before[:size], len(before) // size
    checksum = nonce + sum(first[at] for at in range(size - 200, 0, -200))
    header = bytes.fromhex("d9d505f920a163d7") + struct.pack(">5I", 1, nonce, pages, 512, size)
    journal = header.ljust(512, b"\0") + struct.pack(">I", 1) + first + struct.pack(">I", checksum)
    path.with_name(f"{path.name}-journal").write_bytes(journal)
    grown = bytearray(before)
    grown[28:32] = struct.pack(">I", pages + 5)
    grown[92:96] = grown[24:28]
    path.write_bytes(grown)
    assert listed(path) == THREE
    assert is_sound(path)
    assert path.read_bytes() == before


# ---- the commands ------------------------------------------------------------------------------------------------


@pytest.fixture
def log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Done]:
    """Run a command of the logbook on the short study, in a logbook of its own."""
    study = tmp_path / "study.toml"
    study.write_text(SHORT, encoding="utf-8")
    monkeypatch.setenv("FILTRATION_LOGBOOK", str(tmp_path / "book.sqlite"))
    return lambda command, *words: run("log", command, str(study), *words)


def rows(log: Callable[..., Done]) -> list[list[str]]:
    """Return what is listed as JSON, row by row as in a CSV file."""
    document = json.loads(log("list", "--json").stdout, parse_constant=pytest.fail)
    return [[row["when"], row["kind"], row["value"], row["note"]] for row in document["readings"]]


AT = ("--when", "2026-03-03T18:30+01:00")
AT_TEXT = "2026-03-03T18:30:00+01:00"
ADDED: list[tuple[tuple[str, ...], list[list[str]], str]] = [
    (("--flow", "22 L/min"), [["flow", "22 L/min", ""]], "flow 22 L/min"),
    (("--bucket", "10 L", "--seconds", "27.4"), [["bucket", "10 L in 27.4 s", ""]], "bucket 10 L in 27.4 s"),
    (
        ("--flow", "22 L/min", "--bucket", "10 L", "--seconds", "27", "--column", "8 cm", "--without-element"),
        [
            ["flow", "22 L/min without element", ""],
            ["bucket", "10 L in 27 s without element", ""],
            ["column", "8 cm without element", ""],
        ],
        "flow 22 L/min without element; bucket 10 L in 27 s without element; column 8 cm without element",
    ),
    (
        ("--column", "30 cm", "--without-element", "--uses", "3"),
        [["column", "30 cm without element", ""], ["uses", "3", ""]],
        "column 30 cm without element; uses 3",
    ),
    (("--pressure", "11 kPa"), [["pressure", "11 kPa", ""]], "pressure 11 kPa"),
    (
        ("--pressure", "3 kPa", "--without-element"),
        [["pressure", "3 kPa without element", ""]],
        "pressure 3 kPa without element",
    ),
    (("--see-through", "3 m"), [["see-through", "3 m", ""]], "see-through 3 m"),
    (
        ("--rinsed", "--soaked", "--water-changed", "--note", "two\nlines"),
        [["rinse", "", "two\nlines"], ["soak", "", ""], ["water", "", ""]],
        "rinsed (two lines); soaked; water changed",
    ),
    (("--replaced", "pleated-20"), [["replace", "pleated-20", ""]], "replaced pleated-20"),
    (("--fitted", "pleated 20"), [["fitted", "pleated-20", ""]], "fitted pleated-20"),
    (("--bought", "2 Pleated 20"), [["bought", "2 Pleated 20", ""]], "bought 2 Pleated 20"),
    (("--uses", "9"), [["uses", "9", ""]], "uses 9"),
    (("--note", "=1+1"), [["note", "", "=1+1"]], "note: =1+1"),
]


@pytest.mark.parametrize(("words", "added", "told"), ADDED, ids=[told for *_, told in ADDED])
def test_add(
    log: Callable[..., Done], tmp_path: Path, words: tuple[str, ...], added: list[list[str]], told: str
) -> None:
    """What is said is what is there; 3 March 2026 is a Tuesday."""
    done = log("add", *words, *AT)
    day = "Tue 3 Mar 2026 18:30 (+01:00)"
    assert (done.returncode, done.stdout) == (0, "")
    assert done.stderr == f"Logged: {told}, {day}. Logbook: {tmp_path / 'book.sqlite'}\n"
    assert rows(log) == [[AT_TEXT, *row] for row in added]
    assert log("list").stdout.startswith(f"{day}: {told.split(';', maxsplit=1)[0]}")


FAULTS: list[tuple[tuple[str, ...], list[str]]] = [
    (
        (),
        ["log add: nothing to add; give one or more of --flow, --bucket with --seconds, --column, --pressure, --see-"],
    ),
    (("--bucket", "10 L"), ["log add: --bucket and --seconds go together; one of them is missing"]),
    (("--seconds", "9"), ["log add: --bucket and --seconds go together; one of them is missing"]),
    (("--bucket", "10 L", "--seconds", "9 s"), ["log add, bucket: needs a time such as '27.4 s', got '9 s s'"]),
    (
        ("--rinsed", "--without-element"),
        ["log add: --without-element goes with --flow, --bucket, --column or --pressure"],
    ),
    (("--without-element",), ["log add: --without-element goes with --flow, --bucket, --column or --pressure"]),
    (("--flow", "22"), ["log add, flow: needs a flow such as '22 L/min', got '22' without a unit"]),
    (("--flow", ""), ["log add, flow: needs a flow such as '22 L/min' (one plain number"]),
    (("--flow", "-3 L/min"), ["log add, flow: must be 1 L/h to 1000 m^3/h, got '-3 L/min'"]),
    (
        ("--replaced", "pleatd-20"),
        ["log add, replace: no option has the id or name 'pleatd-20'; the nearest is 'pleated-20'"],
    ),
    (("--replaced", "", *AT), [f"{AT_TEXT}, replace: names no option, and no earlier row or [in_use] does"]),
    (("--fitted", ""), ["log add, fitted: needs the id or name of the option that was fitted, such as 'pleated-20'"]),
    (
        ("--bought", "some"),
        ["log add, bought: needs how many, 1 to 1000, and of which element, such as '2 Pleated 20', got 'some'"],
    ),
    (("--note", " "), ["log add, note: needs a text, got none"]),
    (("--note", "x" * 2001), ["log add, note: must be at most 2000 characters long, got 2001"]),
    (("--rinsed", "--when", "noon"), ["log add, when: needs a day or a time such as '2026-03-03' or "]),
    (
        ("--bucket", "1 L", "--column", "8", "--uses", "x", "--rinsed", "--when", "2099-01-01"),
        [
            "log add: --bucket and --seconds go together; one of them is missing",
            "log add, column: needs a length such as '82 cm', got '8' without a unit",
            "log add, uses: needs a plain number of dips such as '9', got 'x'",
            "log add, when: must be at most a day ahead of now, got '2099-01-01'",
        ],
    ),
]


@pytest.mark.parametrize(("words", "told"), FAULTS, ids=range(len(FAULTS)))
def test_add_with_faults(log: Callable[..., Done], tmp_path: Path, words: tuple[str, ...], told: list[str]) -> None:
    """Every fault a line on the error stream, exit status 2, and nothing made."""
    done = log("add", *words)
    assert (done.returncode, done.stdout) == (2, "")
    lines = done.stderr.splitlines()
    assert len(lines) == len(told)
    assert all(line.startswith(start) for line, start in zip(lines, told, strict=True))
    assert not (tmp_path / "book.sqlite").exists()


def test_now_unless_told_and_a_day_ahead_at_most(log: Callable[..., Done]) -> None:
    before = datetime.now(UTC).replace(microsecond=0)
    assert log("add", "--rinsed").returncode == 0
    ((when, *_),) = rows(log)
    assert before <= datetime.fromisoformat(when) <= datetime.now(UTC)
    soon, late = ((datetime.now(UTC) + timedelta(hours=hours)).isoformat() for hours in (23.9, 25))
    assert log("add", "--rinsed", "--when", soon, "--anyway").returncode == 0
    done = log("add", "--rinsed", "--when", late)
    assert done.returncode == 2
    assert done.stderr == f"log add, when: must be at most a day ahead of now, got '{late}'\n"


def test_list_in_words_and_as_the_document(log: Callable[..., Done], tmp_path: Path) -> None:
    done = log("list")
    assert (done.returncode, done.stdout) == (0, "")
    assert done.stderr == f"No reading of North tub yet. Logbook: {tmp_path / 'book.sqlite'}\n"
    assert not (tmp_path / "book.sqlite").exists()
    log("add", "--bucket", "10 L", "--seconds", "25", "--rinsed", "--column", "1 m", *AT)
    assert log("list").stdout == (
        "Tue 3 Mar 2026 18:30 (+01:00): bucket 10 L in 25 s\n"
        "Tue 3 Mar 2026 18:30 (+01:00): column 1 m\n"
        "Tue 3 Mar 2026 18:30 (+01:00): rinsed\n"
    )
    document = json.loads(log("list", "--json").stdout)
    assert (document["format"], document["study"]) == (1, "North tub")
    bucket, column, rinse = document["readings"]
    assert bucket["flow_l_per_h"] == pytest.approx(1440.0)  # 10 L in 25 s, 3600 s an hour
    assert (bucket["bucket_l"], bucket["seconds"]) == (pytest.approx(10.0), pytest.approx(25.0))
    assert column["pressure_kpa"] == pytest.approx(9.80665)
    assert set(rinse) == set(bucket)
    assert [key for key, value in rinse.items() if value not in (None, "", False)] == ["when", "kind"]


def test_undo_says_what_is_out(log: Callable[..., Done], tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    assert log("undo").stderr == f"Nothing to undo: no reading of North tub. Logbook: {book}\n"
    log("add", "--flow", "22 L/min", *AT)
    log("add", "--rinsed", "--uses", "9", *AT)
    day = "Tue 3 Mar 2026 18:30 (+01:00)"
    done = log("undo")
    assert (done.returncode, done.stdout) == (0, "")
    assert done.stderr == f"Taken out: rinsed, {day}; uses 9, {day}. Logbook: {book}\n"
    assert rows(log) == [[AT_TEXT, "flow", "22 L/min", ""]]


def test_undo_of_many_and_of_a_rewrite(log: Callable[..., Done], tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    made(book, [RINSE] * 4)
    with Logbook(book) as open_book:
        open_book.rewrite(TUB, [FLOW])
    flow = "flow 22 L/min (clear), Tue 3 Mar 2026 18:30 (+01:00)"
    assert log("undo").stderr == f"Taken out: {flow}. Logbook: {book}\nBrought back: 4 readings. Logbook: {book}\n"
    assert log("undo").stderr == f"Taken out: 4 readings. Logbook: {book}\n"


def test_export_and_import(log: Callable[..., Done], tmp_path: Path) -> None:
    """All of an import is one change; what is there already is left out and counted."""
    book, out = tmp_path / "book.sqlite", tmp_path / "out.csv"
    log("add", "--flow", "22 L/min", "--note", "=1+1", *AT)
    log("add", "--rinsed", *AT)
    done = log("export", str(out))
    assert (done.returncode, done.stdout, done.stderr) == (0, "", f"Wrote 2 readings to {out}.\n")
    kept = out.read_bytes()
    at = AT_TEXT.encode()
    assert kept == b"when,kind,value,note\r\n%b,flow,22 L/min,'=1+1\r\n%b,rinse,,\r\n" % (at, at)
    done = log("export", str(out))
    assert (done.returncode, done.stderr) == (2, f"{out}: there is a file already; nothing was written\n")
    log("undo")
    assert log("import", str(out)).stderr == f"Imported 1 reading, 1 there already. Logbook: {book}\n"
    assert log("import", str(out)).stderr == f"Imported 0 readings, 2 there already. Logbook: {book}\n"
    assert log("export", str(out), "--force").returncode == 0
    assert out.read_bytes() == kept
    other = tmp_path / "other.sqlite"
    done = log("import", str(out), "--logbook", str(other))
    assert done.stderr == f"Imported 2 readings. Logbook: {other}\n"
    assert listed(other) == listed(book)


def test_an_import_with_a_fault_brings_nothing(log: Callable[..., Done], tmp_path: Path) -> None:
    table = tmp_path / "in.csv"
    table.write_text("when,kind,value\n2026-03-03,rinse,\n2026-03-03,flow,22\n2026-03-03,uses,x\n")
    done = log("import", str(table))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        "in.csv, line 3, flow: needs a flow such as '22 L/min', got '22' without a unit\n"
        "in.csv, line 4, uses: needs a plain number of dips such as '9', got 'x'\n"
    )
    assert not (tmp_path / "book.sqlite").exists()


@pytest.mark.parametrize("command", ["add", "list", "undo", "export", "import"])
def test_every_command_needs_a_study_with_a_name(tmp_path: Path, command: str) -> None:
    """And knows what help is; the logbook is not even looked at."""
    study = tmp_path / "study.toml"
    study.write_text(SHORT.replace('name = "North tub"\n', ""), encoding="utf-8")
    words = [str(tmp_path / "out.csv")] if command in ("export", "import") else []
    done = run("log", command, str(study), *words, "--logbook", str(tmp_path / "book.sqlite"))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "study.toml, name: is missing; needs a text in quotes\n"
    assert list(tmp_path.iterdir()) == [study]
    assert "Usage" in run("log", command, "--help").stdout


@pytest.mark.parametrize("command", ["add", "list", "undo", "export", "import"])
def test_every_command_tells_of_a_damaged_logbook(log: Callable[..., Done], tmp_path: Path, command: str) -> None:
    book = tmp_path / "book.sqlite"
    damaged = made(book)[:-4096]
    book.write_bytes(damaged)
    table = tmp_path / "in.csv"
    table.write_text("when,kind\n2026-03-03,rinse\n")
    words = {"add": ["--rinsed"], "export": [str(tmp_path / "out.csv")], "import": [str(table)]}.get(command, [])
    done = log(command, *words)
    assert (done.returncode, done.stdout, done.stderr) == (2, "", f"{book}: {DAMAGED}\n")
    assert book.read_bytes() == damaged
    assert not (tmp_path / "out.csv").exists()


def test_tubs_are_kept_apart_by_name(log: Callable[..., Done], tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    other.write_text(EVERYTHING, encoding="utf-8")
    log("add", "--rinsed", *AT)
    assert run("log", "add", str(other), "--fitted", "foam-then-pleated@Large", *AT).returncode == 0
    assert run("log", "list", str(other)).stdout == "Tue 3 Mar 2026 18:30 (+01:00): fitted foam-then-pleated@Large\n"
    assert [row[1] for row in rows(log)] == ["rinse"]


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_output_survives_any_terminal(log: Callable[..., Done], tmp_path: Path, encoding: str) -> None:
    note = "h\u00e4 \U0001f9ca \u05d0"
    assert log("add", "--note", note, *AT).returncode == 0
    for words in (("list",), ("add", "--note", note)):
        done = run("log", words[0], str(tmp_path / "study.toml"), *words[1:], encoding=encoding)
        assert done.returncode == 0
        assert "note: h" in done.stdout + done.stderr
        assert "Traceback" not in done.stderr


# ---- a tub's identity ----------------------------------------------------------------------------------------------

KNOWN = KnownAs(name="North tub", id="tub-1", litres=420.0)


def logged(study: Path, *words: str) -> Done:
    return run("log", words[0], str(study), *words[1:])


@pytest.fixture
def study(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a study file without an id, beside a logbook of its own."""
    monkeypatch.setenv("FILTRATION_LOGBOOK", str(tmp_path / "book.sqlite"))
    file = tmp_path / "study.toml"
    file.write_text("# mine\r\n" + SHORT.replace("\n", "\r\n"), encoding="utf-8", newline="")
    return file


def test_readings_hang_on_the_id_and_not_on_the_name(path: Path) -> None:
    made(path)
    with Logbook(path) as book:
        assert book.list(KNOWN) == THREE  # kept before ids were
        book.add(KNOWN, [FLOW])
        assert book.list(replace(KNOWN, name="South tub")) == (FLOW, *THREE)
        assert book.list(TUB) == ()  # they are the id's now
        assert book.list(replace(KNOWN, id="tub-2")) == ()
        book.add(replace(KNOWN, id="tub-2"), [RINSE])
        assert (len(book.list(KNOWN)), len(book.list(replace(KNOWN, id="tub-2")))) == (4, 1)


def test_renaming_takes_over_what_was_kept_under_an_older_name(path: Path) -> None:
    """Nothing is lost, and the changes can still be undone, the latest first."""
    made(path, [FLOW])
    south = KnownAs(name="South tub", id="tub-1", litres=420.0)
    with Logbook(path) as book:
        book.add(TUB, [USES])
        book.add(south, [RINSE])
        assert book.rename(south, TUB) == 3
        assert book.list(south) == THREE
        assert [tub.name for tub, _ in book.tubs()] == ["South tub"]
        assert [book.undo(south).taken_out for _ in range(4)] == [(RINSE,), (USES,), (FLOW,), ()]
        with pytest.raises(InputError, match="has no readings of a tub named 'East tub'; nothing was written"):
            book.rename(south, "East tub")


def test_an_older_logbook_is_carried_over(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One of the first version, by name, with a change taken back: rows, order and undo are as they were."""
    with monkeypatch.context() as patch:
        patch.setattr(logbook, "_MIGRATIONS", logbook._MIGRATIONS[:1])
        with Logbook(path) as book, closing(book._created()) as old:
            old.execute("BEGIN")
            old.execute("INSERT INTO tub (name) VALUES (?)", (TUB,))
            entry = "INSERT INTO entry (tub, batch, gone, at_utc, at_text, kind, value, note) VALUES (1, ?, ?, ?, "
            for batch, gone, reading in ((1, None, FLOW), (2, 3, RINSE), (3, None, USES)):
                old.execute(f"{entry}?, ?, ?, ?)", (batch, gone, int(1e6 * reading.when.timestamp()), *cells(reading)))
            old.execute("COMMIT")
            assert old.execute("PRAGMA user_version").fetchone() == (1,)
    with Logbook(path) as book:
        assert book.list(TUB) == (FLOW, USES)
        assert book.list(KNOWN) == (FLOW, USES)
        assert book.undo(KNOWN) == Undone(taken_out=(USES,), brought_back=(RINSE,))
        assert book.rename(KNOWN) == 2
    assert is_sound(path)


def test_the_first_add_gives_the_study_its_id(study: Path) -> None:
    """All else of the file is left as it was; a new name then changes nothing."""
    before = study.read_bytes()
    assert logged(study, "add", "--rinsed", *AT).returncode == 0
    first, _, rest = study.read_bytes().partition(b"\r\nid = ")
    assert first + rest[rest.index(b"\r\n") :] == before
    assert logged(study, "add", "--soaked", *AT).returncode == 0
    assert study.read_bytes().count(b"id = ") == 1
    study.write_bytes(study.read_bytes().replace(b"North tub", b"Southern tub"))
    assert json.loads(logged(study, "list", "--json").stdout)["id"].startswith("tub-")
    assert len(json.loads(logged(study, "list", "--json").stdout)["readings"]) == 2


def test_new_studies_share_no_readings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FILTRATION_LOGBOOK", str(tmp_path / "book.sqlite"))
    for name in ("one", "two"):
        assert run("new", str(tmp_path / f"{name}.toml"), "--demo", "barrel").returncode == 0
    logged(tmp_path / "one.toml", "add", "--note", "mine")
    assert "note: mine" in logged(tmp_path / "one.toml", "list").stdout
    assert logged(tmp_path / "two.toml", "list").stdout == ""


def test_rename_and_where_the_logbook_lies(study: Path, tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    made(book)
    study.write_bytes(study.read_bytes().replace(b"North tub", b"Southern tub"))
    done = logged(study, "list")
    assert done.stderr == (
        f"No reading of Southern tub yet. Logbook: {book}\nThe logbook has readings of 'North tub': 3. If one of them "
        f"is this tub under another name: filtration log rename {study} --was 'North tub'\n"
    )
    done = logged(study, "rename", "--was", "North tub")
    assert (done.returncode, done.stderr) == (0, f"Southern tub: 3 readings. Logbook: {book}\n")
    done = logged(study, "rename", "Western tub")
    assert (done.returncode, done.stderr) == (0, f"Western tub: 3 readings. Logbook: {book}\n")
    assert b'\r\nname = "Western tub"\r\n' in study.read_bytes()
    done = logged(study, "list")
    assert done.stderr == (
        "3 readings of Western tub. Of one time, what was read counts before what was done; a day alone is one time. "
        f"Logbook: {book}\n"
    )


@pytest.mark.parametrize(("volume", "name"), [("420 L", "South tub"), ("300 L", "North tub")])
def test_two_tubs_of_one_id_are_told(study: Path, tmp_path: Path, volume: str, name: str) -> None:
    """A copy of a study whose name or volume was changed is another tub; a renamed file is not."""
    assert logged(study, "add", "--rinsed", *AT).returncode == 0
    copy = tmp_path / "copy.toml"
    copy.write_bytes(study.read_bytes().replace(b"North tub", name.encode()).replace(b"420 L", volume.encode()))
    shared = json.loads(logged(study, "list", "--json").stdout)["id"]
    told = (
        f"Two tubs have the id {shared}: the logbook knows it as that of 'North tub', 420 L, {study}, this is '{name}'"
    )
    assert logged(copy, "list").stderr.startswith(told)
    refused_ = logged(copy, "add", "--soaked", *AT)
    assert refused_.returncode == 2
    assert refused_.stderr.startswith(told)
    study.unlink()
    done = logged(copy, "add", "--soaked", *AT)  # the only file left: renamed, or measured anew
    assert (done.returncode, done.stderr.count("Two tubs")) == (0, 0)


def test_pages_that_changed_places_are_seen(path: Path, tmp_path: Path) -> None:
    """Each page may be sound by itself: what points to it has to be looked at too."""
    rows = [
        reading_of(f"2026-03-{1 + n % 28:02d}", "note", "", f"{n} " + n % 90 * "x", where="row") for n in range(300)
    ]
    with Logbook(path) as book:
        book.add(TUB, rows)
        book.add("South tub", rows[:40])
    data, other = path.read_bytes(), tmp_path / "other.sqlite"
    size = int.from_bytes(data[16:18], "big")
    pages = [data[at : at + size] for at in range(0, len(data), size)]
    draw = random.Random(3)
    for _ in range(120):
        first, second = draw.sample(range(len(pages)), 2)
        changed = list(pages)
        changed[first], changed[second] = changed[second], changed[first]
        other.write_bytes(b"".join(changed))
        with pytest.raises(InputError, match=r"is damaged|is no logbook"), Logbook(other):
            pass
