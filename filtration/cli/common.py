"""What several commands share: options, progress, workers, and how they speak."""

import json
import os
import signal
import sys
import threading
import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, datetime
from multiprocessing import active_children, parent_process
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

from filtration.base.errors import InputError

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from filtration.answers.ranking import Progress
    from filtration.base.draws import Belief
    from filtration.readings.logbook import Logbook
    from filtration.readings.logbook_tables import KnownAs
    from filtration.readings.reading import Reading
    from filtration.study.keys import Key
    from filtration.study.values import Study

T = TypeVar("T")
Document = Mapping[str, object]


def taking(metavar: str, told: str, begun: Callable[..., object] | None = None) -> Any:  # noqa: ANN401 - as typer has it
    """Return an option that takes something: what its help calls that, tells of it, and what a shell completes."""
    return typer.Option(metavar=metavar, help=told, autocompletion=begun)


def taking_readings(what: str, more: str = "") -> Any:  # noqa: ANN401 - as typer has it
    """Return an option that takes readings, which its help says what they are for."""
    return taking("FILE.csv", f"{what}: 'logbook', or a table of them (CSV){more}.")


def begun_study(incomplete: str) -> list[str]:
    """Complete a study file; what is none a shell completes itself, and a name with blanks, which it has to quote."""
    folder, begun = os.path.split(incomplete)
    try:
        names = sorted(path.name for path in Path(folder).iterdir())
    except OSError:
        return []
    whole = [name for name in names if name.startswith(begun) and name.endswith(".toml") and " " not in name]
    return [incomplete.removesuffix(begun) + name for name in whole]


def begun_option(context: typer.Context) -> list[tuple[str, str]]:
    """Complete an option of the study named before it: its id, with its name beside."""
    study = _study_on_the_line(context)
    blank = "\\ " if "COMP_WORDS" in os.environ else " "  # bash alone quotes nothing itself
    return [(each.replace(" ", blank), name) for each, name in study.names.items()] if study else []


def _study_on_the_line(context: typer.Context) -> "Study | None":
    """Return the study that a line names before the word to complete; None where it names none that is right."""
    file = context.params.get("study") or next(iter(context.args), "")  # parsing ends at the word without its value
    try:
        return load_study(Path(file))
    except InputError:
        return None


StudyFile = Annotated[
    Path,
    typer.Argument(metavar="STUDY", help="A study file (TOML).", show_default=False, autocompletion=begun_study),
]
Settings = Annotated[
    list[str] | None,
    typer.Option(
        "--set", metavar="KEY=VALUE", help="Set a key of the study otherwise: pump.hours_per_day=8; may be repeated."
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the machine-readable document instead.")]
_CASES = "Cases that ranges come from: a power of two; the advice never hangs on them"
Draws = Annotated[int, typer.Option(help=f"{_CASES}; 0 for no ranges.")]
DrawsAtLeastOne = Annotated[int, typer.Option(help=f"{_CASES}.")]
Seed = Annotated[int, typer.Option(help="Which cases; the same seed gives the same answer.", min=0)]
Workers = Annotated[int, typer.Option(help="Processes to work in.", min=1, max=64)]
OptionId = Annotated[str | None, taking("ID", "The option, by id or name; left out, the one to take.", begun_option)]
FirstDay = Annotated[str | None, taking("DATE", "First day, as 2026-03-01; left out, today.")]
Years = Annotated[
    float | None, typer.Option(help="Years ahead; left out, the study's horizon, in a calendar one.", min=0.1, max=30)
]
Force = Annotated[bool, typer.Option("--force", help="Replace a file that is there.")]
LogbookFile = Annotated[
    Path | None, taking("FILE", "The logbook; else what FILTRATION_LOGBOOK says, else the usual place.")
]
PriorFiles = Annotated[list[Path] | None, taking("FILE.json", "What another tub shares; give it once for each.")]
LOGBOOK = "logbook"


def tell(line: str) -> None:
    """Write one line to the error stream, whatever letters it can carry."""
    encoding = sys.stderr.encoding or "ascii"
    sys.stderr.write(line.encode(encoding, "backslashreplace").decode(encoding) + "\n")


def print_json(document: Document) -> None:
    """Write a document to standard output."""
    json.dump(document, sys.stdout, ensure_ascii=True, allow_nan=False, indent=1)
    sys.stdout.write("\n")


def put_out(answer: T, document: Callable[[T], Document], in_words: Callable[[T], None], *, as_json: bool) -> None:
    """Print an answer, as its document or in words."""
    if as_json:
        print_json(document(answer))
    else:
        in_words(answer)


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

    executor = ProcessPoolExecutor(number, mp_context=get_context("spawn"), initializer=_end_with_parent)
    try:
        _start(executor, number)
        yield executor
    except BrokenProcessPool:
        tell("A process at work was stopped, perhaps for want of memory, so there is no answer; try fewer --workers.")
        raise typer.Exit(1) from None
    except KeyboardInterrupt:
        threading.excepthook = lambda _: None  # the one who sees to the processes may stumble over work called off
        for each in active_children():
            each.kill()  # or its work would be waited for
        raise
    finally:
        executor.shutdown(cancel_futures=True)


def _start(executor: "Executor", number: int) -> None:
    """Start every process now, deaf to Ctrl-C, which whoever started them hears."""
    if not hasattr(signal, "pthread_sigmask"):
        return
    from multiprocessing import resource_tracker

    resource_tracker.ensure_running()  # which lets Ctrl-C through again once it runs
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        for _ in range(number):
            executor.submit(os.getpid)
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _end_with_parent() -> None:
    """Let a worker end when whoever started it is killed and can no longer tell it to, and warn nobody."""
    if not sys.warnoptions:
        warnings.simplefilter("ignore")
    parent = parent_process()

    def wait() -> None:
        if parent is not None:
            parent.join()
        os._exit(1)

    threading.Thread(target=wait, daemon=True).start()


def load_study(file: Path, settings: Sequence[str] = ()) -> "Study":
    """Read a study file, some of its keys set otherwise: "pump.hours_per_day=8"."""
    from filtration.study.file import load_study as load
    from filtration.study.file import load_tables, study_from_dict

    if not settings:
        return load(file)
    return study_from_dict(set_in(load_tables(file), settings), where=f"{file.name} with --set")


def set_in(tables: Document, settings: Sequence[str]) -> dict[str, Any]:
    """Return the tables of a study with keys as settings have them, "pump.hours_per_day=8"."""
    from filtration.study.overrides import filled, value_of_text

    given = [setting.partition("=") for setting in settings]
    faults = [
        f"--set {setting!r}: needs a key and a value, as in pump.hours_per_day=8"
        for setting, (_, sign, _) in zip(settings, given, strict=True)
        if not sign
    ]
    if faults:
        raise InputError(*faults)
    return filled(tables, {key.strip(): value.strip() for key, _, value in given}, value_of_text, "--set")


def write_in_study(file: Path, key: str, value: str) -> None:
    """Set a text at the top of a study file, line ends being left as they are."""
    from filtration.base.whole_file import write_whole
    from filtration.study.file import load_tables
    from filtration.study.text import text_with

    before = file.read_bytes()
    new = text_with(before.decode("utf-8-sig"), {**load_tables(file), key: value})
    write_whole(file, new.encode(), instead_of=before)


def open_logbook(file: Path | None) -> "Logbook":
    """Return the logbook of a file, else the usual one."""
    from filtration.readings.logbook import Logbook, logbook_path

    return Logbook(logbook_path(file))


def known(book: "Logbook", study: "Study", file: Path, *, strict: bool = False) -> "KnownAs":
    """Return what a tub is known by in a logbook; tell, or refuse, where its id is that of another tub."""
    from filtration.present.words.readings import another
    from filtration.readings.logbook_tables import is_another, known_as

    tub = known_as(study, file)
    kept = book.kept_as(tub)
    if kept is not None and is_another(kept, tub):
        if strict:
            raise InputError(another(kept, tub))
        tell(another(kept, tub))
    return tub


def readings_of(which: str | None, logbook: Path | None, study: "Study", file: Path) -> "tuple[Reading, ...] | None":
    """Return a tub's readings, from its logbook or from a table; None where none are asked for."""
    if which == LOGBOOK:
        with open_logbook(logbook) as book:
            return book.list(known(book, study, file))
    if which is None:
        return None
    from filtration.readings.csv_file import load_readings

    return load_readings(which)


@contextmanager
def collecting(faults: list[str]) -> Iterator[None]:
    """Put the faults of what is done inside to others, to be told together."""
    try:
        yield
    except InputError as error:
        faults += error.faults


def prior_of(files: list[Path] | None, study: "Study") -> "Belief | None":
    """Return what the tubs of a club say together, None where no file is given; every bad file is told at once."""
    if not files:
        return None
    from filtration.readings.shared_prior import pooled

    return pooled(shared_of(files), study.spreads)


def shared_of(files: list[Path] | None) -> list[dict[str, Any]]:
    """Return what the tubs of a club share; every bad file is told at once."""
    from filtration.readings.shared_prior import load_shared

    faults, shared = list[str](), []
    for file in files or ():
        with collecting(faults):
            shared.append(load_shared(file))
    if faults:
        raise InputError(*faults)
    return shared


def believed(study: "Study", readings: "Sequence[Reading]", prior: "Belief | None") -> "Study":
    """Return a study seen in the light of readings, after telling which of them do not count."""
    from filtration.present.words.forecast import asides, doubted, refused
    from filtration.present.words.in_units import as_written
    from filtration.readings.next_service import forecast
    from filtration.study.believed import with_belief

    if not readings and prior is not None:
        return with_belief(study, prior)
    ahead = forecast(study, readings, prior=prior, draws=64)
    for line in asides((*refused(ahead), *doubted(ahead))):
        tell(as_written(line, study))
    return with_belief(study, ahead.belief)


def bytes_before(to: Path) -> bytes:
    """Return what stands in a file that is replaced; nothing where there is none."""
    try:
        return to.read_bytes() if to.exists() else b""
    except OSError as error:
        raise InputError(f"{to}: cannot be read ({error.strerror}); nothing was written") from None


def read_option(name: str, text: str, key: "Key[Any]") -> Any:  # noqa: ANN401 - whatever the key holds
    """Return what an option says, read as a key of a study is; its faults name the option."""
    try:
        return key.read(text)
    except InputError as error:
        raise InputError(*(f"--{name}: {fault}" for fault in error.faults)) from None


def with_horizon(study: "Study", years: float | None) -> "Study":
    """Return a study that looks so many years ahead; as its file says where none are given."""
    from filtration.physics.cost import DAYS_PER_YEAR

    if years is None:
        return study
    return replace(study, prices=replace(study.prices, horizon_days=DAYS_PER_YEAR * years))


def day_of(text: str | None) -> date:
    """Return the day that --today names, else this one."""
    from filtration.study.keys import DAY

    return datetime.now().astimezone().date() if text is None else date.fromisoformat(read_option("today", text, DAY))
