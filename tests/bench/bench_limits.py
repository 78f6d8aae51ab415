"""Time and memory of the largest that is allowed: a command each, as an owner would type it, and the page of readings.

    python tests/bench/bench_limits.py

None of them gates; ``tests/readings/test_budget.py`` and ``tests/ui/test_page_readings.py`` hold a tenth of each.
"""

import asyncio
import os
import random
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from http.cookiejar import CookieJar
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

import page_link
from spent import megabytes
from visitor import Served, Visitor, served

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


def used(server: Served) -> tuple[float, float]:
    """Return what a server has used so far: seconds of the processor, and the most memory [MB]."""
    ticks = Path(f"/proc/{server.process}/stat").read_text(encoding="utf-8").rpartition(") ")[2].split()[11:13]
    return sum(map(int, ticks)) / os.sysconf("SC_CLK_TCK"), megabytes(server.process, "VmHWM")


async def shown(folder: Path, name: str, log: str) -> None:
    """Open the page of readings of the tub of a folder, bring it a log if any, and print a line of what that took."""
    query = f"study={page_link.packed([(folder / 'tub.toml').read_text(encoding='utf-8')])}"
    with served(folder) as server:
        jar = CookieJar()
        browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(jar))
        browser.open(f"{server.address}/_stcore/health").close()
        cookies = {each.name: each.value or "" for each in jar}
        words = {"Cookie": "; ".join(f"{key}={value}" for key, value in cookies.items())}
        async with Visitor(server.address, query, headers=words) as visitor:
            await visitor.open()
            (before, _), start, told = used(server), time.perf_counter(), ""
            await visitor.go("your_readings")
            if log:
                room = await visitor.room_for("log.csv")
                try:
                    await asyncio.to_thread(browser.open, put(server.address, room.upload_url, log, cookies))
                    (label,) = (label for kind, label in visitor.shown.widgets if kind == "file_uploader")
                    await visitor.sent(label, "log.csv", len(log), room)
                except urllib.error.URLError as error:  # an answer, or a connection that the server ends
                    told = f"refused: {error}"
            wall, (after, most) = time.perf_counter() - start, used(server)
    told = told or next((said for said in visitor.shown.words if said.startswith("Saved for")), "")
    print(f"| on the page: {name} | {after - before:.1f} | {wall:.1f} | {most:.0f} | {told[:120]} |", flush=True)


def put(address: str, where: str, log: str, cookies: Mapping[str, str]) -> urllib.request.Request:
    """Return what a browser sends as somebody brings a file."""
    head = 'Content-Disposition: form-data; name="log.csv"; filename="log.csv"\r\nContent-Type: text/csv'
    heads = {
        "Content-Type": "multipart/form-data; boundary=part",
        "Origin": address,
        "X-Xsrftoken": cookies["_streamlit_xsrf"],
    }
    body = f"--part\r\n{head}\r\n\r\n{log}\r\n--part--\r\n".encode()
    return urllib.request.Request(f"{address}{where}", body, heads, method="PUT")  # noqa: S310 - our own server


def on_the_page(folder: Path) -> None:
    """Print a row for the largest log that a page takes, for one beyond, and for the largest logbook."""
    lines = ["when,kind,value,note", *metered(100_000, 288)]
    within = "\n".join(lines)[:1_000_000].rpartition("\n")[0] + "\n"
    asyncio.run(shown(folder, f"{within.count(chr(10)) - 1:,} rows, 1 MB, brought", within))
    (folder / "logbook.sqlite").unlink()
    asyncio.run(shown(folder, "100,000 rows, 4 MB, brought", "\n".join(lines)))
    (folder / "log.csv").write_text("\n".join(lines), encoding="utf-8")
    book = ("--logbook", "logbook.sqlite")
    ran(folder, "100,000 rows into the logbook", ("log", "import", "tub.toml", "log.csv", *book))
    asyncio.run(shown(folder, "a logbook of 100,000 rows", ""))


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
        on_the_page(folder)


if __name__ == "__main__":
    main()
