"""Every fault of a study file, by its text."""

import sys
import time
from math import inf
from typing import Any

import pytest
from studies import CURVE, FOAM, LIFT_TEST, ROUND, SHORT, WOUND, changed, short

from filtration.base.errors import InputError
from filtration.study.file import study_from_dict, study_from_text


def faults_of(data: Any) -> tuple[str, ...]:
    with pytest.raises(InputError) as caught:
        study_from_dict(data)
    return caught.value.faults


AT_THE_TOP = (
    "format, name, id, currency, [tub], [pump], [[pumps]], [plumbing], [measured], [cooling], [needs], [prices], "
    "[uncertainty], [readings], [[elements]], [[options]], [in_use]"
)
ALONE = [
    ({"tub.volume": "3 m"}, "[tub] volume: needs a volume such as '420 L', got '3 m'"),
    ({"pump.shutoff_head": "2.4 L"}, "[pump] shutoff_head: needs a length such as '2.4 m', got '2.4 L'"),
    (
        {"plumbing.length": "2,5 m"},
        (
            "[plumbing] length: needs a length such as '3 m' (one plain number, a point before decimals, "
            "then the unit), got '2,5 m'"
        ),
    ),
    ({"tub.volume": 420}, "[tub] volume: needs a volume such as '420 L', got 420 without a unit"),
    ({"tub.volume": True}, "[tub] volume: needs a volume such as '420 L', got true"),
    ({"tub.volume": "-3 L"}, "[tub] volume: must be 1 L to 100 m^3, got '-3 L'"),
    ({"tub.volume": "0 L"}, "[tub] volume: must be 1 L to 100 m^3, got '0 L'"),
    ({"tub.volume": None}, "[tub] volume: is missing; needs a volume such as '420 L'"),
    (
        {"tub.water_temperature": "0 degC"},
        "[tub] water_temperature: must be 0.5 degC to 45 degC, got '0 degC'",
    ),
    (
        {"tub.uses_per_day": None},
        "[tub] uses_per_day: is missing; needs a plain number, 0 to 5000 dips a day",
    ),
    ({"tub.uses_per_day": -1}, "[tub] uses_per_day: must be 0 to 5000 dips a day, got -1"),
    ({"tub.uses_per_day": float("nan")}, "[tub] uses_per_day: must be 0 to 5000 dips a day, got nan"),
    ({"tub.uses_per_day": inf}, "[tub] uses_per_day: must be 0 to 5000 dips a day, got inf"),
    (
        {"tub.uses_per_day": 10**5000},
        "[tub] uses_per_day: must be 0 to 5000 dips a day, got a number of more than 18 digits",
    ),
    (
        {"tub.uses_per_day": True},
        "[tub] uses_per_day: needs a plain number, 0 to 5000 dips a day, got true",
    ),
    (
        {"tub.uses_per_day": "6"},
        "[tub] uses_per_day: needs a plain number, 0 to 5000 dips a day, got '6'",
    ),
    ({"tub.shared_with_public": 1}, "[tub] shared_with_public: needs true or false, got 1"),
    ({"tub.showered_share": 50}, "[tub] showered_share: must be 0 to 1, got 50"),
    ({"tub.feet": "muddy"}, "[tub] feet: must be 'rinsed', 'indoors' or 'from the garden', got 'muddy'"),
    ({"tub.feet": ["rinsed"]}, "[tub] feet: must be 'rinsed', 'indoors' or 'from the garden', got a list"),
    (
        {"tub.volume": "1.200 L"},
        (
            "[tub] volume: needs a volume such as '420 L', got '1.200 L', which may be read in two ways; "
            "write '1200 L' or '1.2 L'"
        ),
    ),
    (
        {"tub.volume": "1,200 L"},
        (
            "[tub] volume: needs a volume such as '420 L', got '1,200 L', which may be read in two ways; "
            "write '1200 L' or '1.2 L'"
        ),
    ),
    (
        {"pump.max_flow": "2.400 L/h"},
        (
            "[pump] max_flow: needs a flow such as '2400 L/h', got '2.400 L/h', which may be read in two ways; "
            "write '2400 L/h' or '2.4 L/h'"
        ),
    ),
    (
        {"needs.flow": "1.300 L/h"},
        (
            "[needs] flow: needs a flow such as '2400 L/h', got '1.300 L/h', which may be read in two ways; "
            "write '1300 L/h' or '1.3 L/h'"
        ),
    ),
    (
        {"pump": {"power": "9 W", "curve": [["0 L/h", "2.400 mm"], ["900 L/h", "0 m"]]}},
        (
            "[pump] curve: head of point 1 needs a length such as '2.4 m', got '2.400 mm', which may be read in two "
            "ways; write '2400 mm' or '2.4 mm'"
        ),
    ),
    ({"tub.volum": "420 L"}, "[tub] volum: is unknown; the nearest known one is volume"),
    ({"tub.shutoff_head": "2 m"}, "[tub] shutoff_head: is no key here; it belongs under [pump] or [[pumps]]"),
    (
        {"tub.uses_by_month": [1] * 11},
        "[tub] uses_by_month: needs a list of 12 plain numbers, January to December, got a list of 11",
    ),
    (
        {"tub.uses_by_month": 6},
        "[tub] uses_by_month: needs a list of 12 plain numbers, January to December, got 6",
    ),
    (
        {"tub.uses_by_month": [1] * 10 + [-1, 1]},
        "[tub] uses_by_month: the number of November must be 0 to 5000, got -1",
    ),
    ({"tub.uses_by_month": [0] * 12}, "[tub] uses_by_month: must not all be 0"),
    (
        {"tub.uses_by_weekday": [1] * 8},
        "[tub] uses_by_weekday: needs a list of 7 plain numbers, Monday to Sunday, got a list of 8",
    ),
    (
        {"tub.uses_by_weekday": ["1"] + [1] * 6},
        "[tub] uses_by_weekday: the number of Monday needs a plain number, 0 to 5000, got '1'",
    ),
    ({"tub.uses_by_weekday": [0.0] * 7}, "[tub] uses_by_weekday: must not all be 0"),
    ({"tub.dye_even_after": "31 day"}, "[tub] dye_even_after: must be 0 min to 30 day, got '31 day'"),
    (
        {"tub.dye_even_after": "10 min", "tub.still_share": 0.95},
        "[tub] still_share: must be 0.02 to 0.9, got 0.95",
    ),
    ({"tub.still_share": 0.3}, "[tub] still_share: says how much water lags, but there is no dye_even_after"),
    ({"uses_per_day": 4}, "uses_per_day: is no key here; it belongs under [tub]"),
    ({"coolling": {"cop": 2}}, "[coolling]: is unknown; the nearest known one is [cooling]"),
    ({"curency": "EUR"}, "curency: is unknown; the nearest known one is currency"),
    ({"Currency": "EUR"}, "Currency: is unknown; the nearest known one is currency"),
    ({"units": "us"}, f"units: is unknown; known here are {AT_THE_TOP}"),
    (
        {"cooling.hours": 3},
        "[cooling] hours: is unknown; known here are cop, share_of_year",
    ),
    (
        {"tub.water_change_every": "sometimes"},
        (
            "[tub] water_change_every: needs a time such as '30 day' (one plain number, a point before "
            "decimals, "
            "then the unit), got 'sometimes'; or 'never'"
        ),
    ),
    (
        {"tub.water_change_every": "0 day"},
        "[tub] water_change_every: must be 0.1 day to 100 year or never, got '0 day'",
    ),
    ({"format": 2}, "format: must be 1, the only format there is, got 2"),
    ({"format": True}, "format: must be 1, the only format there is, got true"),
    ({"name": ""}, "name: must not be empty"),
    ({"name": 7}, "name: needs a text in quotes, got 7"),
    ({"name": "a\nb"}, "name: must be one line without control characters, got 'a\\nb'"),
    ({"name": "a\u202eb"}, "name: must be one line without control characters, got 'a\\u202eb'"),
    ({"name": "n" * 201}, f"name: must be at most 200 characters long, got 201: '{'n' * 57}...'"),
    ({"currency": "Golden Ducats"}, "currency: must be at most 10 characters long, got 13: 'Golden Ducats'"),
    ({"tub": 3}, "[tub]: needs a table, got 3"),
    ({"tub": None}, "[tub]: is missing; needs at least volume, water_temperature, uses_per_day"),
    ({"elements": None}, "[[elements]]: is missing; needs at least name, kind"),
    ({"elements": []}, "[[elements]]: needs at least one, got an empty list"),
    ({"elements": {}}, "[[elements]]: needs tables, each under [[elements]], got a table"),
    ({"elements": [3]}, "[[elements]] 1: needs a table, got 3"),
    (
        {"options": [{"name": "A", "stages": []}]},
        "[[options]] 1 (A) stages: needs a list of 1 to 10 names of cartridges, got an empty list",
    ),
    (
        {"pump": None},
        "[pump]: is missing; needs shutoff_head, max_flow and power as the pump's box has them",
    ),
    ({"pump.power": None}, "[pump] power: is missing; needs a power such as '38 W'"),
    (
        {"pump.max_flow": None},
        "[pump] max_flow: is missing; needs a flow such as '2400 L/h', or give a curve or a lift test",
    ),
    (
        {"pump.curve": CURVE},
        "[pump] curve: give either a curve or the box numbers, not a curve and shutoff_head and max_flow",
    ),
    ({"pump.hours_per_day": 0}, "[pump] hours_per_day: must be more than 0 and at most 24 h, got 0"),
    (
        {"pumps": [{"name": "a", "curve": CURVE, "power": "9 W"}]},
        "[pump]: give either [pump] or [[pumps]], not both",
    ),
    (
        {"plumbing.bore": None},
        "[plumbing] bore: is missing; needs a length such as '19 mm', or give a lift test",
    ),
    (
        {"plumbing.length_outside": "4 m"},
        "[plumbing] length_outside: must be at most the whole length, got '4 m' of '3 m'",
    ),
    (
        {"plumbing": {"length_outside": "1 m"}, "measured": LIFT_TEST},
        "[plumbing] bore: is missing; needs a length such as '19 mm', for the warmth a hose outside takes up",
    ),
    ({"plumbing.elbows_90": 1.5}, "[plumbing] elbows_90: must be a whole number, 0 to 100, got 1.5"),
    ({"plumbing.elbows_90": "two"}, "[plumbing] elbows_90: needs a whole number, 0 to 100, got 'two'"),
    ({"cooling.cop": 0}, "[cooling] cop: must be 0.1 to 20, got 0"),
    (
        {"needs.flow": "1300 L/h", "needs.turnovers_per_hour": 3},
        ("[needs]: give only one of turnovers_per_hour, flow and share_of_clean_flow, got turnovers_per_hour and flow"),
    ),
    (
        {"needs.share_of_clean_flow": 1},
        "[needs] share_of_clean_flow: must be more than 0 and less than 1, got 1",
    ),
    ({"prices.discount_rate": 3}, "[prices] discount_rate: must be -0.5 to 1, got 3"),
    ({"prices.water_per_m3": -1}, "[prices] water_per_m3: must be 0 to 1000000000, got -1"),
    (
        {"prices": {"water_per_m3": 4, "water_per_1000_gal": 12}},
        "[prices] water_per_1000_gal: give either water_per_m3 or water_per_1000_gal, not both",
    ),
    ({"prices.water_per_1000_gal": -1}, "[prices] water_per_1000_gal: must be 0 to 1000000000, got -1"),
    ({"prices.horizon": "51 year"}, "[prices] horizon: must be 1 day to 50 year, got '51 year'"),
    ({"uncertainty.dust": 0.5}, "[uncertainty] dust: must be 1 to 20, got 0.5"),
    ({"uncertainty.dusty": 2}, "[uncertainty] dusty: is unknown; the nearest known one is dust"),
    (
        {"measured.lift_test": [["0 m", "24 L/min"]]},
        (
            "[measured] lift_test: needs a list of 2 to 100 points such as "
            "[['0 m', '24 L/min'], ['1.2 m', '9 L/min']], got a list of 1"
        ),
    ),
    (
        {"measured.lift_test": [["0.5 m", "9 L/min"], ["0 m", "8 L/min"]]},
        "[measured] lift_test: every lift must be more than the one before; point 2 has '0 m' after '0.5 m'",
    ),
    (
        {"measured.lift_test": [["0 m", "9 L/min"], ["1 m", "9 L/min"]]},
        ("[measured] lift_test: every flow must be less than the one before; point 2 has '9 L/min' after '9 L/min'"),
    ),
    (
        {"pump": {"power": "9 W", "curve": [["0 L/h", "2 m"], ["900 L/h", "2.1 m"]]}},
        "[pump] curve: every head must be less than the one before; point 2 has '2.1 m' after '2 m'",
    ),
    (
        {"pump": {"power": "9 W", "curve": [["0 L/h", "2 m"], ["900 L/h"]]}},
        "[pump] curve: point 2 needs a pair of flow and head, got a list of 1",
    ),
    (
        {"pump": {"power": "9 W", "curve": [["0 L/h", "2 m"], ["900 L/h", "1 L"]]}},
        "[pump] curve: head of point 2 needs a length such as '2.4 m', got '1 L'",
    ),
    (
        {"pump": {"power": "9 W", "curve": "steep"}},
        (
            "[pump] curve: needs a list of 2 to 100 points such as "
            "[['0 L/h', '2.4 m'], ['2400 L/h', '0 m']], got 'steep'"
        ),
    ),
    (
        {"elements.0.rating": None},
        "[[elements]] 1 (Pleated 20) rating: is missing; needs a length such as '20 um'",
    ),
    (
        {"elements.0.rating": "20"},
        "[[elements]] 1 (Pleated 20) rating: needs a length such as '20 um', got '20' without a unit",
    ),
    (
        {"elements.0.kind": "string"},
        "[[elements]] 1 (Pleated 20) kind: must be 'foam', 'spun', 'wound' or 'pleated', got 'string'",
    ),
    (
        {"elements.0.size": "9 x 2.5 in"},
        (
            "[[elements]] 1 (Pleated 20) size: must be one of the common sizes '5 x 2.5 in', '10 x 2.5 in', "
            "'20 x 2.5 in', '10 x 4.5 in' or '20 x 4.5 in', got '9 x 2.5 in'"
        ),
    ),
    (
        {"elements.0.size": None},
        (
            "[[elements]] 1 (Pleated 20): has no shape: needs a size, or length and both diameters with "
            "area, "
            "or with pleats and pleat_depth"
        ),
    ),
    (
        {"elements.0.length": "250 mm"},
        "[[elements]] 1 (Pleated 20) size: gives the shape already; leave out length, or the size",
    ),
    (
        {"elements.0.thickness": "50 mm"},
        (
            "[[elements]] 1 (Pleated 20) thickness: does not go with kind 'pleated': its shape is a size, "
            "or length and both diameters with area, or with pleats and pleat_depth"
        ),
    ),
    (
        {"elements.0.pleats": 70},
        "[[elements]] 1 (Pleated 20) pleat_depth: is missing; pleats and pleat_depth go together",
    ),
    (
        {"elements.0.pleats": 70, "elements.0.pleat_depth": "14 mm", "elements.0.area": "1 m^2"},
        ("[[elements]] 1 (Pleated 20) area: give either the area or the pleats, not area and pleats and pleat_depth"),
    ),
    (
        {"elements": [{"name": "P", "kind": "pleated", "rating": "20 um"} | ROUND]},
        ("[[elements]] 1 (P) area: is missing; needs an area such as '0.9 m^2', or give pleats and pleat_depth"),
    ),
    (
        {"elements": [{"name": "P", "kind": "pleated", "rating": "20 um", "area": "1 m^2", "length": "1 m"}]},
        (
            "[[elements]] 1 (P) outer_diameter: is missing; needs a length such as '63 mm'",
            "[[elements]] 1 (P) inner_diameter: is missing; needs a length such as '28 mm'",
        ),
    ),
    (
        {"elements": [{"name": "P", "kind": "pleated", "rating": "20 um", "area": "1 m^2"}]},
        (
            "[[elements]] 1 (P): has no shape: needs a size, or length and both diameters with area, "
            "or with pleats and pleat_depth"
        ),
    ),
    (
        {"elements": [WOUND | {"rinse_minutes": 5}]},
        ("[[elements]] 1 (Wound 5) rinse_minutes: does not go with kind 'wound': a wound cartridge cannot be rinsed"),
    ),
    (
        {"elements": [{"name": "W", "kind": "spun", "rating": "5 um"}]},
        (
            "[[elements]] 1 (W): has no shape: needs a size, or length, outer_diameter and inner_diameter, "
            "or area and thickness of a flat pad"
        ),
    ),
    (
        {"elements": [{"name": "W", "kind": "spun", "rating": "5 um", "area": "1 m^2"}]},
        "[[elements]] 1 (W) thickness: is missing; needs a length such as '50 mm'",
    ),
    (
        {"elements": [{"name": "W", "kind": "spun", "rating": "5 um", "area": "1 m^2"} | ROUND]},
        (
            "[[elements]] 1 (W): needs either length, outer_diameter and inner_diameter, "
            "or area and thickness of a flat pad, got length, outer_diameter, inner_diameter and area"
        ),
    ),
    (
        {"elements": [{"name": "W", "kind": "spun", "rating": "5 um"} | ROUND | {"inner_diameter": "63 mm"}]},
        "[[elements]] 1 (W) inner_diameter: must be less than outer_diameter, got '63 mm' in '63 mm'",
    ),
    (
        {"elements": [FOAM | {"size": "10 x 2.5 in"}]},
        (
            "[[elements]] 1 (Foam 20 ppi) size: does not go with kind 'foam': "
            "its shape is area, thickness and pores_per_inch"
        ),
    ),
    (
        {"elements": [{"name": "F", "kind": "foam", "area": "1 m^2", "thickness": "5 cm"}]},
        "[[elements]] 1 (F) pores_per_inch: is missing; needs a plain number, 4 to 200",
    ),
    (
        {"elements.0.clean_loss_at": "20 degC"},
        ("[[elements]] 1 (Pleated 20) clean_loss_at: says where clean_loss was measured, but there is no clean_loss"),
    ),
    (
        {"elements.0.dirt_capacity_at": "1 bar"},
        (
            "[[elements]] 1 (Pleated 20) dirt_capacity_at: says where dirt_capacity was measured, "
            "but there is no dirt_capacity"
        ),
    ),
    (
        {"elements.0.beta": [["10 um", 5], ["20 um", 5]]},
        ("[[elements]] 1 (Pleated 20) beta: every beta ratio must be more than the one before; point 2 has 5 after 5"),
    ),
    (
        {"elements.0.beta": [["10 um", 1]]},
        ("[[elements]] 1 (Pleated 20) beta: beta ratio of point 1 must be more than 1 and at most 10000000, got 1"),
    ),
    (
        {"elements.0.clean_loss": []},
        (
            "[[elements]] 1 (Pleated 20) clean_loss: needs a list of 1 to 100 points such as "
            "[['8 L/min', '1.2 kPa']], got a list of 0"
        ),
    ),
    (
        {"elements.0.rinse_recovery": 1},
        "[[elements]] 1 (Pleated 20) rinse_recovery: must be at least 0 and less than 1, got 1",
    ),
    (
        {"elements.1": WOUND | {"name": "Pleated 20"}},
        "[[elements]] 2 (Pleated 20) name: must differ from every other, got 'Pleated 20' twice",
    ),
    (
        {"elements.1": WOUND | {"name": "pleated-20"}},
        "[[elements]] 2 (pleated-20) name: is too like 'Pleated 20': both are 'pleated-20' for short",
    ),
    (
        {"elements.1": {"kind": "spun", "size": "5 x 2.5 in", "rating": "5 um"}},
        "[[elements]] 2 name: is missing; needs a text in quotes",
    ),
    (
        {"options": [{"name": "A", "stages": ["Pleated 2"]}]},
        "[[options]] 1 (A) stages: no cartridge is named 'Pleated 2'; the nearest is 'Pleated 20'",
    ),
    (
        {"options": [{"name": "A", "stages": ["Sand"]}]},
        "[[options]] 1 (A) stages: no cartridge is named 'Sand'; there is only 'Pleated 20'",
    ),
    (
        {"options": [{"name": "A", "stages": "Pleated 20"}]},
        "[[options]] 1 (A) stages: needs a list of 1 to 10 names of cartridges, got 'Pleated 20'",
    ),
    (
        {"options": [{"name": n, "stages": ["Pleated 20"]} for n in ("A b", "a B")]},
        "[[options]] 2 (a B) name: is too like 'A b': both are 'a-b' for short",
    ),
    ({"options": []}, "[[options]]: needs at least one, got an empty list"),
    (
        {"in_use": {"option": "pleated-2", "since": "2026-03-01"}},
        "[in_use] option: no option has the id or name 'pleated-2'; the nearest is 'pleated-20'",
    ),
    (
        {"in_use": {"option": "pleated-20", "since": "1 March"}},
        "[in_use] since: needs a day such as 2026-03-01, got '1 March'",
    ),
    (
        {"in_use": {"option": "pleated-20", "since": "2026-02-30"}},
        "[in_use] since: needs a day such as 2026-03-01, got '2026-02-30', which is no day of the calendar",
    ),
    ({"a\x1b[2J" + "b" * 300: 1}, f"'a\\x1b[2J{'b' * 52}...': is unknown; known here are {AT_THE_TOP}"),
]


@pytest.mark.parametrize(("changes", "told"), ALONE, ids=lambda value: ascii("".join(value))[:40])
def test_fault_alone(changes: dict[str, Any], told: str | tuple[str, ...]) -> None:
    lines = (told,) if isinstance(told, str) else told
    assert faults_of(changed(changes)) == tuple(f"study.toml, {line}" for line in lines)


def test_all_faults_at_once_in_the_order_of_the_file() -> None:
    data = changed(
        {
            "currency": 3,
            "tub.volume": "3 m",
            "tub.uses_per_day": None,
            "pump.curve": CURVE,
            "pump.power": "38",
            "needs.turnovers_per_hour": -1,
            "elements.0.size": "huge",
            "elements.1": FOAM | {"rating": "1 L", "pleats": 3},
            "options": [{"name": "A", "stages": ["Foam"]}],
            "colour": "blue",
        }
    )
    told = faults_of(data)
    assert [line.removeprefix("study.toml, ").split(":")[0] for line in told] == [
        "currency",
        "[tub] volume",
        "[tub] uses_per_day",
        "[pump] curve",
        "[pump] power",
        "[needs] turnovers_per_hour",
        "[[elements]] 1 (Pleated 20) size",
        "[[elements]] 2 (Foam 20 ppi) rating",
        "[[elements]] 2 (Foam 20 ppi) pleats",
        "[[options]] 1 (A) stages",
        "colour",
    ]


def test_what_is_allowed_is_listed_once() -> None:
    rows = [WOUND | {"name": f"W{n}", "size": f"{n} x 3 in"} for n in range(1, 9)]
    told = [line.removeprefix("study.toml, [[elements]] ") for line in faults_of(changed({"elements": rows}))]
    assert told[0].startswith("1 (W1) size: must be one of the common sizes '5 x 2.5 in', ")
    assert told[1:] == [f"{n} (W{n}) size: must be one of those sizes, got '{n} x 3 in'" for n in range(2, 9)]
    assert faults_of(changed({"cooling": {"hours": 3, "days": 7}})) == (
        "study.toml, [cooling] hours: is unknown; known here are cop, share_of_year",
        "study.toml, [cooling] days: is unknown",
    )


def test_several_faults_of_one_list() -> None:
    curve = [["0 L/h", "2 L"], ["1 h", "1 m"], ["2 L/h", "1 m"]]
    assert faults_of(changed({"pump": {"power": "9 W", "curve": curve}})) == (
        "study.toml, [pump] curve: head of point 1 needs a length such as '2.4 m', got '2 L'",
        "study.toml, [pump] curve: flow of point 2 needs a flow such as '2400 L/h', got '1 h'",
        ("study.toml, [pump] curve: every head must be less than the one before; point 3 has '1 m' after '1 m'"),
    )


def test_no_pump_and_no_plumbing() -> None:
    assert faults_of(changed({"pump": None, "plumbing": None})) == (
        "study.toml, [pump]: is missing; needs shutoff_head, max_flow and power as the pump's box has them",
        "study.toml, [plumbing] bore: is missing; needs a length such as '19 mm', or give a lift test",
        "study.toml, [plumbing] length: is missing; needs a length such as '3 m', or give a lift test",
    )


def test_several_pumps() -> None:
    pump = {"shutoff_head": "2 m", "max_flow": "1 m^3/h", "power": "9 W"}
    assert faults_of(changed({"pump": None, "pumps": [pump, pump | {"name": "b"}], "measured": LIFT_TEST})) == (
        "study.toml, [[pumps]] 1 name: is missing; each of several pumps needs its name",
        "study.toml, [measured] lift_test: belongs to one pump, but [[pumps]] has 2",
    )
    assert faults_of(changed({"pump": None, "pumps": [pump | {"name": "b"}] * 2})) == (
        "study.toml, [[pumps]] 2 (b) name: must differ from every other, got 'b' twice",
    )


OPEN_QUOTE = 'a quote is not closed; text stands between two: volume = "420 L"'


def test_a_thousand_faults_are_cut_short() -> None:
    told = faults_of(short() | {f"key{n}": n for n in range(1000)})
    assert len(told) <= 101
    data = changed({"elements": [{}] * 150})
    assert faults_of(data)[-1] == "study.toml: has more faults than these 100"


def test_too_many_elements() -> None:
    (told,) = faults_of(changed({"elements": [WOUND | {"name": f"W{n}"} for n in range(201)]}))
    assert told == "study.toml, [[elements]]: must be at most 200, got more"


def test_none_counts_as_left_out() -> None:
    data = short() | {"pumps": None, "options": None, "in_use": None}
    data["tub"]["depth"] = data["elements"][0]["lead_time"] = None
    assert study_from_dict(data).assumed == study_from_text(SHORT).assumed
    assert faults_of(short() | {"pump": None})[0].startswith("study.toml, [pump]: is missing")


@pytest.mark.parametrize("data", [[], 3, None, "name"])
def test_no_tables_at_all(data: Any) -> None:
    assert faults_of(data)[0].startswith("study.toml: needs tables and keys, got ")


def test_keys_that_are_no_text() -> None:
    assert any("1" in line for line in faults_of({**short(), 1: 2}))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "volume = 420 L",
            (
                "is not TOML at line 1, column 14: expected newline or end of document after a statement; "
                'text stands in quotes: volume = "420 L"'
            ),
        ),
        (
            "[tub]\nfeet = indoors",
            'is not TOML at line 2, column 8: invalid value; text stands in quotes: volume = "420 L"',
        ),
        ("a = 1\na = 2", "is not TOML at end of document: a key or table is there a second time"),
        ("[tub]\n[tub]", "is not TOML at line 2, column 5: a key or table is there a second time"),
        ('[tub]\nvolume = "420 L\n', f"is not TOML at line 2, column 16: {OPEN_QUOTE}"),
        ("[tub]\nvolume = '420 L\n[pump]", f"is not TOML at line 2: {OPEN_QUOTE}"),
        ('name = "My tub', f"is not TOML at line 1: {OPEN_QUOTE}"),
        ('[tub]\nvolume = 420 L"', f"is not TOML at line 2, column 14: {OPEN_QUOTE}"),
        ('elements = [\n{ name = "A, kind = "spun" },\n]', f"is not TOML at line 2, column 22: {OPEN_QUOTE}"),
        (
            'elements = [\n{ name = "A" }\n{ name = "B" }\n]',
            (
                "is not TOML at line 3, column 1: unclosed array; "
                "what stands in a list is divided by commas, and a ] ends it"
            ),
        ),
        (
            'elements = [\n{ name = "A" },\n\n[tub]',
            "is not TOML at line 4, column 2: invalid value; the list above it is not ended by a ]",
        ),
        (
            'elements = [\n{ name = "A", },\n]',
            (
                "is not TOML at line 2, column 15: invalid initial character for a key part; "
                "what stands in braces is one line, divided by commas, none before the }"
            ),
        ),
        (
            'elements = [\n{ name = "A" },\n]\n[[elements]]\nname = "B"',
            (
                "is not TOML at line 4, column 11: a key or table is there a second time; "
                "put it into the list elements = [ ... ] above"
            ),
        ),
        (
            '[plumbing]\nbore = "3/4""',
            'is not TOML at line 2, column 13: a quote stands for inches between quotes; write bore = "3/4 in"',
        ),
        (
            "[elements]\nprice = 1,200",
            (
                "is not TOML at line 2, column 10: expected newline or end of document after a statement; "
                "write 1200 or 1.200"
            ),
        ),
        ("a = [", "is not TOML at end of document: invalid value"),
        ("a = \x00", "is not TOML at line 1, column 5: invalid value"),
        ("a =" + " [" * 900, "is nested too deeply; a study has tables and lists of pairs"),
        ("a = " + "9" * 5000, "line 1 is longer than 2000 characters"),
        ("." * 3000, "line 1 is longer than 2000 characters"),
        ("\n" * 1_000_001, "is 1 MB, more than the 1 MB allowed"),
    ],
    ids=lambda value: ascii(value)[:20],
)
def test_no_toml(text: str, told: str) -> None:
    with pytest.raises(InputError) as caught:
        study_from_text(text, where="my.toml")
    (fault,) = caught.value.faults
    assert fault.startswith(f"my.toml: {told}")


def test_a_number_of_5000_digits_in_a_file() -> None:
    limit = sys.get_int_max_str_digits()
    sys.set_int_max_str_digits(640)
    try:
        with pytest.raises(InputError, match=r"^study.toml: has a number of too many digits$"):
            study_from_text("a = " + "9" * 700)
    finally:
        sys.set_int_max_str_digits(limit)


def test_dotted_keys_without_end_are_told_at_once() -> None:
    start = time.perf_counter()
    with pytest.raises(InputError):
        study_from_text("\n".join(f"{'a.' * 900}b{n} = 1" for n in range(20)))
    assert time.perf_counter() - start < 5.0
