"""A plan as a calendar (RFC 5545): one all-day event each."""

import json
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid5

from icalendar import Calendar, Event, vText

from filtration.dated import Plan, Planned
from filtration.present import ways_words as words
from filtration.services_done import Done, numbered

_OURS = UUID("5f0d1c3a-0f5e-4b0a-9d5c-6f1f7a1f2b9e")
_SECONDS_PER_MINUTE = 60


def calendar_of(plan: Plan, done: Done, written: datetime) -> bytes:
    """Return a plan as the text of a calendar file.

    Parameters
    ----------
    plan : Plan
        The plan.
    done : mapping
        What ``services_done`` counts, so that a service keeps its identity from one plan to the next.
    written : datetime
        Now, with its offset from UTC.

    Returns
    -------
    bytes
        The file.

    Notes
    -----
    An event's identity is made of the study's name, the option, what is done to what, and for how many times since the
    option was fitted. A calendar that takes the file in again moves what it knows. Events that a later plan no longer
    reaches stay where they are.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//filtration//plan//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", vText(f"{plan.study.name}: filter"))
    for event, number in numbered(plan, done):
        if words.to_do(event):
            calendar.add_component(_entry(plan, event, number, written))
    data: bytes = calendar.to_ical()
    return data


def _entry(plan: Plan, event: Planned, number: int, written: datetime) -> Event:
    parts = [plan.study.name, plan.option, event.item, event.what, number]
    entry = Event()
    entry.add("uid", f"{uuid5(_OURS, json.dumps(parts))}@filtration")
    entry.add("dtstamp", written.astimezone(UTC))
    entry.add("sequence", int(written.timestamp() // _SECONDS_PER_MINUTE))
    entry.add("dtstart", event.date)
    entry.add("dtend", event.date + timedelta(days=1))
    entry.add("summary", words.title(event))
    entry.add("description", words.about(event, plan))
    entry.add("transp", "TRANSPARENT")
    return entry
