"""How single keys of a study file are read: what each needs, allows, and says to anything else.

A key's annotation is ``Annotated[float, quantity("length", "1 mm", "20 m")]`` and the like. Every reader here
words its own faults, so that nobody ever meets pydantic's.
"""

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from itertools import pairwise
from math import inf
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from filtration.base.errors import InputError
from filtration.base.units import Measure, needed, read_quantity, shown

_LONGEST_NAME = 200
MOST_STAGES = 10
_MOST_POINTS = 100
_JOINERS = "\u200c\u200d"


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """How one key is read.

    Parameters
    ----------
    need : str
        What it needs, in words: "a volume such as '420 L'".
    read : callable
        Turns what stands in the file into a value of the program, or raises ``InputError``.
    schema : mapping
        The same as JSON Schema.
    """

    need: str
    read: Callable[[object], object]
    schema: Mapping[str, object]

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Let pydantic use the reader alone."""
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Tell pydantic what the reader takes."""
        return dict(self.schema)


@cache
def _limit(text: str, measure: Measure) -> float:
    return read_quantity(text, measure)


def quantity(measure: Measure, least: str, most: str, *, like: str | None = None, never: bool = False) -> Key:
    """Return a key that holds a number with a unit, both limits allowed.

    Parameters
    ----------
    measure : str
        Its measure.
    least, most : str
        Limits, as a study file would have them.
    like : str, optional
        An example for messages.
    never : bool, optional
        The word "never" is allowed too and reads as infinity.

    Returns
    -------
    Key
        Reads to a float in the program's unit.

    Examples
    --------
    >>> quantity("length", "1 mm", "20 m").read("0.5 m")
    0.5
    """

    def read(value: object) -> float:
        if never and value == "never":
            return inf
        try:
            number = read_quantity(value, measure, like)
        except InputError as error:
            raise InputError(f"{error}; or 'never'") if never else error from None
        if not _limit(least, measure) <= number <= _limit(most, measure):
            raise InputError(f"must be {least} to {most}{' or never' if never else ''}, got {shown(value)}")
        return number

    need = needed(measure, like) + (", or 'never'" if never else "")
    return Key(need=need, read=read, schema={"type": "string", "description": f"{need}; {least} to {most}"})


def number(least: float, most: float, unit: str = "", *, above: bool = False, below: bool = False) -> Key:
    """Return a key that holds a plain number.

    Parameters
    ----------
    least, most : float
        Limits.
    unit : str, optional
        Unit the key implies, for messages.
    above, below : bool, optional
        The lower, the upper limit itself is not allowed.

    Returns
    -------
    Key
        Reads to a float.

    Examples
    --------
    >>> number(0, 24, "h").read(4)
    4.0
    """
    if above or below:
        low, high = "more than" if above else "at least", "less than" if below else "at most"
        allowed = f"{low} {least:.10g} and {high} {most:.10g} {unit}".rstrip()
    else:
        allowed = f"{least:.10g} to {most:.10g} {unit}".rstrip()
    need = f"a plain number, {allowed}"

    def read(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InputError(f"needs {need}, got {shown(value)}")
        inside = (value > least if above else value >= least) and (value < most if below else value <= most)
        if not inside:
            raise InputError(f"must be {allowed}, got {shown(value)}")
        return float(value)

    limits = {
        "exclusiveMinimum" if above else "minimum": least,
        "exclusiveMaximum" if below else "maximum": most,
    }
    return Key(need=need, read=read, schema={"type": "number", **limits})


def whole(least: int, most: int) -> Key:
    """Return a key that holds a whole number, both limits allowed.

    Parameters
    ----------
    least, most : int
        Limits.

    Returns
    -------
    Key
        Reads to an int.

    Examples
    --------
    >>> whole(0, 100).read(2)
    2
    """
    need = f"a whole number, {least} to {most}"

    def read(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InputError(f"needs {need}, got {shown(value)}")
        if not least <= value <= most or value != int(value):
            raise InputError(f"must be {need}, got {shown(value)}")
        return int(value)

    return Key(need=need, read=read, schema={"type": "integer", "minimum": least, "maximum": most})


def choice(*words: str) -> Key:
    """Return a key that holds one of a few words.

    Parameters
    ----------
    *words : str
        The words.

    Returns
    -------
    Key
        Reads to the word.

    Examples
    --------
    >>> choice("kept", "none").read("none")
    'none'
    """
    listed = ", ".join(f"'{word}'" for word in words[:-1]) + f" or '{words[-1]}'"

    def read(value: object) -> str:
        if not isinstance(value, str) or value not in words:
            raise InputError(f"must be {listed}, got {shown(value)}")
        return value

    return Key(need=listed, read=read, schema={"type": "string", "enum": list(words)})


def _flag(value: object) -> bool:
    if not isinstance(value, bool):
        raise InputError(f"needs true or false, got {shown(value)}")
    return value


def _name(value: object, longest: int = _LONGEST_NAME) -> str:
    if not isinstance(value, str):
        raise InputError(f"needs a text in quotes, got {shown(value)}")
    if not value.strip():
        raise InputError("must not be empty")
    if len(value) > longest:
        raise InputError(f"must be at most {longest} characters long, got {len(value)}: {shown(value)}")
    if any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") and c not in _JOINERS for c in value):
        raise InputError(f"must be one line without control characters, got {shown(value)}")
    return value.strip()


def _names(value: object) -> tuple[str, ...]:
    if not isinstance(value, list | tuple) or not value or len(value) > MOST_STAGES:
        got = "an empty list" if value in ([], ()) else shown(value)
        raise InputError(f"needs a list of 1 to {MOST_STAGES} names of elements, got {got}")
    return tuple(_name(one) for one in value)


def _day(value: object) -> str:
    need = "needs a day such as 2026-03-01"
    if isinstance(value, date) and not isinstance(value, datetime):
        return value.isoformat()
    if not isinstance(value, str) or re.fullmatch("[0-9]{4}-[0-9]{2}-[0-9]{2}", value) is None:
        raise InputError(f"{need}, got {shown(value)}")
    try:
        return date.fromisoformat(value).isoformat()
    except ValueError:
        raise InputError(f"{need}, got {shown(value)}, which is no day of the calendar") from None


def _format(value: object) -> int:
    if isinstance(value, bool) or value != 1:
        raise InputError(f"must be 1, the only format there is, got {shown(value)}")
    return 1


FORMAT = Key(need="1", read=_format, schema={"const": 1})
FLAG = Key(need="true or false", read=_flag, schema={"type": "boolean"})
NAME = Key(need="a text in quotes", read=_name, schema={"type": "string", "minLength": 1, "maxLength": _LONGEST_NAME})
CURRENCY = Key(
    need="a short text such as 'EUR'",
    read=lambda value: _name(value, 10),
    schema={"type": "string", "minLength": 1, "maxLength": 10},
)
NAMES = Key(
    need="a list of names of elements",
    read=_names,
    schema={"type": "array", "items": {"type": "string"}, "minItems": 1, "maxItems": MOST_STAGES},
)
DAY = Key(need="a day such as 2026-03-01", read=_day, schema={"type": "string", "format": "date"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """One of the common cartridge sizes.

    Parameters
    ----------
    length_m, outer_radius_m, inner_radius_m : float
        Shape of the medium [m].
    pleated_m2 : float
        Area of the sheet of a pleated one [m2].
    """

    length_m: float
    outer_radius_m: float
    inner_radius_m: float
    pleated_m2: float


_SIZES = {  # common practice; areas are assumptions
    "5 x 2.5 in": Size(length_m=0.125, outer_radius_m=0.0318, inner_radius_m=0.0138, pleated_m2=0.25),
    "10 x 2.5 in": Size(length_m=0.250, outer_radius_m=0.0318, inner_radius_m=0.0138, pleated_m2=0.5),
    "20 x 2.5 in": Size(length_m=0.508, outer_radius_m=0.0318, inner_radius_m=0.0138, pleated_m2=1.0),
    "10 x 4.5 in": Size(length_m=0.250, outer_radius_m=0.057, inner_radius_m=0.014, pleated_m2=1.8),
    "20 x 4.5 in": Size(length_m=0.508, outer_radius_m=0.057, inner_radius_m=0.014, pleated_m2=3.6),
}
_INCH = r"(?:in|inch|inches|\")"
_DECIMAL = r"([0-9]{1,3}(?:\.[0-9]{1,3})?)"
_SIZE = re.compile(rf"\s*{_DECIMAL}\s*{_INCH}?\s*[x\u00d7*]\s*{_DECIMAL}\s*{_INCH}\s*")


def _size(value: object) -> Size:
    match = _SIZE.fullmatch(value[:_LONGEST_NAME].lower()) if isinstance(value, str) else None
    found = _SIZES.get(f"{float(match[1]):g} x {float(match[2]):g} in") if match else None
    if found is None:
        *most, last = (f"'{name}'" for name in _SIZES)
        raise InputError(f"must be one of the common sizes {', '.join(most)} or {last}, got {shown(value)}")
    return found


SIZE = Key(
    need="a common size such as '10 x 2.5 in'",
    read=_size,
    schema={"type": "string", "examples": list(_SIZES)},
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a list of points: its name, how it is read, and whether it has to rise or to fall."""

    noun: str
    key: Key
    rises: bool = True


def points(first: Column, second: Column, *, least: int, example: str) -> Key:
    """Return a key that holds a list of pairs.

    Parameters
    ----------
    first, second : Column
        The columns; each has to rise or fall strictly from point to point.
    least : int
        Fewest points.
    example : str
        Two pairs as a study file would have them.

    Returns
    -------
    Key
        Reads to a tuple of pairs; every fault is told, not the first alone.

    Examples
    --------
    >>> size = Column(noun="size", key=quantity("length", "0.1 um", "1 mm"))
    >>> ratio = Column(noun="beta ratio", key=number(1, 1e7, above=True))
    >>> points(size, ratio, least=1, example="[['20 um', 75]]").read([["1 mm", 75]])
    ((0.001, 75.0),)
    """
    columns = (first, second)
    need = f"a list of {least} to {_MOST_POINTS} points such as {example}"

    def read(value: object) -> tuple[tuple[Any, ...], ...]:
        if not isinstance(value, list | tuple) or not least <= len(value) <= _MOST_POINTS:
            got = f"a list of {len(value)}" if isinstance(value, list | tuple) else shown(value)
            raise InputError(f"needs {need}, got {got}")
        faults: list[str] = []
        rows = [_row(row, place, columns, faults) for place, row in enumerate(value, start=1)]
        for at, column in enumerate(columns):
            for place, (before, after) in enumerate(pairwise(row[at] for row in rows), start=1):
                if before is None or after is None or (after > before if column.rises else after < before):
                    continue
                faults.append(
                    f"every {column.noun} must be {'more' if column.rises else 'less'} than the one before; "
                    f"point {place + 1} has {shown(value[place][at])} after {shown(value[place - 1][at])}"
                )
        if faults:
            raise InputError(*faults)
        return tuple(rows)

    items = {
        "type": "array",
        "prefixItems": [dict(c.key.schema) for c in columns],
        "minItems": 2,
        "maxItems": 2,
    }
    return Key(need=need, read=read, schema={"type": "array", "items": items, "minItems": least})


def _row(row: object, place: int, columns: tuple[Column, Column], faults: list[str]) -> tuple[Any, ...]:
    """Read one pair; what is wrong goes to the faults and leaves None."""
    if not isinstance(row, list | tuple) or len(row) != len(columns):
        got = f"a list of {len(row)}" if isinstance(row, list | tuple) else shown(row)
        faults.append(f"point {place} needs a pair of {columns[0].noun} and {columns[1].noun}, got {got}")
        return (None, None)
    values: list[object] = []
    for cell, column in zip(row, columns, strict=True):
        try:
            values.append(column.key.read(cell))
        except InputError as error:
            faults.append(f"{column.noun} of point {place} {error}")
            values.append(None)
    return tuple(values)
