"""What several commands share: options, progress, workers, and how they speak."""

import json
import os
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from multiprocessing import parent_process
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, Annotated

import typer

from filtration.base.errors import InputError

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from filtration.answers.ranking import Progress
    from filtration.base.draws import Belief
    from filtration.readings.reading import Reading
    from filtration.study.values import Study

StudyFile = Annotated[Path, typer.Argument(metavar="STUDY", help="A study file (TOML).", show_default=False)]
AsJson = Annotated[bool, typer.Option("--json", help="Print the machine-readable document instead.")]
Draws = Annotated[
    int, typer.Option(help="Cases drawn of what is not known exactly: a power of two, or 0 for the central case alone.")
]
Seed = Annotated[int, typer.Option(help="Which cases; the same seed gives the same answer.", min=0)]
Workers = Annotated[int, typer.Option(help="Processes to work in.", min=1, max=64)]
LogbookFile = Annotated[
    Path | None,
    typer.Option(
        "--logbook", metavar="FILE", help="The logbook; else what FILTRATION_LOGBOOK says, else the usual place."
    ),
]
PriorFiles = Annotated[
    list[Path] | None,
    typer.Option("--prior", metavar="FILE.json", help="What another tub shares; give it once for each."),
]
LOGBOOK = "logbook"


def tell(line: str) -> None:
    """Write one line to the error stream, whatever letters it can carry."""
    encoding = sys.stderr.encoding or "ascii"
    sys.stderr.write(line.encode(encoding, "backslashreplace").decode(encoding) + "\n")


def print_json(document: Mapping[str, object]) -> None:
    """Write a document to standard output."""
    json.dump(document, sys.stdout, ensure_ascii=True, allow_nan=False, indent=1)
    sys.stdout.write("\n")


@contextmanager
def progress() -> Iterator["Progress | None"]:
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


@contextmanager
def processes(number: int) -> Iterator["Executor | None"]:
    """Offer so many processes; none for one."""
    if number == 1:
        yield None
        return
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import get_context

    try:
        with ProcessPoolExecutor(number, mp_context=get_context("spawn"), initializer=_end_with_parent) as executor:
            yield executor
    except BrokenProcessPool:
        tell("A process at work was stopped, perhaps for want of memory, so there is no answer; try fewer --workers.")
        raise typer.Exit(1) from None


def _end_with_parent() -> None:
    """Let a worker end when whoever started it is killed and can no longer tell it to."""
    parent = parent_process()

    def wait() -> None:
        if parent is not None:
            parent.join()
        os._exit(1)

    Thread(target=wait, daemon=True).start()


def readings_of(which: str, logbook: Path | None, study: "Study") -> "tuple[Reading, ...]":
    """Return a tub's readings, from its logbook or from a table."""
    if which != LOGBOOK:
        from filtration.readings.csv_file import load_readings

        return load_readings(which)
    from filtration.readings.logbook import Logbook, logbook_path

    with Logbook(logbook_path(logbook)) as book:
        return tuple(book.list(study.name))


def prior_of(files: list[Path] | None, study: "Study") -> "Belief | None":
    """Return what the tubs of a club say together, None where no file is given; every bad file is told at once."""
    if not files:
        return None
    from filtration.readings.shared_prior import load_shared, pooled

    faults: list[str] = []
    shared = []
    for file in files:
        try:
            shared.append(load_shared(file))
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(*faults)
    return pooled(shared, study.spreads)


def believed(study: "Study", readings: "Sequence[Reading]", prior: "Belief | None") -> "Study":
    """Return a study seen in the light of readings, after telling which of them do not count."""
    from filtration.present.words.forecast import doubted, refused
    from filtration.readings.next_service import forecast
    from filtration.study.believed import with_belief

    if not readings and prior is not None:
        return with_belief(study, prior)
    ahead = forecast(study, readings, prior=prior, draws=64)
    for row, why in (*refused(ahead), *doubted(ahead)):
        tell(f"{row}: {why}.")
    return with_belief(study, ahead.belief)


def day_of(text: str | None) -> date:
    """Return the day that --today names, else this one."""
    if text is None:
        return datetime.now().astimezone().date()
    from filtration.study.keys import DAY

    try:
        return date.fromisoformat(str(DAY.read(text)))
    except InputError as error:
        raise InputError(f"--today: {error}") from None
