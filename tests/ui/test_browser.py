"""The pages in a real browser: wide and on a phone, light and dark, by keyboard, and with nobody else called."""

import csv
import socket
from pathlib import Path

import page_link
import pytest
from axe_playwright_python.sync_playwright import Axe
from browsing import CHROMIUM, PHONE_PX, WAIT_S, WIDE_PX, context_of, go, settle, visit
from looking import keys_in, lines_on, raw_numbers, words_on
from playwright.sync_api import Browser, Page, expect
from studies import demo_data
from visitor import Served, free_port

from filtration import InputError, compare
from filtration.answers.decision import DRAWS
from filtration.base.places import demo_file
from filtration.cli.serve import serve_pages
from filtration.present.words import answer as words
from filtration.present.words import front, phrases
from filtration.present.words import pages as page_words
from filtration.study.file import study_from_dict

UPLOADER = 'data-testid="stFileUploaderDropzone"'  # its role and its focus contradict each other inside Streamlit

LINED = {"your_filter", "which_filter", "flow_pressure", "money", "clear_water"}
OF_THE_FILE = {"how_it_works"}  # which lists every default under its key, as it is used

pytestmark = pytest.mark.skipif(not CHROMIUM, reason="chromium is not installed")


def letters_of(page: Page) -> list[list[str]]:
    script = "charts => charts.map(svg => [...svg.querySelectorAll('text')].map(text => text.textContent))"
    texts: list[list[str]] = page.locator("[data-testid=stVegaLiteChart] svg").evaluate_all(script)
    return texts


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
        return letters.length === 0 ? 21
            : Math.min(...letters.map(l => (Math.max(l, ground) + 0.05) / (Math.min(l, ground) + 0.05)));
    }"""
    least: float = page.evaluate(script)
    return least


def faults_of(page: Page) -> list[str]:
    """Return what axe-core, from its package, finds against a page."""
    found = Axe().run(page).response["violations"]
    return [
        f"{fault['id']}: {node['target']} {node['html'][:120]}"
        for fault in found
        for node in fault["nodes"]
        if (fault["id"], UPLOADER in node["html"]) != ("presentation-role-conflict", True)
    ]


@pytest.mark.parametrize(("width_px", "scheme"), [(WIDE_PX, "light"), (PHONE_PX, "dark")])
def test_every_page_is_fit_to_be_seen(browser: Browser, server: Served, width_px: int, scheme: str) -> None:
    seen = visit(browser, server, width_px=width_px, scheme=scheme)
    page = seen.page
    for name in page_words.PAGES:
        go(page, name)
        if name in {"your_tub", "how_it_works"} and (width_px == PHONE_PX) == (scheme == "dark"):
            folded = page.locator("details:not([open]) > summary")
            while left := folded.count():
                folded.first.click()
                expect(folded).not_to_have_count(left)
            settle(page)
        widths = page.evaluate(
            "[document.documentElement.scrollWidth, document.querySelector('[data-testid=stMain]').scrollWidth]"
        )
        assert max(widths) <= width_px, name
        assert contrast(page) >= 4.5, name
        drawn = lines_on(page)
        assert bool(drawn) == (name in LINED), name
        assert [each for each in drawn if each[1] < 3.0] == [], name
        if name not in OF_THE_FILE:
            told = words_on(page)
            assert [text for text in told if raw_numbers(text)] == [], name
            assert [text for text in told if keys_in(text)] == [], name
        if (width_px == PHONE_PX) == (scheme == "dark"):  # both themes and both widths once
            assert faults_of(page) == [], name
    seen.fine()
    page.context.close()


def test_a_journey_from_a_demo_to_a_table_and_back_after_a_reload(
    browser: Browser, server: Served, tmp_path: Path
) -> None:
    seen = visit(browser, server)
    page = seen.page
    go(page, "your_tub")
    page.get_by_role("button", name="Harbour freezer tub").click()
    settle(page)
    expect(page.get_by_text("about every")).to_be_visible(timeout=1000 * WAIT_S)

    lift = page.get_by_role("textbox", name="Highest lift, m")
    lift.focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("3.5")
    page.keyboard.press("Enter")
    data = demo_data("freezer")
    data["pump"]["shutoff_head"] = "3.5 m"
    answer = compare(study_from_dict(data), draws=DRAWS)
    assert answer.advised is not None
    days = phrases.due(answer.advised.days_to_first_service or 0.0)
    expect(page.get_by_text(front.sentence(answer.advised, answer))).to_be_visible(timeout=1000 * WAIT_S)

    go(page, "which_filter")
    assert page.get_by_text(words.headline(answer)[:100]).is_visible()
    assert page.locator("[data-testid=stMetricValue]").first.inner_text() == days
    (drawn,) = [letters for letters in letters_of(page) if "Kind and micron rating" in letters]
    assert {"pleated", "open foam", "50 µm", "too cloudy"} <= set(drawn)
    with page.expect_download() as download:
        page.get_by_role("button", name="Table as CSV").click()
    table = tmp_path / "options.csv"
    download.value.save_as(table)
    with table.open(encoding="utf-8-sig", newline="") as file:
        assert [row["option"] for row in csv.DictReader(file)] == [option.name for option in answer.options]

    page.reload()
    settle(page)
    expect(page.locator("[data-testid=stMetricValue]").first).to_have_text(days, timeout=1000 * WAIT_S)
    go(page, "your_tub")
    expect(page.get_by_role("textbox", name="Highest lift, m")).to_have_value("3.5")

    page.get_by_text("Open or save a study file").click()
    page.locator("input[type=file]").set_input_files(demo_file("barrel"))
    expect(page.get_by_role("textbox", name="Water, L", exact=True)).to_have_value("220", timeout=1000 * WAIT_S)
    settle(page)
    page.set_viewport_size({"width": PHONE_PX, "height": 844})
    settle(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE_PX
    page.emulate_media(color_scheme="dark")
    page.reload()
    settle(page)
    expect(page.get_by_role("textbox", name="Water, L", exact=True)).to_have_value("220")
    assert page.get_by_role("combobox").count() >= 2  # both tubs to choose from, and the housing
    seen.fine()
    page.context.close()


@pytest.mark.parametrize("query", ["study=x", f"study={page_link.packed(['[tub'])}&tub=9&units=x"])
def test_a_broken_link_opens_the_page_all_the_same(browser: Browser, server: Served, query: str) -> None:
    seen = visit(browser, server, query=query)
    expect(seen.page.get_by_text("about every")).to_be_visible(timeout=1000 * WAIT_S)
    seen.fine()
    seen.page.context.close()


def test_a_fault_is_read_below_its_field(browser: Browser, server: Served) -> None:
    text = demo_file("freezer").read_text(encoding="utf-8").replace('"25 mm"', '"0 mm"')
    seen = visit(browser, server, width_px=PHONE_PX, query=f"study={page_link.packed([text])}")
    page = seen.page
    page.get_by_text("Must be 1 mm to 500 mm").wait_for()
    box = page.get_by_role("textbox", name="Narrowest fitting, mm").bounding_box()
    fault = page.get_by_text("Must be 1 mm to 500 mm").bounding_box()
    assert box is not None
    assert fault is not None
    assert 0.0 <= fault["y"] - box["y"] <= 120.0
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE_PX
    seen.fine()
    page.context.close()


def test_the_browser_is_told_to_load_from_nowhere_else(browser: Browser, server: Served) -> None:
    context = context_of(browser, WIDE_PX, "light")
    page = context.new_page()
    opened = page.goto(server.address)
    assert opened is not None
    policy = opened.headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "http" not in policy
    settle(page)
    with socket.socket() as stranger:
        stranger.bind(("127.0.0.1", 0))
        stranger.listen()
        stranger.settimeout(0.5)
        url = f"http://127.0.0.1:{stranger.getsockname()[1]}/"
        image = "url => new Promise(end => { const i = new Image(); i.onload = i.onerror = () => end(); i.src = url; })"
        page.evaluate(image, url)
        assert page.evaluate("url => fetch(url).then(() => 'fetched', () => 'refused')", url) == "refused"
        with pytest.raises(TimeoutError):
            stranger.accept()
    context.close()


def test_a_port_in_use_is_told_in_words(server: Served) -> None:
    port = int(server.address.rpartition(":")[2])
    with pytest.raises(InputError, match=f"port {port}: Address already in use; try --port {port + 1}"):
        serve_pages(port=port)


@pytest.mark.parametrize("port", [0, -1, 65536])
def test_a_bad_port_is_told_in_words(port: int) -> None:
    with pytest.raises(InputError, match=f"must be 1 to 65535, got {port}"):
        serve_pages(port=port)


def test_a_bad_address_is_told_in_words() -> None:
    with pytest.raises(InputError, match="needs an address of this machine"):
        serve_pages("no such host.invalid", free_port())
    with pytest.raises(InputError, match="cannot listen on 192"):
        serve_pages("192.0.2.1", free_port())
