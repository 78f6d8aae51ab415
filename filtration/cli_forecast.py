"""The command that says when the next service is due. Everything heavy is imported when it is needed."""

import json
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from filtration.errors import InputError

if TYPE_CHECKING:
    from filtration.draws import Belief
    from filtration.next_service import Forecast
    from filtration.readings import Reading
    from filtration.study import Study

_LOGBOOK = "logbook"


def forecast(
    study: Annotated[Path, typer.Argument(metavar="STUDY", help="A study file (TOML).", show_default=False)],
    *,
    readings: Annotated[
        str, typer.Option(metavar="FILE.csv", help="Readings: 'logbook', or a table of them (CSV).")
    ] = _LOGBOOK,
    logbook: Annotated[
        Path | None,
        typer.Option(
            "--logbook", metavar="FILE", help="The logbook; else what FILTRATION_LOGBOOK says, else the usual place."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the machine-readable document instead.")] = False,
    share: Annotated[
        Path | None,
        typer.Option(metavar="FILE.json", help="Write the fitted factors alone, for others of the club; no dates."),
    ] = None,
    prior: Annotated[
        list[Path] | None, typer.Option(metavar="FILE.json", help="What another tub shares; give it once for each.")
    ] = None,
    today: Annotated[
        str | None, typer.Option(metavar="TIME", help="ISO 8601, as 2026-03-03 or 2026-03-03T18:30+01:00; else now.")
    ] = None,
    draws: Annotated[int, typer.Option(help="Draws of what is not known exactly: a power of two.")] = 512,
    seed: Annotated[int, typer.Option(help="Which draws; the same seed gives the same answer.", min=0)] = 0,
) -> None:
    """Say when the next service is due, from your readings, and how sure that is."""
    from filtration.next_service import forecast as look_ahead
    from filtration.study_file import load_study

    read = load_study(study)
    before = _pooled(prior or [], read)
    rows = _readings(readings, logbook, read)
    answer = look_ahead(read, rows, today=_moment(today), prior=before, draws=draws, seed=seed)
    if share is not None:
        _share(answer, share)
    if as_json:
        from filtration.present.forecast_document import forecast_document

        json.dump(forecast_document(answer), sys.stdout, ensure_ascii=True, allow_nan=False, indent=1)
        sys.stdout.write("\n")
    else:
        from filtration.present.forecast_console import print_forecast

        print_forecast(answer)


def _readings(which: str, logbook: Path | None, study: "Study") -> "tuple[Reading, ...]":
    if which != _LOGBOOK:
        from filtration.readings_file import load_readings

        return load_readings(which)
    from filtration.logbook import Logbook, logbook_path

    with Logbook(logbook_path(logbook)) as book:
        return tuple(book.list(study.name))


def _moment(text: str | None) -> datetime | None:
    """Return a time as it is meant; a day alone is its noon, a time without an offset this machine's."""
    if text is None:
        return None
    from filtration.readings import reading_of

    return reading_of(text, "note", note="today", where="--today").when


def _pooled(files: list[Path], study: "Study") -> "Belief | None":
    if not files:
        return None
    from filtration.shared_prior import load_shared, pooled

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


def _share(answer: "Forecast", file: Path) -> None:
    """Write what the tub shares; never over a file that is there."""
    from filtration.shared_prior import share

    try:
        with file.open("x", encoding="utf-8", newline="\n") as out:
            json.dump(share(answer), out, allow_nan=False, indent=1)
            out.write("\n")
    except FileExistsError:
        raise InputError(f"{file}: there is a file already; nothing was written") from None
    except OSError as error:
        raise InputError(f"{file}: cannot be written ({error.strerror})") from None
