"""The command that writes an answer to a file. Everything heavy is imported when it is needed."""

from pathlib import Path
from typing import Annotated

from filtration.answers.decision import DRAWS
from filtration.base.errors import InputError, NoAnswerError
from filtration.cli import common
from filtration.cli.common import taking, taking_readings

_TO = "Where to: .html report or card, .ics calendar, .xlsx workbook, .csv table, .txt message, .png or .svg chart."
_WHAT = (
    "report, card, answer, plan, water, or a chart's name; left out, what the file's name says, of pictures the map."
)


def write_report(
    study: common.StudyFile,
    *,
    to: Annotated[Path, taking("FILE", _TO)],
    what: Annotated[str | None, taking("WHAT", _WHAT)] = None,
    option: common.OptionId = None,
    today: common.FirstDay = None,
    readings: Annotated[str | None, taking_readings("Go by your readings")] = None,
    logbook: common.LogbookFile = None,
    years: common.Years = None,
    draws: common.Draws = DRAWS,
    seed: common.Seed = 0,
    force: common.Force = False,
) -> None:
    """Write the answer or the plan to a file: to read, to print, to calculate with, to send."""
    from filtration.base.whole_file import refuse_taken, write_whole
    from filtration.plan.outcome import outcome_of
    from filtration.present.exports.by_ending import CALENDAR, DRAWN, PICTURES, bytes_of

    ending = to.suffix.lower()
    wanted = _wanted(to, ending, what)
    refuse_taken(to, force=force)
    read, first_day = common.with_horizon(common.load_study(study), years), common.day_of(today)
    drawn = draws if ending in PICTURES or (ending, wanted) in DRAWN else 0
    try:
        rows = common.readings_of(readings, logbook, read, study)
        with common.progress() as told:
            found = outcome_of(read, option=option, today=first_day, rows=rows, draws=drawn, seed=seed, progress=told)
        data = bytes_of(found, ending, wanted, option, common.bytes_before(to) if ending == CALENDAR else b"", years)
    except NoAnswerError as error:
        raise InputError(f"{to}: {error} Nothing was written.") from None
    write_whole(to, data, force=force)
    common.tell(f"Wrote {wanted} to {to}.")


def _wanted(to: Path, ending: str, what: str | None) -> str:
    """Return what to write, as far as it can be told before anything is read."""
    from filtration.base.errors import shown
    from filtration.present.exports.by_ending import PICTURES, WAYS

    if ending in PICTURES:
        from filtration.present.charts.pictures import CHARTS

        name = what or (to.stem if to.stem in CHARTS else "map")
        if name not in CHARTS:
            raise InputError(f"--what: a {ending} file holds one chart: {', '.join(CHARTS)}; got {shown(name)}")
        return name
    if ending not in WAYS:
        raise InputError(f"--to: must end in {', '.join([*WAYS, *PICTURES])}, got {shown(to.name)}")
    if what is not None and what not in WAYS[ending]:
        raise InputError(f"--what: a {ending} file holds {' or '.join(WAYS[ending])}, got {shown(what)}")
    return what or WAYS[ending][0]
