"""What a person sees and hears on a page: its words, their digits, and how lines stand out."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Page

_SEEN = """() => {
    const main = document.querySelector('[data-testid=stMain]');
    const icons = [...main.querySelectorAll('[data-testid=stIconMaterial]')].map(each => each.textContent);
    const heard = [...main.querySelectorAll('[aria-label]')].map(each => each.getAttribute('aria-label'));
    const drawn = [...main.querySelectorAll('svg text')].map(each => each.textContent);
    return [...main.innerText.split('\\n'), ...heard, ...drawn].filter(each => each && !icons.includes(each));
}"""
_LINES = """() => {
    const light = colour => {
        const [r, g, b] = colour.match(/[0-9.]+/g).slice(0, 3).map(Number).map(v => v / 255)
            .map(v => v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
        return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const shade = getComputedStyle(document.querySelector('[data-testid=stApp]')).backgroundColor;
    const parts = colour => colour.match(/[0-9.]+/g).map(Number);
    const over = (colour, opacity) => {
        const [top, below] = [parts(colour), parts(shade)];
        return `rgb(${[0, 1, 2].map(at => opacity * top[at] + (1 - opacity) * below[at]).join(',')})`;
    };
    const ground = light(shade);
    const marks = '.mark-line.role-mark path, .mark-symbol.role-mark path';
    const drawn = [...document.querySelectorAll('[data-testid=stVegaLiteChart] svg')].flatMap(svg =>
        [...svg.querySelectorAll(marks)].map(each => [svg.getAttribute('aria-label') || '', each]));
    return drawn.map(([of, each]) => {
        const style = getComputedStyle(each);
        const colour = style.stroke === 'none' ? style.fill : style.stroke;
        if (!colour.startsWith('rgb')) return [of, 21, colour];
        const own = Number(style.opacity) * Number(style.stroke === 'none' ? style.fillOpacity : style.strokeOpacity);
        const l = light(over(colour, own));
        return [of.slice(0, 60), (Math.max(l, ground) + 0.05) / (Math.min(l, ground) + 0.05), colour];
    });
}"""
_NUMBER = re.compile(r"(?<![\w.,-])\d[\d,]*(?:\.\d+)?(?![\w-])")
_DATE = re.compile(r"\d{4}-\d\d-\d\d|\d{1,2} \w{3} \d{4}|https?:\S+")
_CENTS = re.compile(r"(?:[A-Z]{3} |^)[\d,]+\.\d\d\b")
_MOST = 4
_KEY = re.compile(
    r"\[\[?[a-z_]+\]\]?|\b[a-z]+_[a-z_]+\b|\b(?:tub|pump|plumbing|needs|prices|cooling|elements)\.[a-z]+\b"
)


def words_on(page: Page) -> list[str]:
    """Return every line of text that a page shows or tells, charts and labels for the blind among them."""
    found: list[str] = page.evaluate(_SEEN)
    return found


def raw_numbers(text: str) -> list[str]:
    """Return the numbers of a text with more than four significant digits; dates and amounts to the cent are none.

    Examples
    --------
    >>> raw_numbers("day 144.986720107, EUR 1,180.85 on 2026-11-30, 12,000 L, 1,749 L/h")
    ['144.986720107']
    """
    found = _NUMBER.findall(_CENTS.sub("", _DATE.sub("", text)))
    return [each for each in found if _significant(each) > _MOST]


def _significant(number: str) -> int:
    digits = number.replace(",", "").lstrip("0")
    return len(digits.replace(".", "").lstrip("0")) if "." in number else len(digits.rstrip("0"))


def keys_in(text: str) -> list[str]:
    """Return what in a text is a key of a study's file.

    Examples
    --------
    >>> keys_in("[[elements]] 14: pleat_depth, pump.power; e.g. a pump. tub")
    ['[[elements]]', 'pleat_depth', 'pump.power']
    """
    return _KEY.findall(text)


def lines_on(page: Page) -> list[tuple[str, float, str]]:
    """Return the lines and points of a page's charts: of which, how much it stands out from its ground, its colour."""
    found: list[tuple[str, float, str]] = page.evaluate(_LINES)
    return found
