"""The command that says when the next service is due. Everything heavy is imported when it is needed."""

import json
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from filtration.cli.common import (
    LOGBOOK,
    AsJson,
    LogbookFile,
    PriorFiles,
    Seed,
    StudyFile,
    print_json,
    prior_of,
    readings_of,
)

if TYPE_CHECKING:
    from filtration.readings.next_service import Forecast


def forecast(
    study: StudyFile,
    *,
    readings: Annotated[
        str, typer.Option(metavar="FILE.csv", help="Readings: 'logbook', or a table of them (CSV).")
    ] = LOGBOOK,
    logbook: LogbookFile = None,
    as_json: AsJson = False,
    share: Annotated[
        Path | None,
        typer.Option(metavar="FILE.json", help="Write the fitted factors alone, for others of the club; no dates."),
    ] = None,
    prior: PriorFiles = None,
    today: Annotated[
        str | None, typer.Option(metavar="TIME", help="ISO 8601, as 2026-03-03 or 2026-03-03T18:30+01:00; else now.")
    ] = None,
    draws: Annotated[int, typer.Option(help="Cases drawn of what is not known exactly: a power of two.")] = 512,
    seed: Seed = 0,
) -> None:
    """Say when the next service is due, from your readings, and how sure that is."""
    from filtration.readings.next_service import forecast as look_ahead
    from filtration.study.file import load_study

    read = load_study(study)
    before, rows = prior_of(prior, read), readings_of(readings, logbook, read)
    answer = look_ahead(read, rows, today=_moment(today), prior=before, draws=draws, seed=seed)
    if share is not None:
        _share(answer, share)
    if as_json:
        from filtration.present.documents import forecast_document

        print_json(forecast_document(answer))
    else:
        from filtration.present.console import print_forecast

        print_forecast(answer)


def _moment(text: str | None) -> datetime | None:
    """Return a time as it is meant; a day alone is its noon, a time without an offset this machine's."""
    if text is None:
        return None
    from filtration.readings.reading import reading_of

    return reading_of(text, "note", note="today", where="--today").when


def _share(answer: "Forecast", file: Path) -> None:
    """Write what the tub shares; never over a file that is there."""
    from filtration.base.whole_file import write_whole
    from filtration.readings.shared_prior import share

    write_whole(file, (json.dumps(share(answer), allow_nan=False, indent=1) + "\n").encode())
