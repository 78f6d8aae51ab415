"""The commands of the logbook. Everything heavy is imported when a command needs it."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from filtration.base.errors import InputError
from filtration.cli.common import AsJson, LogbookFile, StudyFile, print_json, tell

if TYPE_CHECKING:
    from filtration.readings.logbook import Logbook
    from filtration.readings.reading import Reading
    from filtration.study.values import Study

app = typer.Typer(help="Keep a logbook of readings and services.", no_args_is_help=True)

Table = Annotated[Path, typer.Argument(metavar="FILE", help="A CSV file.", show_default=False)]
_ONE_DAY = timedelta(days=1)
_NOTHING_TO_ADD = (
    "log add: nothing to add; give one or more of --flow, --bucket with --seconds, --column, --pressure, "
    "--see-through, --rinsed, --soaked, --replaced, --water-changed, --uses, --note"
)


@app.command()
def add(
    study: StudyFile,
    *,
    flow: Annotated[str | None, typer.Option(metavar="FLOW", help='Flow, as "22 L/min".')] = None,
    bucket: Annotated[str | None, typer.Option(metavar="VOLUME", help='Bucket filled, as "10 L".')] = None,
    seconds: Annotated[str | None, typer.Option(metavar="SECONDS", help="How long that took, as 27.4.")] = None,
    without_element: Annotated[
        bool, typer.Option("--without-element", help="Flow, bucket, column or pressure taken with the element out.")
    ] = False,
    column: Annotated[
        str | None,
        typer.Option(
            metavar="LENGTH",
            help='Water in a clear tube before the housing above the tub\'s, as "82 cm"; once without element too.',
        ),
    ] = None,
    pressure: Annotated[
        str | None,
        typer.Option(metavar="PRESSURE", help='Gauge before the housing, as "11 kPa"; once without element too.'),
    ] = None,
    see_through: Annotated[str | None, typer.Option(metavar="LENGTH", help='How far one sees, as "3 m".')] = None,
    rinsed: Annotated[bool, typer.Option("--rinsed", help="The element was rinsed.")] = False,
    soaked: Annotated[bool, typer.Option("--soaked", help="The element was soaked.")] = False,
    replaced: Annotated[
        str | None, typer.Option(metavar="ID", help='The option fitted new, as pleated-20; "" for like with like.')
    ] = None,
    water_changed: Annotated[bool, typer.Option("--water-changed", help="The water was changed.")] = False,
    uses: Annotated[str | None, typer.Option(metavar="DIPS", help="Dips on that day, as 9.")] = None,
    note: Annotated[
        str | None, typer.Option(metavar="TEXT", help="A remark; beside others it stays with the first of them.")
    ] = None,
    when: Annotated[
        str | None, typer.Option(metavar="TIME", help="ISO 8601, as 2026-03-03T18:30+01:00; left out: now.")
    ] = None,
    logbook: LogbookFile = None,
) -> None:
    """Add what was read and done at one time; readings count as taken before the services."""
    from filtration.readings.reading import MEASURED, WITHOUT_ELEMENT

    tub = _study(study)
    given: list[tuple[str, str | None]] = [
        ("flow", flow),
        ("bucket", f"{bucket} in {seconds} s" if bucket is not None and seconds is not None else None),
        ("column", column),
        ("pressure", pressure),
        ("see-through", see_through),
        ("rinse", "" if rinsed else None),
        ("soak", "" if soaked else None),
        ("replace", replaced),
        ("water", "" if water_changed else None),
        ("uses", uses),
    ]
    rows = [(kind, value) for kind, value in given if value is not None]
    faults = []
    if (bucket is None) != (seconds is None):
        faults.append("log add: --bucket and --seconds go together; one of them is missing")
    if without_element:
        if all(each is None for each in (flow, bucket, column, pressure)):
            faults.append("log add: --without-element goes with --flow, --bucket, --column or --pressure")
        rows = [(kind, value + WITHOUT_ELEMENT if kind in MEASURED else value) for kind, value in rows]
    if not rows and note is not None:
        rows = [("note", "")]
    if not rows and not faults:
        faults.append(_NOTHING_TO_ADD)
    readings = _read(rows, note or "", when or _now().isoformat(), tub, faults)
    with _logbook(logbook) as book:
        book.add(tub.name, readings)
    tell(f"Logged: {'; '.join(map(_what, readings))}, {_day(readings[0])}. Logbook: {book.path}")


@app.command("list")
def show(
    study: StudyFile,
    *,
    as_json: AsJson = False,
    logbook: LogbookFile = None,
) -> None:
    """List a tub's readings, oldest first."""
    tub = _study(study)
    with _logbook(logbook) as book:
        readings = book.list(tub.name)
    if as_json:
        print_json(_document(tub.name, readings))
    elif readings:
        from filtration.present.console import say

        say("\n".join(f"{_day(reading)}: {_what(reading)}" for reading in readings))
    else:
        tell(f"No reading of {tub.name} yet. Logbook: {book.path}")


@app.command()
def undo(study: StudyFile, *, logbook: LogbookFile = None) -> None:
    """Undo the last change: what one add or one import brought."""
    tub = _study(study)
    with _logbook(logbook) as book:
        undone = book.undo(tub.name)
    for what, readings in (("Taken out", undone.taken_out), ("Brought back", undone.brought_back)):
        if readings:
            tell(f"{what}: {_these(readings)}. Logbook: {book.path}")
    if undone.taken_out == undone.brought_back == ():
        tell(f"Nothing to undo: no reading of {tub.name}. Logbook: {book.path}")


@app.command()
def export(
    study: StudyFile,
    file: Table,
    *,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there.")] = False,
    logbook: LogbookFile = None,
) -> None:
    """Write a tub's readings to a CSV file."""
    from filtration.readings.csv_file import readings_to_csv

    tub = _study(study)
    with _logbook(logbook) as book:
        readings = book.list(tub.name)
    readings_to_csv(readings, file, force=force)
    tell(f"Wrote {_count(len(readings))} to {file}.")


@app.command("import")
def take_in(study: StudyFile, file: Table, *, logbook: LogbookFile = None) -> None:
    """Add the readings of a CSV file, all or none; those that are there already are left out."""
    from filtration.readings.csv_file import load_readings

    tub = _study(study)
    readings = load_readings(file)
    with _logbook(logbook) as book:
        added = len(book.add(tub.name, readings, skip_known=True))
    known = len(readings) - added
    tell(f"Imported {_count(added)}{f', {known} there already' if known else ''}. Logbook: {book.path}")


def _study(path: Path) -> "Study":
    from filtration.study.file import load_study

    return load_study(path)


def _logbook(given: Path | None) -> "Logbook":
    from filtration.readings.logbook import Logbook, logbook_path

    return Logbook(logbook_path(given))


def _now() -> datetime:
    return datetime.now().astimezone().replace(microsecond=0)


def _read(rows: list[tuple[str, str]], note: str, when: str, study: "Study", faults: list[str]) -> list["Reading"]:
    """Return what there is to add, or raise every fault."""
    from filtration.base.errors import no_option, shown
    from filtration.readings.reading import reading_of

    readings = []
    for place, (kind, value) in enumerate(rows):
        try:
            readings.append(reading_of(when, kind, value, "" if place else note, where="log add"))
        except InputError as error:
            faults += (fault for fault in error.faults if fault not in faults)
    if readings and readings[0].when > _now() + _ONE_DAY:
        faults.append(f"log add, when: must be at most a day ahead of now, got {shown(when)}")
    options = [option.id for option in study.options]
    faults += (
        f"log add, replace: {no_option(reading.option, options)}"
        for reading in readings
        if reading.option is not None and reading.option not in options
    )
    if faults:
        raise InputError(*faults)
    return readings


def _day(reading: "Reading") -> str:
    """Return a time as people read it: Tue 3 Mar 2026 18:30 (+01:00)."""
    when = reading.when
    return f"{when:%a} {when.day} {when:%b %Y %H:%M} ({when.isoformat()[-6:]})"


def _what(reading: "Reading") -> str:
    """Return a reading on one line."""
    note = " ".join(reading.note.split())
    if reading.kind == "note":
        return f"note: {note}"
    words = {"replace": "replaced", "rinse": "rinsed", "soak": "soaked", "water": "water changed"}
    return f"{words.get(reading.kind, reading.kind)} {reading.value}".rstrip() + (f" ({note})" if note else "")


def _these(readings: tuple["Reading", ...]) -> str:
    """Return a few readings each, many by their number."""
    if len(readings) > 3:
        return _count(len(readings))
    return "; ".join(f"{_what(reading)}, {_day(reading)}" for reading in readings)


def _count(number: int) -> str:
    return "1 reading" if number == 1 else f"{number} readings"


def _document(name: str, readings: tuple["Reading", ...]) -> dict[str, object]:
    return {"format": 1, "study": name, "readings": [dict(_entry(reading)) for reading in readings]}


def _entry(reading: "Reading") -> Iterator[tuple[str, object]]:
    """Yield the keys of a reading in the document; a quantity it has not is null."""
    from filtration.base.units import in_unit
    from filtration.readings.reading import cells

    yield from zip(("when", "kind", "value", "note"), cells(reading), strict=True)
    for key, value, unit in (
        ("flow_l_per_h", reading.flow_m3_s, "L/h"),
        ("bucket_l", reading.bucket_m3, "L"),
        ("pressure_kpa", reading.pressure_pa, "kPa"),
    ):
        yield key, None if value is None else in_unit(value, unit)
    yield "seconds", reading.seconds
    yield "see_through_m", reading.see_through_m
    yield "option", reading.option
    yield "uses", reading.uses
    yield "without_element", reading.without_element
