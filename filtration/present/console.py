"""The answer on a terminal: words first, then tables."""

import shutil
import sys
from collections.abc import Sequence
from textwrap import fill
from typing import Literal, TextIO

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.arrays import Array
from filtration.plan.fleet import Fleet, figures
from filtration.present.words import answer as words
from filtration.present.words import odds as sure_words
from filtration.present.words.phrases import TERMS, distance, number, title

_PLAIN = str.maketrans({"µ": "u", "²": "2", "³": "3", "°": "deg "})
_WIDTH_UNLESS_TERMINAL = 118
_WIDE_TABLE, _NARROW_TABLE = 110, 76
_NARROW_COLUMNS = (0, 1, 3, 4, 6, 8)


def _fit(text: str, stream: TextIO) -> str:
    """Return text that a stream's encoding can carry."""
    encoding = stream.encoding or "ascii"
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return text.translate(_PLAIN).encode(encoding, "replace").decode(encoding)
    return text


def say(text: str = "") -> None:
    """Print one paragraph, wrapped to the terminal.

    Parameters
    ----------
    text : str, optional
        The paragraph.
    """
    stream = sys.stdout
    lines = [
        fill(line, width=width(), subsequent_indent="  " if line.startswith("- ") else "") for line in text.split("\n")
    ]
    stream.write(_fit("\n".join(lines), stream) + "\n")


def say_list(heading: str, lines: Sequence[str]) -> None:
    """Print a heading and its lines; nothing where there are none.

    Parameters
    ----------
    heading : str
        The heading.
    lines : sequence of str
        The lines.
    """
    if lines:
        say(f"\n{heading}")
    for line in lines:
        say(f"- {line}")


def width() -> int:
    """Return how wide the terminal is, in letters; a set width where there is none."""
    if not sys.stdout.isatty():
        return _WIDTH_UNLESS_TERMINAL
    return max(40, shutil.get_terminal_size().columns)


def print_answer(answer: Comparison) -> None:
    """Print the answer in words, then as tables.

    Parameters
    ----------
    answer : Comparison
        The answer.
    """
    study = answer.study
    say(f"{study.name}\n")
    say(words.headline(answer))
    say_list("How sure", sure_words.sureness(answer))
    say_list("The others", words.others(answer))
    say_list("What decides", words.deciding(answer))
    say()
    _print_options(answer)
    for term, meaning in TERMS.items():
        say(f"- {term}: {meaning}")
    if answer.advised is not None:
        _print_costs(answer, answer.advised)
    say_list("Notes", words.notes(answer)[len(words.deciding(answer)) :])
    if study.assumed:
        say(
            f"\nThe answer leans on {len(study.assumed)} values that the study does not say: `filtration check` tells "
            "how far each moves it, the most telling first."
        )
    say_list("Before anyone gets in", words.cautions(study))


def print_table(
    heading: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    words: Sequence[int] = (0,),
    vertical: Literal["top", "bottom"] = "bottom",
) -> None:
    """Print a table.

    Parameters
    ----------
    heading : str
        Its title.
    columns : sequence of str
        Their names.
    rows : sequence of sequence of str
        Cells.
    words : sequence of int, optional
        Which columns hold words, to the left and folded; the others are numbers, to the right.
    vertical : {"top", "bottom"}, optional
        Where a cell of few lines stands beside one of many; a heading likewise.
    """
    table = Table(
        title=heading, title_justify="left", title_style="bold", box=SIMPLE_HEAD, padding=(0, 1), pad_edge=False
    )
    for index, column in enumerate(columns):
        text = Text(_fit(column, sys.stdout))
        if index in words:
            table.add_column(text, vertical=vertical, overflow="fold", min_width=16)
        else:
            table.add_column(text, justify="right", vertical=vertical, no_wrap=True)
    for row in rows:
        table.add_row(*(Text(_fit(cell, sys.stdout)) for cell in row))
    Console(width=width(), highlight=False).print(table)


def _print_options(answer: Comparison) -> None:
    rows, currency, is_choice = [], answer.study.currency, words.is_choice(answer)
    for option in answer.options:
        cost, choice = option.cost_per_year.total, option.choice_cost_per_year
        rinses = [stage.rinses_before_replacing for stage in option.stages]
        rows.append(
            [
                title(option, answer),
                _meets(option),
                number(option.clean_flow_l_per_h, 3),
                _or_dash(option.days_to_first_service, 2),
                option.governed_by or "-",
                _or_dash(option.due_flow_l_per_h, 3),
                distance(option.worst_view_m).removesuffix(" m").replace("more than", ">"),
                "+".join("-" if count is None else str(count) for count in rinses),
                f"{cost:,.0f}" if cost is not None else "-",
                f"{choice:,.0f}" if choice is not None and is_choice else "-",
            ]
        )
    columns = (
        "option",
        "meets needs\n(cases of 20)" if answer.odds else "meets\nneeds",
        "clean\nflow\nL/h",
        "first\nservice\ndays",
        "ends by",
        "flow\nwhen due\nL/h",
        "worst\nview\nm",
        "rinses",
        f"a year\n{currency}",
        f"choice\n{currency}",
    )
    if width() < _NARROW_TABLE:
        for row in rows:
            say(f"- {row[0]}: meets needs {row[1]}, first service {row[3]} days, {currency} {row[8]} a year")
        return
    kept = range(len(columns)) if width() >= _WIDE_TABLE else _NARROW_COLUMNS
    print_table("Options, best first", [columns[at] for at in kept], [[row[at] for at in kept] for row in rows])


def _meets(option: OptionAnswer) -> str:
    """Return whether an option meets the needs, and in how many cases of twenty."""
    told = "yes" if option.meets_needs else "no"
    if option.sureness is None:
        return told
    return f"{told} ({sure_words.of_twenty(option.sureness.chance_of_meeting_needs).replace('fewer than ', '<')})"


def _or_dash(value: float | None, digits: int) -> str:

    return "-" if value is None else number(value, digits)


def _print_costs(answer: Comparison, option: OptionAnswer) -> None:
    rows = [
        [what, f"{amount:,.4f} {unit}", f"{price:,.4f}", f"{amount * price:,.2f}"]
        for what, amount, unit, price in words.cost_lines(option, answer)
    ]
    rows.append(["total", "", "", f"{option.cost_per_year.total or 0.0:,.2f}"])
    say()
    print_table(f"A year of {title(option, answer)}", ("what", "amount a year", "price", answer.study.currency), rows)


def print_fleet(fleet: Fleet) -> None:
    """Print a budget over many tubs: what to order, what it costs, tub by tub, and what went wrong.

    Parameters
    ----------
    fleet : Fleet
        The budget.
    """
    good = [tub for tub in fleet.tubs if not tub.faults]
    say(f"{_count(len(good), 'tub')}, {_count(len(fleet.failed), 'row')} with faults.")
    if fleet.draws:
        say(f"Ranges hold 8 of 10 of {_count(fleet.draws, 'case')}, the same for all tubs.")
    else:
        say("The central case alone: no draws, so no ranges.")
    say()
    rows = [[name, *_range(values)] for name, values in fleet.elements().items()]
    print_table("Elements to order, a year", ("element", "central", "from", "to"), rows)
    say()
    rows = [[currency, *_range(values)] for currency, values in fleet.cost().items()]
    print_table("Money, a year", ("currency", "central", "from", "to"), rows)
    say()
    rows = []
    for tub in good:
        central, low, high = _range(tub.cost) if tub.option else ("-", "-", "-")
        chance = sure_words.of_twenty(tub.chance_of_meeting_needs)
        meets = "yes" if tub.meets_needs else "no"
        rows.append([tub.name, tub.option or "no option has the flow", meets, chance, central, low, high])
    columns = ("tub", "option", "meets\nneeds", "cases\nof 20", "a year", "from", "to")
    print_table("Tub by tub", columns, rows)


def _count(number_of: int, what: str) -> str:
    return f"{number_of:,} {what}" if number_of == 1 else f"{number_of:,} {what}s"


def _range(values: Array) -> tuple[str, str, str]:
    central, (low, _, high) = figures(values)
    return number(central, 3), number(low, 3), number(high, 3)
