"""Answers on a terminal: words first, then tables."""

import os
import shutil
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import fill
from typing import TYPE_CHECKING, Literal

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderResult
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from filtration.answers.results import Comparison, OptionAnswer
from filtration.present.words import answer as words
from filtration.present.words import odds as sure_words
from filtration.present.words import short as short_words
from filtration.present.words.in_units import as_written, display_of
from filtration.present.words.phrases import TERMS, day, distance, headed, number, rinses, title, whole_days
from filtration.study.values import Study

if TYPE_CHECKING:
    from filtration.answers.cheaper import Savings
    from filtration.answers.curves import Sweep
    from filtration.plan.dated import Plan
    from filtration.plan.fleet import Fleet
    from filtration.readings.foretold import Forecast
    from filtration.validation.published import Checks

_PLAIN = str.maketrans({"µ": "u", "²": "2", "³": "3", "°": "deg "})
_WIDTH_UNLESS_TERMINAL = 118
_WIDE_TABLE, _NARROW_TABLE, _WIDE_CHECKS = 112, 76, 100
_ANY_WIDTH = 1000
_NARROW_COLUMNS = (0, 1, 3, 4, 6, 8)
_WIDE_SWEEP, _NARROW_SWEEP, _LEFT_OUT_OF_SWEEP = 98, 80, (4, 6)


def _fit(text: str) -> str:
    """Return text that the terminal's encoding can carry."""
    encoding = sys.stdout.encoding or "ascii"
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return text.translate(_PLAIN).encode(encoding, "replace").decode(encoding)
    return text


def say(text: str = "", of: Study | None = None) -> None:
    """Print paragraphs, each wrapped to the terminal, in the units of a study."""
    lines = _fit(text if of is None else as_written(text, of)).split("\n")
    wrapped = [fill(line, width=width(), subsequent_indent="  " * line.startswith("- ")) for line in lines]
    sys.stdout.write("\n".join(wrapped) + "\n")


def say_list(heading: str, lines: Sequence[str], of: Study | None = None) -> None:
    """Print a heading and its lines; nothing where there are none."""
    if lines:
        say(f"\n{heading}")
    for line in lines:
        say(f"- {line}", of)


def width() -> int:
    """Return how wide the terminal is, in letters; where there is none as COLUMNS says, else a set width."""
    if not sys.stdout.isatty() and not os.environ.get("COLUMNS"):
        return _WIDTH_UNLESS_TERMINAL
    return max(40, shutil.get_terminal_size((_WIDTH_UNLESS_TERMINAL, 24)).columns)


def say_left_out(columns: Sequence[str]) -> None:
    """Say which columns a table is too narrow for, and how to see them."""
    if columns:
        told = ", ".join(map(_in_a_line, columns))
        say(f"Not shown at this width: {told}. COLUMNS={_WIDE_TABLE}, a wider terminal or --json shows all.")


def _in_a_line(column: str) -> str:
    """Return the heading of a column as one line."""
    return " ".join(column.replace("-\n", "-").split())


def print_short(answer: Comparison, settings: Sequence[str] = ()) -> None:
    """Print the short answer, each line under its name."""
    sys.stdout.write(_fit(short_text(answer, width(), settings)))


def short_text(answer: Comparison, columns: int, settings: Sequence[str] = ()) -> str:
    """Return the short answer for a terminal of so many columns."""
    return short_words.laid_out(answer, short_words.SAFETY, columns=columns, settings=settings) + "\n"


def print_cautions(answer: Comparison) -> None:
    """Print every caution that applies to a tub."""
    say_list("Before anyone gets in", words.cautions(answer.study))


def print_answer(answer: Comparison, settings: Sequence[str] = ()) -> None:
    """Print the whole answer in words, then as tables."""
    study = answer.study
    say(f"{headed(study.name, settings)}\n\n{words.headline(answer)}", study)
    say_list("How sure", sure_words.sureness(answer), study)
    say_list("The others", words.others(answer), study)
    say_list("What decides", words.deciding(answer), study)
    _print_options(answer)
    say("\n".join(f"- {term}: {meaning}" for term, meaning in TERMS.items()))
    if answer.advised is not None:
        _print_costs(answer, answer.advised)
    say_list("Notes", words.asides(answer), study)
    if study.assumed:
        say(
            f"\nThe answer leans on {len(study.assumed)} values that the study does not give: `filtration check` tells "
            "how far each moves it, the most telling first."
        )
    print_cautions(answer)


def print_table(
    heading: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    words: Sequence[int] = (0,),
    vertical: Literal["top", "bottom"] = "bottom",
) -> None:
    """Print a table after an empty line.

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
        text = Text(_fit(column))
        if index in words:
            table.add_column(text, vertical=vertical, overflow="fold", min_width=16)
        else:
            widest = max(
                cell_len(line) for cell in (column, *(row[index] for row in rows)) for line in cell.split("\n")
            )
            table.add_column(text, justify="right", vertical=vertical, no_wrap=True, min_width=widest)
    for row in rows:
        table.add_row(*(Text(_fit(cell)) for cell in row))
    console = Console(width=width(), highlight=False)
    say()
    least = console.measure(table, options=console.options.update(max_width=_ANY_WIDTH)).minimum
    if least <= console.width:
        console.print(_Stripped(table))
        return
    say(heading)  # rather lines than columns cut short
    for first, *others in rows:
        told = (f"{_in_a_line(column)} {cell}" for column, cell in zip(columns[1:], others, strict=True) if cell)
        say(f"- {first}: {', '.join(told)}")


@dataclass(frozen=True)
class _Stripped:
    """A table without blanks at the end of its lines."""

    table: Table

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Give its lines piece by piece."""
        for line in console.render_lines(self.table, options, pad=False):
            kept = list(line)
            while kept and not kept[-1].text.strip():
                kept.pop()
            if kept:
                kept[-1] = Segment(kept[-1].text.rstrip(), kept[-1].style)
            yield from kept
            yield Segment.line()


def _print_options(answer: Comparison) -> None:
    rows = [_figures(option, answer) for option in answer.options]
    columns, cells = list(rows[0]), [list(row.values()) for row in rows]
    if width() < _NARROW_TABLE:
        say()
        for name, meets, _, first, *_, cost, _ in cells:
            say(f"- {name}: meets needs {meets}, first service {first} days, {answer.study.currency} {cost} a year")
        say_left_out([column for at, column in enumerate(columns) if at not in (0, 1, 3, 8)])
        return
    kept = range(len(columns)) if width() >= _WIDE_TABLE else _NARROW_COLUMNS
    print_table("Options, best first", [columns[at] for at in kept], [[row[at] for at in kept] for row in cells])
    say_left_out([column for at, column in enumerate(columns) if at not in kept])


def _figures(option: OptionAnswer, answer: Comparison) -> dict[str, str]:
    """Return an option's cells by heading."""
    cost, choice, currency = option.cost_per_year.total, option.choice_cost_per_year, answer.study.currency
    display, due = display_of(answer.study), option.due_flow_l_per_h
    return {
        "option": title(option, answer),
        "meets\nneeds\n(of 20)": _meets(option),
        f"clean\nflow\n{display.flow}": number(display.flow_of(option.clean_flow_l_per_h), 3),
        "first\nservice\ndays": whole_days(option.days_to_first_service),
        "limited\nby": option.governed_by or "-",
        f"flow\nat rinse\n{display.flow}": "-" if due is None else number(display.flow_of(due), 3),
        f"lowest\nvisibility\n{display.length}": distance(option.worst_view_m, display)
        .removesuffix(f" {display.length}")
        .replace("more than", ">"),
        "rinses": rinses(option, "-", "+"),
        f"a year\n{currency}": "-" if cost is None else f"{cost:,.0f}",
        f"cartridge-\nrelated\n{currency}": "-" if choice is None or not words.is_choice(answer) else f"{choice:,.0f}",
    }


def _meets(option: OptionAnswer) -> str:
    """Return whether an option meets the needs, and in how many cases of twenty."""
    told = "yes" if option.meets_needs else "no"
    return f"{told} ({sure_words.of_twenty(option.chance).replace('fewer than ', '<')})"


def _print_costs(answer: Comparison, option: OptionAnswer) -> None:
    rows = [
        [what, f"{amount:,.4f} {unit}", f"{price:,.4f}", f"{paid:,.2f}"]
        for what, amount, unit, price, paid in words.cost_lines(option, answer)
    ]
    rows.append(["total", "", "", f"{option.cost_per_year.total or 0.0:,.2f}"])
    print_table(f"A year of {title(option, answer)}", ("what", "amount a year", "price", answer.study.currency), rows)


def print_savings(found: "Savings") -> None:
    """Print what would save most in a year, a line each."""
    from filtration.present.words import savings as savings_words

    say(f"{found.study.name}\n\n{savings_words.headline(found)}", found.study)
    say_list("What would save most", savings_words.lines(found), found.study)
    for line in savings_words.method(found):
        say(f"\n{line}")


def print_fleet(fleet: "Fleet") -> None:
    """Print a budget over many tubs: what the totals hold, the year, who comes when, what to buy, tub by tub."""
    from filtration.present import fleet_tables as fleet_words

    say("\n".join(fleet_words.headline(fleet)))
    for table in fleet_words.tables(fleet):
        if not table.rows:
            say_list(table.heading, table.lines)
            continue
        print_table(table.heading, table.columns, table.rows, words=table.words)
        for line in table.lines:
            say(f"- {line}")
    say_list("At a service", fleet_words.cautions(fleet))


def print_plan(plan: "Plan", settings: Sequence[str] = ()) -> None:
    """Print a plan in words: its first year day by day, then sums."""
    from filtration.present.words import plan as plan_words

    say(f"{headed(plan.study.name, settings)}\n\n{plan_words.headline(plan)}", plan.study)
    say_list("The first year, with the days between which each is likely to fall", plan_words.first_year(plan))
    say_list("Year by year", plan_words.years(plan))
    say_list("Shopping for the first year", plan_words.shopping(plan))
    say(f"\nReusable or disposable\n{plan_words.break_even(plan)}")
    say_list("From the long-run rate to this plan's average", plan_words.gap(plan))
    say_list("Notes", plan_words.notes(plan), plan.study)
    say_list("At a service", plan_words.cautions(plan))


def print_forecast(forecast: "Forecast", settings: Sequence[str] = ()) -> None:
    """Print a forecast in words."""
    from filtration.present.words import forecast as forecast_words

    name = headed(forecast.study.name, settings)
    say(f"{name}: {forecast.option}, new on {day(forecast.fitted_on)}\n")
    study = forecast.study
    lines = [*forecast_words.today(forecast), *forecast_words.figures(forecast)]
    say("\n- ".join([forecast_words.headline(forecast), *lines]), study)
    say_list("What the readings say of your tub", forecast_words.fitted(forecast), study)
    say_list("Readings that do not count", forecast_words.asides(forecast_words.refused(forecast)), study)
    say_list("Readings in doubt", forecast_words.asides(forecast_words.doubted(forecast)), study)
    say_list("What is going on", forecast_words.diagnosis(forecast), study)
    say_list("Measure this next", forecast_words.measure(forecast), study)
    say_list("Notes", forecast_words.notes(forecast), study)
    say_list("At the service", forecast_words.cautions(forecast))


def print_sweep(found: "Sweep") -> None:
    """Print curves: what they are of and which values meet the needs, then a few points of each."""
    from filtration.present.words import sweep as sweep_words

    display = display_of(found.study)
    say(f"{found.study.name}\n\n{sweep_words.heading(found)}\n{sweep_words.shown_by(found)}")
    heading = sweep_words.table_heading(display)
    if width() < _NARROW_SWEEP:
        say_list(heading, sweep_words.lines(found, display))
    else:
        columns, rows = sweep_words.cells(found, display)
        kept = [at for at in range(len(columns)) if width() >= _WIDE_SWEEP or at not in _LEFT_OUT_OF_SWEEP]
        print_table(heading, [columns[at] for at in kept], [[row[at] for at in kept] for row in rows])
    say_list("Notes", sweep_words.notes(found))


def print_checks(found: "Checks") -> None:
    """Print the published checks topic by topic: tables where there is room, lines where there is not."""
    from filtration.present.words import verify as verify_words

    say(verify_words.ABOUT)
    for heading, topics in verify_words.parts(found).items():
        say(f"\n{heading}")
        for topic, rows in topics.items():
            _print_topic(topic, rows)
    say(f"\n{verify_words.not_held()}\n\n{verify_words.remembered(found)}\n{verify_words.summary(found)}")


def _print_topic(topic: str, rows: Sequence[dict[str, str]]) -> None:
    from filtration.present.words import verify as verify_words

    columns = ("what", "computed", "published", "difference", "tolerance", "source")
    if width() < _WIDE_CHECKS:
        say_list(topic, [verify_words.line(cells) for cells in rows])
        return
    told = [{**cells, "what": verify_words.what(cells), "source": verify_words.source(cells)} for cells in rows]
    print_table(topic, columns, [[cells[name] for name in columns] for cells in told], words=(0, 5), vertical="top")
