"""What stands in the documents: their blocks and links."""

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PAGES = sorted(path.relative_to(ROOT).as_posix() for path in [*ROOT.glob("*.md"), *ROOT.glob("docs/*.md")])
_LINK = re.compile(r"\]\(([^)\s]+)\)")
_HEADING = re.compile(r"^#+ (.+)$", re.MULTILINE)


def text_of(page: str) -> str:
    """Return the text of a page named from the root."""
    return (ROOT / page).read_text(encoding="utf-8")


def blocks_of(page: str, language: str) -> list[str]:
    """Return the fenced blocks of a language, in order."""
    return re.findall(rf"^```{language}\n(.*?)^```$", text_of(page), re.DOTALL | re.MULTILINE)


def links_of(page: str) -> list[str]:
    """Return the targets of a page's links that lead to files of ours."""
    prose = re.sub(r"^```.*?^```$", "", text_of(page), flags=re.DOTALL | re.MULTILINE)
    return [target for target in _LINK.findall(prose) if not re.match("[a-z]+:", target)]


def anchors_of(text: str) -> set[str]:
    """Return the anchors that a page's headings give."""
    bare = re.sub(r"^```.*?^```$", "", text, flags=re.DOTALL | re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in _HEADING.findall(bare)}
