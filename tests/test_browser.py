"""The page in a real browser: wide and on a phone, light and dark, by keyboard, and with nobody else called."""

import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Route, expect, sync_playwright

from filtration import Comparison, InputError
from filtration.present import phrases, words
from filtration.present.charts import PICTURES
from filtration.serve import serve

CHROMIUM = shutil.which("chromium") or ""
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
READY = '[data-testid="stApp"][data-test-script-state="notRunning"]'
WAIT_S = 60
PHONE_PX, WIDE_PX = 390, 1280

pytestmark = pytest.mark.skipif(not CHROMIUM, reason="chromium is not installed")


@dataclass
class Server:
    """A running front end."""

    address: str
    log: Path


@dataclass
class Visit:
    """A page, with what it complained of and whom it called."""

    page: Page
    complaints: list[str] = field(default_factory=list)
    strangers: list[str] = field(default_factory=list)


def free_port() -> int:
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        port: int = trial.getsockname()[1]
        return port


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """Serve from another folder, as an owner would."""
    folder, port = tmp_path_factory.mktemp("elsewhere"), free_port()
    log = folder / "log.txt"
    start = f"from filtration.serve import serve; serve(port={port})"
    with log.open("wb") as out:
        process = subprocess.Popen(
            [sys.executable, "-c", start],
            cwd=folder,
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=out,
            env={**os.environ, "HOME": str(folder)},
        )
        try:
            deadline = time.monotonic() + WAIT_S
            while True:
                try:
                    socket.create_connection(("127.0.0.1", port), timeout=1).close()
                    break
                except OSError:
                    assert process.poll() is None, log.read_text()
                    assert time.monotonic() < deadline, log.read_text()
                    time.sleep(0.1)
            yield Server(address=f"http://127.0.0.1:{port}", log=log)
        finally:
            process.terminate()
            process.wait(timeout=20)
    assert "Traceback" not in log.read_text()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


def visit(
    browser: Browser, server: Server, *, width_px: int = WIDE_PX, scheme: str = "light", query: str = ""
) -> Visit:
    context = browser.new_context(viewport={"width": width_px, "height": 900}, color_scheme=scheme)  # type: ignore[arg-type]
    seen = Visit(context.new_page())

    def let_pass(route: Route) -> None:
        if route.request.url.startswith((server.address, "data:", "blob:")):
            route.continue_()
        else:
            seen.strangers.append(route.request.url)
            route.abort()

    context.route("**/*", let_pass)
    seen.page.on(
        "console", lambda said: seen.complaints.append(said.text) if said.type in {"error", "warning"} else None
    )
    seen.page.on("pageerror", lambda error: seen.complaints.append(str(error)))
    seen.page.goto(f"{server.address}/?{query}")
    settle(seen.page)
    return seen


def settle(page: Page) -> None:
    page.wait_for_timeout(300)
    page.wait_for_selector(READY, timeout=1000 * WAIT_S)
    page.wait_for_timeout(100)


def chart_texts(page: Page) -> list[list[str]]:
    charts = "document.querySelectorAll('[data-testid=stVegaLiteChart] svg')"
    page.wait_for_function(f"{charts}.length === {len(PICTURES)}", timeout=1000 * WAIT_S)
    script = "charts => charts.map(svg => [...svg.querySelectorAll('text')].map(text => text.textContent))"
    texts: list[list[str]] = page.locator("[data-testid=stVegaLiteChart] svg").evaluate_all(script)
    return texts


def whole(page: Page, width_px: int) -> None:
    """Make the window as high as the page, so that all of it is drawn."""
    height = page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
    page.set_viewport_size({"width": width_px, "height": height})
    settle(page)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width_px", [WIDE_PX, PHONE_PX])
def test_the_page_answers(browser: Browser, server: Server, freezer: Comparison, width_px: int, scheme: str) -> None:
    seen = visit(browser, server, width_px=width_px, scheme=scheme)
    page = seen.page
    chart_texts(page)
    whole(page, width_px)
    texts = chart_texts(page)
    assert page.get_by_text(words.headline(freezer)[:60]).is_visible()
    assert page.get_by_text(words.cautions(freezer.study)[-1]).is_visible()
    best = freezer.options[0]
    assert page.locator("[data-testid=stMetricValue]").first.inner_text() == phrases.days(
        best.days_to_first_service or 0.0
    )
    for title, text in zip(("Pressure the filter takes", "Flow the pump has left"), texts, strict=False):
        assert title in text
    for title in ("What a year costs", "Days to the first service", "What a year may cost"):
        (letters,) = [text for text in texts if title in text]
        assert any(text.startswith(best.name) for text in letters)
    assert any("the dirt a bather brings, " in letter for text in texts for letter in text)
    assert page.get_by_role("heading", name="How sure").is_visible()
    assert page.get_by_text(f"of 20 cases {best.name} meets the needs").is_visible()
    assert page.get_by_text("Measure this next: ").is_visible()
    assert page.locator(".stException").count() == 0
    assert page.locator("[data-testid=stDataFrame]").is_visible()
    widths = page.evaluate(
        "[document.documentElement.scrollWidth, document.querySelector('[data-testid=stMain]').scrollWidth]"
    )
    assert max(widths) <= width_px
    assert contrast(page) >= 4.5
    assert seen.complaints == []
    assert seen.strangers == []
    page.context.close()


def contrast(page: Page) -> float:
    """Return the least contrast of the charts' letters outside bars with the page behind them."""
    script = """() => {
        const light = colour => {
            const [r, g, b] = colour.match(/[0-9.]+/g).slice(0, 3).map(Number).map(v => v / 255)
                .map(v => v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
            return 0.2126 * r + 0.7152 * g + 0.0722 * b;
        };
        const ground = light(getComputedStyle(document.querySelector('[data-testid=stApp]')).backgroundColor);
        const letters = [...document.querySelectorAll('[data-testid=stVegaLiteChart] svg text')]
            .filter(text => text.textContent && !text.closest('.mark-text.role-mark'))
            .map(text => light(getComputedStyle(text).fill));
        return Math.min(...letters.map(l => (Math.max(l, ground) + 0.05) / (Math.min(l, ground) + 0.05)));
    }"""
    least: float = page.evaluate(script)
    return least


def test_a_number_changed_by_keyboard_changes_the_answer_and_outlasts_a_reload(
    browser: Browser, server: Server
) -> None:
    seen = visit(browser, server)
    page = seen.page
    figures = page.locator("[data-testid=stMetricValue]")
    figures.first.wait_for()
    before = figures.all_inner_texts()
    lift = page.get_by_role("spinbutton", name="Highest lift, m")
    lift.focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("3.5")
    page.keyboard.press("Enter")
    expect(figures.first).not_to_have_text(before[0], timeout=1000 * WAIT_S)
    settle(page)
    after = figures.all_inner_texts()
    page.reload()
    settle(page)
    expect(figures).to_have_text(after, timeout=1000 * WAIT_S)
    assert page.get_by_role("spinbutton", name="Highest lift, m").input_value() == "3.5"
    assert seen.complaints == []
    page.context.close()


@pytest.mark.parametrize("query", ["freezer-volume=inf", "freezer-volume=nan", "freezer-volume=x", "start=nobody"])
def test_a_broken_link_opens_the_page_all_the_same(browser: Browser, server: Server, query: str) -> None:
    seen = visit(browser, server, query=query)
    seen.page.locator("[data-testid=stMetricValue]").first.wait_for()
    assert seen.page.locator(".stException").count() == 0
    seen.page.context.close()


def test_a_fault_is_read_below_its_field(browser: Browser, server: Server) -> None:
    seen = visit(browser, server, width_px=PHONE_PX, query="freezer-bore=0")
    page = seen.page
    page.get_by_text("Must be 1 mm to 500 mm").wait_for()
    box = page.get_by_role("spinbutton", name="Bore, mm").bounding_box()
    fault = page.get_by_text("Must be 1 mm to 500 mm").bounding_box()
    assert box is not None
    assert fault is not None
    assert 0.0 <= fault["y"] - box["y"] <= 120.0
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE_PX
    page.context.close()


def test_a_port_in_use_is_told_in_words(server: Server) -> None:
    port = int(server.address.rpartition(":")[2])
    with pytest.raises(InputError, match=f"port {port}: Address already in use; try --port {port + 1}"):
        serve(port=port)


@pytest.mark.parametrize("port", [0, -1, 65536])
def test_a_bad_port_is_told_in_words(port: int) -> None:
    with pytest.raises(InputError, match=f"must be 1 to 65535, got {port}"):
        serve(port=port)


def test_a_bad_address_is_told_in_words() -> None:
    with pytest.raises(InputError, match="needs an address of this machine"):
        serve("no such host.invalid", free_port())
    with pytest.raises(InputError, match="cannot listen on 192"):
        serve("192.0.2.1", free_port())
