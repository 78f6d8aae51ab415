"""The command for many tubs. Everything heavy is imported when it is needed."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from filtration.answers.decision import DRAWS
from filtration.base.errors import InputError
from filtration.cli import common
from filtration.cli.common import taking

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from filtration.plan.fleet_rows import FleetRow
    from filtration.readings.reading import Reading

_TO = "Write it to a file too: .xlsx workbook, .ics calendar of visits, .csv table of all that is done and paid, .html."
_READINGS = (
    "Go by each tub's readings: 'logbook', or a folder with a table for each, its file's or its own name with .csv."
)


def budget_tubs(
    path: Annotated[Path, typer.Argument(metavar="PATH", help="A folder of studies, or a table of tubs (CSV).")],
    *,
    template: Annotated[Path | None, taking("STUDY", "The study that the rows of a table override.")] = None,
    today: common.FirstDay = None,
    readings: Annotated[str | None, taking("FOLDER", _READINGS)] = None,
    logbook: common.LogbookFile = None,
    prior: common.PriorFiles = None,
    to: Annotated[Path | None, taking("FILE", _TO)] = None,
    force: common.Force = False,
    as_json: common.AsJson = False,
    draws: common.Draws = DRAWS,
    seed: common.Seed = 0,
    workers: common.Workers = 1,
) -> None:
    """Budget many tubs together: cartridges and money a year, one shopping list, one schedule of visits."""
    from filtration.base.whole_file import refuse_taken, write_whole
    from filtration.plan.fleet import budget
    from filtration.plan.fleet_rows import read_fleet
    from filtration.present import console, documents

    if to is not None:
        from filtration.present.exports.fleet import ENDINGS, bytes_of_fleet

        if to.suffix.lower() not in ENDINGS:
            raise InputError(f"--to: must end in {', '.join(ENDINGS)}, got {to.name!r}")
        refuse_taken(to, force=force)
    rows, shared = read_fleet(path, template), common.shared_of(prior)
    if readings is not None:
        rows = [_with_readings(row, path, readings, logbook) for row in rows]
    with common.progress() as told, common.processes(workers) as executor:
        answer = budget(
            rows,
            draws=draws,
            seed=seed,
            today=common.day_of(today),
            shared=shared,
            executor=executor,
            progress=told,
        )
    common.put_out(answer, documents.fleet_document, console.print_fleet, as_json=as_json)
    if to is not None:
        before = common.bytes_before(to) if to.suffix.lower() == ".ics" else b""
        write_whole(to, bytes_of_fleet(answer, to.suffix.lower(), before), force=force)
        common.tell(f"Wrote {to}.")
    if answer.failed:
        raise InputError(*(fault for tub in answer.failed for fault in tub.faults))


def _with_readings(row: "FleetRow", path: Path, which: str, logbook: Path | None) -> "FleetRow":
    """Return a row with its tub's readings, or with their faults."""
    if row.tables is None:
        return row
    try:
        return replace(row, readings=tuple(_readings(row.tables, row.where, path, which, logbook)))
    except InputError as error:
        return replace(row, tables=None, faults=tuple(f"{row.where}: {fault}" for fault in error.faults))


def _readings(
    tables: "Mapping[str, Any]", where: str, path: Path, which: str, logbook: Path | None
) -> "Sequence[Reading]":
    from filtration.study.file import study_from_dict

    if which == common.LOGBOOK:
        try:
            study = study_from_dict(tables, where=where)
        except InputError:
            return ()  # told with the budget
        return common.readings_of(common.LOGBOOK, logbook, study, path / where if path.is_dir() else path) or ()
    from filtration.readings.csv_file import load_readings

    folder = Path(which)
    if not folder.is_dir():
        raise InputError(f"--readings: needs 'logbook' or a folder, got {which!r}")
    names = [Path(where).stem] * where.endswith(".toml") + [str(tables.get("name", ""))]
    files = [folder / f"{name}.csv" for name in names if name and Path(name).name == name]
    return next((load_readings(file) for file in files if file.is_file()), ())
