"""What a process brings along, or is sent: closed streams, no home, a zone that is none, Ctrl-C, old line ends."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from logbooks import TUB, rows_of
from studies import SHORT

from filtration import InputError
from filtration.base.places import demo_file
from filtration.readings.csv_file import load_readings
from filtration.readings.logbook import Logbook
from filtration.readings.reading import reading_of
from filtration.study.file import load_study

ROOT = Path(__file__).resolve().parents[2]
COMMAND = (sys.executable, "-m", "filtration")
CLOSED = "Standard output is closed, so that no answer can be shown; send it to a file or to a terminal."


def ended(folder: Path, redirected: str, *words: str, **environment: str) -> tuple[int, str, str]:
    """Run a command through a shell that redirects its streams; return status, output and errors."""
    shell = ("sh", "-c", f'exec "$@" {redirected}', "sh", *COMMAND, *words)
    done = subprocess.run(
        shell, cwd=folder, capture_output=True, text=True, check=False, env={**os.environ, **environment}
    )
    return done.returncode, done.stdout, done.stderr


@pytest.mark.parametrize(
    ("redirected", "words", "status", "told"),
    [
        (">&-", ("check", "--help"), 1, CLOSED),
        (">&- 2>&-", ("check", "--help"), 1, ""),
        ("2>&-", ("compare", "none.toml"), 2, ""),
        ("<&-", ("compare", "none.toml"), 2, "none.toml: there is no such file"),
    ],
)
def test_closed_streams_end_in_one_line(
    tmp_path: Path, redirected: str, words: tuple[str, ...], status: int, told: str
) -> None:
    assert ended(tmp_path, redirected, *words) == (status, "", told and f"{told}\n")


def test_a_zone_beyond_a_day_is_told(tmp_path: Path) -> None:
    told = "TZ: needs a zone less than a day from UTC, such as Europe/Berlin, got 'XXX48'\n"
    assert ended(tmp_path, "", "log", "list", "none.toml", TZ="XXX48") == (2, "", told)


def test_a_user_without_a_home_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    import platformdirs

    from filtration.readings.logbook import logbook_path

    def none_at_all(*_: object, **__: object) -> Path:
        raise RuntimeError("could not determine the home directory")

    monkeypatch.setattr(platformdirs, "user_data_path", none_at_all)
    monkeypatch.delenv("FILTRATION_LOGBOOK", raising=False)
    with pytest.raises(InputError, match=r"^there is no home folder to keep a logbook in; name its file by FILTR"):
        logbook_path()


def test_line_ends_of_old_machines_are_read(tmp_path: Path) -> None:
    study, table = tmp_path / "tub.toml", tmp_path / "tub.csv"
    study.write_bytes(SHORT.replace("\n", "\r").encode())
    table.write_bytes(b"when,kind,value\r2026-03-03,flow,22 L/min\r")
    assert load_study(study).name == TUB
    assert [row.value for row in load_readings(table)] == ["22 L/min"]


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="has one zone alone")
def test_rows_without_a_zone_are_known_again_in_another(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An undated offset is this machine's; the same file brought in elsewhere doubles nothing."""
    days = [f"2026-{month:02d}-03" for month in range(1, 13)]
    path = tmp_path / "logbook.sqlite"
    for zone in ("Europe/Berlin", "America/New_York", "Asia/Kolkata"):
        monkeypatch.setenv("TZ", zone)
        time.tzset()
        rows = [reading_of(day, "flow", "22 L/min", where="row") for day in days]
        with Logbook(path) as book:
            book.add(TUB, rows, skip_known=True)
            kept = book.list(TUB)
    monkeypatch.undo()
    time.tzset()
    assert [row[0][:10] for row in rows_of(kept)] == days
    assert kept[0].when.isoformat() == "2026-01-03T12:00:00+01:00"


@pytest.fixture
def _heard() -> Iterator[None]:
    """Let what is started hear Ctrl-C, which a shell has its jobs in the background ignore."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("_heard")
@pytest.mark.parametrize("after", [0.4, 0.9, 1.6, 3.0])
@pytest.mark.parametrize("words", [("compare", "tub.toml", "--draws", "65536", "--workers", "2"), ("app",)])
def test_ctrl_c_ends_at_once_in_one_line(tmp_path: Path, words: tuple[str, ...], after: float) -> None:
    """Whenever it comes, before the processes are up too; half a second by itself, more where the machine is busy."""
    from visitor import free_port

    (tmp_path / "tub.toml").write_bytes(demo_file("freezer").read_bytes())
    more = ("--port", str(free_port())) if words == ("app",) else ()
    running = subprocess.Popen(
        [*COMMAND, *words, *more],
        cwd=tmp_path,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    time.sleep(after)
    os.killpg(running.pid, signal.SIGINT)
    start = time.monotonic()
    out, told = running.communicate(timeout=30)
    assert time.monotonic() - start < 5.0
    lines = [line for line in told.splitlines() if line and not line.startswith("The pages are at")]
    assert (running.returncode, out, lines) == (130, "", ["Interrupted."])
