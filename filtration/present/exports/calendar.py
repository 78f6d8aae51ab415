"""A plan as a calendar (RFC 5545): one all-day event for each walk to the tub."""

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, date, datetime, timedelta
from typing import NamedTuple
from uuid import UUID, uuid5

from icalendar import Calendar, Component, Event, vDDDTypes, vText

from filtration.physics.cost import DAYS_PER_YEAR
from filtration.plan.dated import Plan
from filtration.plan.outcome import Done, numbered
from filtration.present.words import exports as words

_OURS = UUID("5f0d1c3a-0f5e-4b0a-9d5c-6f1f7a1f2b9e")
_SECONDS_PER_MINUTE = 60
_ABOUT = {"plan": "filter", "water": "water"}


def build_calendar(
    plan: Plan, done: Done, written: datetime, before: bytes = b"", *, what: str = "plan", years: float | None = None
) -> bytes:
    """Return a plan as the text of a calendar file.

    Parameters
    ----------
    plan : Plan
        The plan.
    done : mapping
        What ``services_done`` counts, so that a service keeps its identity from one plan to the next.
    written : datetime
        Now, with its offset from UTC.
    before : bytes, optional
        The file that this one replaces. Where it is a calendar of the same study, what it has from the plan's first day
        on and this one has not is cancelled.
    what : {"plan", "water"}, optional
        Services and purchases, or changes of the water.
    years : float, optional
        How far ahead; left out, one.

    Returns
    -------
    bytes
        The file.

    Notes
    -----
    What is to be done on one day is one event. Its identity is made of the study's id, else its name, the option, what
    is done to what first, and for how many times since the option was fitted. A calendar that takes the file in again
    moves what it knows, as its number (RFC 5545, 3.8.7.4) is higher than in the file before, and drops or strikes what
    is cancelled (3.8.1.11).
    """
    visits = defaultdict(list)
    for event, number in numbered(plan, done):
        if words.to_do(event) == what and event.day < DAYS_PER_YEAR * (years or 1.0):
            visits[event.date].append((event, number))
    entries = []
    for day, visit in visits.items():
        first, number = min(visit, key=lambda each: words.ORDER.index(each[0].what))
        events = [event for event, _ in visit]
        parts = (plan.study.id or plan.study.name, plan.option, first.item, first.what, number)
        entries.append(CalendarDay(parts, day, words.title(events), words.about(events, plan)))
    return written_calendar(f"{plan.study.name}: {_ABOUT[what]}", entries, plan.first_day, written, before)


class CalendarDay(NamedTuple):
    """One day of a calendar: what makes it the same entry in a later file, the day, its title, and what to know."""

    identity: tuple[str | int, ...]
    day: date
    title: str
    about: str


def written_calendar(
    name: str, entries: Iterable[CalendarDay], first_day: date, written: datetime, before: bytes = b""
) -> bytes:
    """Return the text of a calendar of whole days; see ``build_calendar``.

    Parameters
    ----------
    name : str
        What it is called.
    entries : iterable of CalendarDay
        Its days.
    first_day : date
        From this day on, what the file before has and this one has not is cancelled.
    written : datetime
        Now, with its offset from UTC.
    before : bytes, optional
        The file that this one replaces.

    Returns
    -------
    bytes
        The file.
    """
    calendar = Calendar()
    head = {"prodid": "-//filtration//plan//EN", "version": "2.0", "calscale": "GREGORIAN", "method": "PUBLISH"}
    _fill(calendar, head | {"x-wr-calname": vText(name)})
    old = list(_known(before, calendar.to_ical().removesuffix(b"END:VCALENDAR\r\n")))
    sequence = max([int(written.timestamp() // _SECONDS_PER_MINUTE), *(number + 1 for *_, number in old)])
    fields = {"dtstamp": written.astimezone(UTC), "sequence": sequence, "transp": "TRANSPARENT"}

    def add(uid: str, day: date, summary: str, **more: str) -> None:
        entry, until = Event(), day + timedelta(days=1)
        _fill(entry, fields | {"uid": uid, "dtstart": day, "dtend": until, "summary": summary} | more)
        calendar.add_component(entry)

    kept = set()
    for entry in entries:
        uid = f"{uuid5(_OURS, json.dumps(entry.identity))}@filtration"
        kept.add(uid)
        add(uid, entry.day, entry.title, description=entry.about)
    for uid, day, summary, _ in old:
        if day >= first_day and uid not in kept:
            add(uid, day, summary, status="CANCELLED")
    data: bytes = calendar.to_ical()
    return data


def _fill(component: Component, fields: Mapping[str, object]) -> None:
    for name, value in fields.items():
        component.add(name, value)


def _known(data: bytes, head: bytes) -> Iterator[tuple[str, date, str, int]]:
    """Yield the entries of a file that begins like ours of this study; none where it does not, or is damaged.

    Identity, day, summary and number of each.
    """
    if not data.startswith(head + b"BEGIN:VEVENT"):
        return
    try:
        found = Calendar.from_ical(data).walk("VEVENT")
    except ValueError:
        return
    for entry in found:
        uid, day, summary, sequence = (entry.get(key) for key in ("uid", "dtstart", "summary", "sequence"))
        whole = isinstance(uid, str) and isinstance(summary, str) and isinstance(sequence, int)
        if whole and isinstance(day, vDDDTypes) and type(day.dt) is date:
            yield str(uid), day.dt, str(summary), int(sequence)
