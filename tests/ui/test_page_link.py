"""Tubs in a link come back as they were, and nothing else does harm."""

import base64
import contextlib
import json
import secrets
import zlib

import page_link
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filtration.base.places import demo_file, demo_names


def test_all_demos_together_fit_a_link() -> None:
    texts = [demo_file(name).read_text(encoding="utf-8") for name in demo_names()]
    word = page_link.packed(texts)
    assert word is not None
    assert len(word) <= 6000
    assert page_link.unpacked(word) == texts


@given(st.lists(st.text(st.characters(exclude_categories=["Cs"]), max_size=200), min_size=1, max_size=4))
def test_what_is_packed_is_unpacked(texts: list[str]) -> None:
    word = page_link.packed(texts)
    if word is not None:
        assert page_link.unpacked(word) == texts


@given(st.text(max_size=100))
def test_any_other_word_is_a_value_error_or_texts(word: str) -> None:
    with contextlib.suppress(ValueError):
        assert all(isinstance(text, str) for text in page_link.unpacked(word))


def _packed(data: bytes) -> str:
    return base64.urlsafe_b64encode(zlib.compress(data, 9)).decode()


@pytest.mark.parametrize(
    "word",
    [
        _packed(b'["' + b"a" * 3_000_000 + b'"]'),  # small in the link, large outside it
        _packed(b"[" * 5000 + b"]" * 5000),
        _packed(b"[]"),
        _packed(b"[1]"),
        _packed(b"{}"),
        _packed(json.dumps("text").encode()),
        _packed(b"[\xff]"),
        _packed(b'["a"]')[:-6],
        "é",
    ],
)
def test_a_word_that_holds_none_is_told(word: str) -> None:
    with pytest.raises(ValueError):  # noqa: PT011 - its words are nobody's to read
        page_link.unpacked(word)


def test_a_longer_word_is_taken_where_there_is_room_for_it() -> None:
    texts = [secrets.token_hex(20_000)]
    assert page_link.packed(texts) is None
    word = page_link.packed(texts, 100_000)
    assert word is not None
    assert page_link.unpacked(word, 100_000) == texts
    with pytest.raises(ValueError, match="too long"):
        page_link.unpacked(word)
