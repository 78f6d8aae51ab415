"""The commands. Everything heavy is imported when a command needs it."""

import json
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn, TextIO

import typer

from filtration import __version__
from filtration.errors import InputError

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from filtration.answer import Comparison
    from filtration.ranking import Progress

app = typer.Typer(
    name="filtration",
    help="How long a filter cartridge keeps a small cold tub clear, how often to rinse it, what a year of it costs.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

_PLAIN = str.maketrans({"µ": "u", "²": "2", "³": "3", "°": "deg "})
_WIDTH_UNLESS_TERMINAL = 118
_WIDE_TABLE = 104
_NARROW_COLUMNS = (0, 1, 3, 4, 6, 8)

StudyFile = Annotated[Path, typer.Argument(metavar="STUDY", help="A study file (TOML).", show_default=False)]
AsJson = Annotated[bool, typer.Option("--json", help="Print the machine-readable document instead.")]


def _fit(text: str, stream: TextIO) -> str:
    """Return text that a stream's encoding can carry."""
    encoding = stream.encoding or "ascii"
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return text.translate(_PLAIN).encode(encoding, "replace").decode(encoding)
    return text


def _say(text: str = "", stream: TextIO | None = None) -> None:
    """Print one paragraph, wrapped to the terminal."""
    from textwrap import fill

    stream = stream or sys.stdout
    lines = [
        fill(line, width=_width(), subsequent_indent="  " if line.startswith("- ") else "") for line in text.split("\n")
    ]
    stream.write(_fit("\n".join(lines), stream) + "\n")


def _say_list(heading: str, lines: Sequence[str]) -> None:
    """Print a heading and its lines; nothing where there are none."""
    if lines:
        _say(f"\n{heading}")
    for line in lines:
        _say(f"- {line}")


def _width() -> int:
    import shutil

    if not sys.stdout.isatty():
        return _WIDTH_UNLESS_TERMINAL
    return max(40, shutil.get_terminal_size().columns)


@contextmanager
def _progress() -> Iterator["Progress | None"]:
    """Show progress on the error stream where a person can see it."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (BarColumn(bar_width=24), TextColumn("{task.percentage:>3.0f} %"), TextColumn("{task.description}"))
    with Progress(*columns, TimeElapsedColumn(), console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=1.0)
        yield lambda share, what: bar.update(task, completed=share, description=what)


def _version(wanted: bool) -> None:  # noqa: FBT001 - typer calls it with the flag's value
    if wanted:
        typer.echo(f"filtration {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    *,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Take the options that stand before a command; --version has done its work by now."""
    del version


@app.command()
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Where to write it.", show_default=False)],
    *,
    demo: Annotated[
        str | None, typer.Option("--demo", metavar="NAME", help="Start from a demo tub: freezer, barrel or quay.")
    ] = None,
) -> None:
    """Write a study file to fill in; never over a file that is there."""
    from filtration.places import demo_file, template_file

    text = (demo_file(demo) if demo else template_file()).read_text(encoding="utf-8")
    try:
        with file.open("x", encoding="utf-8", newline="\n") as out:
            out.write(text)
    except FileExistsError:
        raise InputError(f"{file}: there is a file already; nothing was written") from None
    except OSError as error:
        raise InputError(f"{file}: cannot be written ({error.strerror})") from None
    _say(f"Wrote {file}. Fill in what you know, then: filtration compare {file}", sys.stderr)


@app.command()
def compare(
    study: StudyFile,
    *,
    as_json: AsJson = False,
    draws: Annotated[
        int, typer.Option(help="Draws of what is not known exactly: a power of two, or 0 for the central case alone.")
    ] = 1024,
    seed: Annotated[int, typer.Option(help="Which draws; the same seed gives the same answer.", min=0)] = 0,
    workers: Annotated[int, typer.Option(help="Processes to work in.", min=1, max=64)] = 1,
) -> None:
    """Rank every pump with every element: which to take, why, and how sure that is."""
    from filtration.ranking import compare as rank
    from filtration.study_file import load_study

    read = load_study(study)
    with _progress() as progress, _workers(workers) as executor:
        answer = rank(read, draws=draws, seed=seed, executor=executor, progress=progress)
    if as_json:
        from filtration.present.document import document

        json.dump(document(answer), sys.stdout, ensure_ascii=True, allow_nan=False, indent=1)
        sys.stdout.write("\n")
        return
    _print_answer(answer)


@contextmanager
def _workers(number: int) -> Iterator["Executor | None"]:
    """Offer so many processes; none for one."""
    if number == 1:
        yield None
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    with ProcessPoolExecutor(number, mp_context=get_context("spawn")) as executor:
        yield executor


def _print_answer(answer: "Comparison") -> None:
    """Print the answer in words, then as tables."""
    from filtration.present import words
    from filtration.present.phrases import TERMS

    study = answer.study
    _say(f"{study.name}\n")
    _say(words.headline(answer))
    _say_list("How sure", words.sureness(answer))
    _say_list("The others", words.others(answer))
    _say_list("What decides", words.deciding(answer))
    _say()
    _print_options(answer)
    for term, meaning in TERMS.items():
        _say(f"- {term}: {meaning}")
    if answer.best is not None:
        _print_costs(answer)
    _say_list("Notes", words.notes(answer)[len(words.deciding(answer)) :])
    if study.assumed:
        _say(f"\nAssumed, as the study does not say: {'; '.join(study.assumed)}.")
    _say_list("Before anyone gets in", words.cautions(study))


def _print_table(heading: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print a table, its first column to the left, the others to the right."""
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(
        title=heading, title_justify="left", title_style="bold", box=SIMPLE_HEAD, padding=(0, 1), pad_edge=False
    )
    for index, column in enumerate(columns):
        text = Text(_fit(column, sys.stdout))
        if index:
            table.add_column(text, justify="right", vertical="bottom", no_wrap=True)
        else:
            table.add_column(text, vertical="bottom", overflow="fold", min_width=16)
    for row in rows:
        table.add_row(*(Text(_fit(cell, sys.stdout)) for cell in row))
    Console(width=_width(), highlight=False).print(table)


def _print_options(answer: "Comparison") -> None:
    from filtration.present import words
    from filtration.present.phrases import distance, number

    rows = []
    for option in answer.options:
        cost, choice = option.cost_per_year.total, option.choice_cost_per_year
        rinses = [stage.rinses_before_replacing for stage in option.stages]
        rows.append(
            [
                words.title(option, answer),
                "yes" if option.meets_needs else "no",
                number(option.clean_flow_l_per_h, 3),
                _or_dash(option.days_to_first_service, 2),
                option.governed_by or "-",
                _or_dash(option.due_flow_l_per_h, 3),
                distance(option.see_through_worst_m).removesuffix(" m").replace("more than", ">"),
                "+".join(str(count) if count is not None else "-" for count in rinses),
                f"{cost:,.0f}" if cost is not None else "-",
                f"{choice:,.0f}" if choice is not None else "-",
            ]
        )
    currency = answer.study.currency
    columns = (
        "option",
        "meets\nneeds",
        "clean\nflow\nL/h",
        "first\nservice\ndays",
        "ends by",
        "flow\nwhen due\nL/h",
        "worst\nview\nm",
        "rinses",
        f"a year\n{currency}",
        f"choice\n{currency}",
    )
    kept = range(len(columns)) if _width() >= _WIDE_TABLE else _NARROW_COLUMNS
    _print_table("Options, best first", [columns[at] for at in kept], [[row[at] for at in kept] for row in rows])


def _or_dash(value: float | None, digits: int) -> str:
    from filtration.present.phrases import number

    return "-" if value is None else number(value, digits)


def _print_costs(answer: "Comparison") -> None:
    from filtration.present import words

    if answer.best is None:
        return
    lines = words.cost_lines(answer.best, answer)
    rows = [
        [what, f"{amount:,.4f} {unit}", f"{price:,.4f}", f"{amount * price:,.2f}"]
        for what, amount, unit, price in lines
    ]
    rows.append(["total", "", "", f"{answer.best.cost_per_year.total or 0.0:,.2f}"])
    name = words.title(answer.best, answer)
    _say()
    _print_table(f"A year of {name}", ("what", "amount a year", "price", answer.study.currency), rows)


@app.command("app")
def start(
    *,
    host: Annotated[str, typer.Option(help="Address to listen on; others than this machine's own let others in.")] = (
        "127.0.0.1"
    ),
    port: Annotated[int, typer.Option(help="Port to listen on.", min=1, max=65535)] = 8501,
) -> None:
    """Open the front end in a browser on this machine."""
    from filtration.serve import serve

    serve(host, port)


def main() -> NoReturn:
    """Run the command line; exit with 0 for an answer, 2 for wrong input, 1 for a fault of ours."""
    try:
        app()
    except InputError as error:
        for fault in error.faults:
            sys.stderr.write(_fit(fault, sys.stderr) + "\n")
        raise SystemExit(2) from None
    except OSError as error:
        sys.stderr.write(_fit(f"The answer could not be written: {error.strerror or error}\n", sys.stderr))
        raise SystemExit(1) from None
    except Exception as error:  # noqa: BLE001 - the last line of defence: one readable line instead of a traceback
        sys.stderr.write(_fit(f"Sorry, this is a fault of the program: {type(error).__name__}: {error}\n", sys.stderr))
        raise SystemExit(1) from None
    raise SystemExit(0)
