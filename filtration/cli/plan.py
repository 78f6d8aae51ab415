"""The command that plans by the calendar. Everything heavy is imported when it is needed."""

from functools import partial
from typing import Annotated

from filtration.answers.decision import PLAN_DRAWS
from filtration.base.errors import NoAnswerError
from filtration.cli import common
from filtration.cli.common import taking_readings


def plan_by_calendar(
    study: common.StudyFile,
    *,
    option: common.OptionId = None,
    today: common.FirstDay = None,
    readings: Annotated[str | None, taking_readings("Move the days by readings", "; left out, none")] = None,
    logbook: common.LogbookFile = None,
    years: common.Years = None,
    settings: common.Settings = None,
    draws: common.DrawsAtLeastOne = PLAN_DRAWS,
    seed: common.Seed = 0,
    as_json: common.AsJson = False,
) -> None:
    """Say what to do and to buy on which day, and what it comes to."""
    from filtration.plan.dated_plan import plan
    from filtration.present import console, documents
    from filtration.present.words.phrases import headed
    from filtration.readings.next_service import forecast, noon_of

    read, first_day, ahead = (
        common.with_horizon(common.load_study(study, settings or ()), years),
        common.day_of(today),
        None,
    )
    try:
        rows = common.readings_of(readings, logbook, read, study)
        if rows is not None:
            ahead = forecast(read, rows, today=noon_of(first_day), seed=seed)
        found = plan(read, option=option, today=first_day, forecast=ahead, draws=draws, seed=seed)
    except NoAnswerError as error:  # an answer too
        if as_json:
            common.print_json(documents.no_plan_document(read.name, str(error)))
        else:
            console.say(f"{headed(read.name, settings or ())}\n\n{error}", read)
    else:
        common.put_out(
            found, documents.plan_document, partial(console.print_plan, settings=settings or ()), as_json=as_json
        )
