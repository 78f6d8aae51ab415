"""The command that writes an answer to a file. Everything heavy is imported when it is needed."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from filtration.cli_common import Draws, LogbookFile, Seed, StudyFile, day_of, noon_of, progress, readings_of, tell
from filtration.errors import InputError, NoAnswerError

if TYPE_CHECKING:
    from filtration.answer import Comparison
    from filtration.dated import Plan
    from filtration.readings import Reading
    from filtration.study import Study

_WAYS = {
    ".html": ("report", "card"),
    ".ics": ("plan",),
    ".xlsx": ("report", "answer", "plan"),
    ".csv": ("answer", "plan"),
    ".txt": ("answer",),
}
_PICTURES = (".png", ".svg")


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
    option: Annotated[str | None, typer.Option(metavar="ID", help="The option; left out, the best.")] = None,
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
    from filtration.study_file import load_study
    from filtration.whole_file import refuse_taken, write_whole

    ending, wanted = to.suffix.lower(), _wanted(to, what)
    refuse_taken(to, force=force)
    asked = _Asked(
        study=load_study(study), option=option, today=today, readings=readings, logbook=logbook, draws=draws, seed=seed
    )
    try:
        data = _DATA[ending](asked, wanted)
    except NoAnswerError as error:
        raise InputError(f"{to}: {error} Nothing was written.") from None
    write_whole(to, data, force=force)
    tell(f"Wrote {wanted} to {to}.")


def _wanted(to: Path, what: str | None) -> str:
    """Return what to write, as far as it can be told before anything is read."""
    ending = to.suffix.lower()
    if ending in _PICTURES:
        from filtration.present.pictures import CHARTS

        name = to.stem if what is None else what
        if name not in CHARTS:
            raise InputError(f"--what: a {ending} file holds one chart: {', '.join(CHARTS)}; got {_shown(name)}")
        return name
    if ending not in _WAYS:
        raise InputError(f"--to: must end in {', '.join([*_WAYS, *_PICTURES])}, got {_shown(to.name)}")
    if what is not None and what not in _WAYS[ending]:
        raise InputError(f"--what: a {ending} file holds {' or '.join(_WAYS[ending])}, got {_shown(what)}")
    return what or _WAYS[ending][0]


def _shown(text: str) -> str:
    from filtration.units import shown

    return shown(text)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What the command line says."""

    study: "Study"
    option: str | None
    today: str | None
    readings: str | None
    logbook: Path | None
    draws: int
    seed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """The answer as readings see it, and the plan, or why there is none."""

    answer: "Comparison"
    plan: "Plan | None"
    why: str
    rows: "Sequence[Reading]"
    compared: "Comparison"

    @property
    def planned(self) -> "Plan":
        """The plan, for what cannot do without."""
        if self.plan is None:
            raise NoAnswerError(self.why)
        return self.plan


def _found(asked: _Asked, *, draws: int = 0) -> _Found:
    """Answer and plan, the plan as the command of that name makes it."""
    from filtration.believed import with_belief
    from filtration.calendar_plan import DRAWS, plan
    from filtration.next_service import forecast
    from filtration.ranking import compare

    study, first_day = asked.study, day_of(asked.today)
    rows: Sequence[Reading] = ()
    ahead = None
    with progress() as told:
        if asked.readings is None:
            answer = compared = compare(study, draws=draws, seed=asked.seed, progress=told)
        else:
            rows = readings_of(asked.readings, asked.logbook, study)
            ahead = forecast(study, rows, today=noon_of(first_day), draws=DRAWS, seed=asked.seed)
            compared = compare(study)
            answer = compare(with_belief(study, ahead.belief), draws=draws, seed=asked.seed, progress=told)
    try:
        made = plan(
            study, option=asked.option, today=first_day, forecast=ahead, answer=compared, draws=DRAWS, seed=asked.seed
        )
    except NoAnswerError as error:
        return _Found(answer=answer, plan=None, why=str(error), rows=rows, compared=compared)
    return _Found(answer=answer, plan=made, why="", rows=rows, compared=compared)


def _html(asked: _Asked, wanted: str) -> bytes:
    if wanted == "card":
        from filtration.present.card import card_of

        found = _found(asked)
        return card_of(found.answer, found.planned).encode()
    from filtration.present.report import report_of

    found = _found(asked, draws=asked.draws)
    return report_of(found.answer, found.plan, found.why).encode()


def _calendar(asked: _Asked, _wanted: str) -> bytes:
    from filtration.present.calendar import calendar_of
    from filtration.services_done import services_done

    found = _found(asked)
    done = services_done(found.planned, found.compared, found.rows)
    return calendar_of(found.planned, done, datetime.now(UTC))


def _workbook(asked: _Asked, wanted: str) -> bytes:
    from filtration.present.workbook import workbook_of

    found = _found(asked, draws=0 if wanted == "plan" else asked.draws)
    if wanted == "plan":
        return workbook_of(found.answer, found.planned, "plan")
    return workbook_of(found.answer, found.plan, "answer" if wanted == "answer" else "report")


def _table(asked: _Asked, wanted: str) -> bytes:
    from filtration.present.tables import csv_of, options_rows, plan_rows

    if wanted == "plan":
        return csv_of(*plan_rows(_found(asked).planned))
    return csv_of(*options_rows(_found(asked, draws=asked.draws).answer))


def _message(asked: _Asked, _wanted: str) -> bytes:
    from filtration.present.message import message_of

    found = _found(asked)
    return message_of(found.answer, found.plan).encode()


def _png(asked: _Asked, wanted: str) -> bytes:
    from filtration.present.pictures import chart, png_of

    return png_of(chart(_found(asked, draws=asked.draws).answer, wanted, asked.option))


def _svg(asked: _Asked, wanted: str) -> bytes:
    from filtration.present.pictures import chart, svg_of

    return svg_of(chart(_found(asked, draws=asked.draws).answer, wanted, asked.option)).encode()


_DATA: dict[str, Callable[[_Asked, str], bytes]] = {
    ".html": _html,
    ".ics": _calendar,
    ".xlsx": _workbook,
    ".csv": _table,
    ".txt": _message,
    ".png": _png,
    ".svg": _svg,
}
