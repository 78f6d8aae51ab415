"""Time the pages: first answer in a browser, a slider, twenty people at once, memory, and a newcomer's two minutes.

python tests/bench/bench_page.py (wants Debian's chromium). Nothing here gates.
"""

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests" / "helpers"), str(ROOT / "ui")]

import page_cache  # noqa: E402 - found by the line above
from browsing import BOX, FLAGS, READY  # noqa: E402 - the folder of the tests joins the path first
from spent import megabytes  # noqa: E402 - see above
from visitor import served  # noqa: E402 - see above

PEOPLE = 20


def timed(work: Callable[[], object], clock: Callable[[], float] = time.perf_counter) -> float:
    """Return how long something takes [s]."""
    start = clock()
    work()
    return clock() - start


def answered(page: Page) -> None:
    """Wait for the headline of an answer."""
    page.get_by_text("about every").wait_for(timeout=120_000)


def first_answers(browser: Browser, address: str) -> None:
    """Time a warm server to the demo's answer, a new browser each time."""

    def once(path: str, says: str) -> float:
        page = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()

        def open_it() -> None:
            page.goto(f"{address}/{path}")
            page.get_by_text(says).first.wait_for(timeout=120_000)

        took = timed(open_it)
        page.context.close()
        return took

    once("", "about every")
    for path, says in (("", "about every"), ("which_filter", "It gives")):
        every = [once(path, says) for _ in range(5)]
        print(f"warm server to the answer on /{path}: median {median(every):.2f} s, worst {max(every):.2f} s")


def server_times() -> None:
    """Time what a moved slider asks of the library, each time another value."""
    text = page_cache.demo_text("freezer")
    page_cache.answer(text)
    moved = [page_cache.moved(text, "tub", "uses_per_day", 4.0 + 0.25 * step) for step in range(6)]
    quick = [timed(lambda each=each: page_cache.alone(each, "pleated-50"), time.process_time) for each in moved]
    whole = [timed(lambda each=each: page_cache.answer(each), time.process_time) for each in moved]
    print("seconds of the processor:")
    print(f"slider, the filter at hand, central case: median {median(quick):.2f} s, worst {max(quick):.2f} s")
    print(f"slider, all options with {page_cache.DRAWS} draws: median {median(whole):.2f} s, worst {max(whole):.2f} s")


def people(browser: Browser, address: str, process: int) -> None:
    """Let twenty people look at once, each with a tub of their own."""
    before = megabytes(process)
    pages = [browser.new_context(viewport={"width": 390, "height": 844}).new_page() for _ in range(PEOPLE)]
    for page in pages:
        page.goto(address, wait_until="commit")
    took = timed(lambda: [answered(page) for page in pages])
    same = megabytes(process)
    print(f"{PEOPLE} people, the same demo: all answered after {took:.1f} s; {(same - before) / PEOPLE:.1f} MB each")
    for place, page in enumerate(pages):
        box = page.get_by_role("textbox", name="Water, L", exact=True)
        box.fill(str(300 + 10 * place))
        box.press("Enter")
    took = timed(lambda: [page.wait_for_selector(READY, timeout=300_000) for page in pages])
    page_time = time.perf_counter()
    for page in pages:
        page.wait_for_timeout(200)
        page.wait_for_selector(READY, timeout=300_000)
        answered(page)
    took += time.perf_counter() - page_time
    own = megabytes(process)
    failed = sum(page.locator("[data-testid=stException]").count() for page in pages)
    print(
        f"{PEOPLE} people, each another tub: {took:.1f} s in all; {(own - same) / PEOPLE:.1f} MB each; {failed} errors"
    )
    for page in pages:
        page.context.close()


def newcomer(browser: Browser, address: str, width_px: int) -> None:
    """Time the hands of somebody with a pump's box: typing as a person does, a second to find each field."""
    page = browser.new_context(viewport={"width": width_px, "height": 844}).new_page()
    page.goto(f"{address}/your_tub")
    page.get_by_role("button", name="An empty tub").wait_for(timeout=60_000)
    start = time.perf_counter()
    page.get_by_role("button", name="An empty tub").click()
    page.get_by_text("Still to fill in").wait_for(timeout=60_000)
    for label, value in BOX.items():
        page.wait_for_timeout(4000)  # to read the box, or to look where it is written
        page.get_by_role("textbox", name=label, exact=True).click()
        page.keyboard.type(value, delay=250)
        page.keyboard.press("Enter")
    answered(page)
    print(f"from a pump's box to an answer at {width_px} px: {time.perf_counter() - start:.0f} s")
    page.context.close()


def main() -> None:
    """Print the figures."""
    server_times()
    with tempfile.TemporaryDirectory() as folder, served(Path(folder)) as server, sync_playwright() as playwright:
        address, process = server.address, server.process
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=list(FLAGS))
        print(f"memory before anybody came: {megabytes(process):.0f} MB")
        first_answers(browser, address)
        print(f"memory after the first: {megabytes(process):.0f} MB")
        people(browser, address, process)
        newcomer(browser, address, 1280)
        newcomer(browser, address, 390)
        browser.close()
        print("complaints in the server's log:", len(server.complaints()))


if __name__ == "__main__":
    main()
