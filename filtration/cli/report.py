"""The command that writes an answer to a file. Everything heavy is imported when it is needed."""

from pathlib import Path
from typing import Annotated

import typer

from filtration.base.errors import InputError, NoAnswerError
from filtration.cli.common import Draws, LogbookFile, Seed, StudyFile, day_of, progress, readings_of, tell


def report(
    study: StudyFile,
    *,
    to: Annotated[
        Path,
        typer.Option(
            metavar="FILE",
            help="Where to: .html report or card, .ics calendar, .xlsx workbook, .csv table, .txt message, .png or "
            ".svg chart.",
        ),
    ],
    what: Annotated[
        str | None,
        typer.Option(
            metavar="WHAT", help="report, card, answer, plan, or a chart's name; left out, what the file's ending says."
        ),
    ] = None,
    option: Annotated[str | None, typer.Option(metavar="ID", help="The option; left out, the one to take.")] = None,
    today: Annotated[
        str | None, typer.Option(metavar="DATE", help="First day, as 2026-03-01; left out, today.")
    ] = None,
    readings: Annotated[
        str | None, typer.Option(metavar="FILE.csv", help="Go by your readings: 'logbook', or a table of them (CSV).")
    ] = None,
    logbook: LogbookFile = None,
    draws: Draws = 1024,
    seed: Seed = 0,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there.")] = False,
) -> None:
    """Write the answer or the plan to a file: to read, to print, to calculate with, to send."""
    from filtration.base.whole_file import refuse_taken, write_whole
    from filtration.plan.outcome import outcome_of
    from filtration.present.exports.by_ending import CALENDAR, DRAWN, PICTURES, bytes_of
    from filtration.study.file import load_study

    ending, wanted = to.suffix.lower(), _wanted(to, what)
    refuse_taken(to, force=force)
    read, first_day = load_study(study), day_of(today)
    drawn = ending in PICTURES or (ending, wanted) in DRAWN
    try:
        rows = None if readings is None else readings_of(readings, logbook, read)
        with progress() as told:
            found = outcome_of(
                read,
                option=option,
                today=first_day,
                rows=rows,
                draws=draws if drawn else 0,
                seed=seed,
                progress=told,
            )
        data = bytes_of(found, ending, wanted, option, _before(to) if ending == CALENDAR else b"")
    except NoAnswerError as error:
        raise InputError(f"{to}: {error} Nothing was written.") from None
    write_whole(to, data, force=force)
    tell(f"Wrote {wanted} to {to}.")


def _before(to: Path) -> bytes:
    """Return what stands in a file that is replaced; nothing where there is none."""
    try:
        return to.read_bytes()
    except FileNotFoundError:
        return b""
    except OSError as error:
        raise InputError(f"{to}: cannot be read ({error.strerror}); nothing was written") from None


def _wanted(to: Path, what: str | None) -> str:
    """Return what to write, as far as it can be told before anything is read."""
    from filtration.present.exports.by_ending import PICTURES, WAYS

    ending = to.suffix.lower()
    if ending in PICTURES:
        from filtration.present.charts.pictures import CHARTS

        name = to.stem if what is None else what
        if name not in CHARTS:
            raise InputError(f"--what: a {ending} file holds one chart: {', '.join(CHARTS)}; got {_shown(name)}")
        return name
    if ending not in WAYS:
        raise InputError(f"--to: must end in {', '.join([*WAYS, *PICTURES])}, got {_shown(to.name)}")
    if what is not None and what not in WAYS[ending]:
        raise InputError(f"--what: a {ending} file holds {' or '.join(WAYS[ending])}, got {_shown(what)}")
    return what or WAYS[ending][0]


def _shown(text: str) -> str:
    from filtration.base.errors import shown

    return shown(text)
