"""What pages say, with each figure's field in its place, is what people have read in docs/wording/pages.md."""

import said
from documents import text_of


def test_pages_are_those_that_were_read() -> None:
    """Run python tests/scripts/said.py to renew them, and read what changed."""
    assert said.pages_page(said.known_words()) == text_of("docs/wording/pages.md")
