"""What must survive a fault: files, workers, the server, clocks, zones.

Faults of the logbook and of single files have their tests where those are; ``docs/reliability.md`` names them all.
"""

import contextlib
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import page_cache
import page_link
import pytest
from command import run
from studies import SHORT, demo_with
from visitor import free_port
from websockets.sync.client import connect

from filtration import InputError, forecast
from filtration.base.places import demo_file
from filtration.base.whole_file import write_whole
from filtration.plan.dated_plan import plan
from filtration.plan.fleet_rows import read_fleet
from filtration.present.words.forecast import refused
from filtration.readings.csv_file import readings_from_csv
from filtration.readings.logbook import Logbook
from filtration.readings.reading import reading_of
from filtration.study.file import load_study, study_from_text
from filtration.study.text import text_of_tables

# ---- killed at any moment ---------------------------------------------------------------------------------------

WRITES = """
import sys
from filtration.base.whole_file import write_whole
data = sys.argv[2].encode() * 200_000
while True:
    print("about to", flush=True)
    write_whole(sys.argv[1], data, force=True)
"""


@pytest.mark.parametrize("seed", range(6))
def test_a_killed_export_leaves_a_whole_file(tmp_path: Path, seed: int) -> None:
    """Old or new, never a part; what it was working in stays behind under a name of its own, out of anyone's way."""
    to = tmp_path / "report.html"
    to.write_bytes(b"a" * 200_000)
    writer = subprocess.Popen([sys.executable, "-c", WRITES, str(to), "b"], stdout=subprocess.PIPE)
    assert writer.stdout is not None
    writer.stdout.readline()
    time.sleep(0.003 * seed)
    writer.kill()
    writer.communicate()
    assert to.read_bytes() in {b"a" * 200_000, b"b" * 200_000}
    assert all(each.name.startswith(".export-") for each in tmp_path.iterdir() if each != to)
    write_whole(to, b"c", force=True)
    assert to.read_bytes() == b"c"


has_proc = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processes are told as Linux does")


def _stat(pid: int | str) -> tuple[str, int]:
    """Return a process's state and its parent; a dead one's is Z."""
    try:
        state, parent = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[:2]
    except OSError:
        return "Z", 0
    return state, int(parent)


def _children(pid: int, sign: bytes = b"spawn_main") -> list[int]:
    """Return the workers of a process, by a word of their commands; what has ended is left out."""
    found = []
    for each in Path("/proc").glob("[0-9]*"):
        state, parent = _stat(each.name)
        with contextlib.suppress(OSError):
            if parent == pid and state != "Z" and sign in (each / "cmdline").read_bytes():
                found.append(int(each.name))
    return found


def _alive(pid: int) -> bool:
    return _stat(pid)[0] != "Z"


@contextlib.contextmanager
def _working(folder: Path, *words: str) -> Iterator[tuple[subprocess.Popen[str], list[int]]]:
    """Start a long command on two workers, and wait until both are there."""
    study = folder / "tub.toml"
    shutil.copy(demo_file("freezer"), study)
    command = [sys.executable, "-m", "filtration", *words, "--workers", "2"]
    process = subprocess.Popen(command, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    workers: list[int] = []
    try:
        for _ in range(600):
            workers = _children(process.pid)
            if len(workers) == 2 or process.poll() is not None:
                break
            time.sleep(0.1)
        assert len(workers) == 2, process.communicate()
        time.sleep(0.5)
        yield process, workers
    finally:
        for pid in (process.pid, *workers):
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        process.communicate()


LONG = ("compare", "tub.toml", "--draws", "65536")


@has_proc
def test_a_killed_worker_ends_the_command_with_a_line(tmp_path: Path) -> None:
    with _working(tmp_path, *LONG) as (process, workers):
        os.kill(workers[0], signal.SIGKILL)
        out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (1, "")
    assert err == (
        "A process at work was stopped, perhaps for want of memory, so there is no answer; try fewer --workers.\n"
    )
    assert [each.name for each in tmp_path.iterdir()] == ["tub.toml"]


@has_proc
def test_workers_end_with_a_killed_command_and_nothing_is_left(tmp_path: Path) -> None:
    with _working(tmp_path, *LONG) as (process, workers):
        process.kill()
        process.wait()
        deadline = time.monotonic() + 20.0
        while any(map(_alive, workers)) and time.monotonic() < deadline:
            time.sleep(0.1)
        assert not any(map(_alive, workers))
    assert [each.name for each in tmp_path.iterdir()] == ["tub.toml"]


@has_proc
def test_what_works_for_the_first_visitor_ends_with_a_killed_server(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "filtration", "app", "--port", str(free_port()), "--no-logbook"]
    server, workers, deadline = subprocess.Popen(command, cwd=tmp_path), list[int](), time.monotonic() + 20.0
    try:
        while not workers and time.monotonic() < deadline:
            workers = _children(server.pid, b"filtration")
            time.sleep(0.01)
    finally:
        server.kill()  # long before it reads what is worked out for it
        server.wait()
    assert workers
    deadline = time.monotonic() + 20.0
    while any(map(_alive, workers)) and time.monotonic() < deadline:
        time.sleep(0.1)
    assert not any(map(_alive, workers))


@has_proc
def test_a_killed_fleet_leaves_nothing_and_starts_anew(tmp_path: Path) -> None:
    table = tmp_path / "tubs.csv"
    table.write_text("name\n" + "".join(f"Tub {number}\n" for number in range(2000)), encoding="utf-8")
    with _working(tmp_path, "fleet", "tubs.csv", "--template", "tub.toml", "--json") as (process, workers):
        process.kill()
        process.wait()
        deadline = time.monotonic() + 20.0
        while any(map(_alive, workers)) and time.monotonic() < deadline:
            time.sleep(0.1)
        assert not any(map(_alive, workers))
    assert sorted(each.name for each in tmp_path.iterdir()) == ["tub.toml", "tubs.csv"]
    table.write_text("name\nTub 1\n", encoding="utf-8")
    done = run("fleet", str(table), "--template", str(tmp_path / "tub.toml"), "--draws", "0", "--json")
    assert done.returncode == 0, done.stderr


# ---- several writers --------------------------------------------------------------------------------------------


def test_of_two_exports_to_one_name_the_second_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The other comes between the look whether the name is free and the moment ours is ready."""
    to = tmp_path / "plan.csv"

    def late(_file: int) -> None:
        to.write_text("the other's")

    monkeypatch.setattr(os, "fsync", late)
    with pytest.raises(InputError, match=r"there is a file already; nothing was written$"):
        write_whole(to, b"ours")
    assert to.read_text() == "the other's"
    assert list(tmp_path.iterdir()) == [to]


# ---- clocks and zones -------------------------------------------------------------------------------------------


@pytest.fixture
def zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[pytest.MonkeyPatch]:
    """Let a test say in which zone this machine stands."""
    yield monkeypatch
    monkeypatch.undo()
    time.tzset()


def _in(zone: pytest.MonkeyPatch, name: str) -> None:
    zone.setenv("TZ", name)
    time.tzset()


# Rules as POSIX writes them, so that no table of zones is needed; east of Greenwich, far east, and west.
VIENNA, TOKYO, HONOLULU = "CET-1CEST,M3.5.0,M10.5.0/3", "JST-9", "HST10"


def test_a_logbook_means_the_same_in_every_zone(tmp_path: Path, zone: pytest.MonkeyPatch) -> None:
    """An owner moves; what was read then was read then."""
    _in(zone, VIENNA)
    with Logbook(tmp_path / "book.sqlite") as book:
        book.add("North tub", [reading_of("2026-07-03 18:30", "rinse", where="row")])
        (here,) = book.list("North tub")
    assert here.when == datetime(2026, 7, 3, 16, 30, tzinfo=UTC)
    _in(zone, TOKYO)
    with Logbook(tmp_path / "book.sqlite") as book:
        (there,) = book.list("North tub")
    assert there == here


def test_days_are_counted_over_a_change_of_summer_time(zone: pytest.MonkeyPatch) -> None:
    """In the night to 29 March 2026 an hour is left out, in that to 25 October one comes twice: neither is a day."""
    _in(zone, VIENNA)
    for before, after, hours in (("2026-03-28", "2026-03-29", 23), ("2026-10-24", "2026-10-25", 25)):
        first, second = (reading_of(day, "rinse", where="row").when for day in (before, after))
        assert second - first == timedelta(hours=hours)
    missing, twice = (reading_of(when, "rinse", where="row").when for when in ("2026-03-29 02:30", "2026-10-25 02:30"))
    assert abs(missing - datetime(2026, 3, 29, 1, 0, tzinfo=UTC)) <= timedelta(hours=1)
    assert twice in {datetime(2026, 10, 25, 0, 30, tzinfo=UTC), datetime(2026, 10, 25, 1, 30, tzinfo=UTC)}


def test_a_plan_names_the_same_days_in_every_zone(zone: pytest.MonkeyPatch) -> None:
    study, days = study_from_text(SHORT + '[prices]\nhorizon = "1 year"\n'), []
    for name in (VIENNA, TOKYO, HONOLULU):
        _in(zone, name)
        days.append([event.date for event in plan(study, today=date(2026, 3, 20), draws=16).events])
    assert days[0] == days[1] == days[2]
    assert days[0]


ROWS = """\
when,kind,value
2026-03-01T09:00Z,replace,pleated-20
2026-03-05T09:00Z,bucket,10 L in 27 s
2026-03-09T09:00Z,bucket,10 L in 29 s
"""


def test_a_clock_set_back_leaves_out_what_lies_ahead_and_says_so() -> None:
    """What was read by the right clock comes back when the clock is right again."""
    study, rows = study_from_text(SHORT), readings_from_csv(ROWS, where="tub.csv")
    back = forecast(study, rows, today=datetime(2026, 3, 7, tzinfo=UTC), draws=64)
    told = [why for _, why in refused(back)]
    assert told == ["it lies in the future: today is Sat 7 Mar 2026"]
    only = forecast(study, rows[:2], today=datetime(2026, 3, 7, tzinfo=UTC), draws=64)
    assert back.next_service.in_days == only.next_service.in_days
    assert refused(forecast(study, rows, today=datetime(2026, 3, 10, tzinfo=UTC), draws=64)) == []


def test_a_clock_set_back_harms_no_logbook(tmp_path: Path) -> None:
    """Rows stand in the order of their own times, whatever the order they were written in."""
    late, early = (reading_of(when, "rinse", where="row") for when in ("2026-03-09T09:00Z", "2026-03-02T09:00Z"))
    with Logbook(tmp_path / "book.sqlite") as book:
        book.add("North tub", [late])
        book.add("North tub", [early])
        assert book.list("North tub") == (early, late)
        assert book.undo("North tub").taken_out == (early,)  # the last change, not the latest time


# ---- files as other machines write them -------------------------------------------------------------------------


def _windows(text: str) -> bytes:
    return b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()


def test_windows_files_mean_the_same(tmp_path: Path) -> None:
    study, table = tmp_path / "tub.toml", tmp_path / "tubs.csv"
    study.write_bytes(_windows(SHORT))
    plain = repr(study_from_text(SHORT))
    assert repr(load_study(study)) == plain
    assert repr(page_cache.study(page_cache.text_of(_windows(SHORT)))) == plain
    assert readings_from_csv(page_cache.text_of(_windows(ROWS)), where="a") == readings_from_csv(ROWS, where="a")
    table.write_bytes(_windows("name;tub.volume\nA;300 L\n"))
    ((tub,),) = (read_fleet(table, study),)
    assert tub.tables is not None
    assert (tub.tables["name"], tub.tables["tub"]["volume"]) == ("A", "300 L")


@pytest.mark.parametrize("encoding", ["utf-16", "cp1252"])
def test_another_encoding_is_told_and_never_guessed(tmp_path: Path, encoding: str) -> None:
    file = tmp_path / "tub.toml"
    file.write_bytes(SHORT.replace("North", "Südliche").encode(encoding))
    for read in (lambda: load_study(file), lambda: page_cache.text_of(file.read_bytes())):
        with pytest.raises(InputError, match="is not UTF-8 text"):
            read()


def test_decimal_commas_are_told_with_the_way_to_write_them(tmp_path: Path) -> None:
    """Never read as thousands or cut short: the study, a table of readings with semicolons, a table of tubs."""
    with pytest.raises(InputError, match=r"\[plumbing\] length: needs a length such as '3 m'.* got '2,5 m'"):
        study_from_text(SHORT.replace('"3 m"', '"2,5 m"'))
    rows = ROWS.replace(",", ";").replace("27 s", "27,4 s")
    with pytest.raises(InputError, match=r"line 3, bucket: needs a time such as '27.4 s'.* got '27,4 s'"):
        readings_from_csv(rows, where="tub.csv")
    study, table = tmp_path / "tub.toml", tmp_path / "tubs.csv"
    study.write_text(SHORT, encoding="utf-8")
    table.write_text("name;tub.uses_per_day\nA;7,5\nB;7.5\n", encoding="utf-8")
    done = run("fleet", str(table), "--template", str(study), "--draws", "0")
    assert done.returncode == 2
    assert "tubs.csv, line 2, [tub] uses_per_day: needs a plain number" in done.stderr
    assert "got '7,5'" in done.stderr
    assert "B" in done.stdout


# ---- a browser gone in the middle of a run ----------------------------------------------------------------------


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """Serve the pages without a logbook, as for a club."""
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        port = trial.getsockname()[1]
    command = [sys.executable, "-m", "filtration", "app", "--port", str(port), "--no-logbook"]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    try:
        for _ in range(600):
            with contextlib.suppress(OSError):
                socket.create_connection(("127.0.0.1", port), timeout=1).close()
                break
            time.sleep(0.1)
        yield f"127.0.0.1:{port}"
        assert server.poll() is None, "the server went down"
    finally:
        server.terminate()
        _, told = server.communicate(timeout=20)
    assert "Traceback" not in told, told


def _asked(text: str) -> bytes:
    """Return the first message a browser sends: run the page, with a study in its address."""
    from streamlit.proto.BackMsg_pb2 import BackMsg

    message = BackMsg()
    message.rerun_script.query_string = f"study={page_link.packed([text])}"
    return message.SerializeToString()


def _visit(address: str, text: str, *, stay: bool) -> str:
    """Open a study's page over its websocket; leave at the first sign of work, or stay until the run is over."""
    from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

    seen, until = "", time.monotonic() + 90.0
    socket_ = connect(
        f"ws://{address}/_stcore/stream",
        origin=f"http://{address}",  # type: ignore[arg-type]  # text will do
        subprotocols=["streamlit"],  # type: ignore[list-item]  # a name is one
        max_size=None,
    )
    with socket_ as browser:
        browser.send(_asked(text))
        while True:
            message = ForwardMsg.FromString(browser.recv(timeout=until - time.monotonic()))  # type: ignore[arg-type]  # the server sends bytes
            seen += str(message)
            if not stay and ("putting options" in seen or "loading the cartridges" in seen):
                browser.socket.close()  # as when a phone loses its net: no word of farewell
                return seen
            if message.WhichOneof("type") == "script_finished":
                return seen


def test_a_browser_gone_in_the_middle_of_a_run_harms_nobody(address: str) -> None:
    gone = text_of_tables(demo_with("barrel", "Spun 20", "Pleated 20", "Foam then pleated 20"))
    for _ in range((os.cpu_count() or 1) + 1):  # one more than there are turns
        assert "days" not in _visit(address, gone, stay=False)[-2000:]
    start = time.monotonic()
    for text in (SHORT, gone):
        answered = _visit(address, text, stay=True)
        assert "about every" in answered
        assert "Traceback" not in answered
    assert time.monotonic() - start < 120.0
