"""Every way an answer or a plan leaves the program, by the ending of the file."""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime

from filtration.answers.curves import Sweep
from filtration.base.errors import NoAnswerError
from filtration.plan.outcome import Outcome, services_done
from filtration.present.charts.pictures import chart, png_of, svg_of
from filtration.present.charts.sweep import sweep_chart
from filtration.present.exports.calendar import build_calendar
from filtration.present.exports.card import render_card
from filtration.present.exports.message import write_message
from filtration.present.exports.report import render_report
from filtration.present.exports.tables import csv_of, in_units_of, options_rows, plan_rows, rows_of
from filtration.present.exports.workbook import build_workbook

CALENDAR = ".ics"
WAYS: Mapping[str, tuple[str, ...]] = {
    ".html": ("report", "card"),
    CALENDAR: ("plan", "water"),
    ".xlsx": ("report", "answer", "plan"),
    ".csv": ("answer", "plan"),
    ".txt": ("answer",),
}
"""What a file of an ending may hold, what it holds unless told otherwise first."""

PICTURES = (".png", ".svg")
"""Endings of files that hold one chart."""

SWEPT = (".csv", *PICTURES)
"""Endings of files that hold curves."""

DRAWN = frozenset(
    {
        (".html", "report"),
        (".html", "card"),
        (".xlsx", "report"),
        (".xlsx", "answer"),
        (".csv", "answer"),
        (".txt", "answer"),
    }
)
"""Ways that say how sure the answer is, beside pictures."""


def bytes_of(
    outcome: Outcome,
    ending: str,
    wanted: str,
    option: str | None = None,
    before: bytes = b"",
    years: float | None = None,
) -> bytes:
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
    years : float, optional
        How far ahead a calendar goes; left out, one.

    Returns
    -------
    bytes
        The whole file.

    Raises
    ------
    NoAnswerError
        If it needs a plan and there is none, or a chart or a calendar has nothing to show.
    """
    if ending in PICTURES:
        drawn = chart(outcome.answer, wanted, option)
        return png_of(drawn) if ending == ".png" else svg_of(drawn).encode()
    if ending == CALENDAR:
        if wanted == "water" and outcome.planned.study.water_never_changed:
            raise NoAnswerError("The water is never changed.")
        done = services_done(outcome.planned, outcome.compared, outcome.rows)
        return build_calendar(outcome.planned, done, datetime.now(UTC), before, what=wanted, years=years)
    data = _DATA[ending, wanted](outcome)
    return data.encode() if isinstance(data, str) else data


def bytes_of_sweep(found: Sweep, ending: str) -> bytes:
    """Return what a file of curves holds.

    Parameters
    ----------
    found : Sweep
        The curves.
    ending : str
        The file's ending, one of ``SWEPT``.

    Returns
    -------
    bytes
        The whole file.
    """
    if ending == ".csv":
        return csv_of(*rows_of(in_units_of(found.study, found.table())))
    drawn = sweep_chart(found).properties(background="white")
    return png_of(drawn) if ending == ".png" else svg_of(drawn).encode()


_DATA: Mapping[tuple[str, str], Callable[[Outcome], str | bytes]] = {
    (".html", "report"): lambda found: render_report(found.answer, found.plan, found.why),
    (".html", "card"): lambda found: render_card(found.answer, found.planned),
    (".xlsx", "report"): lambda found: build_workbook(found.answer, found.plan),
    (".xlsx", "answer"): lambda found: build_workbook(found.answer, found.plan, "answer"),
    (".xlsx", "plan"): lambda found: build_workbook(found.answer, found.planned, "plan"),
    (".csv", "answer"): lambda found: csv_of(*options_rows(found.answer)),
    (".csv", "plan"): lambda found: csv_of(*plan_rows(found.planned)),
    (".txt", "answer"): lambda found: write_message(found.answer, found.plan),
}
