"""Write the table of defaults into docs/model.md: python tests/scripts/defaults_table.py."""

from pathlib import Path

from filtration.base.defaults import TABLE

PAGE = Path(__file__).resolve().parents[2] / "docs" / "model.md"
START, END = "<!-- defaults -->\n", "<!-- end -->\n"


def table() -> str:
    """Return the table as Markdown."""
    rows = ["| key | default | unit | mark | where from |", "|---|---|---|---|---|"]
    for row in TABLE:
        value = (
            f"{row.value:g}"
            if isinstance(row.value, float)
            else str(row.value).lower()
            if isinstance(row.value, bool)
            else row.value
        )
        rows.append(f"| `{row.key}` | {value} | {row.unit} | {row.mark} | {row.source} |")
    return "\n".join(rows) + "\n"


def page_with_table(page: str) -> str:
    """Return the page with the table as it is now."""
    before, rest = page.split(START)
    return before + START + table() + END + rest.split(END, 1)[1]


if __name__ == "__main__":
    PAGE.write_text(page_with_table(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
