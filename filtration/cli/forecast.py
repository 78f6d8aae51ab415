"""The command that says when the next service is due. Everything heavy is imported when it is needed."""

import json
from functools import partial
from pathlib import Path
from typing import Annotated

from filtration.answers.decision import DRAWS
from filtration.cli import common
from filtration.cli.common import taking, taking_readings


def tell_next_service(
    study: common.StudyFile,
    *,
    readings: Annotated[str, taking_readings("Readings")] = common.LOGBOOK,
    logbook: common.LogbookFile = None,
    settings: common.Settings = None,
    as_json: common.AsJson = False,
    share: Annotated[
        Path | None, taking("FILE.json", "Write the fitted factors alone, for others of the club; no dates.")
    ] = None,
    prior: common.PriorFiles = None,
    today: Annotated[str | None, taking("TIME", "ISO 8601, as 2026-03-03 or 2026-03-03T18:30+01:00; else now.")] = None,
    draws: common.DrawsAtLeastOne = DRAWS,
    seed: common.Seed = 0,
) -> None:
    """Say when the next service is due, from your readings, and how sure that is."""
    from filtration.base.whole_file import write_whole
    from filtration.present import console, documents
    from filtration.readings import next_service, reading, shared_prior

    read = common.load_study(study, settings or ())
    before, rows = common.prior_of(prior, read), common.readings_of(readings, logbook, read, study) or ()
    # As a reading's: a day alone is its noon, a time without an offset this machine's.
    moment = None if today is None else reading.reading_of(today, "note", note="today", where="--today").when
    answer = next_service.forecast(read, rows, today=moment, prior=before, draws=draws, seed=seed)
    if share is not None:
        write_whole(share, (json.dumps(shared_prior.share(answer), allow_nan=False, indent=1) + "\n").encode())
    common.put_out(
        answer, documents.forecast_document, partial(console.print_forecast, settings=settings or ()), as_json=as_json
    )
