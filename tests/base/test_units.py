"""Text to numbers and back, against the definitions of the units."""

import math
import subprocess
import sys
from functools import cache

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filtration.base import units
from filtration.base.errors import InputError, shown
from filtration.base.units import as_typed, in_unit, needed, number_of, read_quantity, typed_number, written

# Exact definitions of NIST Special Publication 811 (2008), appendix B, as arithmetic.
INCH, POUND, GRAVITY = 0.0254, 0.45359237, 9.80665
FOOT = 12 * INCH
GALLON, IMPERIAL_GALLON = 3.785411784e-3, 4.54609e-3
QUART, FLUID_OUNCE = 0.946352946e-3, 29.5735295625e-6
PSI = POUND * GRAVITY / INCH**2

DEFINED = [
    ("2.4 m", "length", 2.4),
    ("3m", "length", 3.0),
    ("19 mm", "length", 0.019),
    ("0.75 in", "length", 0.75 * INCH),
    ('0.75"', "length", 0.75 * INCH),
    (".75 inches", "length", 0.75 * INCH),
    ("1/2 in", "length", 0.0127),
    ("3/4 in", "length", 0.01905),
    ('1 1/2"', "length", 0.0381),
    ("1-1/2 inch", "length", 0.0381),
    ("1\u00a01/2 in", "length", 0.0381),
    ("27/32in", "length", 0.02143125),
    ("8 ft", "length", 8 * FOOT),
    ("20 MM", "length", 0.020),
    ("20 um", "length", 20e-6),
    ("20 \u00b5m", "length", 20e-6),
    ("20 \u03bcm", "length", 20e-6),
    ("20 micron", "length", 20e-6),
    ("0.9 m^2", "area", 0.9),
    ("0.9 m\u00b2", "area", 0.9),
    ("0.9 m2", "area", 0.9),
    ("0.9 m**2", "area", 0.9),
    ("0.9 m ^ 2", "area", 0.9),
    ("9 sq ft", "area", 9 * FOOT**2),
    ("9 sq. ft.", "area", 9 * FOOT**2),
    ("9 square feet", "area", 9 * FOOT**2),
    ("120 cm^2", "area", 0.012),
    ("420 L", "volume", 0.420),
    ("420 litres", "volume", 0.420),
    ("420\u00a0l", "volume", 0.420),
    ("110 gal", "volume", 110 * GALLON),
    ("110 US gallons", "volume", 110 * GALLON),
    ("1/2 gal", "volume", 1.892705892e-3),
    ("5 qt", "volume", 5 * QUART),
    ("1 US quart", "volume", QUART),
    ("2 1/2 Quarts", "volume", 2.5 * QUART),
    ("12 fl oz", "volume", 12 * FLUID_OUNCE),
    ("12 fl. oz.", "volume", 12 * FLUID_OUNCE),
    ("1 fluid ounce", "volume", FLUID_OUNCE),
    ("92 imp gal", "volume", 92 * IMPERIAL_GALLON),
    ("15 cu ft", "volume", 15 * FOOT**3),
    ("0.42 m^3", "volume", 0.42),
    ("2400 L/h", "flow", 2.4 / 3600),
    ("24 L/min", "flow", 0.024 / 60),
    ("24 L per min", "flow", 0.024 / 60),
    ("2.4 m\u00b3/h", "flow", 2.4 / 3600),
    ("350 gph", "flow", 350 * GALLON / 3600),
    ("350 GPH", "flow", 350 * GALLON / 3600),
    ("350 gal/h", "flow", 350 * GALLON / 3600),
    ("350 gal. per hr", "flow", 350 * GALLON / 3600),
    ("4 gpm", "flow", 4 * GALLON / 60),
    ("4 GPM", "flow", 4 * GALLON / 60),
    ("16 qt/min", "flow", 16 * QUART / 60),
    ("4 gal/min", "flow", 4 * GALLON / 60),
    ("8 lpm", "flow", 8e-3 / 60),
    ("0.1 bar", "pressure", 1e4),
    ("100 mbar", "pressure", 1e4),
    ("1.2 kPa", "pressure", 1200.0),
    ("3 psi", "pressure", 3 * PSI),
    ("30 cmH2O", "pressure", 30 * 98.0665),
    ("30 cm of water", "pressure", 30 * 98.0665),
    ("12 inH2O", "pressure", 12 * 249.08891),
    ("38 W", "power", 38.0),
    ("0.5 hp", "power", 0.5 * 550 * FOOT * POUND * GRAVITY),
    ("60 g", "mass", 0.060),
    ("2 oz", "mass", POUND / 8),
    ("4 degC", "temperature", 4.0),
    ("4 \u00b0C", "temperature", 4.0),
    ("-10 C", "temperature", -10.0),
    ("39 degF", "temperature", (39 - 32) / 1.8),
    ("277.15 K", "temperature", 4.0),
    ("30 day", "time", 30.0),
    ("30 days", "time", 30.0),
    ("2 weeks", "time", 14.0),
    ("12 h", "time", 0.5),
    ("36 min", "time", 0.025),
    ("4 year", "time", 1461.0),
    ("6 months", "time", 182.625),
    ("1.5e1 d", "time", 15.0),
]

ODD_NUMBERS = [
    "2,5 m",
    "1,000.5 m",
    "1 300 m",
    "1\u00a0300 m",
    "1'300 m",
    "1\u2019300 m",
    "1_000 m",
    "\u00bd in",
    "1/0 in",
    "1/2/3 in",
    "1.5/2 in",
    "1 2 1/2 in",
    "-1/2 in",
    "1/ 2 in",
    "nan m",
    "inf m",
    "-inf m",
    "--3 m",
    "+-3 m",
    "3. m",
    "1.5.2 m",
    "\uff13 m",
    "\u0663 m",
    "9" * 5000 + " m",
    "0." + "9" * 5000 + " m",
    "3 m\n",
    "m",
    "",
    " ",
    "2.4 * m",
    "3 -m",
]


@pytest.mark.parametrize(("text", "measure", "value"), DEFINED)
def test_reads_by_definition(text: str, measure: units.Measure, value: float) -> None:
    assert read_quantity(text, measure) == pytest.approx(value, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(("text", "value"), [(text, value) for text, _, value in DEFINED])
def test_writes_by_definition(text: str, value: float) -> None:
    match = units._QUANTITY.fullmatch(text)
    assert match is not None
    assert in_unit(value, match[2]) == pytest.approx(number_of(match[1]), rel=1e-12, abs=1e-11)


@pytest.mark.parametrize("text", ODD_NUMBERS, ids=shown)
def test_odd_spelling_of_a_number_shows_an_accepted_one(text: str) -> None:
    with pytest.raises(InputError) as caught:
        read_quantity(text, "length")
    (fault,) = caught.value.faults
    assert fault == (
        f"needs a length such as '2.4 m' (one plain number, a point before decimals, then the unit), got {shown(text)}"
    )
    assert len(fault) < 200


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("2.4 L", "needs a length such as '2.4 m', got '2.4 L'"),
        ("3", "needs a length such as '2.4 m', got '3' without a unit"),
        (3, "needs a length such as '2.4 m', got 3 without a unit"),
        (float("nan"), "needs a length such as '2.4 m', got nan without a unit"),
        (10**5000, "needs a length such as '2.4 m', got a number of more than 18 digits without a unit"),
        (True, "needs a length such as '2.4 m', got true"),
        (None, "needs a length such as '2.4 m', got nothing"),
        (["3 m"], "needs a length such as '2.4 m', got a list"),
        ({"m": 3}, "needs a length such as '2.4 m', got a table"),
        ("1e999 m", "needs a length such as '2.4 m', got '1e999 m', which is no finite number"),
        ("1e308 ft", None),
        (
            "0x10 m",
            "needs a length such as '2.4 m', got '0x10 m'; units of length are m, cm, mm, um, in, ft",
        ),
        (
            "3 furlong",
            "needs a length such as '2.4 m', got '3 furlong'; units of length are m, cm, mm, um, in, ft",
        ),
        (
            "3 m 20 cm",
            "needs a length such as '2.4 m', got '3 m 20 cm'; units of length are m, cm, mm, um, in, ft",
        ),
        (
            "3 \x1b[31mm",
            "needs a length such as '2.4 m', got '3 \\x1b[31mm'; units of length are m, cm, mm, um, in, ft",
        ),
    ],
    ids=shown,
)
def test_what_else_is_no_length(text: object, told: str | None) -> None:
    if told is None:
        assert math.isfinite(read_quantity(text, "length"))
        return
    with pytest.raises(InputError) as caught:
        read_quantity(text, "length")
    assert caught.value.faults == (told,)


def test_overflow_in_conversion_is_told() -> None:
    with pytest.raises(InputError, match="which is no finite number"):
        read_quantity("1e308 bar", "pressure")


def test_flow_names_its_common_units() -> None:
    with pytest.raises(InputError, match="units of flow are L/h, L/min, m\\^3/h, gph, gpm"):
        read_quantity("3 sverdrup", "flow")


USUAL = ("100 L", "2000 L")


@pytest.mark.parametrize(
    ("text", "ways"),
    [
        ("1.200 L", "'1200 L' or '1.2 L'"),
        (" 1.200L ", "'1200 L' or '1.2 L'"),
        ("1.000 litres", "'1000 litres' or '1 litres'"),
        ("1,200 L", "'1200 L' or '1.2 L'"),
        ("420,000 L", "'420000 L' or '420 L'"),
    ],
)
def test_a_number_that_may_be_two_shows_both(text: str, ways: str) -> None:
    with pytest.raises(InputError) as caught:
        read_quantity(text, "volume", usual=USUAL)
    told = f"needs a volume such as '420 L', got {text!r}, which may be read in two ways; write {ways}"
    assert caught.value.faults == (told,)
    for way in ways.replace("'", "").split(" or "):
        assert math.isfinite(read_quantity(way, "volume", usual=USUAL))


@pytest.mark.parametrize(
    ("text", "litres"),
    [
        ("1.2 L", 1.2),  # without three decimals nobody writes thousands so
        ("1.20 L", 1.2),
        ("1.2000 L", 1.2),
        ("0.420 m^3", 420.0),  # lies where it usually does
        ("0.200 L", 0.2),  # no thousands begin with 0
        ("420.000 L", 420.0),
        ("3.000 L", 3.0),  # 3000 L are no more usual
        ("1.200 gal", 4.5424941408),  # 1200 gal are no more usual
    ],
)
def test_a_number_that_is_one_is_read(text: str, litres: float) -> None:
    assert read_quantity(text, "volume", usual=("100 L", "2000 L")) == pytest.approx(1e-3 * litres, rel=1e-12)


def test_three_decimals_are_read_where_nothing_is_usual() -> None:
    assert read_quantity("1.200 L", "volume") == pytest.approx(1.2e-3, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "measure"),
    [("20 Mm", "length"), ("20 ML", "volume"), ("3 Mbar", "pressure"), ("5 Mg", "mass"), ("5 ML/h", "flow")],
)
def test_a_capital_that_means_a_million_is_no_small_one(text: str, measure: units.Measure) -> None:
    with pytest.raises(InputError, match=f"got '{text}'; units of {measure} are "):
        read_quantity(text, measure)


def test_every_spelling_has_one_meaning() -> None:
    spelt = list(units._spellings())
    assert len({name.casefold() for _, _, name in spelt}) == len(spelt)
    assert {measure for measure, _, _ in spelt} == set(units.MEASURES)


@pytest.mark.parametrize("measure", list(units.MEASURES))
def test_every_example_is_accepted(measure: units.Measure) -> None:
    example = units.MEASURES[measure].example
    assert math.isfinite(read_quantity(example, measure))
    assert example in needed(measure)


@cache
def library() -> "pint.UnitRegistry[float]":
    return pint.UnitRegistry()


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        ("gph", "US_liquid_gallon / hour"),
        ("imp gal", "imperial_gallon"),
        ("psi", "psi"),
        ("hp", "horsepower"),
        ("qt", "US_liquid_quart"),
        ("fl oz", "US_fluid_ounce"),
        ("oz", "avoirdupois_ounce"),
        ("sq ft", "foot ** 2"),
        ("cu in", "inch ** 3"),
        ("degF", "degree_Fahrenheit"),
        ("year", "julian_year"),
        ("month", "month"),
        ("micron", "micron"),
    ],
)
def test_definitions_agree_with_pints_own(ours: str, theirs: str) -> None:
    measure = units._units()[ours.casefold()][0]
    inside = {"temperature": "degree_Celsius"}.get(measure, units.MEASURES[measure].unit)
    other = library().convert(7.0, theirs, inside)
    assert read_quantity(f"7 {ours}", measure) == pytest.approx(other, rel=1e-12)


SPELLINGS = [(measure, name) for measure, _, name in units._spellings()]
COMMON = st.sampled_from(SPELLINGS)
NUMBERS = st.floats(1e-12, 1e12) | st.floats(-1e12, -1e-12) | st.just(0.0)


@given(COMMON, NUMBERS)
def test_round_trip(unit: tuple[units.Measure, str], value: float) -> None:
    measure, name = unit
    inside = read_quantity(f"{value!r} {name}", measure)
    slack = 1e-9 if measure == "temperature" else 0.0
    assert in_unit(inside, name) == pytest.approx(value, rel=1e-12, abs=slack)


@given(COMMON, st.floats(1e-6, 1e6))
def test_what_is_written_is_read_again(unit: tuple[units.Measure, str], value: float) -> None:
    measure, name = unit
    inside = read_quantity(f"{value!r} {name}", measure)
    again = read_quantity(written(inside, name, 6), measure)
    assert in_unit(again, name) == pytest.approx(value, rel=1e-5)


@given(st.text(max_size=300), st.sampled_from(list(units.MEASURES)))
def test_any_text_is_read_or_told(text: str, measure: units.Measure) -> None:
    try:
        value = read_quantity(text, measure)
    except InputError as error:
        (fault,) = error.faults
        assert fault.startswith("needs ")
        assert fault.isprintable()
    else:
        assert math.isfinite(value)


def test_in_unit_takes_arrays() -> None:
    litres_per_minute = in_unit(np.array([0.0, 1e-3]), "L/min")
    np.testing.assert_allclose(litres_per_minute, [0.0, 60.0])


def test_in_unit_knows_no_other() -> None:
    with pytest.raises(InputError, match="'furlong' is no unit known here"):
        in_unit(1.0, "furlong")


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.42, "L", "420 L"),
        (365.25, "year", "1 year"),
        (1.3 / 3600, "L/h", "1300 L/h"),
        (4.0, "degC", "4 degC"),
    ],
)
def test_written(value: float, unit: str, text: str) -> None:
    assert written(value, unit) == text


def test_shown_is_short_and_harmless() -> None:
    assert shown("a" * 61) == repr("a" * 57 + "...")
    assert shown("\x07\u202e") == r"'\x07\u202e'"
    assert shown(-(10**400)) == "a number of more than 18 digits"
    assert shown(object()) == "a value of another type"
    assert shown((1, 2)) == "a list"


def test_pint_is_left_alone_until_it_is_needed() -> None:
    code = "import sys, filtration.base.units; sys.exit('pint' in sys.modules or 'numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize(
    ("text", "unit", "metres"),
    [
        *(("2,9", "m", 2.9), ("2.9", "m", 2.9), (" 2,9 ", "m", 2.9), ("0,125", "m", 0.125), (",5", "m", 0.5)),
        *(("19", "mm", 0.019), ("3/4", "in", 0.01905), ("1 1/2", "in", 0.0381), ("82 cm", "m", 0.82)),
        *(('3/4"', "mm", 0.01905), ("2,5 ft", "m", 0.762), ("1,2345", "m", 1.2345), ("1.234", "m", 1.234)),
    ],
)
def test_what_is_typed_into_a_field_is_read_as_it_is_written(text: str, unit: str, metres: float) -> None:
    """By hand, a foot and an inch by definition: a comma parts decimals, and a unit of one's own goes before."""
    assert read_quantity(as_typed(text, unit), "length") == pytest.approx(metres, rel=1e-12)


@pytest.mark.parametrize("text", ["1.200", "1,200", "1,200 L", "12.000"])
def test_what_is_typed_and_may_be_two_asks(text: str) -> None:
    with pytest.raises(InputError, match="may be read in two ways; write '12"):
        read_quantity(as_typed(text, "L"), "volume", usual=("100 L", "20000 L"))


@pytest.mark.parametrize("text", ["1 200", "1'200", "1.234,5", "1,234.5", "2,9,1", "abc", "", "L", "--2"])
def test_what_is_typed_and_is_no_number_is_none(text: str) -> None:
    with pytest.raises(InputError, match="needs a volume"):
        read_quantity(as_typed(text, "L"), "volume")
    with pytest.raises(InputError, match="needs a plain number"):
        typed_number(text, 0, 1e9)


@pytest.mark.parametrize(
    ("text", "value"), [("27,5", 27.5), ("27.5", 27.5), ("18", 18.0), ("-3", -3.0), ("0.500", 0.5), ("1/4", 0.25)]
)
def test_a_plain_number_typed(text: str, value: float) -> None:
    assert typed_number(text, 0, 1e9) == value


def test_a_plain_number_typed_that_may_be_two_asks_where_it_may_be_both() -> None:
    for text in ("1.200", "1,200"):
        with pytest.raises(InputError, match=r"may be read in two ways; write 1200 or 1\.2"):
            typed_number(text, 0, 1e9)
        assert typed_number(text, 0, 24) == 1.2
