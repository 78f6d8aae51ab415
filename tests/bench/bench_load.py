"""Let a crowd at the pages, and a fleet through the books: what broke, how long it took, what memory did.

    python tests/bench/bench_load.py --clients 50 --minutes 5 --fleet-minutes 5

Wants Debian's chromium for the real pages (``--pages 0`` goes without). Each server (``--servers``) is a process of
its own, its processor time and memory read from /proc; websocket clients and browser are others and counted apart. A
visitor stays with one server, as behind the web server of docs/serving.md. Each client opens a tub of its own, every
fifth the study that is served, which its owner changes in an editor every 20 s; it reads for 10 to 60 s (``--reads``),
then types into a field, moves a slider or changes the page; it leaves after a while and comes again. A wait runs from
the message sent to the end of the script. None gates.
"""

import argparse
import asyncio
import contextlib
import itertools
import multiprocessing
import os
import random
import sys
import tempfile
import time
from collections.abc import Collection, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from playwright.async_api import Page, async_playwright

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests" / "helpers"), str(ROOT / "ui")]

from browsing import FLAGS, READY  # noqa: E402 - found by the line above
from spent import megabytes  # noqa: E402 - see above
from visitor import Served, Visitor, answer_line, link_of, own_tub, served  # noqa: E402 - see above

from filtration.base.places import demo_file  # noqa: E402 - see above
from filtration.plan.fleet import Fleet, budget  # noqa: E402 - see above
from filtration.plan.fleet_rows import read_fleet  # noqa: E402 - see above
from filtration.plan.tub_budget import Ranged  # noqa: E402 - see above

PAUSES_S = (2.0, 8.0)  # after an error, and of the real pages
STAYS = (8, 25)
SHARES_THE_DEMO = 5
KNOWN = ("", "your_readings", "how_it_works")
PAGES = ("which_filter", "flow_pressure", "money", "plan_ahead", "clear_water", *KNOWN)
FIELD, WAITS_S = "Dips a day", 300_000
STUDY, CHANGES_S = "tub.toml", 20.0
BESIDE = "&tub=1"  # a link's tub comes after the one that is served
RUNNING = READY.replace("notRunning", "running")
GRACE_S = 60.0
FLEET_TUBS, WRONG_TUBS = 200, 4


# ---- processes --------------------------------------------------------------------------------------------------


def _stat(process: int) -> list[str]:
    return Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()


def processor_s(process: int) -> float:
    """Return the processor time a process and its ended children have used [s]."""
    return sum(map(int, _stat(process)[11:15])) / os.sysconf("SC_CLK_TCK")


def children_s(process: int, but: Collection[int]) -> float:
    """Return the processor time of a process's living descendants, some and theirs left out [s]."""
    parents: dict[int, int] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdecimal():
            with contextlib.suppress(OSError):
                parents[int(entry.name)] = int(_stat(int(entry.name))[1])
    total, known = 0.0, {process}
    for _ in parents:
        new = {child for child, parent in parents.items() if parent in known} - known - set(but)
        if not new:
            break
        known |= new
        for child in new:
            with contextlib.suppress(OSError):
                total += processor_s(child)
    return total


def slope(times_s: Sequence[float], values: Sequence[float]) -> float:
    """Return how much values rise a minute, by least squares."""
    return float(np.polyfit(np.asarray(times_s) / 60.0, values, 1)[0])


# ---- the crowd --------------------------------------------------------------------------------------------------


@dataclass
class Diary:
    """What everybody saw: waits by what was done [s], errors, and the last answer of each to a tub."""

    start: float
    end: float
    waits_s: dict[str, list[float]] = field(default_factory=dict)
    reads_s: tuple[float, float] = (10.0, 60.0)
    errors: list[str] = field(default_factory=list)
    waiting: list[str] = field(default_factory=list)
    answers: dict[int, tuple[float | None, float, str]] = field(default_factory=dict)

    def left_s(self) -> float:
        """Return how long it is until everybody goes [s]."""
        return max(0.0, self.end - time.monotonic())

    def over(self) -> bool:
        """Return whether it is time to go."""
        return time.monotonic() >= self.end

    def note(self, what: str, took_s: float, complaints: Sequence[str] = ()) -> None:
        """Write down a wait, where it counts, and what went wrong."""
        if time.monotonic() >= self.start:
            self.waits_s.setdefault(what, []).append(took_s)
        self.errors += complaints


async def _do_something(visitor: Visitor, litres: float | None, draw: random.Random, diary: Diary, number: int) -> None:
    """Type into a field, move a slider, or look at another page."""
    shown = visitor.shown
    slider = next((widget for (kind, _), widget in shown.widgets.items() if kind == "slider"), None)
    if ("text_input", FIELD) in shown.widgets and draw.random() < 0.5:
        uses = round(draw.uniform(3.0, 9.0), 1)
        took, what = await visitor.change("text_input", FIELD, uses), "a field changed"
        if litres is not None:  # what is served changes meanwhile
            diary.answers[number] = (litres, uses, visitor.shown.line())
    elif slider is not None and draw.random() < 0.7:
        steps = round((slider.max - slider.min) / slider.step)
        value = round(slider.min + slider.step * draw.randint(0, steps), 9)
        took, what = await visitor.change("slider", slider.label, value), "a slider moved"
    else:
        where = draw.choice(("", "what_if", "what_if", *PAGES))
        took = await visitor.go(where)
        what = "a page changed, all known" if where in KNOWN else "a page changed, more to do"
    diary.note(what, took, visitor.shown.exceptions)


async def person(number: int, address: str, arrives_s: float, diary: Diary) -> None:
    """Come, look, go, and come again, until it is time."""
    draw = random.Random(number)
    await asyncio.sleep(arrives_s)
    litres = None if number % SHARES_THE_DEMO == 0 else 380.0 + number
    while not diary.over():
        try:
            async with Visitor(address, "" if litres is None else link_of(own_tub(litres)) + BESIDE) as visitor:
                diary.note("the first page", await visitor.open(), visitor.shown.exceptions)
                for _ in range(draw.randint(*STAYS)):
                    await asyncio.sleep(min(draw.uniform(*diary.reads_s), diary.left_s()))
                    if diary.over():
                        return
                    await _do_something(visitor, litres, draw, diary, number)
        except Exception as error:  # noqa: BLE001 - whatever it is, it is counted, and the crowd goes on
            diary.errors.append(f"client {number}: {type(error).__name__}: {error}")
            await asyncio.sleep(draw.uniform(*PAUSES_S))


def worst_tub(number: int) -> dict[str, Any]:
    """Return the study that costs a page most of those it takes: twelve trains of ten cartridges, each time another."""
    tables = own_tub(300.0 + number)
    names = [element["name"] for element in tables["elements"]]
    trains = [[names[(train + place) % len(names)] for place in range(10)] for train in range(12)]
    return tables | {"options": [{"name": f"Train {train}", "stages": each} for train, each in enumerate(trains)]}


async def nuisance(address: str, diary: Diary) -> None:
    """Bring the worst study that is allowed, over and over, and leave now and then before it is answered."""
    number = 0
    while not diary.over():
        number += 1
        with contextlib.suppress(TimeoutError):
            link, stays_s = link_of(worst_tub(number)) + BESIDE, 30 * (1 + number % 3)
            async with Visitor(address, link) as visitor, asyncio.timeout(stays_s):
                diary.note("the worst study", await visitor.open(), visitor.shown.exceptions)


async def owner(study: Path, diary: Diary) -> None:
    """Change the served study now and then, in an editor."""
    text, dips = demo_file("freezer").read_text(encoding="utf-8"), itertools.cycle(range(4, 9))
    while not diary.over():
        await asyncio.sleep(CHANGES_S)
        changed = text.replace("uses_per_day = 6", f"uses_per_day = {next(dips)}")
        await asyncio.to_thread(study.write_text, changed, encoding="utf-8")


async def _settled(page: Page) -> None:
    with contextlib.suppress(Exception):  # a short run may be over before it is seen
        await page.wait_for_selector(RUNNING, timeout=1000)
    await page.wait_for_selector(READY, timeout=WAITS_S)


async def real_page(page: Page, address: str, diary: Diary) -> None:
    """Move the slider of a page in a real browser again and again."""
    page.on("pageerror", lambda error: diary.errors.append(f"real page: {error}"))
    try:
        start = time.perf_counter()
        await page.goto(f"{address}/what_if")
        slider = page.get_by_role("slider")
        await slider.wait_for(timeout=WAITS_S)
        diary.note("real page: opened", time.perf_counter() - start)
        while not diary.over():
            await asyncio.sleep(random.uniform(*PAUSES_S))
            start = time.perf_counter()
            await slider.press(random.choice(("ArrowLeft", "ArrowRight")))
            await _settled(page)
            broken = await page.locator("[data-testid=stException]").count()
            diary.note("real page: slider moved", time.perf_counter() - start, ["real page: an exception"] * broken)
    except Exception as error:  # noqa: BLE001 - counted
        diary.errors.append(f"real page: {type(error).__name__}: {error}")


async def lags(diary: Diary) -> None:
    """Note how late this process itself is: what it adds to the waits."""
    while not diary.over():
        start = time.perf_counter()
        await asyncio.sleep(0.1)
        diary.note("of this the clients' own", time.perf_counter() - start - 0.1)


@dataclass
class Watched:
    """What servers and others used: at times [s] the memory of all [MB], and processor times [s] at start and end."""

    times_s: list[float] = field(default_factory=list)
    memory_mb: list[float] = field(default_factory=list)
    used_s: list[list[float]] = field(default_factory=list)


async def watch(servers: Sequence[Served], diary: Diary) -> Watched:
    """Follow the servers from the end of the warm-up."""
    seen, me, processes = Watched(), os.getpid(), [server.process for server in servers]

    def used() -> list[float]:
        return [time.process_time(), children_s(me, processes), *map(processor_s, processes)]

    await asyncio.sleep(max(0.0, diary.start - time.monotonic()))
    seen.used_s.append(used())
    while True:
        seen.times_s.append(time.monotonic())
        seen.memory_mb.append(sum(map(megabytes, processes)))
        if diary.over():
            seen.used_s.append(used())
            return seen
        await asyncio.sleep(1.0)


async def crowd(
    servers: Sequence[Served],
    homes: Sequence[Path],
    clients: int,
    pages: int,
    warm_up_s: float,
    lasts_s: float,
    reads_s: tuple[float, float],
    *,
    worst: bool = False,
) -> tuple[Diary, Watched]:
    """Let everybody in during the warm-up, and watch."""
    now = time.monotonic()
    diary = Diary(start=now + warm_up_s, end=now + warm_up_s + lasts_s, reads_s=reads_s)
    async with contextlib.AsyncExitStack() as stack:
        real = []
        if pages:
            playwright = await stack.enter_async_context(async_playwright())
            browser = await playwright.chromium.launch(executable_path="/usr/bin/chromium", args=list(FLAGS))
            stack.push_async_callback(browser.close)
            real = [await (await browser.new_context()).new_page() for _ in range(pages)]
        where = [server.address for server in servers]
        everybody = [person(at, where[at % len(where)], 0.5 * warm_up_s * at / clients, diary) for at in range(clients)]
        watching = asyncio.create_task(watch(servers, diary))
        looks = [real_page(page, where[at % len(where)], diary) for at, page in enumerate(real)]
        people = [asyncio.create_task(each, name=f"client {at}") for at, each in enumerate(everybody)]
        people += [asyncio.create_task(owner(home / STUDY, diary), name="owner") for home in homes]
        if worst:
            people.append(asyncio.create_task(nuisance(where[0], diary), name="worst"))
        people += [asyncio.create_task(each, name="real page") for each in (*looks, lags(diary))]
        _, waiting = await asyncio.wait(people, timeout=warm_up_s + lasts_s + GRACE_S)
        for each in waiting:
            each.cancel()
        await asyncio.gather(*people, return_exceptions=True)
        diary.waiting = [each.get_name() for each in waiting]
        return diary, await watching


def row(name: str, waits_s: Sequence[float]) -> str:
    """Return a row of the table of waits."""
    p50, p95, p99 = np.percentile(waits_s, [50, 95, 99])
    return f"{name:<30}{len(waits_s):>8,}{p50:>9.2f}{p95:>9.2f}{p99:>9.2f}{max(waits_s):>9.2f}"


def strangers(answers: Mapping[int, tuple[float | None, float, str]]) -> int:
    """Return how many saw another answer than the library gives their tub."""
    return sum(not line.startswith(answer_line(own_tub(litres, uses))) for litres, uses, line in answers.values())


def load(
    number: int,
    clients: int,
    pages: int,
    warm_up_s: float,
    lasts_s: float,
    reads_s: tuple[float, float],
    *,
    worst: bool,
) -> None:
    """Let the crowd in and print what came of it."""
    with contextlib.ExitStack() as stack:
        homes = [Path(stack.enter_context(tempfile.TemporaryDirectory())) for _ in range(number)]
        for home in homes:
            (home / STUDY).write_text(demo_file("freezer").read_text(encoding="utf-8"), encoding="utf-8")
        servers = [stack.enter_context(served(home, more=[STUDY])) for home in homes]
        empty = sum(megabytes(server.process) for server in servers)
        diary, seen = asyncio.run(crowd(servers, homes, clients, pages, warm_up_s, lasts_s, reads_s, worst=worst))
        complaints = [line for server in servers for line in server.complaints()]
    print(
        f"{number} servers, {clients} clients, {pages} real pages, {lasts_s / 60:.1f} min after a warm-up of "
        f"{warm_up_s / 60:.1f} min, each reads for {reads_s[0]:.0f} to {reads_s[1]:.0f} s\n"
    )
    print(f"{'seconds from asked to shown':<30}{'number':>8}{'p50':>9}{'p95':>9}{'p99':>9}{'worst':>9}")
    every = [wait for name in diary.waits_s if name.startswith("a ") for wait in diary.waits_s[name]]
    for name, waits in (("every rerun", every), *sorted(diary.waits_s.items())):
        if waits:
            print(row(name, waits))
    start, end = np.median(seen.memory_mb[:5]), np.median(seen.memory_mb[-5:])
    took = seen.times_s[-1] - seen.times_s[0]
    clients_s, browser_s, *each_s = np.subtract(seen.used_s[-1], seen.used_s[0])
    print(f"\nerrors: {len(diary.errors)}; lines of complaint in the servers' logs: {len(complaints)}")
    print(f"still waiting a minute after the end: {len(diary.waiting)}")
    for told in [*dict.fromkeys(diary.errors), *dict.fromkeys(complaints)][:10]:
        print(f"  {told[:200]}")
    print(f"answers that were not the tub's own: {strangers(diary.answers)} of {len(diary.answers)}")
    shares = " + ".join(f"{server_s / took:.2f}" for server_s in each_s)
    print(f"servers: {sum(each_s):.0f} s of the processor, {shares} of a core")
    print(f"others: websocket clients {clients_s:.0f} s, browser {browser_s:.0f} s of the processor")
    print(
        f"servers' memory, MB: {empty:.0f} before anybody came, {start:.0f} at the start, {end:.0f} at the end,"
        f" {max(seen.memory_mb):.0f} at most; {slope(seen.times_s, seen.memory_mb):+.1f} a minute"
    )


# ---- the fleet --------------------------------------------------------------------------------------------------


def _table(folder: Path) -> Path:
    """Write a table of tubs, a few of them wrong."""
    draw = random.Random(0)
    lines = ["name,tub.volume,tub.uses_per_day"]
    lines += [f"Tub {at},{draw.uniform(250, 450):.0f} L,{draw.uniform(2, 12):.1f}" for at in range(FLEET_TUBS)]
    lines += [f"Wrong {at},-1 L,4" for at in range(WRONG_TUBS)]
    path = folder / "tubs.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def _sums(fleet: Fleet) -> list[Ranged]:
    return [*fleet.cost.values(), *fleet.elements.values()]


def soak(lasts_s: float) -> tuple[list[float], list[float], int]:
    """Budget the same table over and over; return times [s], this process's memory [MB] after each, and faults."""
    times, memory, faults, first = list[float](), list[float](), 0, None
    with tempfile.TemporaryDirectory() as folder:
        path, began = _table(Path(folder)), time.monotonic()
        while not times or times[-1] < lasts_s:
            fleet = budget(read_fleet(path, demo_file("freezer")))
            first = first or _sums(fleet)
            faults += _sums(fleet) != first or len(fleet.failed) != WRONG_TUBS
            times.append(time.monotonic() - began)
            memory.append(megabytes(os.getpid()))
    return times, memory, faults


def fleet(lasts_s: float) -> None:
    """Soak the fleet in a process of its own and print what came of it."""
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as pool:
        times, memory, faults = pool.submit(soak, lasts_s).result()
    print(
        f"\nfleet: {FLEET_TUBS} tubs and {WRONG_TUBS} wrong rows, {len(times)} times over in {times[-1] / 60:.1f} min"
    )
    print(f"rounds that failed or differed from the first: {faults}")
    rise = f"; {slope(times[1:], memory[1:]):+.2f} a minute" if len(times) > 2 else ""
    print(f"memory, MB: {memory[0]:.0f} after the first round, {memory[-1]:.0f} after the last{rise}")


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--servers", type=int, default=1, help="server processes, the crowd shared out among them")
    parser.add_argument("--clients", type=int, default=50, help="websocket clients; 0 for the fleet alone")
    parser.add_argument("--pages", type=int, default=2, help="real pages")
    parser.add_argument("--minutes", type=float, default=5.0, help="how long to count")
    parser.add_argument("--warm-up", type=float, default=1.0, help="minutes before that, in which everybody comes")
    parser.add_argument(
        "--reads", type=float, nargs=2, default=(10.0, 60.0), help="seconds between two doings, from to"
    )
    parser.add_argument("--worst", action="store_true", help="one more brings the worst study allowed, over and over")
    parser.add_argument("--fleet-minutes", type=float, default=0.0, help="how long to soak the fleet")
    arguments = parser.parse_args()
    if arguments.clients:
        load(
            arguments.servers,
            arguments.clients,
            arguments.pages,
            60.0 * arguments.warm_up,
            60.0 * arguments.minutes,
            tuple(arguments.reads),
            worst=arguments.worst,
        )
    if arguments.fleet_minutes:
        fleet(60.0 * arguments.fleet_minutes)


if __name__ == "__main__":
    main()
