"""The commands of the logbook. Everything heavy is imported when a command needs it."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from filtration.base.errors import InputError, option_of, shown
from filtration.cli import common
from filtration.cli.common import AsJson, Force, LogbookFile, StudyFile, taking

if TYPE_CHECKING:
    from filtration.readings.logbook import Logbook
    from filtration.readings.reading import Reading
    from filtration.study.values import Study

app = typer.Typer(help="Keep a logbook of readings and services.", no_args_is_help=True)

Table = Annotated[Path, typer.Argument(metavar="FILE", help="A CSV file.", show_default=False)]
_COLUMN = 'Water in a clear tube before the housing above the tub\'s, as "82 cm"; once without cartridge too.'
_WITHOUT = "Flow, bucket, column or pressure taken with the cartridge out; unplug before you take it out."
_FIELDS = ("seconds", "see_through_m", "option", "count", "item", "uses", "without_element")
_ONE_DAY = timedelta(days=1)
_NOTHING_TO_ADD = (
    "log add: nothing to add; give one or more of --flow, --bucket with --seconds, --column, --pressure, "
    "--see-through, --rinsed, --soaked, --fitted, --replaced, --water-changed, --bought, --uses, --note"
)
_KEPT = "Write down even what a forecast would leave out."
_ANYWAY = "A forecast would leave this out, so nothing was written; with --anyway it is kept all the same"

Anyway = Annotated[bool, typer.Option("--anyway", help=_KEPT)]


@app.command()
def add(
    study: StudyFile,
    *,
    flow: Annotated[str | None, taking("FLOW", 'Flow, as "22 L/min".')] = None,
    bucket: Annotated[str | None, taking("VOLUME", 'Bucket filled, as "10 L".')] = None,
    seconds: Annotated[str | None, taking("SECONDS", "How long that took, as 27.4.")] = None,
    without_element: Annotated[bool, typer.Option("--without-element", help=_WITHOUT)] = False,
    column: Annotated[str | None, taking("LENGTH", _COLUMN)] = None,
    pressure: Annotated[
        str | None, taking("PRESSURE", 'Gauge before the housing, as "11 kPa"; once without cartridge too.')
    ] = None,
    see_through: Annotated[str | None, taking("LENGTH", 'How far you see, as "3 m".')] = None,
    rinsed: Annotated[bool, typer.Option("--rinsed", help="The cartridge was rinsed.")] = False,
    soaked: Annotated[bool, typer.Option("--soaked", help="The cartridge was soaked.")] = False,
    fitted: Annotated[
        str | None, taking("ID", "What was fitted first, by id or name of the option.", common.begun_option)
    ] = None,
    replaced: Annotated[
        str | None, taking("ID", 'What was fitted new after that; "" for like with like.', common.begun_option)
    ] = None,
    water_changed: Annotated[bool, typer.Option("--water-changed", help="The water was changed.")] = False,
    bought: Annotated[
        str | None, taking("COUNT", 'Cartridges bought, as 2 or "2 Pleated 20": a plan buys so many fewer.')
    ] = None,
    uses: Annotated[str | None, taking("DIPS", "Dips on that day, as 9.")] = None,
    note: Annotated[str | None, taking("TEXT", "A remark; beside others it stays with the first of them.")] = None,
    when: Annotated[str | None, taking("TIME", "ISO 8601, as 2026-03-03T18:30+01:00; left out: now.")] = None,
    anyway: Anyway = False,
    logbook: LogbookFile = None,
) -> None:
    """Add what was read and done at one time: what was read counts before what was done."""
    from filtration.present.words import phrases
    from filtration.readings.reading import MEASURED, WITHOUT_ELEMENT

    tub, faults = common.load_study(study), list[str]()
    given = {
        "flow": flow,
        "bucket": None if bucket is None or seconds is None else f"{bucket} in {seconds} s",
        "column": column,
        "pressure": pressure,
        "see-through": see_through,
        "rinse": "" if rinsed else None,
        "soak": "" if soaked else None,
        "fitted": fitted,
        "replace": replaced,
        "water": "" if water_changed else None,
        "bought": bought,
        "uses": uses,
    }
    rows = [(kind, value) for kind, value in given.items() if value is not None]
    if (bucket is None) != (seconds is None):
        faults.append("log add: --bucket and --seconds go together; one of them is missing")
    if without_element:
        if all(each is None for each in (flow, bucket, column, pressure)):
            faults.append("log add: --without-element goes with --flow, --bucket, --column or --pressure")
        rows = [(kind, value + WITHOUT_ELEMENT if kind in MEASURED else value) for kind, value in rows]
    rows = rows or ([("note", "")] if note is not None else [])
    if not rows and not faults:
        faults.append(_NOTHING_TO_ADD)
    moment = when or datetime.now().astimezone().isoformat(timespec="seconds")
    readings = _read(rows, note or "", moment, tub.names, faults)
    with common.open_logbook(logbook) as book:
        _add(book, tub, study, readings, anyway=anyway)
    common.tell(f"Logged: {'; '.join(map(_what, readings))}, {phrases.moment(readings[0].when)}. Logbook: {book.path}")


@app.command("list")
def show(study: StudyFile, *, as_json: AsJson = False, logbook: LogbookFile = None) -> None:
    """List a tub's readings, oldest first, and where the logbook lies."""
    from filtration.present.console import say
    from filtration.present.words import phrases
    from filtration.present.words import readings as words
    from filtration.readings.reading import in_order

    tub = common.load_study(study)
    with common.open_logbook(logbook) as book:
        known = common.known(book, tub, study)
        readings, tubs = in_order(book.list(known)), book.tubs()
    if as_json:
        head = {"format": 1, "study": tub.name, "id": tub.id or None, "logbook": str(book.path)}
        common.print_json({**head, "readings": list(map(_document, readings))})
        return
    if readings:
        say("\n".join(f"{phrases.moment(reading.when)}: {_what(reading)}" for reading in readings))
        common.tell(f"{_count(len(readings))} of {tub.name}. {words.ORDER} Logbook: {book.path}")
    else:
        common.tell(f"No reading of {tub.name} yet. Logbook: {book.path}")
        elsewhere = words.kept_elsewhere(known, tubs)
        if elsewhere:
            common.tell(elsewhere)


@app.command()
def undo(study: StudyFile, *, logbook: LogbookFile = None) -> None:
    """Undo the last change: what one add or one import brought."""
    tub = common.load_study(study)
    with common.open_logbook(logbook) as book:
        undone = book.undo(common.known(book, tub, study, strict=True))
    told = {"Taken out": undone.taken_out, "Brought back": undone.brought_back}
    lines = [f"{what}: {_these(readings)}" for what, readings in told.items() if readings]
    for line in lines or [f"Nothing to undo: no reading of {tub.name}"]:
        common.tell(f"{line}. Logbook: {book.path}")


@app.command()
def export(study: StudyFile, file: Table, *, force: Force = False, logbook: LogbookFile = None) -> None:
    """Write a tub's readings to a CSV file."""
    from filtration.readings.csv_file import readings_to_csv
    from filtration.readings.reading import in_order

    tub = common.load_study(study)
    with common.open_logbook(logbook) as book:
        readings = in_order(book.list(common.known(book, tub, study)))
    readings_to_csv(readings, file, force=force)
    common.tell(f"Wrote {_count(len(readings))} to {file}.")


@app.command("import")
def take_in(study: StudyFile, file: Table, *, anyway: Anyway = False, logbook: LogbookFile = None) -> None:
    """Add the readings of a CSV file, all or none; those that are there already are left out."""
    from filtration.readings.csv_file import load_readings

    tub, readings = common.load_study(study), load_readings(file)
    with common.open_logbook(logbook) as book:
        added = _add(book, tub, study, readings, anyway=anyway, skip_known=True)
    known = len(readings) - added
    common.tell(f"Imported {_count(added)}{f', {known} there already' if known else ''}. Logbook: {book.path}")


@app.command()
def rename(
    study: StudyFile,
    name: Annotated[str | None, typer.Argument(metavar="[NAME]", help="Its new name.", show_default=False)] = None,
    *,
    was: Annotated[
        str | None, taking("NAME", "Take over readings that the logbook keeps under this name or id.")
    ] = None,
    logbook: LogbookFile = None,
) -> None:
    """Give a tub another name, its readings with it; or take over readings kept under an older one."""
    from filtration.readings.logbook_tables import known_as

    tub = common.load_study(study)
    with common.open_logbook(logbook) as book:
        tub = _with_id(tub, study)
        if name is not None and name != tub.name:
            book.rename(known_as(tub, study))  # what was kept under the old name comes along
            common.write_in_study(study, "name", name)
            tub = common.load_study(study)
        count = book.rename(known_as(tub, study), was or "")
    common.tell(f"{tub.name}: {_count(count)}. Logbook: {book.path}")


def _add(
    book: "Logbook",
    tub: "Study",
    file: Path,
    readings: Sequence["Reading"],
    *,
    anyway: bool,
    skip_known: bool = False,
) -> int:
    """Add what a forecast would take to a tub's readings, or refuse all; return how many."""
    from filtration.present.words.in_units import as_written
    from filtration.present.words.readings import not_taken
    from filtration.readings.entering import would_refuse
    from filtration.readings.reading import beside

    known = common.known(book, tub, file, strict=True)
    there = book.list(known)
    fresh = beside(there, readings) if skip_known else list(readings)
    if fresh and not anyway:
        faults = not_taken(would_refuse(tub, there, fresh, datetime.now().astimezone()))
        if faults:
            raise InputError(*(as_written(fault, tub) for fault in faults), f"{_ANYWAY}.")
    known = common.known(book, _with_id(tub, file), file) if fresh else known
    return len(book.add(known, fresh, skip_known=skip_known))


def _with_id(tub: "Study", file: Path) -> "Study":
    """Return a study with the id that its readings hang on, written into its file where it had none."""
    from filtration.study.text import new_id

    if not tub.id:
        try:
            common.write_in_study(file, "id", new_id())
        except InputError as error:
            common.tell(f"{'; '.join(error.faults)}. Until then its readings hang on its name")
    return common.load_study(file)


def _read(
    rows: list[tuple[str, str]], note: str, when: str, names: Mapping[str, str], faults: list[str]
) -> list["Reading"]:
    """Return what there is to add, or raise every fault."""
    from filtration.readings.reading import reading_of

    readings = []
    for place, (kind, value) in enumerate(rows):
        with common.collecting(faults):
            fits = kind in ("fitted", "replace") and value.strip()
            named = option_of(names, value, f"log add, {kind}") if fits else value
            readings.append(reading_of(when, kind, named, "" if place else note, where="log add"))
    if readings and readings[0].when > datetime.now().astimezone() + _ONE_DAY:
        faults.append(f"log add, when: must be at most a day ahead of now, got {shown(when)}")
    if faults:
        raise InputError(*dict.fromkeys(faults))  # a time that is none is one fault, and not each row's
    return readings


def _what(reading: "Reading") -> str:
    """Return a reading on one line."""
    note = " ".join(reading.note.split())
    if reading.kind == "note":
        return f"note: {note}"
    words = {"replace": "replaced", "rinse": "rinsed", "soak": "soaked", "water": "water changed"}
    return f"{words.get(reading.kind, reading.kind)} {reading.value}".rstrip() + (f" ({note})" if note else "")


def _these(readings: tuple["Reading", ...]) -> str:
    """Return a few readings each, many by their number."""
    from filtration.present.words import phrases

    told = [f"{_what(reading)}, {phrases.moment(reading.when)}" for reading in readings]
    return "; ".join(told) if len(told) <= 3 else _count(len(told))


def _count(number: int) -> str:
    return "1 reading" if number == 1 else f"{number} readings"


def _document(reading: "Reading") -> dict[str, object]:
    """Return a reading as the document has it; a quantity it has not is null."""
    from filtration.base.units import in_unit
    from filtration.readings.reading import cells

    figures = {
        "flow_l_per_h": (reading.flow_m3_s, "L/h"),
        "bucket_l": (reading.bucket_m3, "L"),
        "pressure_kpa": (reading.pressure_pa, "kPa"),
    }
    return {
        **dict(zip(("when", "kind", "value", "note"), cells(reading), strict=True)),
        **{key: None if value is None else in_unit(value, unit) for key, (value, unit) in figures.items()},
        **{key: getattr(reading, key) for key in _FIELDS},
    }
