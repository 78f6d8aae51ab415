"""Time and memory of the largest that is allowed: a command each, as an owner would type it.

    python tests/bench/bench_limits.py

None of them gates; ``tests/readings/test_budget.py`` holds a tenth of each.
"""

import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

from filtration.base.places import demo_file

START = datetime(2025, 1, 1, tzinfo=UTC)
FIRST = f"{START.isoformat()},replace,pleated-20,"


def metered(rows: int, a_day: int) -> Iterator[str]:
    """Yield the log of a flow meter, its filter rinsed every ten days."""
    draw = random.Random(1)
    yield FIRST
    for number in range(1, rows):
        when, since = START + timedelta(days=number / a_day), number % (10 * a_day)
        flow = 1400.0 * (1.0 - 0.02 * since / a_day) * (1.0 + 0.03 * draw.gauss(0.0, 1.0))
        yield f"{when.isoformat()},flow,{flow:.0f} L/h," if since else f"{when.isoformat()},rinse,,"


def fitted_and_counted(rows: int) -> Iterator[str]:
    """Yield days on each of which an element was fitted and dips were counted."""
    for number in range(rows // 2):
        day = (START + timedelta(days=number - 9000)).date()
        yield f"{day},replace,pleated-20,"
        yield f"{day},uses,5,"


def serviced(days: int) -> Iterator[str]:
    """Yield days on each of which the flow was read and the filter rinsed."""
    yield FIRST
    for number in range(1, days):
        when = START + timedelta(days=number)
        yield f"{when.isoformat()},flow,{1400 + number % 7} L/h,"
        yield f"{(when + timedelta(hours=1)).isoformat()},rinse,,"


def ran(folder: Path, name: str, words: Sequence[str]) -> None:
    """Run a command and print a line of what it took."""
    start = time.perf_counter()
    command = subprocess.Popen(
        [sys.executable, "-m", "filtration", *words],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        cwd=folder,
        text=True,
    )
    told = command.stderr.read().strip() if command.stderr else ""
    _, status, used = os.wait4(command.pid, 0)
    command.returncode = os.waitstatus_to_exitcode(status)
    took = f"{used.ru_utime + used.ru_stime:.1f} | {time.perf_counter() - start:.1f} | {used.ru_maxrss / 1024:.0f}"
    print(f"| {name} | {took} | {command.returncode} {told[:120]} |", flush=True)


def main() -> None:
    """Print a row a limit."""
    print("| what | s of the processor | s | MB | status and what was told |\n|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as beside:
        folder = Path(beside)
        (folder / "tub.toml").write_bytes(demo_file("freezer").read_bytes())
        logs = {
            "100,000 rows of a flow meter, one in five minutes": metered(100_000, 288),
            "100,000 rows of a flow meter, one a minute": metered(100_000, 1440),
            "9,000 elements fitted and 9,000 counted days": fitted_and_counted(18_000),
            "990 days read and rinsed": serviced(990),
            "1,010 days read and rinsed": serviced(1010),
        }
        for name, rows in logs.items():
            (folder / "log.csv").write_text("when,kind,value,note\n" + "\n".join(rows) + "\n", encoding="utf-8")
            ran(folder, name, ("forecast", "tub.toml", "--readings", "log.csv", "--today", "2030-12-31"))
        ran(folder, "65,536 draws of 16 elements", ("compare", "tub.toml", "--draws", "65536"))


if __name__ == "__main__":
    main()
