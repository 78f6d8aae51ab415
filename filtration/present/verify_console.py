"""The published checks on a terminal."""

from filtration.present.console import print_table, say, width
from filtration.present.words import verify as words
from filtration.validation.published import Checks

_WIDE = 100
_FIGURES = ("computed", "published", "difference", "tolerance")


def print_checks(found: Checks) -> None:
    """Print the published checks topic by topic: tables where there is room, lines where there is not.

    Parameters
    ----------
    found : Checks
        The checks.
    """
    say(words.ABOUT)
    for topic, rows in words.by_topic(found).items():
        say()
        if width() < _WIDE:
            say(topic)
            for cells in rows:
                say(f"- {words.line(cells)}")
            continue
        columns = ("what", *_FIGURES, "source")
        table = [(words.what(cells), *(cells[name] for name in _FIGURES), words.source(cells)) for cells in rows]
        print_table(
            topic, [words.COLUMNS[name] for name in columns], table, words=(0, len(columns) - 1), vertical="top"
        )
    say(f"\n{words.remembered(found)}\n{words.summary(found)}")
