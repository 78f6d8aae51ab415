"""What an owner reads off a tub and does to its filter: one row of a logbook, from text to SI."""

import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, time
from typing import Any, Literal, get_args

from filtration.base.errors import InputError, shown
from filtration.base.units import MOST_USES, PA_PER_M, USUAL_FLOW, Measure, in_unit, read_quantity, unit_in
from filtration.study.rules import slug

Kind = Literal[
    "flow",
    "bucket",
    "column",
    "pressure",
    "see-through",
    "rinse",
    "soak",
    "fitted",
    "replace",
    "water",
    "bought",
    "uses",
    "note",
]
KINDS: tuple[Kind, ...] = get_args(Kind)
DONE: tuple[Kind, ...] = ("rinse", "soak", "replace", "water", "bought")
"""What is done at a visit, after what is read; ``fitted``, the first of all, comes before both."""
MEASURED: tuple[Kind, ...] = ("flow", "bucket", "column", "pressure")
"""What can be read without an element."""
WITHOUT_ELEMENT = " without element"

_FIRST_YEAR, _LAST_YEAR = 2000, 2100
_LONGEST_NOTE, _LONGEST_NAME, _MOST_BOUGHT = 2000, 200, 1000
_FLOWS = ("1 L/h", "1000 m^3/h")
_CLOCK = r"[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d{1,6})?)?(?:Z|[+-]\d{2}(?::?\d{2})?)?"
_WHEN = re.compile(rf"\d{{4}}-\d{{2}}-\d{{2}}(?:{_CLOCK})?", re.ASCII)
_PLAIN_NUMBER = re.compile(r"(?:[0-9]{1,30}(?:\.[0-9]{1,30})?|\.[0-9]{1,30})")
_BOUGHT = re.compile(r"([0-9]{1,5})(?: x)?(?: (.+))?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One row of a logbook.

    Parameters
    ----------
    when : datetime
        With the offset from UTC it was given.
    kind : Kind
        What was read or done.
    value : str
        As written: "22 L/min", "10 L in 27.4 s", "pleated-20", "9"; empty where the kind says it all.
    note : str
        The owner's remark.
    flow_m3_s : float or None
        Flow and bucket [m3/s].
    seconds, bucket_m3 : float or None
        Bucket: how long it was timed [s] and what ran into it [m3].
    pressure_pa : float or None
        Pressure, and column as the pressure of that height of water [Pa]: of all the water passes after a tee before
        the housing, the element and its way back into the tub.
    see_through_m : float or None
        See-through distance [m].
    option : str or None
        Fitted, replace: id of the option fitted, None for like with like.
    count : int or None
        Bought: how many elements.
    item : str or None
        Bought: of which name, as an id has it; None for those of the option in use.
    uses : float or None
        Dips on that day.
    without_element : bool
        Taken with the element out of its housing. A flow or bucket then tells the pump from the filter, a column or
        pressure the way back into the tub from the element.
    """

    when: datetime
    kind: Kind
    value: str = ""
    note: str = ""
    flow_m3_s: float | None = None
    seconds: float | None = None
    bucket_m3: float | None = None
    pressure_pa: float | None = None
    see_through_m: float | None = None
    option: str | None = None
    count: int | None = None
    item: str | None = None
    uses: float | None = None
    without_element: bool = False


def reading_of(when: str | datetime, kind: str, value: str = "", note: str = "", *, where: str) -> Reading:
    """Read one row.

    Parameters
    ----------
    when : str or datetime
        ISO 8601 from 2000 to 2100: a day, meaning 12:00, or a day and a time; without an offset this machine's local
        time is meant.
    kind : str
        One of ``KINDS``.
    value : str, optional
        What the kind needs; quantities as a study file has them, an option or element by its id or name. Runs of
        blanks count as one.
    note : str, optional
        A remark of at most 2000 characters, kept as it is.
    where : str
        What messages call the row.

    Returns
    -------
    Reading
        The row with its numbers in SI.

    Raises
    ------
    InputError
        With every fault of the row, one line each.

    Notes
    -----
    A column stands for rho g h with 1000 kg/m3, which is 0.003 % more than water weighs at 4 degC and 0.2 % more than
    at 20 degC (IAPWS-95), and standard gravity.

    Examples
    --------
    >>> reading_of("2026-03-03T18:30+01:00", "bucket", "10 L in 25 s", where="row").flow_m3_s
    0.0004
    >>> reading_of("2026-03-03", "flow", "22", where="tub.csv, line 2")
    Traceback (most recent call last):
    filtration.base.errors.InputError: tub.csv, line 2, flow: needs a flow such as '22 L/min', got '22' without a unit
    """
    value = " ".join(value.split())
    parts: dict[str, Any] = {"kind": kind, "value": value, "note": note}
    faults: list[str] = []
    readers = (
        ("when", lambda: {"when": _when(when)}),
        (kind if kind in KINDS else "kind", lambda: _numbers(kind, value)),
        ("note", lambda: _check_note(kind, note)),
    )
    for what, read in readers:
        try:
            parts |= read() or {}
        except InputError as error:
            faults += (f"{where}, {what}: {fault}" for fault in error.faults)
    if faults:
        raise InputError(*faults)
    return Reading(**parts)


def cells(reading: Reading) -> tuple[str, str, str, str]:
    """Return when, kind, value and note, what a row is made of and known by: ``reading_of`` makes the same row of them.

    Examples
    --------
    >>> cells(reading_of("2026-03-03 18:30Z", "rinse", where="row"))
    ('2026-03-03T18:30:00+00:00', 'rinse', '', '')
    """
    return reading.when.isoformat(), reading.kind, reading.value, reading.note


def identity(reading: Reading) -> tuple[str, str, str, str]:
    """Return what a row is known again by: the time on its own clock, whatever the offset, kind, value and note.

    A row without an offset is of this machine's zone; the same file read in another zone so gives the same rows.

    Examples
    --------
    >>> here, there = (reading_of(f"2026-03-03T12:00{zone}", "rinse", where="row") for zone in ("Z", "+05:00"))
    >>> other = reading_of("2026-03-03T12:00Z", "soak", where="row")
    >>> identity(here) == identity(there), identity(here) == identity(other)
    (True, False)
    """
    return (reading.when.replace(tzinfo=None).isoformat(), *cells(reading)[1:])


def beside(known: Iterable[Reading], given: Iterable[Reading]) -> list[Reading]:
    """Return the rows that are not known already, each as often as it is more than that, see ``identity``."""
    left, fresh = Counter(map(identity, known)), []
    for reading in given:
        left[identity(reading)] -= 1
        if left[identity(reading)] < 0:
            fresh.append(reading)
    return fresh


def in_order(readings: Iterable[Reading]) -> list[Reading]:
    """Return rows in order of time; of one time what was read stands before what was done, else as they came.

    A day alone means its noon, so that this is the order of one visit too where only the day is given. What was fitted
    first of all stands before what was read on it.

    Examples
    --------
    >>> rinsed = reading_of("2026-03-03", "rinse", where="row")
    >>> [row.kind for row in in_order([rinsed, reading_of("2026-03-03", "bucket", "10 L in 27 s", where="row")])]
    ['bucket', 'rinse']
    """
    return sorted(readings, key=lambda each: (each.when, (each.kind in DONE) - (each.kind == "fitted")))


def as_written(reading: Reading, pressure_pa: float) -> tuple[float, str]:
    """Return a pressure as the owner of a column or a pressure would have written it.

    Parameters
    ----------
    reading : Reading
        What he wrote.
    pressure_pa : float
        Any pressure [Pa].

    Returns
    -------
    float, str
        A height of water for a column, else a pressure, in the unit of his reading, and that unit.

    Examples
    --------
    >>> as_written(reading_of("2026-03-03", "column", "82 cm without element", where="row"), 9806.65)
    (100.0, 'cm')
    """
    unit = unit_in(reading.value.removesuffix(WITHOUT_ELEMENT))
    return in_unit(pressure_pa / PA_PER_M if reading.kind == "column" else pressure_pa, unit), unit


def _when(given: str | datetime) -> datetime:
    text = given.strip() if isinstance(given, str) else given.isoformat()
    need = "needs a day or a time such as '2026-03-03' or '2026-03-03 18:30+01:00'"
    if _WHEN.fullmatch(text) is None:
        raise InputError(f"{need}, got {shown(text)}")
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        raise InputError(f"{need}, got {shown(text)}, which is no time of the calendar") from None
    if not _FIRST_YEAR <= when.year <= _LAST_YEAR:
        raise InputError(f"must be in the years {_FIRST_YEAR} to {_LAST_YEAR}, got {shown(text)}")
    if ":" not in text:
        when = datetime.combine(when, time(12))
    return when if when.tzinfo else when.astimezone()


def _check_note(kind: str, note: str) -> None:
    if kind == "note" and not note.strip():
        raise InputError("needs a text, got none")
    if len(note) > _LONGEST_NOTE:
        raise InputError(f"must be at most {_LONGEST_NOTE} characters long, got {len(note)}")
    if any(unicodedata.category(c) in ("Cc", "Cs") and c not in "\t\n\r" for c in note):
        raise InputError(f"must be text without control characters or broken ones, got {shown(note)}")


def _within(
    text: str, measure: Measure, least: str, most: str, *, like: str, usual: tuple[str, str] | None = None
) -> float:
    value = read_quantity(text, measure, like, usual)
    if not read_quantity(least, measure) <= value <= read_quantity(most, measure):
        raise InputError(f"must be {least} to {most}, got {shown(text)}")
    return value


def _bucket(text: str) -> dict[str, float]:
    volume, between, timed = text.rpartition(" in ")
    if not between:
        raise InputError(f"needs a volume and a time such as '10 L in 27.4 s', got {shown(text)}")
    bucket_m3 = _within(volume, "volume", "10 mL", "10 m^3", like="10 L")
    seconds = in_unit(_within(timed, "time", "0.1 s", "1 day", like="27.4 s"), "s")
    least, most = (read_quantity(limit, "flow") for limit in _FLOWS)
    if not least <= bucket_m3 / seconds <= most:
        raise InputError(f"must be a flow of {' to '.join(_FLOWS)}, got {shown(text)}")
    return {"bucket_m3": bucket_m3, "seconds": seconds, "flow_m3_s": bucket_m3 / seconds}


def _named(text: str, what: str) -> str:
    """Return the id that goes with an id or a name, with the pump's name after @ where one is named."""
    name, at, pump = text.partition("@")
    found = slug(name, 0)
    if found == "option-0" or len(text) > _LONGEST_NAME or not text.isprintable():
        raise InputError(f"needs the id or name of {what}, got {shown(text)}")
    return found + at + pump


def _option(text: str) -> dict[str, str | None]:
    return {"option": _named(text, "an option such as 'pleated-20', or nothing") if text else None}


def _fitted(text: str) -> dict[str, str]:
    return {"option": _named(text, "the option that was fitted, such as 'pleated-20'")}


def _bought(text: str) -> dict[str, int | str | None]:
    parts = _BOUGHT.fullmatch(text)
    if parts is None or not 1 <= int(parts[1]) <= _MOST_BOUGHT:
        need = f"needs how many, 1 to {_MOST_BOUGHT}, and of which element, such as '2 Pleated 20'"
        raise InputError(f"{need}, got {shown(text)}")
    return {"count": int(parts[1]), "item": _named(parts[2], "an element such as 'Pleated 20'") if parts[2] else None}


def _uses(text: str) -> dict[str, float]:
    if _PLAIN_NUMBER.fullmatch(text) is None:
        raise InputError(f"needs a plain number of dips such as '9', got {shown(text)}")
    if float(text) > MOST_USES:
        raise InputError(f"must be 0 to {MOST_USES} dips on that day, got {shown(text)}")
    return {"uses": float(text)}


_FIELDS: Mapping[str, Callable[[str], Mapping[str, Any]]] = {
    "flow": lambda text: {"flow_m3_s": _within(text, "flow", *_FLOWS, like="22 L/min", usual=USUAL_FLOW)},
    "bucket": _bucket,
    "column": lambda text: {"pressure_pa": PA_PER_M * _within(text, "length", "1 mm", "100 m", like="82 cm")},
    "pressure": lambda text: {"pressure_pa": _within(text, "pressure", "1 Pa", "10 bar", like="11 kPa")},
    "see-through": lambda text: {"see_through_m": _within(text, "length", "1 cm", "80 m", like="3 m")},
    "fitted": _fitted,
    "replace": _option,
    "bought": _bought,
    "uses": _uses,
}
"""Fields of a reading that its value gives, by its kind; any other kind takes no value."""


def _numbers(kind: str, value: str) -> dict[str, Any]:
    """Return the fields of a reading that its kind and value give."""
    if kind not in KINDS:
        raise InputError(f"must be {', '.join(KINDS[:-1])} or {KINDS[-1]}, got {shown(kind)}")
    if kind not in _FIELDS:
        if value:
            raise InputError(f"takes no value, got {shown(value)}")
        return {}
    bare = value.removesuffix(WITHOUT_ELEMENT) if kind in MEASURED else value
    return {**_FIELDS[kind](bare), "without_element": bare != value}
