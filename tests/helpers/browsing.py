"""A person at the pages in a real browser."""

from __future__ import annotations

import contextlib
import re
import shutil
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from playwright.sync_api import TimeoutError  # noqa: A004 - of the browser, not of the machine

from filtration.present.words import pages as page_words

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page, Route
    from visitor import Served

PICTURES = Path(__file__).resolve().parents[2] / "docs" / "pictures"
CHROMIUM = shutil.which("chromium") or ""
WAIT_S = 90
PHONE_PX, WIDE_PX = 390, 1280
FIRST = "your_filter"
CHARTS = {FIRST: 3, "which_filter": 5, "flow_pressure": 4, "money": 2, "clear_water": 3}
# A page opened under its own address first asks for the server below it, is told there is none, and asks at the root.
LOOKS_FOR_THE_ROOT = re.compile(r"/[a-z_]+/_stcore/(health|host-config)$")
NOT_FOUND = "Failed to load resource: the server responded with a status of 404"
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
READY = '[data-testid="stApp"][data-test-script-state="notRunning"]'
# What stands on a pump's box, and a few things more.
BOX = {
    "Water, L": "350",
    "Water temperature, °C": "6",
    "Dips a day": "6",
    "Water change, days": "14",
    "Narrowest fitting, mm": "25",
    "Hose, m": "2",
    "Highest lift, m": "2",
    "Most flow, L/h": "2000",
    "Power, W": "25",
}


@dataclass
class Visit:
    """A page, with what it complained of and whom it called."""

    page: Page
    complaints: list[str] = field(default_factory=list)
    strangers: list[str] = field(default_factory=list)

    def fine(self) -> None:
        """See that nothing was complained of, nobody else called, and no trace of an exception is shown."""
        assert self.page.locator(".stException, [data-testid=stException]").count() == 0
        assert self.complaints == []
        assert self.strangers == []


def context_of(browser: Browser, width_px: int, scheme: str) -> BrowserContext:
    return browser.new_context(viewport={"width": width_px, "height": 900}, color_scheme=scheme)  # type: ignore[arg-type]  # the scheme is one of two words


def visit(
    browser: Browser, server: Served, *, width_px: int = WIDE_PX, scheme: str = "light", name: str = "", query: str = ""
) -> Visit:
    context = context_of(browser, width_px, scheme)
    seen = Visit(context.new_page())

    def let_pass(route: Route) -> None:
        if route.request.url.startswith((server.address, "data:", "blob:")):
            route.continue_()
        else:
            seen.strangers.append(route.request.url)
            route.abort()

    def complain(text: str, url: str) -> None:
        if not (text.startswith(NOT_FOUND) and LOOKS_FOR_THE_ROOT.search(url)):
            seen.complaints.append(f"{text} {url}")

    context.route("**/*", let_pass)
    seen.page.on(
        "console",
        lambda said: complain(said.text, said.location["url"]) if said.type in {"error", "warning"} else None,
    )
    seen.page.on("pageerror", lambda error: seen.complaints.append(str(error)))
    seen.page.goto(f"{server.address}/{name}?{query}")
    at_rest(seen.page)
    return seen


def settle(page: Page) -> None:
    """Wait until what was just done has been answered: it is on its way at once, or within three tenths of a second."""
    with contextlib.suppress(TimeoutError):
        page.wait_for_function(f"!document.querySelector('{READY}')", timeout=300)
    at_rest(page)


def at_rest(page: Page) -> None:
    """Wait until the run that has begun is over."""
    page.wait_for_selector(READY, timeout=1000 * WAIT_S)
    page.wait_for_timeout(100)


def go(page: Page, name: str) -> None:
    """Follow the link to a page, and wait until it and its charts are there."""
    page.get_by_role("link", name=page_words.PAGES[name][0], exact=True).first.click()
    title = (
        re.compile("about every|will not do|No option|still to fill in") if name == FIRST else page_words.PAGES[name][0]
    )
    page.get_by_role("heading", level=1, name=title).wait_for(timeout=1000 * WAIT_S)
    at_rest(page)
    charts = f"document.querySelectorAll('[data-testid=stVegaLiteChart] svg').length === {CHARTS.get(name, 0)}"
    page.wait_for_function(charts, timeout=1000 * WAIT_S)
