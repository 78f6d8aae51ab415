"""The edge: what a study file becomes, what it leans on, and that nothing else ever comes of one."""

import copy
import os
import pickle
import re
import subprocess
import sys
import time
import tomllib
from datetime import date
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from studies import EVERYTHING, FOAM, LIFT_TEST, ROUND, SHORT, WOUND, changed, short

from filtration.base.defaults import STUDY_DEFAULTS
from filtration.base.errors import InputError, nearest
from filtration.base.places import template_text
from filtration.study.file import load_study, study_from_dict, study_from_text, study_json_schema
from filtration.study.rules import slug
from filtration.study.tables import TABLES, StudyFile
from filtration.study.values import Study

TEMPLATE, US_TEMPLATE = template_text(), template_text(us=True)


def study(**changes: Any) -> Study:
    return study_from_dict(changed({path.replace("__", "."): value for path, value in changes.items()}))


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
    np.testing.assert_allclose(got.pumps[0].points, [(0, 2.4), (1.2 / 3600, 1.9), (2.4 / 3600, 0)])
    assert not got.pumps[1].in_water
    assert got.tub.water_life_days == 30.0
    assert got.tub.uses_by_month[0] / got.tub.uses_by_month[6] == pytest.approx(6.0)
    assert got.tub.uses_by_weekday[6] == pytest.approx(7 * 2.5 / 9.5)
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
    np.testing.assert_allclose(pleated.clean_loss, [(8e-3 / 60, 1200.0)])
    np.testing.assert_allclose(pleated.beta, [(10e-6, 5.0), (20e-6, 75.0)])
    assert pleated.capacity_kg == pytest.approx(0.060)
    assert pleated.capacity_at_pa == pytest.approx(1.7e5)
    assert pleated.absolute
    assert (pleated.lead_time_days, pleated.suppliers) == (10.0, 3)
    assert pleated.rinse_water_m3 == pytest.approx(0.020)
    assert not [each for each in got.assumed if not each.key.startswith("elements.")]


def test_never() -> None:
    changes = {
        "tub.water_change_every": "never",
        "needs.replace_at_least_every": "never",
        "prices.horizon": "2 year",
    }
    got = study_from_dict(changed(changes))
    assert got.water_never_changed
    assert got.tub.water_life_days == 2 * 365.25
    assert got.needs.replace_limit_days == inf


def test_still_water_is_stated_by_dye() -> None:
    assert (study().tub.still_water(1.0), study(tub__dye_even_after="0 min").tub.still_water(1.0)) == (None, None)
    assert not any("still_share" in str(each) for each in study().assumed)
    got = study(tub__dye_even_after="36 min")
    assert "tub.still_share = 0.3" in map(str, got.assumed)
    still = got.tub.still_water(0.5)
    assert still is not None
    assert float(still.share) == 0.3
    assert float(still.exchange_per_day) == pytest.approx(60.0)  # 3 h/t, of which the pump runs half
    assert study(tub={**short()["tub"], "dye_even_after": "36 min", "still_share": 0.5}).tub.still_share == 0.5


def test_nobody_bathes() -> None:
    got = study(tub__uses_per_day=0)
    assert got.water_rule_days == inf
    assert got.tub.water_life_days == 60.0


def test_a_share_of_the_clean_flow_replaces_turnovers() -> None:
    got = study(needs__share_of_clean_flow=0.7)
    assert (got.needs.flow_m3_s, got.needs.share_of_clean_flow) == (None, 0.7)
    assert not any("turnovers" in each.key for each in got.assumed)


def test_a_lift_test_stands_for_pump_curve_and_plumbing() -> None:
    data = changed({"measured": LIFT_TEST, "plumbing": None, "pump": {"power": "38 W"}})
    got = study_from_dict(data)
    assert got.plumbing is None
    np.testing.assert_allclose(got.lift_test, [(0.0, 0.024 / 60), (0.5, 0.019 / 60), (1.2, 0.009 / 60)])
    assert not any(each.key.startswith("plumbing.") for each in got.assumed)


@pytest.mark.parametrize("plumbing", [{"bore": "19 mm"}, {"bore": "19 mm", "length_outside": "1 m"}])
def test_a_lift_test_may_have_its_bore(plumbing: dict[str, str]) -> None:
    got = study(measured=LIFT_TEST, plumbing=plumbing)
    assert got.plumbing is not None
    assert got.plumbing.bore_m == pytest.approx(0.019)
    assert not any(each.key.startswith("plumbing.elbows") for each in got.assumed)


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
    wound = {"name": "W", "kind": "wound", "rating": "5 um"} | ROUND
    pad = {"name": "Pad", "kind": "spun", "rating": "50 um", "area": "300 cm^2", "thickness": "1 in"}
    first, second = (option.stages[0] for option in study(elements=[wound, pad]).options)
    assert (first.outer_radius_m, first.inner_radius_m) == pytest.approx((0.0315, 0.014))
    assert (second.area_m2, second.thickness_m) == pytest.approx((0.03, 0.0254))
    assert (second.outer_radius_m, second.length_m) == (None, None)
    assert first.rinse_recovery == 0.0


@pytest.mark.parametrize(
    "size",
    [
        "10 x 2.5 in",
        "10x2.5in",
        "10 \u00d7 2.5 in",
        "10 in x 2.5 in",
        '10" x 2.5"',
        "10.0 X 2.50 inch",
        "10 x 2 1/2 IN",
    ],
)
def test_spellings_of_a_size(size: str) -> None:
    assert study(elements__0__size=size).options[0].stages[0].length_m == 0.250


def test_words_are_read_without_regard_to_capitals() -> None:
    got = study(
        tub__feet="From The Garden",
        tub__volume="420 l",
        pump__max_flow="10 GPM",
        pump__placed="OUTSIDE",
        needs__rinse_at_least_every="Never",
        elements__0__kind=" Pleated ",
    )
    same = study(
        tub__feet="from the garden",
        tub__volume="420 L",
        pump__max_flow="10 gpm",
        pump__placed="outside",
        needs__rinse_at_least_every="never",
    )
    assert repr(got) == repr(same)
    assert study(elements__0=WOUND | {"kind": "Depth"}).options[0].stages[0].kind == "spun"


def test_water_may_be_priced_by_gallons() -> None:
    got = study(prices__water_per_1000_gal=15)
    assert got.prices.water_per_m3 == pytest.approx(15 / 3.785411784)
    assert not any("water_per" in each.key for each in got.assumed)


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
    again = pickle.loads(pickle.dumps(got))  # noqa: S301 - our own bytes
    assert again.assumed == got.assumed
    assert again.options == got.options


# Defaults and assumptions


def test_assumed_of_the_short_study() -> None:
    assumed = [str(each) for each in study_from_text(SHORT).assumed]
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
        "needs.shortest_run = half the first run, at least 3 days; of a short run four fifths, at least 1 day",
        "prices.electricity_per_kwh = 0.3",
        'elements.area = "0.5 m^2" for the size',
        "elements.rinse_recovery = 0.9",
        "options = each cartridge alone, in one housing",
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
    assumed = [str(each) for each in study(elements=elements).assumed]
    assert "elements.price = 0 (Foam 20 ppi)" in assumed
    assert 'elements.rating = 7000 um / pores_per_inch = "350 um" (Foam 20 ppi)' in assumed
    assert "elements.rinse_recovery = 0.9 (Pleated 20)" in assumed
    assert "elements.rinse_recovery = 0.95 (Foam 20 ppi)" in assumed
    assert "elements.soak_price = 1 (Pleated 20, Foam 20 ppi)" in assumed


def test_assumed_stays_short_with_many_names() -> None:
    elements = [WOUND | {"name": f"W{n}"} for n in range(6)] + [WOUND | {"price": 3}]
    assert "elements.price = 0 (W0, W1, W2 and 3 more)" in map(str, study(elements=elements).assumed)


def test_assumed_of_several_pumps() -> None:
    pumps = [{"name": n, "shutoff_head": "2 m", "max_flow": "1 m^3/h", "power": "9 W"} for n in "ab"]
    pumps[0]["life"] = "2 year"
    assumed = [str(each) for each in study(pump=None, pumps=pumps).assumed]
    assert "pump.hours_per_day = 24" in assumed
    assert 'pump.life = "4 year" (b)' in assumed


def test_assumed_leaves_out_what_is_not_used() -> None:
    element = short()["elements"][0] | {"soak_every_rinses": 0, "beta": [["20 um", 75]]}
    assumed = study(elements=[element]).assumed
    left = re.compile(r"elements\.(soak|clean_loss_at|rating_means)|pump\.name")
    assert not any(left.match(each.key) for each in assumed)


def test_every_default_of_the_table_belongs_to_a_key() -> None:
    for name in STUDY_DEFAULTS:
        table, _, key = name.rpartition(".")
        fields = (TABLES["pump" if table == "pump" else table] if table else StudyFile).model_fields
        assert fields[key].default == STUDY_DEFAULTS[name]


@pytest.mark.parametrize("text", [TEMPLATE, US_TEMPLATE], ids=["metric", "us"])
def test_template_holds_a_shops_list(text: str) -> None:
    got = study_from_text(text)
    sized = [element for option in got.options if (element := option.stages[0]).kind != "foam"]
    assert {element.kind for element in sized} == {"spun", "wound", "pleated"}
    assert {round(1e6 * element.rating_m) for element in sized} == {5, 10, 20, 50}
    assert len({(element.kind, element.rating_m, element.outer_radius_m) for element in sized}) == len(sized) == 24
    assert [option.id for option in got.options if option.stages[0].kind == "foam"] == ["foam-20-ppi"]
    assert all(option.stages[0].price > 0 for option in got.options)
    assert "put in your shop's" in text


def test_template_is_else_the_short_study() -> None:
    def tub_of(text: str) -> list[str]:
        return [str(each) for each in study_from_text(text).assumed if not each.key.startswith("elements.")]

    assert tub_of(TEMPLATE) == tub_of(SHORT)


def test_us_template_is_in_us_units() -> None:
    metric, us = study_from_text(TEMPLATE), study_from_text(US_TEMPLATE)
    assert us.currency == "USD"
    assert us.prices.water_per_m3 == pytest.approx(12 / 3.785411784)
    assert (us.tub.volume_m3, us.tub.water.temperature_c) == pytest.approx((110 * 3.785411784e-3, 7 / 1.8))
    assert us.plumbing is not None
    assert us.plumbing.bore_m == pytest.approx(0.01905)
    assert not re.search(
        r'"[0-9.]+ ?(L|m|mm|cm|m\^2|cm\^2|degC|L/h|L/min|bar|kPa)"', US_TEMPLATE.split("elements = [")[1]
    )
    assert re.findall(r"^(?:# +)?([a-z_0-9]+) = ", US_TEMPLATE, re.MULTILINE) == [
        "water_per_1000_gal" if key == "water_per_m3" else key
        for key in re.findall(r"^(?:# +)?([a-z_0-9]+) = ", TEMPLATE, re.MULTILINE)
    ]
    assert [option.id for option in us.options] == [option.id for option in metric.options]


TEXTS = {"metric": TEMPLATE, "us": US_TEMPLATE}
COMMENTED = [
    (system, number)
    for system, text in TEXTS.items()
    for number, line in enumerate(text.splitlines())
    if re.match(r"# [a-z_0-9]+ = ", line)
]
WITHIN_BRACES = [
    (system, line)
    for system, text in TEXTS.items()
    for line in re.findall(r"^# {3}(\w+ = .*?) {2,}# ", text, re.MULTILINE)
]


@pytest.mark.parametrize(("system", "number"), COMMENTED)
def test_template_with_one_line_taken_out_of_its_comment(system: str, number: int) -> None:
    lines = TEXTS[system].splitlines()
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


@pytest.mark.parametrize(("system", "entry"), WITHIN_BRACES)
def test_template_with_one_thing_more_within_braces(system: str, entry: str) -> None:
    key = entry.partition(" = ")[0]
    lines = TEXTS[system].splitlines()
    (at,) = (at for at, line in enumerate(lines) if '"Pleated 20",' in line and line.startswith("  {"))
    there = rf"\b{key} = (?:\"[^\"]*\"|[0-9.]+)"
    line = (
        re.sub(there, entry, lines[at]) if re.search(there, lines[at]) else lines[at].replace(" },", f", {entry} }},")
    )
    lines[at] = line
    assert entry in line
    assert isinstance(study_from_text("\n".join(lines)), Study)


@pytest.mark.parametrize("system", TEXTS)
def test_template_shows_the_defaults(system: str) -> None:
    table, seen = "", 0
    for line in TEXTS[system].splitlines():
        heading = re.match(r"(?:# )?\[+([a-z_]+)\]+(?::.*)?$", line)
        table = heading[1] if heading else table
        entry = re.match(r"# +([a-z_0-9]+ = .*)", line)
        if not entry or entry[1].startswith("curve") or line.startswith("#     "):
            continue
        ((key, value),) = tomllib.loads(entry[1]).items()
        name = f"{table}.{key}" if table else key
        if name in STUDY_DEFAULTS and name not in {"elements.price", "options.housings_in_parallel"}:
            told, default = (_in_si(table, key, each) for each in (value, STUDY_DEFAULTS[name]))
            rounded = system == "us" and isinstance(default, float)
            assert told == (pytest.approx(default, rel=0.02) if rounded else default)
            seen += 1
    assert seen >= len(STUDY_DEFAULTS) - (5 if system == "metric" else 8)


def _in_si(table: str, key: str, value: object) -> Any:
    reader = (TABLES[table] if table else StudyFile).key(key)
    assert reader is not None
    return reader.read(value)


# Files


@pytest.mark.parametrize("data", [SHORT.encode(), b"\xef\xbb\xbf" + SHORT.replace("\n", "\r\n").encode()])
def test_load(tmp_path: Path, data: bytes) -> None:
    file = tmp_path / "tub.toml"
    file.write_bytes(data)
    assert load_study(file).assumed == load_study(str(file)).assumed == study_from_text(SHORT).assumed


def test_load_names_the_file(tmp_path: Path) -> None:
    file = tmp_path / "tub.toml"
    file.write_text(SHORT.replace("2.4 m", "2.4 L"), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_study(file)
    assert caught.value.faults == ("tub.toml, [pump] shutoff_head: needs a length such as '2.4 m', got '2.4 L'",)


def told_of(path: str | Path) -> str:
    with pytest.raises(InputError) as caught:
        load_study(path)
    (fault,) = caught.value.faults
    return fault


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    assert told_of(tmp_path / "tub.toml") == "tub.toml: there is no such file"
    assert told_of(tmp_path).endswith(": is a folder, not a file")
    assert told_of("tub\0.toml") == "'tub\\x00.toml': is no name a file can have"
    assert ": cannot be read: " in told_of("t" * 5000)
    assert told_of("") == "'': is a folder, not a file"
    big = tmp_path / "big.toml"
    big.write_bytes(b"#" * 10_000_000)
    assert told_of(big) == "big.toml: is 10 MB, more than the 1 MB allowed; it was not read"
    latin = tmp_path / "latin.toml"
    latin.write_bytes('a = 1\nname = "Gr\u00fcn"'.encode("latin-1"))
    assert told_of(latin) == "latin.toml: is not UTF-8 text, see line 2; save it as UTF-8"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_devices_and_pipes_do_not_hang(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    load = "import sys; from filtration.study.file import load_study; load_study(sys.argv[1])"
    waiting = [sys.executable, "-c", load, str(tmp_path / "pipe")]  # a process of its own, as nothing else ends a wait
    done = subprocess.run(waiting, capture_output=True, text=True, timeout=30, check=False)
    assert done.stderr.endswith("InputError: pipe: is no ordinary file\n")
    assert told_of("/dev/zero") == "zero: is no ordinary file"


def test_no_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    file = tmp_path / "tub.toml"
    file.write_text(SHORT, encoding="utf-8")
    monkeypatch.setattr(Path, "open", refuse)
    assert told_of(file) == "tub.toml: may not be read; see the permissions of the file and its folder"


# Whatever comes


ANYTHING = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=30)
    | st.sampled_from(["2.4 m", "420 L", "never", "20 um", "foam", "wound", "10 x 2.5 in", "Pleated 20"])
    | st.just(10**400)
    | st.dates(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=3),
    max_leaves=8,
)


def places(data: Any) -> list[tuple[Any, Any]]:
    """Return every container of a study with each of its keys."""
    found: list[tuple[Any, Any]] = []
    for key in list(data) if isinstance(data, dict) else range(len(data)):
        found.append((data, key))
        if isinstance(data[key], dict | list):
            found += places(data[key])
    return found


def answered_or_told(read: Any, what: Any) -> None:
    faults: tuple[str, ...] = ()
    try:
        got = read(what)
    except InputError as error:
        got, faults = None, error.faults
    assert isinstance(got, Study) or faults
    for fault in faults:
        assert fault.startswith("study.toml")
        assert fault.isprintable()
        assert not re.search(r"Input should|pydantic|ValueError|Traceback|type=", fault)


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_mutated_tables(data: st.DataObject) -> None:
    whole = tomllib.loads(data.draw(st.sampled_from([SHORT, EVERYTHING])))
    for _ in range(data.draw(st.integers(1, 3))):
        within, key = data.draw(st.sampled_from(places(whole)))
        how = data.draw(st.sampled_from(["set", "add", "leave out", "copy"]))
        if how == "set":
            within[key] = data.draw(ANYTHING)
        elif how == "add" and isinstance(within, dict):
            names = [name for table in TABLES.values() for name in table.model_fields]
            within[data.draw(st.sampled_from(names) | st.text(max_size=20))] = data.draw(ANYTHING)
        elif how == "copy" and isinstance(within, list):
            within.append(copy.deepcopy(within[key]))
        elif len(within) > 1:
            del within[key]
    answered_or_told(study_from_dict, whole)


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_mutated_text(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from([SHORT, EVERYTHING]))
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        end = start + data.draw(st.integers(0, 12))
        text = text[:start] + data.draw(st.text(max_size=6) | st.sampled_from(['"', "\n[", "]]", "="])) + text[end:]
    answered_or_told(study_from_text, text)


@settings(max_examples=200, deadline=None)
@given(ANYTHING)
def test_anything(value: Any) -> None:
    answered_or_told(study_from_dict, value)


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=200))
def test_any_text(text: str) -> None:
    answered_or_told(study_from_text, text)


# The rest


def test_json_schema_speaks_of_every_key() -> None:
    schema = study_json_schema()
    assert schema["properties"]["tub"]["$ref"].endswith("TubTable")
    tub = schema["$defs"]["TubTable"]
    assert tub["required"] == ["volume", "water_temperature", "uses_per_day"]
    assert tub["additionalProperties"] is False
    assert tub["properties"]["volume"]["type"] == "string"
    assert tub["properties"]["depth"]["default"] == STUDY_DEFAULTS["tub.depth"]
    assert schema["$defs"]["ElementTable"]["properties"]["kind"]["enum"] == ["foam", "spun", "wound", "pleated"]


def test_nearest_names_none_that_is_not_near() -> None:
    assert nearest("", ["a", "b"]) is None
    assert nearest("units", ["elements", "tub"]) is None
    assert nearest("PLEATED-2", ["foam", "Pleated-20"]) == "Pleated-20"


def test_fifteen_elements_take_no_time() -> None:
    elements = [WOUND | {"name": f"Wound {n}"} for n in range(15)]
    data = changed({"elements": elements})
    study_from_dict(data)
    start = time.process_time()
    study_from_dict(data)
    assert time.process_time() - start < 0.1


def test_the_package_alone_needs_no_pydantic() -> None:
    code = "import sys, filtration, filtration.base.units; sys.exit('pydantic' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
