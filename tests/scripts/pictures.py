"""Make the pictures of the documentation: python tests/scripts/pictures.py (wants Debian's chromium)."""

import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests" / "helpers"), str(ROOT / "ui")]

from browsing import BOX, FLAGS, PICTURES, READY  # noqa: E402 - found by the line above
from visitor import served  # noqa: E402 - see above

from filtration import load_study, sweep  # noqa: E402 - see above
from filtration.base.places import demo_file  # noqa: E402 - see above
from filtration.present.exports.by_ending import bytes_of_sweep  # noqa: E402 - see above


def settle(page: Page) -> None:
    """Wait until the page is drawn."""
    page.wait_for_timeout(400)
    page.wait_for_selector(READY, timeout=120_000)
    page.wait_for_timeout(900)


def go(page: Page, name: str) -> None:
    """Follow the link to a page."""
    page.get_by_role("link", name=name, exact=True).first.click()
    settle(page)


def shoot(page: Page, name: str, height: int) -> None:
    """Photograph the page from its top."""
    width = (page.viewport_size or {"width": 1180})["width"]
    page.set_viewport_size({"width": width, "height": height})
    settle(page)
    page.screenshot(path=str(PICTURES / f"{name}.png"))


def fill(page: Page) -> None:
    """Type what stands on a pump's box, and a few things more."""
    page.get_by_role("button", name="An empty tub").click()
    settle(page)
    for label, value in BOX.items():
        page.get_by_label(label, exact=True).first.fill(value)
        page.keyboard.press("Enter")
        settle(page)


def add_a_filter(page: Page) -> None:
    """Add a filter by hand, with a decimal comma."""
    page.get_by_role("button", name="Add a filter").click()
    settle(page)
    for label, word in (("Kind", "pleated"), ("Size", "10 x 2.5 in")):
        page.get_by_role("combobox", name=label, exact=True).click()
        page.get_by_role("option", name=word, exact=True).click()
        settle(page)
    for label, value in (("Name of the filter", "Pleated 2,5"), ("Micron rating, µm", "2,5"), ("Price", "27,5")):
        page.get_by_label(label, exact=True).fill(value)
        page.keyboard.press("Enter")
        settle(page)


def the_front_page(browser: Browser, address: str) -> None:
    """Photograph the front page wide and on a phone, light and dark, before and after a filter is added by hand."""
    for size, (width, height) in {"wide": (1280, 800), "phone": (390, 844)}.items():
        for scheme in ("light", "dark"):
            viewport, looks = {"width": width, "height": height}, {"color_scheme": scheme}
            page = browser.new_page(viewport=viewport, **looks)  # type: ignore[arg-type]  # one of two words
            page.goto(address)
            settle(page)
            shoot(page, f"front_{size}_{scheme}", height)
            add_a_filter(page)
            page.locator("[data-testid=stMain]").evaluate("main => main.scrollTo(0, 0)")
            shoot(page, f"front_{size}_{scheme}_added", height)
            page.context.close()


def draw_curves() -> None:
    """Draw the three kinds on the demo pump, as ``filtration sweep`` does."""
    found = sweep(load_study(demo_file("freezer")))
    (PICTURES / "sweep.png").write_bytes(bytes_of_sweep(found, ".png"))


def main() -> None:
    """Draw the curves, and photograph the pages in the order of the tutorial."""
    PICTURES.mkdir(exist_ok=True)
    draw_curves()
    with tempfile.TemporaryDirectory() as folder, served(Path(folder)) as server, sync_playwright() as playwright:
        address = server.address
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=list(FLAGS))
        the_front_page(browser, address)
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(address)
        settle(page)
        go(page, "Your tub")
        fill(page)
        shoot(page, "tub", 1130)
        for name, picture, height in (
            ("Every filter", "which_filter", 1150),
            ("Pressure drop", "flow_pressure", 1250),
            ("Money", "money", 1250),
            ("Clear water", "clear_water", 1180),
        ):
            go(page, name)
            shoot(page, picture, height)
        go(page, "What if")
        slider = page.get_by_role("slider")
        slider.focus()
        for _ in range(2):
            page.keyboard.press("ArrowLeft")
        settle(page)
        shoot(page, "what_if", 900)
        browser.close()


if __name__ == "__main__":
    main()
