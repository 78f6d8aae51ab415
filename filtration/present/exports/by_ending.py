"""Every way an answer or a plan leaves the program, by the ending of the file."""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from filtration.plan.outcome import Outcome

CALENDAR = ".ics"
WAYS: Mapping[str, tuple[str, ...]] = {
    ".html": ("report", "card"),
    CALENDAR: ("plan",),
    ".xlsx": ("report", "answer", "plan"),
    ".csv": ("answer", "plan"),
    ".txt": ("answer",),
}
"""What a file of an ending may hold, what it holds unless told otherwise first."""

PICTURES = (".png", ".svg")
"""Endings of files that hold one chart."""

DRAWN = frozenset({(".html", "report"), (".xlsx", "report"), (".xlsx", "answer"), (".csv", "answer")})
"""Ways that say how sure the answer is, beside pictures."""


def bytes_of(outcome: "Outcome", ending: str, wanted: str, option: str | None = None, before: bytes = b"") -> bytes:
    """Return what a file holds.

    Parameters
    ----------
    outcome : Outcome
        Answer and plan.
    ending : str
        The file's ending, one of ``WAYS`` or ``PICTURES``.
    wanted : str
        What it is to hold, as ``WAYS`` says, or the name of a chart.
    option : str, optional
        The option of a chart that shows one.
    before : bytes, optional
        The file that this one replaces, for a calendar.

    Returns
    -------
    bytes
        The whole file.

    Raises
    ------
    NoAnswerError
        If it needs a plan and there is none, or a chart has nothing to show.
    """
    if ending in PICTURES:
        return _picture(outcome, ending, wanted, option)
    if ending == CALENDAR:
        return _calendar(outcome, before)
    return _DATA[ending](outcome, wanted)


def _picture(outcome: "Outcome", ending: str, wanted: str, option: str | None) -> bytes:
    from filtration.present.charts.pictures import chart, png_of, svg_of

    drawn = chart(outcome.answer, wanted, option)
    return png_of(drawn) if ending == ".png" else svg_of(drawn).encode()


def _html(outcome: "Outcome", wanted: str) -> bytes:
    if wanted == "card":
        from filtration.present.exports.card import render_card

        return render_card(outcome.answer, outcome.planned).encode()
    from filtration.present.exports.report import render_report

    return render_report(outcome.answer, outcome.plan, outcome.why).encode()


def _calendar(outcome: "Outcome", before: bytes) -> bytes:
    from filtration.plan.outcome import services_done
    from filtration.present.exports.calendar import build_calendar

    done = services_done(outcome.planned, outcome.compared, outcome.rows)
    return build_calendar(outcome.planned, done, datetime.now(UTC), before)


def _workbook(outcome: "Outcome", wanted: str) -> bytes:
    from filtration.present.exports.workbook import build_workbook

    if wanted == "plan":
        return build_workbook(outcome.answer, outcome.planned, "plan")
    return build_workbook(outcome.answer, outcome.plan, "answer" if wanted == "answer" else "report")


def _table(outcome: "Outcome", wanted: str) -> bytes:
    from filtration.present.exports.tables import csv_of, options_rows, plan_rows

    return csv_of(*(plan_rows(outcome.planned) if wanted == "plan" else options_rows(outcome.answer)))


def _message(outcome: "Outcome", _wanted: str) -> bytes:
    from filtration.present.exports.message import write_message

    return write_message(outcome.answer, outcome.plan).encode()


_DATA: Mapping[str, Callable[["Outcome", str], bytes]] = {
    ".html": _html,
    ".xlsx": _workbook,
    ".csv": _table,
    ".txt": _message,
}
