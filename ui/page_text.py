"""Other people's words on a page: shown as they are, never read as Markdown."""

import re

_LINKS = re.compile(r"(?=://)|(?<=www)(?=\.)|(?=@)", re.IGNORECASE)  # escaped, they are links still
_SIGNS = re.compile(r"([\\`*_{}\[\]()<>#+\-.!|~$:&])")


def plain(text: str) -> str:
    """Return text on one line that Markdown shows as it stands: no picture, link, colour or formula comes of it."""
    # A mark without width keeps addresses from being links.
    return _SIGNS.sub(r"\\\1", _LINKS.sub("\u2060", " ".join(text.split())))
