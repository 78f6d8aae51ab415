"""Text to numbers and back: the one place that knows units.

A quantity is text: one plain number and one unit. The number is read by a pattern of ours, the unit is looked
up in a fixed table, and only then does pint convert. Inside the program a length is in m, an area in m2, a
volume in m3, a flow in m3/s, a pressure in Pa, a power in W, a mass in kg, a temperature in degC and a time
in days.
"""

import re
import unicodedata
from collections.abc import Iterator, Mapping
from fractions import Fraction
from functools import cache, lru_cache
from math import isfinite
from typing import TYPE_CHECKING, Literal, NamedTuple, TypeVar

from filtration.base.errors import InputError, shown

if TYPE_CHECKING:
    from pint import UnitRegistry

    from filtration.base.arrays import Array

GRAVITY_M_S2 = 9.80665
US_GALLON_M3 = 3.785411784e-3  # 231 cubic inches
PA_PER_M = 1000.0 * GRAVITY_M_S2  # of a column of water
MOST_USES = 5000
SECONDS_PER_DAY = 86400.0
USUAL_FLOW = ("100 L/h", "30 m^3/h")
"""What a small pump's flow lies between."""

Measure = Literal["length", "area", "volume", "flow", "pressure", "power", "mass", "temperature", "time"]
Values = TypeVar("Values", float, "Array")


class _Held(NamedTuple):
    """How the program holds a measure: the unit for pint, the same behind a field's name; a noun and an example."""

    unit: str
    suffix: str
    noun: str
    example: str


MEASURES: Mapping[Measure, _Held] = {
    "length": _Held("metre", "_m", "a length", "2.4 m"),
    "area": _Held("metre ** 2", "_m2", "an area", "0.9 m^2"),
    "volume": _Held("metre ** 3", "_m3", "a volume", "420 L"),
    "flow": _Held("metre ** 3 / second", "_m3_s", "a flow", "2400 L/h"),
    "pressure": _Held("pascal", "_pa", "a pressure", "1.2 kPa"),
    "power": _Held("watt", "_w", "a power", "38 W"),
    "mass": _Held("kilogram", "_kg", "a mass", "60 g"),
    "temperature": _Held("degree_celsius", "_c", "a temperature", "4 degC"),
    "time": _Held("day", "_days", "a time", "30 day"),
}

# Of each unit its definition for pint and its spellings, that of messages first; squares, cubes and flows follow from
# these. Exact by definition: NIST Special Publication 811 (2008), appendix B; water columns are conventional ones. A
# year is the 365.25 days of the model, a month a twelfth of it.
_UNITS: Mapping[Measure, Mapping[str, tuple[str, str]]] = {
    "length": {
        "metre": ("[length]", "m|metre|metres|meter|meters"),
        "centimetre": ("0.01 * metre", "cm|centimetre|centimetres|centimeter|centimeters"),
        "millimetre": ("0.001 * metre", "mm|millimetre|millimetres|millimeter|millimeters"),
        "micrometre": ("1e-6 * metre", "um|micron|microns|micrometre|micrometres|micrometer|micrometers"),
        "inch": ("0.0254 * metre", 'in|inch|inches|"'),
        "foot": ("12 * inch", "ft|foot|feet"),
    },
    "volume": {
        "litre": ("0.001 * metre ** 3", "L|litre|litres|liter|liters|ltr"),
        "millilitre": ("0.001 * litre", "mL|millilitre|millilitres|milliliter|milliliters"),
        "gallon": ("231 * inch ** 3", "gal|gallon|gallons|US gal|US gallon|US gallons"),
        "quart": ("gallon / 4", "qt|quart|quarts|US qt|US quart|US quarts"),
        "fluid_ounce": ("gallon / 128", "fl oz|fluid ounce|fluid ounces|US fl oz"),
        "imperial_gallon": ("4.54609 * litre", "imp gal|imperial gallon|imperial gallons|UK gal"),
    },
    "time": {
        "second": ("[time]", "s|sec|second|seconds"),
        "minute": ("60 * second", "min|minute|minutes"),
        "hour": ("60 * minute", "h|hr|hrs|hour|hours"),
        "day": ("24 * hour", "day|days|d"),
        "week": ("7 * day", "week|weeks|wk"),
        "month": ("year / 12", "month|months"),
        "year": ("365.25 * day", "year|years|yr|yrs|a"),
    },
    "flow": {
        "gallon / hour": ("", "gph|US gph"),
        "gallon / minute": ("", "gpm|US gpm"),
        "litre / hour": ("", "lph"),
        "litre / minute": ("", "lpm"),
        "litre / second": ("", "lps"),
    },
    "pressure": {
        "pascal": ("kilogram / metre / second ** 2", "Pa|pascal|pascals"),
        "kilopascal": ("1000 * pascal", "kPa|kilopascal|kilopascals"),
        "hectopascal": ("100 * pascal", "hPa"),
        "bar": ("1e5 * pascal", "bar|bars"),
        "millibar": ("100 * pascal", "mbar|millibar|millibars"),
        "pound_force_per_square_inch": ("9.80665 * pound * metre / second ** 2 / inch ** 2", "psi|lbf/in^2"),
        "centimetre_of_water": ("0.01 * metre_of_water", "cmH2O|cm H2O|cm of water|cm water"),
        "metre_of_water": ("9806.65 * pascal", "mH2O|m H2O|m of water|m water"),
        "inch_of_water": ("0.0254 * metre_of_water", "inH2O|in H2O|in of water|inches of water"),
    },
    "power": {
        "watt": ("pascal * metre ** 3 / second", "W|watt|watts"),
        "kilowatt": ("1000 * watt", "kW|kilowatt|kilowatts"),
        "horsepower": ("550 * foot * pound_force_per_square_inch * inch ** 2 / second", "hp|horsepower"),
    },
    "mass": {
        "gram": ("0.001 * kilogram", "g|gram|grams"),
        "kilogram": ("[mass]", "kg|kilogram|kilograms"),
        "milligram": ("1e-6 * kilogram", "mg|milligram|milligrams"),
        "pound": ("0.45359237 * kilogram", "lb|lbs|pound|pounds"),
        "ounce": ("pound / 16", "oz|ounce|ounces"),
    },
    "temperature": {
        "degree_celsius": ("kelvin; offset: 273.15", "degC|deg C|C|celsius|degrees C|degree C"),
        "degree_fahrenheit": ("5 / 9 * kelvin; offset: 459.67 * 5 / 9", "degF|deg F|F|fahrenheit|degrees F|degree F"),
        "kelvin": ("[temperature]; offset: 0", "K|kelvin"),
    },
}

_BLANK = r"[ \t\u00a0\u2009\u202f]"
_DECIMAL = r"[+-]?(?:[0-9]{1,30}(?:\.[0-9]{1,30})?|\.[0-9]{1,30})(?:[eE][+-]?[0-9]{1,3})?"
_FRACTION = rf"(?:[0-9]{{1,3}}(?:{_BLANK}+|-))?[0-9]{{1,3}}/[1-9][0-9]{{0,2}}"
NUMBER = rf"(?:{_FRACTION}|{_DECIMAL})"
"""Pattern of a number as ``number_of`` reads it: 2.5, 1/2, 1 1/2."""
_QUANTITY = re.compile(rf"{_BLANK}*({NUMBER}){_BLANK}*(?:([^0-9\s.,'\u2019+\-_/*^].{{0,40}})|)")
_GROUPED = re.compile(rf"{_BLANK}*([1-9][0-9]{{0,2}})([.,])([0-9]{{3}})(?![0-9.,eE]).*")
_COMMA = re.compile(rf"({_BLANK}*[+-]?[0-9]*),([0-9]+(?![0-9.,]).*)", re.DOTALL)
_SIGNS = '"\u00b0'  # a unit without a letter, or before one
_MEGA = re.compile("M(?:m|L|g|bar)(?![A-Za-z])")


def number_of(text: str) -> float:
    """Return what a number of the pattern ``NUMBER`` says.

    Examples
    --------
    >>> number_of("2.5"), number_of("3/4"), number_of("1 1/2"), number_of("1-1/2")
    (2.5, 0.75, 1.5, 1.5)
    """
    return float(sum(map(Fraction, re.split(r"[\s-]+", text)))) if "/" in text else float(text)


def _spellings() -> Iterator[tuple[Measure, str, str]]:
    """Yield measure, unit for pint and one spelling of it, for every spelling known."""
    simple = {
        measure: [(unit, name) for unit, (_, names) in units.items() for name in names.split("|")]
        for measure, units in _UNITS.items()
    }
    for measure, spelt in simple.items():
        yield from ((measure, unit, name) for unit, name in spelt)
    volumes = simple["volume"]
    for length, name in simple["length"]:
        squares = (f"{name}^2", f"{name}2", f"sq {name}", f"square {name}")
        cubes = [(f"{length} ** 3", spelt) for spelt in (f"{name}^3", f"{name}3", f"cu {name}", f"cubic {name}")]
        yield from (("area", f"{length} ** 2", spelt) for spelt in squares)
        yield from (("volume", unit, spelt) for unit, spelt in cubes)
        volumes += cubes
    for volume, name in volumes:
        yield from (("flow", f"{volume} / {time}", f"{name}/{per}") for time, per in simple["time"])


@cache
def _units() -> dict[str, tuple[Measure, str]]:
    """Return measure and unit for pint by spelling, in lower case."""
    return {name.casefold(): (measure, unit) for measure, unit, name in _spellings()}


@cache
def _registry() -> "UnitRegistry[float]":
    """Return a registry of our definitions alone, which is made in a twentieth of the time of pint's own."""
    from pint import UnitRegistry  # whoever only asks for help need not wait for it

    registry: UnitRegistry[float] = UnitRegistry(None)
    for units in _UNITS.values():
        for unit, (definition, _) in units.items():
            if definition:
                registry.define(f"{unit} = {definition}")
    return registry


def _plain(unit: str) -> str:
    """Return a unit's spelling as the table has it: m2 for a raised 2, um, degC, and L/h for 'L per h'."""
    text = unicodedata.normalize("NFKC", unit).replace("\u03bc", "u").replace("\u00b0", "deg").replace(".", "")
    if _MEGA.match(text):  # capitals do not matter, but these mean a million or a billion times what was meant
        return ""
    text = re.sub(r"\s*(?:/|\bper\b)\s*", "/", text.replace("**", "^"))
    return " ".join(text.replace(" ^", "^").replace("^ ", "^").split()).casefold()


def needed(measure: Measure, like: str | None = None) -> str:
    """Return what a quantity of a measure looks like, for a message, by the usual example or one that fits better.

    Examples
    --------
    >>> needed("flow")
    "a flow such as '2400 L/h'"
    """
    return f"{MEASURES[measure].noun} such as '{like or MEASURES[measure].example}'"


@lru_cache(maxsize=4096)
def _converted(value: float, unit: str, into: str) -> float:
    """Convert a number; many tubs say the same ones."""
    return float(_registry().convert(value, unit, into))


def read_quantity(
    text: object, measure: Measure, like: str | None = None, usual: tuple[str, str] | None = None
) -> float:
    """Read one number and one unit.

    Parameters
    ----------
    text : object
        What somebody wrote; only text can be right.
    measure : str
        The measure it has to have.
    like : str, optional
        An example for messages that fits better than the usual one.
    usual : (str, str), optional
        What it usually lies between. A number such as 1.200 that lies there only if it means 1200 is refused.

    Returns
    -------
    float
        The value in m, m2, m3, m3/s, Pa, W, kg, degC or days.

    Raises
    ------
    InputError
        If it is no text, its number or unit is not as the table has it, its unit is of another measure, it
        may mean two numbers, or it is not finite. The message shows an accepted spelling.

    Notes
    -----
    Factors: NIST Special Publication 811 (2008), appendix B. A gallon is the US one of 231 cubic inches.

    Examples
    --------
    >>> read_quantity("420 L", "volume"), read_quantity("1/2 in", "length")
    (0.42, 0.0127)
    """
    need, got = f"needs {needed(measure, like)}", f"got {shown(text)}"
    if not isinstance(text, str):
        unit_missing = isinstance(text, int | float) and not isinstance(text, bool)
        raise InputError(f"{need}, {got}{' without a unit' if unit_missing else ''}")
    grouped = _GROUPED.fullmatch(text)
    match = _QUANTITY.fullmatch(text.replace(",", ".", 1) if grouped else text)
    if match is None:
        raise InputError(f"{need} (one plain number, a point before decimals, then the unit), {got}")
    known, unit = _units().get(_plain(match[2] or ""), (None, ""))
    if known != measure:
        others = "" if known else f"; units of {measure} are {', '.join(_shortest(measure))}"
        raise InputError(f"{need}, {got}{others if match[2] else ' without a unit'}")
    value = _converted(number_of(match[1]), unit, MEASURES[measure].unit)
    if not isfinite(value):
        raise InputError(f"{need}, {got}, which is no finite number")
    if grouped and (grouped[2] == "," or (usual and _means_thousands(value, measure, usual))):
        both = (f"{grouped[1]}{grouped[3]}", f"{number_of(match[1]):g}")
        ways = " or ".join(shown(f"{number} {match[2].strip()}") for number in both)
        raise InputError(f"{need}, {got}, which may be read in two ways; write {ways}")
    return value


def as_typed(text: str, unit: str) -> str:
    """Return a quantity typed into a field as a study file has it.

    Parameters
    ----------
    text : str
        A number with a decimal point or comma, with a unit or without.
    unit : str
        The field's unit, taken where none was typed.

    Returns
    -------
    str
        Number and unit for ``read_quantity``, which refuses what may mean thousands: such a comma stays.

    Examples
    --------
    >>> as_typed("2,9", "m"), as_typed("110 gal", "L"), as_typed("1,200", "L")
    ('2.9 m', '110 gal', '1,200 L')
    """
    bare = _pointed(text.strip())
    behind = re.sub(f"^{NUMBER}", "", bare)
    return bare if any(c.isalpha() or c in _SIGNS for c in behind) else f"{bare} {unit}"


def _pointed(text: str) -> str:
    """Return a text with the decimal comma of its number as a point; one that may part thousands stays."""
    return text if _GROUPED.fullmatch(text) else _COMMA.sub(r"\1.\2", text, count=1)


def typed_number(text: str, least: float, most: float) -> float:
    """Read a plain number typed into a field.

    Parameters
    ----------
    text : str
        A number with a decimal point or comma.
    least, most : float
        What it may lie between.

    Returns
    -------
    float
        The number, whether it lies there or not.

    Raises
    ------
    InputError
        If it is no number, or may mean two of those it may be.

    Examples
    --------
    >>> typed_number("27,5", 0, 1e9), typed_number("1/2", 0, 1)
    (27.5, 0.5)
    >>> typed_number("1.200", 0, 1e9)
    Traceback (most recent call last):
    filtration.base.errors.InputError: '1.200' may be read in two ways; write 1200 or 1.2
    """
    bare = text.strip()
    grouped = _GROUPED.fullmatch(bare)
    pointed = _pointed(bare.replace(",", ".", 1) if grouped else bare)
    if re.fullmatch(NUMBER, pointed) is None or not isfinite(value := number_of(pointed)):
        raise InputError(f"needs a plain number, got {shown(text)}")
    if grouped and least <= value <= most and least <= 1000.0 * value <= most:
        raise InputError(f"{shown(bare)} may be read in two ways; write {grouped[1]}{grouped[3]} or {value:g}")
    return value


def _means_thousands(value: float, measure: Measure, usual: tuple[str, str]) -> bool:
    """Return whether a value lies where it usually does only if it is a thousand times as much."""
    least, most = (read_quantity(end, measure) for end in usual)
    return not least <= value <= most and least <= 1000.0 * value <= most


def unit_in(text: str) -> str:
    """Return the unit of a quantity as it was written; empty where there is none.

    Examples
    --------
    >>> unit_in("82 cm"), unit_in('32"')
    ('cm', '"')
    """
    match = _QUANTITY.fullmatch(text)
    return (match[2] or "").strip() if match else ""


def _shortest(measure: Measure) -> list[str]:
    """Return the first spelling of the commonest units of a measure."""
    if measure == "flow":
        return ["L/h", "L/min", "m^3/h", "gph", "gpm"]
    first: dict[str, str] = {}
    for other, unit, name in _spellings():
        if other == measure:
            first.setdefault(unit, name)
    return list(first.values())


def in_unit(value: Values, unit: str) -> Values:
    """Convert one of the program's values to a unit people read.

    Parameters
    ----------
    value : float or (...) array
        Value in m, m2, m3, m3/s, Pa, W, kg, degC or days.
    unit : str
        Any spelling of a unit that a study file takes.

    Returns
    -------
    float or (...) array
        The same in that unit.

    Raises
    ------
    InputError
        If there is no such unit.

    Examples
    --------
    >>> round(in_unit(0.001, "L/min"), 9), round(in_unit(4.0, "degF"), 9)
    (60.0, 39.2)
    """
    found = _units().get(_plain(unit))
    if found is None:
        raise InputError(f"{shown(unit)} is no unit known here")
    measure, name = found
    if isinstance(value, float):
        return _converted(value, MEASURES[measure].unit, name)
    converted: Values = _registry().convert(value, MEASURES[measure].unit, name)
    return converted


def written(value: float, unit: str, digits: int = 3) -> str:
    """Write one of the program's values as a study file would.

    Parameters
    ----------
    value : float
        Value in m, m2, m3, m3/s, Pa, W, kg, degC or days.
    unit : str
        The unit to write it in.
    digits : int, optional
        Significant digits.

    Returns
    -------
    str
        Number and unit.

    Raises
    ------
    InputError
        If there is no such unit.

    Examples
    --------
    >>> written(2.8, "m"), written(0.00035, "L/min")
    ('2.8 m', '21 L/min')
    """
    return f"{float(f'{in_unit(value, unit):.{digits}g}'):g} {unit}"
