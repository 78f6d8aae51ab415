"""Tubs in a link: packed into the page's address while that stays short, and read back with care."""

import base64
import json
import zlib
from collections.abc import Iterable, Sequence

MOST_CHARACTERS = 6000
_MOST_BYTES = 1_000_000


def packed(texts: Sequence[str], most: int = MOST_CHARACTERS) -> str | None:
    """Return study texts as one word of so many characters at most, for an address; None where it would be longer."""
    word = base64.urlsafe_b64encode(zlib.compress(json.dumps(list(texts)).encode(), 9)).decode().rstrip("=")
    return word if len(word) <= most else None


def unpacked(word: str, most: int = MOST_CHARACTERS) -> list[str]:
    """Return the texts a word of so many characters at most holds; raises ValueError where it holds none."""
    if len(word) > most:
        raise ValueError("too long")
    try:
        squeezed = base64.urlsafe_b64decode(word + "=" * (-len(word) % 4))
        unpacking = zlib.decompressobj()
        data = unpacking.decompress(squeezed, _MOST_BYTES)
        if unpacking.unconsumed_tail or not unpacking.eof:
            raise ValueError("too much")
        texts = json.loads(data)
    except (zlib.error, RecursionError) as error:
        raise ValueError("no study") from error
    if not isinstance(texts, list) or not texts or not all(isinstance(text, str) for text in texts):
        raise ValueError("no study")
    whole(texts)
    return texts


def whole(texts: Iterable[str]) -> None:
    """Refuse texts with half a letter in them, which no file and no page can carry; raises ValueError."""
    "".join(texts).encode()
