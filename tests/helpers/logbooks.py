"""Readings of every kind, logbooks of them, and writers that are killed."""

import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path

from hypothesis import strategies as st

from filtration.readings.logbook import Logbook
from filtration.readings.reading import Reading, cells, reading_of

TUB = "North tub"
HOSTILE = [
    "=1+1", "=cmd|' /C calc'!A0", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "\uff1d1", "'=1", "''''=1", "'", "''",
    "'twas dirty", "' =1", "=", "<script>alert(1)</script>", "\u202eright to left", "\u05d0\u05d1", "\U0001f9ca\u200d",
    'a "quoted" word', '"', '""', '","', ";", ",,,", "two\nlines", "two\r\nlines", "\r", "tab\there", " blanks ",
    "x" * 2000, "\U0001f9ca" * 2000, "\u2028\u2029", "a\ufeff", "\ufeff", "e\u0301", "\\", "\\n", "%s {}",
    "'; DROP TABLE entry; --",
]  # fmt: skip
TEXTS = st.text(
    st.characters(exclude_categories=["Cs", "Cc"], include_characters="\t\n\r") | st.sampled_from("=+-@'\t\n\r\";,"),
    max_size=60,
)
MINUTES = st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
WHENS = st.datetimes(min_value=datetime(2000, 1, 1), max_value=datetime(2100, 12, 31), timezones=MINUTES)  # noqa: DTZ001 - the zones are drawn beside
VALUES = st.sampled_from([
    ("flow", "22 L/min"), ("flow", "+22 L/min"), ("flow", ".5 gpm without element"), ("bucket", "10 L in 27.4 s"),
    ("column", '32"'), ("column", '12" without element'), ("pressure", "11 kPa"), ("see-through", "3 m\u00b3"[:-1]),
    ("rinse", ""), ("soak", ""),
    ("replace", "pleated-20"), ("replace", ""), ("water", ""), ("uses", "9"),
])  # fmt: skip
READINGS = st.builds(
    lambda when, row, note: reading_of(when, *row, note, where="row"), WHENS, VALUES, TEXTS
) | st.builds(
    lambda when, note: reading_of(when, "note", "", note, where="row"), WHENS, TEXTS.filter(lambda text: text.strip())
)

WRITER = """
import sys
from filtration.readings.logbook import Logbook
from filtration.readings.reading import reading_of
path, name, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
for number in range(count):
    rows = [reading_of("2026-03-03T18:30Z", "note", "", f"{name} {number} {part}", where="row") for part in range(3)]
    with Logbook(path) as book:
        book.add("North tub", rows)
    print(number, flush=True)
"""


def rows_of(readings: tuple[Reading, ...]) -> list[tuple[str, ...]]:
    """Return rows as they are written: equal times of other offsets are other rows."""
    return [cells(reading) for reading in readings]


def listed(path: Path, tub: str = TUB) -> tuple[Reading, ...]:
    with Logbook(path) as book:
        return book.list(tub)


def is_sound(path: Path) -> bool:
    """Whether SQLite's own check finds nothing, in a connection of its own."""
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("PRAGMA quick_check").fetchall() == [("ok",)]


def start(path: Path, name: str, count: int) -> subprocess.Popen[str]:
    """Start a process that adds three readings at a time and prints the number of each addition done."""
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), name, str(count)], stdout=subprocess.PIPE, text=True
    )


@dataclass(frozen=True, kw_only=True)
class Crash:
    """What a killed writer left: additions acknowledged and found, whether one was cut short, and what is wrong."""

    acknowledged: int
    found: int
    cut_short: bool
    wrong: tuple[str, ...]


def crash(path: Path, seed: int) -> Crash:
    """Kill a writer at a random moment and see what is there afterwards."""
    draw = random.Random(seed)
    writer = start(path, "a", 1_000_000)
    assert writer.stdout is not None
    lines = [writer.stdout.readline()] if draw.random() < 0.9 else []  # else perhaps before the file is made
    time.sleep(draw.uniform(0.0, 0.1) if lines else draw.uniform(0.1, 0.6))
    writer.send_signal(signal.SIGKILL)
    lines += writer.communicate()[0].splitlines(keepends=True)
    acknowledged = sum(line.endswith("\n") for line in lines)
    cut_short = path.with_name(f"{path.name}-journal").exists()
    notes = [reading.note for reading in listed(path)]
    whole = [f"a {number} {part}" for number in range(len(notes) // 3) for part in range(3)]
    checks = {
        "an acknowledged addition is lost": len(notes) < 3 * acknowledged,
        "an addition is there in part, twice or out of order": notes != whole,
        "more is there than was being written": len(notes) > 3 * (acknowledged + 1),
        "SQLite finds damage": path.exists() and not is_sound(path),
    }
    wrong = tuple(f"seed {seed}: {words}" for words, is_so in checks.items() if is_so)
    return Crash(acknowledged=acknowledged, found=len(notes) // 3, cut_short=cut_short, wrong=wrong)
