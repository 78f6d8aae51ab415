"""Write the published cases into docs/validation.md: python tests/scripts/validation_page.py."""

from collections import Counter
from pathlib import Path

from filtration.present.words import verify as verify_words
from filtration.validation.published import Check, Checks, verify

PAGE = Path(__file__).resolve().parents[2] / "docs" / "validation.md"
START, END = "<!-- made by tests/scripts/validation_page.py -->\n", "<!-- end -->\n"
COLUMNS = ("topic", "what", "unit", "computed", "published", "difference", "tolerance", "source", "memory")


def rows_of(found: Checks) -> list[list[str]]:
    """Return the cells of the table, row by row."""
    return [[cells[name].replace("|", "\\|") for name in COLUMNS] for cells in verify_words.rows(found)]


def block(found: Checks) -> str:
    """Return the section as Markdown."""
    topics = Counter(check.case.topic for check in found.checks)
    lines = [
        f"{verify_words.summary(found)} {verify_words.remembered(found)}",
        f"By topic: {', '.join(f'{topic} {count}' for topic, count in topics.items())}.",
        "",
        verify_words.ABOUT,
        "",
        *(f"| {' | '.join(cells)} |" for cells in (COLUMNS, ["---"] * len(COLUMNS), *rows_of(found))),
    ]
    return "\n".join(lines) + "\n"


def page_with_block(page: str, text: str) -> str:
    """Return the page with the section as it is now."""
    before, rest = page.split(START)
    return before + START + text + END + rest.split(END, 1)[1]


def block_in(page: str) -> str:
    """Return the section that a page has."""
    return page.split(START)[1].split(END, 1)[0]


def is_current(page: str, found: Checks) -> bool:
    """Return whether a page's section is what the program gives today, figures within a twentieth of the tolerance.

    Machines differ in the last digits of a figure, never in its words.
    """
    there, here = (text.splitlines() for text in (block_in(page), block(found)))
    rows = len(found.checks)
    if len(there) != len(here) or there[:-rows] != here[:-rows]:
        return False
    return all(_agree(*pair) for pair in zip(there[-rows:], rows_of(found), found.checks, strict=True))


def _agree(line: str, cells: list[str], check: Check) -> bool:
    there = line.removeprefix("| ").removesuffix(" |").split(" | ")
    figures = [COLUMNS.index(name) for name in ("computed", "difference")]
    if len(there) != len(cells) or any(
        old != new for at, (old, new) in enumerate(zip(there, cells, strict=True)) if at not in figures
    ):
        return False
    size = check.tolerance if check.case.between is None else abs(check.computed)
    return all(abs(float(there[at]) - float(cells[at])) <= 0.05 * size for at in figures)


if __name__ == "__main__":
    PAGE.write_text(page_with_block(PAGE.read_text(encoding="utf-8"), block(verify())), encoding="utf-8")
