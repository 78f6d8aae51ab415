"""The edge: what a study file may say, what it becomes, and every fault by its text."""

import copy
import os
import pickle
import re
import subprocess
import sys
import time
import tomllib
from datetime import date
from math import inf, pi
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import filtration
from filtration.defaults import STUDY_DEFAULTS
from filtration.errors import InputError
from filtration.study import Study
from filtration.study_file import load_study, study_from_dict, study_from_text, study_json_schema
from filtration.study_rules import nearest, slug
from filtration.study_schema import TABLES, StudyFile

SHORT = """\
format = 1
name = "North tub"
[tub]
volume = "420 L"
water_temperature = "4 degC"
uses_per_day = 6
[pump]
shutoff_head = "2.4 m"
max_flow = "2400 L/h"
power = "38 W"
[plumbing]
bore = "19 mm"
length = "3 m"
[[elements]]
name = "Pleated 20"
kind = "pleated"
size = "10 x 2.5 in"
rating = "20 um"
price = 18
"""

FOAM = {
    "name": "Foam 20 ppi",
    "kind": "foam",
    "area": "120 cm^2",
    "thickness": "50 mm",
    "pores_per_inch": 20,
}
WOUND = {"name": "Wound 5", "kind": "depth", "size": "10 x 2.5 in", "rating": "5 um"}
ROUND = {"length": "250 mm", "outer_diameter": "63 mm", "inner_diameter": "28 mm"}
LIFT_TEST = {"lift_test": [["0 m", "24 L/min"], ["0.5 m", "19 L/min"], ["1.2 m", "9 L/min"]]}
CURVE = [["0 L/h", "2.4 m"], ["1200 L/h", "1.9 m"], ["2400 L/h", "0 m"]]
TEMPLATE = Path(filtration.__file__).with_name("new_study.toml")


def short() -> dict[str, Any]:
    return tomllib.loads(SHORT)


def changed(changes: dict[str, Any]) -> dict[str, Any]:
    """Return the short study with keys such as "tub.volume" or "elements.0.rating" set, or left out (None)."""
    data = short()
    for path, value in changes.items():
        *above, last = path.split(".")
        at: Any = data
        for step in above:
            at = at[int(step)] if step.isdigit() else at.setdefault(step, {})
        key: Any = int(last) if last.isdigit() else last
        if value is None:
            del at[key]
        elif isinstance(at, list) and key == len(at):
            at.append(value)
        else:
            at[key] = value
    return data


def study(**changes: Any) -> Study:
    return study_from_dict(changed({path.replace("__", "."): value for path, value in changes.items()}))


def faults_of(data: dict[str, Any]) -> tuple[str, ...]:
    with pytest.raises(InputError) as caught:
        study_from_dict(data)
    return caught.value.faults


# What a study becomes


def test_short_study() -> None:
    got = study_from_text(SHORT)
    assert got.name == "North tub"
    assert got.currency == "EUR"
    assert got.tub.volume_m3 == pytest.approx(0.420)
    assert got.tub.water.temperature_c == 4.0
    assert got.tub.uses_per_day == 6.0
    # Maine 10-144 CMR 202 App. B: a third of the US gallons over bathers a day
    assert got.water_rule_days == pytest.approx(420 / 3.785411784 / 3 / 6)
    assert got.tub.water_life_days == got.water_rule_days
    (pump,) = got.pumps
    assert pump.shutoff_head_m == 2.4
    assert pump.max_flow_m3_s == pytest.approx(2.4 / 3600)
    assert (pump.power_w, pump.in_water, pump.life_years) == (38.0, True, 4.0)
    assert got.plumbing is not None
    assert got.plumbing.bore_m == pytest.approx(0.019)
    assert got.needs.flow_m3_s == pytest.approx(3 * 0.420 / 3600)
    assert got.needs.see_through_m == pytest.approx(4 * 0.7)
    assert got.needs.max_pressure_rise_pa == inf
    assert got.needs.shortest_run_days is None
    assert got.prices.horizon_days == 5 * 365.25
    (option,) = got.options
    assert (option.id, option.name, option.housings_in_parallel) == ("pleated-20", "Pleated 20", 1)
    assert (option.housing_price, option.housing_life_years) == (35.0, 10.0)
    (element,) = option.stages
    assert element.rating_m == pytest.approx(20e-6)
    assert (element.outer_radius_m, element.inner_radius_m, element.length_m) == (0.0318, 0.0138, 0.250)
    assert (element.area_m2, element.price, element.rinse_recovery) == (0.5, 18.0, 0.90)


def test_everything_the_contract_names() -> None:
    got = study_from_text(EVERYTHING)
    assert got.currency == "USD"
    assert [pump.name for pump in got.pumps] == ["Small", "Large"]
    assert got.pumps[0].points == pytest.approx(((0, 2.4), (1.2 / 3600, 1.9), (2.4 / 3600, 0)))
    assert not got.pumps[1].in_water
    assert got.tub.water_life_days == 30.0
    assert got.tub.disinfectant_kept
    assert got.disinfectant == "kept"
    assert got.shared_with_public
    assert got.needs.flow_m3_s == pytest.approx(1.3 / 3600)
    assert got.needs.max_pressure_rise_pa == pytest.approx(1e4)
    assert got.needs.rinse_limit_days == inf
    assert got.needs.shortest_run_days == 5.0
    assert got.spreads == {"load_per_dip": 1.5, "slope": 1.2}
    assert got.in_use is not None
    assert (got.in_use.option, got.in_use.since) == ("foam-then-pleated", "2026-03-01")
    (option,) = got.options
    assert [stage.name for stage in option.stages] == ["Foam 20 ppi", "Pleated 20"]
    assert option.housings_in_parallel == 2
    foam, pleated = option.stages
    assert foam.rating_m == pytest.approx(350e-6)
    assert pleated.clean_loss == pytest.approx(((8e-3 / 60, 1200.0),))
    assert pleated.beta == pytest.approx(((10e-6, 5.0), (20e-6, 75.0)))
    assert pleated.capacity_kg == pytest.approx(0.060)
    assert pleated.capacity_at_pa == pytest.approx(1.7e5)
    assert pleated.absolute
    assert (pleated.lead_time_days, pleated.suppliers) == (10.0, 3)
    assert pleated.rinse_water_m3 == pytest.approx(0.020)
    assert not [line for line in got.assumed if not line.startswith("elements.")]


def test_never() -> None:
    changes = {
        "tub.water_change_every": "never",
        "needs.replace_at_least_every": "never",
        "needs.discard_after": "never",
        "prices.horizon": "2 year",
    }
    got = study_from_dict(changed(changes))
    assert got.water_never_changed
    assert got.tub.water_life_days == 2 * 365.25
    assert (got.needs.replace_limit_days, got.needs.discard_days) == (inf, inf)


def test_nobody_bathes() -> None:
    got = study(tub__uses_per_day=0)
    assert got.water_rule_days == inf
    assert got.tub.water_life_days == 60.0


def test_a_share_of_the_clean_flow_replaces_turnovers() -> None:
    got = study(needs__share_of_clean_flow=0.7)
    assert (got.needs.flow_m3_s, got.needs.share_of_clean_flow) == (None, 0.7)
    assert not any("turnovers" in line for line in got.assumed)


def test_a_lift_test_stands_for_pump_curve_and_plumbing() -> None:
    data = changed({"measured": LIFT_TEST, "plumbing": None, "pump": {"power": "38 W"}})
    got = study_from_dict(data)
    assert got.plumbing is None
    assert got.lift_test == pytest.approx(((0.0, 0.024 / 60), (0.5, 0.019 / 60), (1.2, 0.009 / 60)))
    assert not any(line.startswith("plumbing.") for line in got.assumed)


@pytest.mark.parametrize("plumbing", [{"bore": "19 mm"}, {"bore": "19 mm", "length_outside": "1 m"}])
def test_a_lift_test_may_have_its_bore(plumbing: dict[str, str]) -> None:
    got = study(measured=LIFT_TEST, plumbing=plumbing)
    assert got.plumbing is not None
    assert got.plumbing.bore_m == pytest.approx(0.019)
    assert not any(line.startswith("plumbing.elbows") for line in got.assumed)


def test_a_lift_test_wins_over_the_box() -> None:
    assert study(measured=LIFT_TEST).lift_test


@pytest.mark.parametrize(
    ("shape", "area"),
    [
        ({"area": "0.6 m^2"}, 0.6),
        ({"pleats": 70, "pleat_depth": "14 mm"}, 2 * 70 * 0.014 * 0.250),  # a pleat has two faces
    ],
)
@pytest.mark.parametrize("outline", [ROUND, {"size": "10 x 2.5 in"}])
def test_pleated_by_area_or_pleats(shape: dict[str, Any], outline: dict[str, Any], area: float) -> None:
    element = {"name": "P", "kind": "pleated", "rating": "20 um", "price": 1} | shape | outline
    (option,) = study(elements=[element]).options
    assert option.stages[0].area_m2 == pytest.approx(area)
    assert option.stages[0].length_m == pytest.approx(0.250)


def test_depth_by_diameters_and_as_a_pad() -> None:
    wound = {"name": "W", "kind": "depth", "rating": "5 um"} | ROUND
    pad = {"name": "Pad", "kind": "depth", "rating": "50 um", "area": "300 cm^2", "thickness": "1 in"}
    first, second = (option.stages[0] for option in study(elements=[wound, pad]).options)
    assert (first.outer_radius_m, first.inner_radius_m) == pytest.approx((0.0315, 0.014))
    assert (second.area_m2, second.thickness_m) == pytest.approx((0.03, 0.0254))
    assert (second.outer_radius_m, second.length_m) == (None, None)
    assert first.rinse_recovery == 0.0


@pytest.mark.parametrize(
    "size", ["10 x 2.5 in", "10x2.5in", "10 \u00d7 2.5 in", "10 in x 2.5 in", '10" x 2.5"', "10.0 X 2.50 inch"]
)
def test_spellings_of_a_size(size: str) -> None:
    assert study(elements__0__size=size).options[0].stages[0].length_m == 0.250


def test_foam_may_state_its_rating() -> None:
    (option,) = study(elements=[FOAM | {"rating": "400 um"}]).options
    assert option.stages[0].rating_m == pytest.approx(400e-6)
    assert option.stages[0].rinse_recovery == 0.95


@pytest.mark.parametrize("since", ["2026-03-01", date(2026, 3, 1)])
def test_in_use(since: object) -> None:
    got = study(in_use={"option": "pleated-20", "since": since})
    assert got.in_use is not None
    assert got.in_use.since == "2026-03-01"


@pytest.mark.parametrize(
    ("name", "identifier"),
    [
        ("Pleated 20", "pleated-20"),
        ("Foam 20 ppi", "foam-20-ppi"),
        ("  A / B -- C! ", "a-b-c"),
        ("Schaum f\u00fcr gr\u00f6\u00dfere", "schaum-fur-gro-ere"),
        ("\u6ee4\u82af", "option-3"),
        ("!!!", "option-3"),
    ],
)
def test_slug(name: str, identifier: str) -> None:
    assert slug(name, 3) == identifier


def test_a_study_travels_between_processes() -> None:
    got = study_from_text(EVERYTHING)
    again = pickle.loads(pickle.dumps(got))
    assert again.assumed == got.assumed
    assert again.options == got.options


# Defaults and assumptions


def test_assumed_of_the_short_study() -> None:
    assumed = study_from_text(SHORT).assumed
    for line in (
        'currency = "EUR"',
        'tub.feet = "indoors"',
        "tub.showered_share = 0.5",
        "tub.shared_with_public = false",
        'tub.water_change_every = "6.2 day" (shorter of 60 days and the spa rule)',
        'pump.life = "4 year"',
        'plumbing.roughness = "0.0015 mm"',
        "cooling.cop = 2",
        "needs.turnovers_per_hour = 3",
        'needs.see_through = 4 x depth = "2.8 m"',
        "needs.shortest_run = 0.5 x the first run, at least 3 days",
        "prices.electricity_per_kwh = 0.3",
        'elements.area = "0.5 m^2" for the size',
        "elements.rinse_recovery = 0.9",
        "options = each element alone, in one housing",
        'options.housing_life = "10 year"',
    ):
        assert line in assumed
    tables = [line.split(".")[0].split(" =")[0] for line in assumed]
    assert list(dict.fromkeys(tables)) == [
        "currency", "tub", "pump", "plumbing", "cooling", "needs", "prices", "elements", "options",
    ]  # fmt: skip
    assert len(set(assumed)) == len(assumed)


def test_assumed_names_those_that_lean_on_it() -> None:
    elements = [short()["elements"][0], FOAM, WOUND | {"price": 4}]
    assumed = study(elements=elements).assumed
    assert "elements.price = 0 (Foam 20 ppi)" in assumed
    assert 'elements.rating = 7000 um / pores_per_inch = "350 um" (Foam 20 ppi)' in assumed
    assert "elements.rinse_recovery = 0.9 (Pleated 20)" in assumed
    assert "elements.rinse_recovery = 0.95 (Foam 20 ppi)" in assumed
    assert "elements.soak_price = 1 (Pleated 20, Foam 20 ppi)" in assumed


def test_assumed_stays_short_with_many_names() -> None:
    elements = [WOUND | {"name": f"W{n}"} for n in range(6)] + [WOUND | {"price": 3}]
    assert "elements.price = 0 (W0, W1, W2 and 3 more)" in study(elements=elements).assumed


def test_assumed_of_several_pumps() -> None:
    pumps = [{"name": n, "shutoff_head": "2 m", "max_flow": "1 m^3/h", "power": "9 W"} for n in "ab"]
    pumps[0]["life"] = "2 year"
    assumed = study(pump=None, pumps=pumps).assumed
    assert "pump.hours_per_day = 24" in assumed
    assert 'pump.life = "4 year" (b)' in assumed


def test_assumed_leaves_out_what_is_not_used() -> None:
    element = short()["elements"][0] | {"soak_every_rinses": 0, "beta": [["20 um", 75]]}
    assumed = study(elements=[element]).assumed
    assert not any(re.match(r"elements\.(soak|clean_loss_at|rating_means)|pump\.name", line) for line in assumed)


def test_every_default_of_the_table_belongs_to_a_key() -> None:
    for name in STUDY_DEFAULTS:
        table, _, key = name.rpartition(".")
        fields = (TABLES["pump" if table == "pump" else table] if table else StudyFile).model_fields
        assert fields[key].default == STUDY_DEFAULTS[name]


def test_template_is_the_short_study() -> None:
    assert load_study(TEMPLATE).assumed == study_from_text(SHORT).assumed


COMMENTED = [
    (number, line)
    for number, line in enumerate(TEMPLATE.read_text(encoding="utf-8").splitlines())
    if re.match(r"# [a-z_0-9]+ = ", line)
]
IN_BLOCKS = {"name", "kind", "thickness", "pores_per_inch", "stages", "option", "since", "area", "price"}
DEFAULT_LINES = [(n, line) for n, line in COMMENTED if "left out: " not in line and "instead of" not in line]


@pytest.mark.parametrize(("number", "line"), COMMENTED, ids=lambda value: str(value)[:30])
def test_template_with_one_line_taken_out_of_its_comment(number: int, line: str) -> None:
    lines = TEMPLATE.read_text(encoding="utf-8").splitlines()
    start = number
    while lines[start].startswith("# "):
        start -= 1
    block = any(above.startswith("# [") for above in lines[start + 1 : number])
    for at in range(start + 1, len(lines)) if block else [number]:
        if not lines[at].startswith("# "):
            break
        if re.match(r"# (\[|[a-z_0-9]+ = )", lines[at]):
            lines[at] = lines[at][2:]
    assert isinstance(study_from_text("\n".join(lines)), Study)


def test_template_shows_the_defaults() -> None:
    text = TEMPLATE.read_text(encoding="utf-8")
    table, seen = "", 0
    for line in text.splitlines():
        heading = re.match(r"(?:# )?\[+([a-z_]+)\]+$", line)
        table = heading[1] if heading else table
        entry = re.match(r"# ([a-z_0-9]+ = .*)", line)
        if not entry:
            continue
        ((key, value),) = tomllib.loads(entry[1]).items()
        name = f"{table}.{key}" if table else key
        if name in STUDY_DEFAULTS and name not in {"elements.price", "options.housings_in_parallel"}:
            assert value == STUDY_DEFAULTS[name]
            seen += 1
    assert seen >= len(STUDY_DEFAULTS) - 4


# Faults, each by its text

ALONE = [
    ({"tub.volume": "3 m"}, "[tub] volume: needs a volume such as '420 L', got '3 m'"),
    ({"pump.shutoff_head": "2.4 L"}, "[pump] shutoff_head: needs a length such as '2.4 m', got '2.4 L'"),
    (
        {"plumbing.length": "2,5 m"},
        "[plumbing] length: needs a length such as '3 m' (one plain number, a point before decimals, "
        "then the unit), got '2,5 m'",
    ),
    ({"tub.volume": 420}, "[tub] volume: needs a volume such as '420 L', got 420 without a unit"),
    ({"tub.volume": True}, "[tub] volume: needs a volume such as '420 L', got true"),
    ({"tub.volume": "-3 L"}, "[tub] volume: must be 1 L to 100 m^3, got '-3 L'"),
    ({"tub.volume": "0 L"}, "[tub] volume: must be 1 L to 100 m^3, got '0 L'"),
    ({"tub.volume": None}, "[tub] volume: is missing; needs a volume such as '420 L'"),
    ({"tub.water_temperature": "0 degC"}, "[tub] water_temperature: must be 0.5 degC to 45 degC, got '0 degC'"),
    ({"tub.uses_per_day": None}, "[tub] uses_per_day: is missing; needs a plain number, 0 to 5000 dips a day"),
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
    ({"tub.volum": "420 L"}, "[tub] volum: is unknown; the nearest known one is volume"),
    ({"tub.shutoff_head": "2 m"}, "[tub] shutoff_head: is no key here; it belongs under [pump] or [[pumps]]"),
    ({"uses_per_day": 4}, "uses_per_day: is no key here; it belongs under [tub]"),
    ({"coolling": {"cop": 2}}, "[coolling]: is unknown; the nearest known one is [cooling]"),
    ({"curency": "EUR"}, "curency: is unknown; the nearest known one is currency"),
    (
        {"tub.water_change_every": "sometimes"},
        "[tub] water_change_every: needs a time such as '30 day' (one plain number, a point before decimals, "
        "then the unit), got 'sometimes'; or 'never'",
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
    ({"options": [{"name": "A", "stages": []}]},
     "[[options]] 1 (A) stages: needs a list of 1 to 10 names of elements, got an empty list"),
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
    ({"pumps": [{"name": "a", "curve": CURVE, "power": "9 W"}]}, "[pump]: give either [pump] or [[pumps]], not both"),
    ({"plumbing.bore": None},
     "[plumbing] bore: is missing; needs a length such as '19 mm', or give a lift test"),
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
        "[needs]: give only one of turnovers_per_hour, flow and share_of_clean_flow, "
        "got turnovers_per_hour and flow",
    ),
    (
        {"needs.share_of_clean_flow": 1},
        "[needs] share_of_clean_flow: must be more than 0 and less than 1, got 1",
    ),
    ({"prices.discount_rate": 3}, "[prices] discount_rate: must be -0.5 to 1, got 3"),
    ({"prices.water_per_m3": -1}, "[prices] water_per_m3: must be 0 to 1000000000, got -1"),
    ({"prices.horizon": "51 year"}, "[prices] horizon: must be 1 day to 50 year, got '51 year'"),
    ({"uncertainty.dust": 0.5}, "[uncertainty] dust: must be 1 to 20, got 0.5"),
    ({"uncertainty.dusty": 2}, "[uncertainty] dusty: is unknown; the nearest known one is dust"),
    (
        {"measured.lift_test": [["0 m", "24 L/min"]]},
        "[measured] lift_test: needs a list of 2 to 100 points such as "
        "[['0 m', '24 L/min'], ['1.2 m', '9 L/min']], got a list of 1",
    ),
    (
        {"measured.lift_test": [["0.5 m", "9 L/min"], ["0 m", "8 L/min"]]},
        "[measured] lift_test: every lift must be more than the one before; point 2 has '0 m' after '0.5 m'",
    ),
    (
        {"measured.lift_test": [["0 m", "9 L/min"], ["1 m", "9 L/min"]]},
        "[measured] lift_test: every flow must be less than the one before; "
        "point 2 has '9 L/min' after '9 L/min'",
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
        "[pump] curve: needs a list of 2 to 100 points such as "
        "[['0 L/h', '2.4 m'], ['2400 L/h', '0 m']], got 'steep'",
    ),
    ({"elements.0.rating": None},
     "[[elements]] 1 (Pleated 20) rating: is missing; needs a length such as '20 um'"),
    ({"elements.0.rating": "20"},
     "[[elements]] 1 (Pleated 20) rating: needs a length such as '20 um', got '20' without a unit"),
    (
        {"elements.0.kind": "spun"},
        "[[elements]] 1 (Pleated 20) kind: must be 'foam', 'depth' or 'pleated', got 'spun'",
    ),
    (
        {"elements.0.size": "9 x 2.5 in"},
        "[[elements]] 1 (Pleated 20) size: must be one of the common sizes '5 x 2.5 in', '10 x 2.5 in', "
        "'20 x 2.5 in', '10 x 4.5 in' or '20 x 4.5 in', got '9 x 2.5 in'",
    ),
    (
        {"elements.0.size": None},
        "[[elements]] 1 (Pleated 20): has no shape: needs a size, or length and both diameters with area, "
        "or with pleats and pleat_depth",
    ),
    (
        {"elements.0.length": "250 mm"},
        "[[elements]] 1 (Pleated 20) size: gives the shape already; leave out length, or the size",
    ),
    (
        {"elements.0.thickness": "50 mm"},
        "[[elements]] 1 (Pleated 20) thickness: does not go with kind 'pleated': its shape is a size, "
        "or length and both diameters with area, or with pleats and pleat_depth",
    ),
    (
        {"elements.0.pleats": 70},
        "[[elements]] 1 (Pleated 20) pleat_depth: is missing; pleats and pleat_depth go together",
    ),
    (
        {"elements.0.pleats": 70, "elements.0.pleat_depth": "14 mm", "elements.0.area": "1 m^2"},
        "[[elements]] 1 (Pleated 20) area: give either the area or the pleats, "
        "not area and pleats and pleat_depth",
    ),
    (
        {"elements": [{"name": "P", "kind": "pleated", "rating": "20 um"} | ROUND]},
        "[[elements]] 1 (P) area: is missing; needs an area such as '0.9 m^2', or give pleats and pleat_depth",
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
        "[[elements]] 1 (P): has no shape: needs a size, or length and both diameters with area, "
        "or with pleats and pleat_depth",
    ),
    (
        {"elements": [WOUND | {"rinse_minutes": 5}]},
        "[[elements]] 1 (Wound 5) rinse_minutes: does not go with kind 'depth': "
        "a depth element cannot be rinsed",
    ),
    (
        {"elements": [{"name": "W", "kind": "depth", "rating": "5 um"}]},
        "[[elements]] 1 (W): has no shape: needs a size, or length, outer_diameter and inner_diameter, "
        "or area and thickness of a flat pad",
    ),
    (
        {"elements": [{"name": "W", "kind": "depth", "rating": "5 um", "area": "1 m^2"}]},
        "[[elements]] 1 (W) thickness: is missing; needs a length such as '50 mm'",
    ),
    (
        {"elements": [{"name": "W", "kind": "depth", "rating": "5 um", "area": "1 m^2"} | ROUND]},
        "[[elements]] 1 (W): needs either length, outer_diameter and inner_diameter, "
        "or area and thickness of a flat pad, got length, outer_diameter, inner_diameter and area",
    ),
    (
        {"elements": [{"name": "W", "kind": "depth", "rating": "5 um"} | ROUND | {"inner_diameter": "63 mm"}]},
        "[[elements]] 1 (W) inner_diameter: must be less than outer_diameter, got '63 mm' in '63 mm'",
    ),
    (
        {"elements": [FOAM | {"size": "10 x 2.5 in"}]},
        "[[elements]] 1 (Foam 20 ppi) size: does not go with kind 'foam': "
        "its shape is area, thickness and pores_per_inch",
    ),
    (
        {"elements": [{"name": "F", "kind": "foam", "area": "1 m^2", "thickness": "5 cm"}]},
        "[[elements]] 1 (F) pores_per_inch: is missing; needs a plain number, 4 to 200",
    ),
    (
        {"elements.0.clean_loss_at": "20 degC"},
        "[[elements]] 1 (Pleated 20) clean_loss_at: says where clean_loss was measured, "
        "but there is no clean_loss",
    ),
    (
        {"elements.0.dirt_capacity_at": "1 bar"},
        "[[elements]] 1 (Pleated 20) dirt_capacity_at: says where dirt_capacity was measured, "
        "but there is no dirt_capacity",
    ),
    (
        {"elements.0.beta": [["10 um", 5], ["20 um", 5]]},
        "[[elements]] 1 (Pleated 20) beta: every beta ratio must be more than the one before; "
        "point 2 has 5 after 5",
    ),
    (
        {"elements.0.beta": [["10 um", 1]]},
        "[[elements]] 1 (Pleated 20) beta: beta ratio of point 1 must be more than 1 and at most 1e+07, got 1",
    ),
    (
        {"elements.0.clean_loss": []},
        "[[elements]] 1 (Pleated 20) clean_loss: needs a list of 1 to 100 points such as "
        "[['8 L/min', '1.2 kPa']], got a list of 0",
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
    ({"elements.1": {"kind": "depth", "size": "5 x 2.5 in", "rating": "5 um"}},
     "[[elements]] 2 name: is missing; needs a text in quotes"),
    (
        {"options": [{"name": "A", "stages": ["Pleated 2"]}]},
        "[[options]] 1 (A) stages: no element is named 'Pleated 2'; the nearest is 'Pleated 20'",
    ),
    (
        {"options": [{"name": "A", "stages": "Pleated 20"}]},
        "[[options]] 1 (A) stages: needs a list of 1 to 10 names of elements, got 'Pleated 20'",
    ),
    (
        {"options": [{"name": n, "stages": ["Pleated 20"]} for n in ("A b", "a B")]},
        "[[options]] 2 (a B) name: is too like 'A b': both are 'a-b' for short",
    ),
    ({"options": []}, "[[options]]: needs at least one, got an empty list"),
    (
        {"in_use": {"option": "pleated-2", "since": "2026-03-01"}},
        "[in_use] option: no option has the id 'pleated-2'; the nearest is 'pleated-20'",
    ),
    (
        {"in_use": {"option": "pleated-20", "since": "1 March"}},
        "[in_use] since: needs a day such as 2026-03-01, got '1 March'",
    ),
    (
        {"in_use": {"option": "pleated-20", "since": "2026-02-30"}},
        "[in_use] since: needs a day such as 2026-03-01, got '2026-02-30', which is no day of the calendar",
    ),
    ({"a\x1b[2J" + "b" * 300: 1}, f"'a\\x1b[2J{'b' * 52}...': is unknown; the nearest known one is tub"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "told"), ALONE, ids=lambda value: re.sub("[0-9]{19,}", "", str(value)[:9]))
def test_fault_alone(changes: dict[str, Any], told: str | tuple[str, ...]) -> None:
    lines = (told,) if isinstance(told, str) else told
    assert faults_of(changed(changes)) == tuple(
        f"study.toml, {line}" for line in lines
    )
