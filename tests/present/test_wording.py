"""What is said and drawn, with each figure's field in its place, is what people have read in docs/wording/."""

import said
from documents import text_of


def test_words_are_those_that_were_read() -> None:
    """Run python tests/scripts/said.py to renew them, and read what changed."""
    assert said.words_page(set()) == text_of("docs/wording/words.md")


def test_charts_are_those_that_were_read() -> None:
    assert said.charts_page() == text_of("docs/wording/charts.md")
