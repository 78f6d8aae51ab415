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
from math import inf
from typing import Any, Generic, TypeVar

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from filtration.base.defaults import model
from filtration.base.errors import InputError, shown
from filtration.base.units import MEASURES, NUMBER, Measure, needed, number_of, read_quantity

T = TypeVar("T")
MOST_STAGES = 10
MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_LONGEST_NAME = 200
_JOINERS = "\u200c\u200d"


@dataclass(frozen=True, slots=True, kw_only=True)
class Key(Generic[T]):
    """How one key is read.

    Parameters
    ----------
    need : str
        What it needs, in words: "a volume such as '420 L'".
    read : callable
        Turns what stands in the file into a value of the program, or raises ``InputError``.
    schema : mapping
        The same as JSON Schema.
    suffix : str
        The value's unit, as it stands behind the name of a field: "_m3".
    """

    need: str
    read: Callable[[object], T]
    schema: Mapping[str, object]
    suffix: str = ""

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Let pydantic use the reader alone."""
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Tell pydantic what the reader takes."""
        return dict(self.schema)


@cache
def _limit(text: str, measure: Measure) -> float:
    return read_quantity(text, measure)


def quantity(
    measure: Measure,
    least: str,
    most: str,
    *,
    like: str | None = None,
    never: bool = False,
    usual: tuple[str, str] | None = None,
) -> Key[float]:
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
    usual : (str, str), optional
        What it usually lies between, where 1.200 written for 1200 would be believed.

    Examples
    --------
    >>> quantity("length", "1 mm", "20 m").read("0.5 m")
    0.5
    """

    def read(value: object) -> float:
        if never and _word(value) == "never":
            return inf
        try:
            number = read_quantity(value, measure, like, usual)
        except InputError as error:
            raise InputError(f"{error}; or 'never'") if never else error from None
        if not _limit(least, measure) <= number <= _limit(most, measure):
            raise InputError(f"must be {least} to {most}{' or never' if never else ''}, got {shown(value)}")
        return number

    need = needed(measure, like) + (", or 'never'" if never else "")
    schema = {"type": "string", "description": f"{need}; {least} to {most}"}
    return Key(need=need, read=read, schema=schema, suffix=MEASURES[measure].suffix)


def _word(value: object) -> object:
    """Return a word without regard to capitals and to blanks around it; anything else as it is."""
    return value.strip().lower() if isinstance(value, str) else value


def _number(value: object, need: str) -> int | float:
    """Return a number of the file, however large."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(f"needs {need}, got {shown(value)}")
    return value


def number(least: float, most: float, unit: str = "", *, above: bool = False, below: bool = False) -> Key[float]:
    """Return a key that holds a plain number.

    Parameters
    ----------
    least, most : float
        Limits.
    unit : str, optional
        Unit the key implies, for messages.
    above, below : bool, optional
        The lower, the upper limit itself is not allowed.

    Examples
    --------
    >>> number(0, 24, "h").read(4)
    4.0
    """
    allowed = f"{least:.10g} to {most:.10g} {unit}".rstrip()
    if above or below:
        low, high = "more than" if above else "at least", "less than" if below else "at most"
        allowed = f"{low} {least:.10g} and {high} {most:.10g} {unit}".rstrip()
    need = f"a plain number, {allowed}"

    def read(value: object) -> float:
        found = _number(value, need)
        if not least <= found <= most or (above and found == least) or (below and found == most):
            raise InputError(f"must be {allowed}, got {shown(value)}")
        return float(found)

    low, high = "exclusiveMinimum" if above else "minimum", "exclusiveMaximum" if below else "maximum"
    return Key(need=need, read=read, schema={"type": "number", low: least, high: most})


def whole(least: int, most: int) -> Key[int]:
    """Return a key that holds a whole number, both limits allowed.

    Examples
    --------
    >>> whole(0, 100).read(2)
    2
    """
    need = f"a whole number, {least} to {most}"

    def read(value: object) -> int:
        found = _number(value, need)
        if not least <= found <= most or found != int(found):
            raise InputError(f"must be {need}, got {shown(value)}")
        return int(found)

    return Key(need=need, read=read, schema={"type": "integer", "minimum": least, "maximum": most})


def _only(refusal: str, allowed: Callable[[Any], bool], *, need: str, schema: Mapping[str, object]) -> Key[Any]:
    """Return a key that holds what is allowed, as it is."""

    def read(value: object) -> object:
        if not allowed(value):
            raise InputError(f"{refusal}, got {shown(value)}")
        return value

    return Key(need=need, read=read, schema=schema)


def choice(*words: str) -> Key[str]:
    """Return a key that holds one of a few words, read without regard to capitals.

    Examples
    --------
    >>> choice("kept", "none").read("None")
    'none'
    """
    listed = ", ".join(f"'{word}'" for word in words[:-1]) + f" or '{words[-1]}'"

    def read(value: object) -> str:
        word = _word(value)
        if not isinstance(word, str) or word not in words:
            raise InputError(f"must be {listed}, got {shown(value)}")
        return word

    return Key(need=listed, read=read, schema={"type": "string", "enum": list(words)})


def _line(need: str, longest: int) -> Key[str]:
    """Return a key that holds a line of text, blanks around it left out."""

    def read(value: object) -> str:
        if not isinstance(value, str):
            raise InputError(f"needs a text in quotes, got {shown(value)}")
        if not value.strip():
            raise InputError("must not be empty")
        if len(value) > longest:
            raise InputError(f"must be at most {longest} characters long, got {len(value)}: {shown(value)}")
        if any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") and c not in _JOINERS for c in value):
            raise InputError(f"must be one line without control characters, got {shown(value)}")
        return value.strip()

    return Key(need=need, read=read, schema={"type": "string", "minLength": 1, "maxLength": longest})


def _names(value: object) -> tuple[str, ...]:
    if not isinstance(value, list | tuple) or not value or len(value) > MOST_STAGES:
        got = "an empty list" if value in ([], ()) else shown(value)
        raise InputError(f"needs a list of 1 to {MOST_STAGES} names of cartridges, got {got}")
    return tuple(map(NAME.read, value))


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


_ONE, _YES_OR_NO = {"const": 1}, {"type": "boolean"}
FORMAT = _only("must be 1, the only format there is", lambda it: it == 1 and it is not True, need="1", schema=_ONE)
FLAG = _only("needs true or false", lambda value: isinstance(value, bool), need="true or false", schema=_YES_OR_NO)
NAME = _line("a text in quotes", _LONGEST_NAME)
_ID = re.compile("[a-z0-9]+(-[a-z0-9]+)*")
ID = _only(
    "needs an id such as 'tub-7f3a9c': at most 64 letters from a to z, figures and hyphens between them",
    lambda value: isinstance(value, str) and len(value) <= 64 and bool(_ID.fullmatch(value)),
    need="an id such as 'tub-7f3a9c'",
    schema={"type": "string", "pattern": f"^{_ID.pattern}$", "maxLength": 64},
)
CURRENCY = _line("a short text such as 'EUR'", 10)
_STAGES = {"type": "array", "items": {"type": "string"}, "minItems": 1, "maxItems": MOST_STAGES}
NAMES = Key(need="a list of names of cartridges", read=_names, schema=_STAGES)
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
    usual_m3_s : float
        Usual flow [m3/s].
    """

    length_m: float
    outer_radius_m: float
    inner_radius_m: float
    pleated_m2: float
    usual_m3_s: float


_SLIM, _WIDE = {"outer_radius_m": 0.0318, "inner_radius_m": 0.0138}, {"outer_radius_m": 0.057, "inner_radius_m": 0.014}
_FLOWS = {key: model(f"capacity.flow_{key}") for key in ("10_slim", "20_slim", "10_wide", "20_wide")}
SIZES = {  # common practice; areas, and the flow of half a 10-inch one, are assumptions
    "5 x 2.5 in": Size(length_m=0.125, **_SLIM, pleated_m2=0.25, usual_m3_s=_FLOWS["10_slim"] / 2.0),
    "10 x 2.5 in": Size(length_m=0.250, **_SLIM, pleated_m2=0.5, usual_m3_s=_FLOWS["10_slim"]),
    "20 x 2.5 in": Size(length_m=0.508, **_SLIM, pleated_m2=1.0, usual_m3_s=_FLOWS["20_slim"]),
    "10 x 4.5 in": Size(length_m=0.250, **_WIDE, pleated_m2=1.8, usual_m3_s=_FLOWS["10_wide"]),
    "20 x 4.5 in": Size(length_m=0.508, **_WIDE, pleated_m2=3.6, usual_m3_s=_FLOWS["20_wide"]),
}
_INCH = r"(?:in|inch|inches|\")"
_SIZE = re.compile(rf"\s*({NUMBER})\s*{_INCH}?\s*[x\u00d7*]\s*({NUMBER})\s*{_INCH}\s*")


def _size(value: object) -> Size:
    match = _SIZE.fullmatch(value[:_LONGEST_NAME].lower()) if isinstance(value, str) else None
    found = SIZES.get(f"{number_of(match[1]):g} x {number_of(match[2]):g} in") if match else None
    if found is None:
        *most, last = (f"'{name}'" for name in SIZES)
        raise InputError(f"must be one of the common sizes {', '.join(most)} or {last}, got {shown(value)}")
    return found


SIZE = Key(need="a common size such as '10 x 2.5 in'", read=_size, schema={"type": "string", "examples": [*SIZES]})
