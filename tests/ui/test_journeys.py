"""What owners do from end to end in a real browser: by mouse on a wide screen, and by keyboard on a phone."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, urlsplit

import page_cache
import page_link
import pytest
from browsing import CHROMIUM, PHONE_PX, WAIT_S, WIDE_PX, settle, visit
from playwright.sync_api import expect
from studies import demo_with
from visitor import served

from filtration import compare
from filtration.answers.decision import DRAWS
from filtration.base.places import template_text
from filtration.present.words import fields as field_words
from filtration.present.words import front
from filtration.present.words import pages as page_words
from filtration.study.file import study_from_dict
from filtration.study.text import text_of_tables

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser, Locator, Page
    from visitor import Served

pytestmark = [
    pytest.mark.skipif(not CHROMIUM, reason="chromium is not installed"),
    pytest.mark.parametrize(("width_px", "scheme"), [(WIDE_PX, "light"), (PHONE_PX, "dark")]),
]
EIGHT = {
    "Water, L": ("380", "380 L"),
    "Dips a day": ("4,5", 4.5),
    "Water temperature, °C": ("5,5", "5.5 degC"),
    "Highest lift, m": ("2,9", "2.9 m"),
    "Most flow, L/h": ("2600", "2600 L/h"),
    "Power, W": ("45", "45 W"),
    "Narrowest fitting, mm": ("19", "19 mm"),
    "Hose, m": ("3,5", "3.5 m"),
}


@dataclass
class Hands:
    """Somebody at a page: with a mouse where it is wide, with keys alone where it is a phone."""

    page: Page
    keys: bool

    def put(self, label: str, text: str) -> None:
        """Type a text into a field."""
        box = self.page.get_by_role("textbox", name=label, exact=True)
        if self.keys:
            box.focus()
            self.page.keyboard.press("Control+A")
            self.page.keyboard.type(text)
            self.page.keyboard.press("Tab")
        else:
            box.fill(text)
            box.press("Enter")
        settle(self.page)
        expect(box).to_have_value(text)

    def press(self, button: Locator) -> None:
        """Press a button."""
        if self.keys:
            button.focus()
            self.page.keyboard.press("Enter")
        else:
            button.click()
        settle(self.page)

    def button(self, name: str) -> None:
        """Press the button of a name, or of its beginning."""
        self.press(
            self.page.get_by_role("button", name=re.compile(rf"^(expand_more|chevron_right)?\s*{re.escape(name)}"))
        )

    def go(self, name: str) -> None:
        """Follow the link to a page."""
        self.press(self.page.get_by_role("link", name=page_words.PAGES[name][0], exact=True).first)

    def choose(self, label: str, word: str) -> None:
        """Choose one of a list."""
        box = self.page.locator("[data-testid=stSelectbox]").filter(has_text=label).get_by_role("combobox")
        if self.keys:
            box.focus()
        else:
            box.click()
        self.page.keyboard.type(word)
        self.page.keyboard.press("Enter")
        settle(self.page)

    def tables(self) -> dict[str, Any]:
        """Return the tub that the address carries."""
        self.page.wait_for_timeout(300)
        return tomllib.loads(page_link.unpacked(parse_qs(urlsplit(self.page.url).query)["study"][0])[-1])


def hands_at(browser: Browser, server: Served, width_px: int, scheme: str, name: str = "", query: str = "") -> Any:
    seen = visit(browser, server, width_px=width_px, scheme=scheme, name=name, query=query)
    return seen, Hands(seen.page, keys=width_px == PHONE_PX)


def sentence_of(tables: dict[str, Any]) -> str:
    """Return what the library says of a tub in a sentence."""
    answer = compare(study_from_dict(tables), draws=DRAWS)
    return front.sentence(answer.spoken_of, answer)


def test_a_newcomer_types_eight_numbers_and_two_filters_and_reads_the_answer(
    browser: Browser, server: Served, width_px: int, scheme: str
) -> None:
    seen, hands = hands_at(browser, server, width_px, scheme, "your_tub")
    page = seen.page
    hands.button(field_words.EMPTY)
    hands.go("your_filter")
    expect(page.get_by_text(f"{field_words.MISSING}:")).to_be_visible(timeout=1000 * WAIT_S)
    for label, (typed, _) in EIGHT.items():
        hands.put(label, typed)
    for kind, rating, price in (("pleated", "7,5", "27,5"), ("wound", "2.5", "6,25")):
        hands.button("Add a filter")
        hands.choose("Kind", kind)
        hands.choose("Size", "10 x 4.5 in")
        hands.put("Micron rating, µm", rating)
        hands.put("Price", price)
        hands.button("Done")
    tables = hands.tables()
    written = [*tables["tub"].values(), *tables["pump"].values(), *tables["plumbing"].values()]
    assert sorted(map(str, written)) == sorted(str(value) for _, value in EIGHT.values())
    usual = page_cache.empty_tables()["elements"]
    wide = {"size": "10 x 4.5 in"}
    assert tables["elements"][: len(usual)] == usual
    assert tables["elements"][len(usual) :] == [
        {"name": "Pleated 7.5", "kind": "pleated", "rating": "7.5 um", "price": 27.5} | wide,
        {"name": "Wound 2.5", "kind": "wound", "rating": "2.5 um", "price": 6.25} | wide,
    ]
    expect(page.get_by_role("heading", level=1)).to_have_text(sentence_of(tables), timeout=1000 * WAIT_S)

    hands.button("Pleated 7.5")
    expect(page.get_by_role("textbox", name="Price", exact=True)).to_have_value("27.5", timeout=1000 * WAIT_S)
    settle(page)
    hands.press(page.locator("summary").filter(has_text="More about it"))
    hands.put("Flow, L/min, 1", "8")
    hands.put("Clean loss, kPa, 1", "1,2")
    hands.put("Dirt it holds, g", "60")
    hands.put("Delivery takes, days", "10")
    row = hands.tables()["elements"][-2]
    assert (row["clean_loss"], row["dirt_capacity"], row["lead_time"]) == ([["8 L/min", "1.2 kPa"]], "60 g", "10 day")
    expect(page.get_by_role("heading", level=1)).to_have_text(sentence_of(hands.tables()), timeout=1000 * WAIT_S)
    assert page.evaluate("document.documentElement.scrollWidth") <= width_px
    seen.fine()
    page.context.close()


def test_three_buckets_move_the_day(browser: Browser, server: Served, width_px: int, scheme: str) -> None:
    tables = demo_with("freezer", "Pleated 20", "Pleated 50") | {"name": f"Tub at {width_px} px"}
    tables["in_use"] = {"option": "pleated-20", "since": "2026-02-01"}
    query = f"study={page_link.packed([text_of_tables(tables)])}"
    seen, hands = hands_at(browser, server, width_px, scheme, query=query)
    page = seen.page
    before = sentence_of(tables)
    expect(page.get_by_role("heading", level=1)).to_have_text(before, timeout=1000 * WAIT_S)
    hands.go("your_readings")
    hands.put("In the bucket, L", "10")
    for seconds in ("26,4", "27", "26.8"):
        hands.put("Seconds", seconds)
        hands.button("Log it")
        expect(page.get_by_text(f"10 L in {seconds.replace(',', '.')} s. Saved: 1 added")).to_be_visible()
    hands.go("your_filter")
    expect(page.get_by_label("Go by my readings")).to_be_checked(timeout=1000 * WAIT_S)
    expect(page.get_by_role("heading", level=1)).not_to_have_text(before, timeout=1000 * WAIT_S)
    hands.go("your_readings")
    hands.button("Undo")
    expect(page.get_by_text("1 reading taken out again")).to_be_visible()
    seen.fine()
    page.context.close()


def test_a_file_is_opened_changed_and_holds_the_change(
    browser: Browser, tmp_path: Path, width_px: int, scheme: str
) -> None:
    file = tmp_path / "tub.toml"
    file.write_text(template_text(), "utf-8")
    with served(tmp_path, more=[str(file)]) as server:
        seen, hands = hands_at(browser, server, width_px, scheme)
        expect(seen.page.get_by_text(field_words.FILE_SAVED)).to_be_visible(timeout=1000 * WAIT_S)
        hands.put("Water, L", "431,5")
        expect(seen.page.get_by_text(field_words.FILE_SAVED)).to_be_visible(timeout=1000 * WAIT_S)
        assert tomllib.loads(file.read_text("utf-8"))["tub"]["volume"] == "431.5 L"
        assert "# time how long a hose fills a bucket" in file.read_text("utf-8")
        seen.fine()
        seen.page.context.close()


def test_a_bare_address_brings_the_last_tub_back(browser: Browser, server: Served, width_px: int, scheme: str) -> None:
    seen, hands = hands_at(browser, server, width_px, scheme)
    hands.put("Water, L", "432,5")
    hands.page.wait_for_function("window.localStorage.getItem('filtration')")
    hands.page.goto(server.address)
    expect(hands.page.get_by_role("textbox", name="Water, L", exact=True)).to_have_value("432.5", timeout=1000 * WAIT_S)
    seen.fine()
    hands.page.context.close()
