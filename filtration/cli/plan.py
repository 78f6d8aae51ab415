"""The command that plans by the calendar. Everything heavy is imported when it is needed."""

from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from filtration.base.errors import NoAnswerError
from filtration.cli.common import AsJson, LogbookFile, Seed, StudyFile, day_of, print_json, readings_of

if TYPE_CHECKING:
    from pathlib import Path

    from filtration.readings.next_service import Forecast
    from filtration.study.values import Study

_FEWEST_FORECAST_DRAWS = 64


def plan(
    study: StudyFile,
    *,
    option: Annotated[str | None, typer.Option(metavar="ID", help="The option; left out, the one to take.")] = None,
    today: Annotated[
        str | None, typer.Option(metavar="DATE", help="First day, as 2026-03-01; left out, today.")
    ] = None,
    readings: Annotated[
        str | None,
        typer.Option(
            metavar="FILE.csv", help="Move the days by readings: 'logbook', or a table of them (CSV); left out, none."
        ),
    ] = None,
    logbook: LogbookFile = None,
    draws: Annotated[int, typer.Option(help="Cases drawn of what is not known exactly: a power of two.")] = 256,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> None:
    """Say what to do and to buy on which day, and what it comes to."""
    from filtration.plan.dated_plan import plan as plan_of
    from filtration.study.file import load_study

    read, first_day = load_study(study), day_of(today)
    try:
        ahead = None if readings is None else _forecast(read, readings, logbook, first_day, draws, seed)
        found = plan_of(read, option=option, today=first_day, forecast=ahead, draws=draws, seed=seed)
    except NoAnswerError as error:
        _print_none(read.name, str(error), as_json=as_json)
        return
    if as_json:
        from filtration.present.documents import plan_document

        print_json(plan_document(found))
    else:
        from filtration.present.console import print_plan

        print_plan(found)


def _forecast(
    study: "Study", readings: str, logbook: "Path | None", first_day: date, draws: int, seed: int
) -> "Forecast":
    from filtration.readings.next_service import forecast, noon_of

    rows = readings_of(readings, logbook, study)
    return forecast(study, rows, today=noon_of(first_day), draws=max(draws, _FEWEST_FORECAST_DRAWS), seed=seed)


def _print_none(name: str, why: str, *, as_json: bool) -> None:
    """Say that there is no plan: an answer too."""
    if as_json:
        from filtration.present.documents import no_plan_document

        print_json(no_plan_document(name, why))
    else:
        from filtration.present.console import say

        say(f"{name}\n\n{why}")
