"""The commands. Everything heavy is imported when a command needs it."""

import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from filtration import __version__
from filtration.errors import InputError

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from filtration.ranking import Progress

app = typer.Typer(
    name="filtration",
    help="How long a filter cartridge keeps a small cold tub clear, how often to rinse it, what a year of it costs.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


StudyFile = Annotated[Path, typer.Argument(metavar="STUDY", help="A study file (TOML).", show_default=False)]
AsJson = Annotated[bool, typer.Option("--json", help="Print the machine-readable document instead.")]
Seed = Annotated[int, typer.Option(help="Which draws; the same seed gives the same answer.", min=0)]
Workers = Annotated[int, typer.Option(help="Processes to work in.", min=1, max=64)]


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
    _tell(f"Wrote {file}. Fill in what you know, then: filtration compare {file}")


@app.command()
def compare(
    study: StudyFile,
    *,
    as_json: AsJson = False,
    draws: Annotated[
        int, typer.Option(help="Draws of what is not known exactly: a power of two, or 0 for the central case alone.")
    ] = 1024,
    seed: Seed = 0,
    workers: Workers = 1,
) -> None:
    """Rank every pump with every element: which to take, why, and how sure that is."""
    from filtration.ranking import compare as rank
    from filtration.study_file import load_study

    read = load_study(study)
    with _progress() as progress, _workers(workers) as executor:
        answer = rank(read, draws=draws, seed=seed, executor=executor, progress=progress)
    if as_json:
        from filtration.present.document import document

        _print_json(document(answer))
    else:
        from filtration.present.console import print_answer

        print_answer(answer)


def _print_json(document: dict[str, object]) -> None:
    json.dump(document, sys.stdout, ensure_ascii=True, allow_nan=False, indent=1)
    sys.stdout.write("\n")


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


@app.command()
def fleet(
    path: Annotated[Path, typer.Argument(metavar="PATH", help="A folder of studies, or a table of tubs (CSV).")],
    *,
    template: Annotated[
        Path | None, typer.Option(metavar="STUDY", help="The study that the rows of a table override.")
    ] = None,
    as_json: AsJson = False,
    draws: Annotated[int, typer.Option(help="Draws of what is not known exactly: a power of two, or 0.")] = 64,
    seed: Seed = 0,
    workers: Workers = 1,
) -> None:
    """Budget many tubs together: elements to order and money a year."""
    from filtration.fleet import budget, read_fleet

    tubs = read_fleet(path, template)
    with _progress() as progress, _workers(workers) as executor:
        answer = budget(tubs, draws=draws, seed=seed, executor=executor, progress=progress)
    if as_json:
        from filtration.present.document import fleet_document

        _print_json(fleet_document(answer))
    else:
        from filtration.present.console import print_fleet

        print_fleet(answer)
    if answer.failed:
        raise InputError(*(fault for tub in answer.failed for fault in tub.faults))


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


def _tell(line: str) -> None:
    """Write one line to the error stream, whatever letters it can carry."""
    encoding = sys.stderr.encoding or "ascii"
    sys.stderr.write(line.encode(encoding, "backslashreplace").decode(encoding) + "\n")


def main() -> NoReturn:
    """Run the command line; exit with 0 for an answer, 2 for wrong input, 1 for a fault of ours."""
    try:
        status = app(standalone_mode=False)
    except InputError as error:
        for fault in error.faults:
            _tell(fault)
        raise SystemExit(2) from None
    except SystemExit as stopped:
        if not isinstance(stopped.__context__, BrokenPipeError):
            raise
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # whoever reads has read enough, as in `compare … | head`
        raise SystemExit(0) from None
    except OSError as error:
        _tell(f"The answer could not be written: {error.strerror or error}")
        raise SystemExit(1) from None
    except Exception as error:  # noqa: BLE001 - the last line of defence: one readable line instead of a traceback
        if hasattr(error, "show"):  # the words on the command line are wrong: the parser says how
            error.show()
            raise SystemExit(2) from None
        _tell(f"Sorry, this is a fault of the program: {type(error).__name__}: {error}")
        raise SystemExit(1) from None
    raise SystemExit(status if isinstance(status, int) else 0)
