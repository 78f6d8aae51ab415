"""What is said and drawn, with each figure's field in its place, is what people have read in docs/wording/."""

import re

import said
from documents import text_of


def test_words_are_those_that_were_read() -> None:
    """Run python tests/scripts/said.py to renew them, and read what changed."""
    assert said.words_page(set()) == text_of("docs/wording/words.md")


def test_charts_are_those_that_were_read() -> None:
    assert said.charts_page() == text_of("docs/wording/charts.md")


def value(number: str) -> float:
    return float(number.replace(",", ""))


def test_ranges_go_from_the_lesser_to_the_greater() -> None:
    """Wherever 8 of 10 cases are told."""
    number, cases = r"(-?[\d,]+(?:\.\d+)?)", r"8 of 10(?: cases)?:? (?:between |lie between )?"
    span = rf"{cases}(?:EUR )?{number}[^,;)\n]{{0,12}}? (?:to|and) (?:EUR )?{number}"
    drawn = (spec.get("description", "") for _, spec in said.all_charts())
    text = "\n".join([*(told for _, told, _ in said.all_told()), *drawn])
    ends = re.findall(span, text)
    assert len(ends) > 25
    assert [(low, high) for low, high in ends if not value(low) < value(high)] == []
