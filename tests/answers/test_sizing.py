"""Inverse questions, answered back: what was found, put into the study, gives what was wished."""

from itertools import pairwise
from math import pi
from types import SimpleNamespace
from typing import Any

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st
from random_studies import random_study
from scipy.optimize import brentq
from studies import FOAM, LIFT_TEST, SHORT, WOUND, Given, changed, short, study_of

from filtration import InputError, NoAnswerError, OptionAnswer, compare
from filtration.answers.figures import L_PER_H
from filtration.answers.sizing import _no_area, area_for_interval, smallest_pump
from filtration.loading.assembly import entry_of
from filtration.study.file import study_from_dict, study_from_text

L_H = 1.0 / L_PER_H
PAD = {"name": "Pad", "kind": "spun", "area": "0.05 m^2", "thickness": "20 mm", "rating": "20 um"}
NO_PLUMBING = {
    "plumbing": {"bore": "500 mm", "length": "0 m", "elbows_90": 0, "hose_barbs": 0, "other_k": 0},
    "elements": [PAD],
}
NO_LIMITS = {"rinse_at_least_every": "never", "replace_at_least_every": "never", "see_through": "0.1 m"}
SHEET_M = 0.5e-3  # thickness of the sheet, model.md section 3


def with_needs(data: Given, **needs: Any) -> Given:
    """Return a study file whose needs are these beside its own."""
    return {**data, "needs": {**data.get("needs", {}), **needs}}


def answered(data: Given, option_id: str) -> OptionAnswer:
    """Return one option's answer."""
    return next(option for option in compare(study_from_dict(data)).options if option.id == option_id)


def pad_resistance() -> float:
    """Return what a litre an hour loses in the pad [Pa s/m3], by Davies 1952 and CoolProp's water."""
    solid, fibre = 0.20, 6.5e-6 * 20.0**0.5
    permeability = fibre**2 / (64.0 * solid**1.5 * (1.0 + 56.0 * solid**3))
    return float(PropsSI("V", "T", 277.15, "P", 101325, "Water")) * 0.020 / (permeability * 0.05)


def weight() -> float:
    return 9.80665 * float(PropsSI("D", "T", 277.15, "P", 101325, "Water"))


@pytest.mark.parametrize("flow", [300.0, 1300.0, 4000.0])
def test_without_plumbing_the_pump_follows_by_hand(flow: float) -> None:
    """Where the clean pad alone takes the head: f H0 (1 - (Q / (0.9 f Qm))^1.6) = r Q / weight, solved for f."""
    study = study_from_dict(with_needs(changed(NO_PLUMBING), shortest_run="0 day", **NO_LIMITS))
    needed_m = pad_resistance() * flow * L_H / weight()
    by_hand = brentq(lambda f: 2.4 * f * (1.0 - (flow / (0.9 * 2400.0 * f)) ** 1.6) - needed_m, flow / 2400.0, 10.0)
    found = smallest_pump(study, "pad", flow * L_H)
    assert found.factor == pytest.approx(by_hand, rel=2e-3)
    assert found.curve_m[0] == pytest.approx(2.4 * found.factor)
    assert found.curve_l_per_h[-1] == pytest.approx(2400.0 * found.factor)
    assert found.clean_flow_l_per_h == pytest.approx(flow, rel=1e-5)


def test_a_straight_lift_test_is_scaled_as_a_whole() -> None:
    """Lift = f a - b Q for a straight line of the test, so that f = (r Q / weight + b Q) / a."""
    data = changed({"measured": {"lift_test": [["0 m", "1500 L/h"], ["1.5 m", "0 L/h"]]}, "elements": [PAD]})
    study = study_from_dict(with_needs(data, shortest_run="0 day", **NO_LIMITS))
    flow = 1200.0
    by_hand = (pad_resistance() * flow * L_H / weight() + 1.5 / 1500.0 * flow) / 1.5
    found = smallest_pump(study, "pad", flow * L_H)
    assert found.factor == pytest.approx(by_hand, rel=2e-3)
    assert found.known_by == "lift test"
    assert found.curve_m == pytest.approx((1.5 * found.factor, 0.0))


def scaled(data: Given, factor: float) -> Given:
    """Return a study file whose pump, or lift test, has head and flow times a factor."""

    def times(text: str) -> str:
        number, unit = text.split(" ")
        return f"{float(number) * factor:.12g} {unit}"

    pump = dict(data["pump"])
    for key in ("shutoff_head", "max_flow"):
        if key in pump:
            pump[key] = times(pump[key])
    if "curve" in pump:
        pump["curve"] = [[times(flow), times(head)] for flow, head in pump["curve"]]
    measured = {key: [[times(a), times(b)] for a, b in points] for key, points in data.get("measured", {}).items()}
    return {**data, "pump": pump, "measured": measured}


CURVE = {"curve": [["0 L/h", "2.4 m"], ["1200 L/h", "1.9 m"], ["2400 L/h", "0.2 m"]], "power": "38 W"}


@pytest.mark.parametrize(("pump", "flow"), [("box", 700.0), ("box", 1700.0), ("curve", 1700.0), ("lift test", 700.0)])
def test_a_pump_found_keeps_the_flow(pump: str, flow: float) -> None:
    """Put into the study, it is due at the flow wished, after the shortest run; a little less pump is due sooner."""
    data = changed({"curve": {"pump": CURVE}, "lift test": {"measured": LIFT_TEST}}.get(pump, {}))
    data = with_needs(data, shortest_run="4 day", see_through="0.1 m")
    found = smallest_pump(study_from_dict(data), "pleated-20", flow * L_H)
    asked = with_needs(data, flow=f"{flow} L/h")
    there = answered(scaled(asked, found.factor), "pleated-20")
    assert there.days_to_first_service == pytest.approx(4.0, rel=2e-3)
    assert there.due_flow_l_per_h == pytest.approx(flow, rel=1e-4)
    assert there.clean_flow_l_per_h == pytest.approx(found.clean_flow_l_per_h, rel=1e-6)
    assert (answered(scaled(asked, 0.999 * found.factor), "pleated-20").days_to_first_service or 0.0) < 4.0
    assert found.present_suffices == (found.factor <= 1.0)


def test_a_pump_that_does_exactly_that_has_factor_one() -> None:
    now = compare(study_from_text(SHORT)).options[0]
    assert now.governed_by == "flow"
    data = with_needs(short(), shortest_run=f"{now.days_to_first_service:.12g} day", turnovers_per_hour=1)
    found = smallest_pump(study_from_dict(data), "pleated-20", 1260.0 * L_H)
    assert found.factor == pytest.approx(1.0, abs=1e-5)
    assert found.present.days_to_first_service == pytest.approx(now.days_to_first_service)


@settings(max_examples=1)
@given(st.floats(100.0, 1500.0), st.floats(1.05, 2.4), st.floats(1.05, 2.4))  # up to 8,871 L/h the hoses let through
def test_more_flow_needs_more_pump(flow: float, more: float, still_more: float) -> None:
    study = study_from_text(SHORT)
    flows = (flow, flow * more, flow * more * still_more)
    found = [smallest_pump(study, "pleated-20", each * L_H) for each in flows]
    for less, larger in pairwise(found):
        assert larger.factor > less.factor
    for each, wished in zip(found, flows, strict=True):
        assert each.clean_flow_l_per_h >= wished * (1.0 - 1e-9)
        assert each.days_to_first_service == pytest.approx(3.0, rel=2e-3)


def test_pumps_tried_stand_by_factor() -> None:
    found = smallest_pump(study_from_text(SHORT), "pleated-20", 2000.0 * L_H)
    table = found.table()
    assert list(table.index) == sorted(table.index)
    assert {1.0, found.factor} <= set(table.index)
    assert table["days_to_first_service"].is_monotonic_increasing
    assert not table.loc[1.0, "suffices"]
    assert table.loc[found.factor, "suffices"]
    assert "<table" in found._repr_html_()


def test_the_time_limit_is_the_shortest_run_where_none_is_stated() -> None:
    """Who rinses every second day puts up with two days."""
    study = study_from_dict(with_needs(short(), rinse_at_least_every="2 day"))
    found = smallest_pump(study, "pleated-20", 1300.0 * L_H)
    assert found.shortest_run_days == 2.0
    assert found.days_to_first_service == pytest.approx(2.0, rel=2e-3)


def test_a_view_no_pump_gives_is_left_aside() -> None:
    """Water never seen through so far: haze alone forbids it, model.md section 7."""
    study = study_from_dict(with_needs(short(), see_through="60 m"))
    found = smallest_pump(study, "pleated-20", 1300.0 * L_H)
    assert found.left_aside == ("needs.see_through",)
    assert smallest_pump(study_from_text(SHORT), "pleated-20", 1300.0 * L_H).factor == found.factor


NO_PUMP = [
    (
        {},
        20000.0,
        "no pump up to 20 times the head and flow of 'pump' keeps 2e+04 L/h through Pleated 20: the hoses and the new "
        "cartridge let ",
    ),
    (
        {"plumbing.static_lift": "50 m", "pump.shutoff_head": "2 m"},
        1000.0,
        "no pump up to 20 times the head and flow of 'pump' drives this loop: pump 'pump' moves no water: it lifts at "
        "most 40 m, and the outlet is 50 m above the water",
    ),
    (
        {"needs.shortest_run": "20 day"},
        1000.0,
        "lets Pleated 20 run the 20 days you accept: its first run lasts 14 days at the longest, as the time "
        "limit ends it, whatever the pump",
    ),
    (
        {"elements.0.dirt_capacity": "5 g"},
        1000.0,
        "as the cartridge is full by then, whatever the pump; only more area would help",
    ),
    (
        {"needs.max_pressure_rise": "1 Pa"},
        1000.0,
        "as the pressure has risen by then as far as allowed; only more area would help",
    ),
    (
        {"needs.shortest_run": "300 day", "needs.rinse_at_least_every": "never"},
        1000.0,
        "at the longest, as the cartridge ",
    ),
    (
        {"elements.0.area": "3 m^2"},
        1000.0,
        "the pleats of Pleated 20 do not fit as the study has them: 3 m2 of sheet fill the cartridge and leave no gap",
    ),
]


@pytest.mark.parametrize(("changes", "flow", "told"), NO_PUMP)
def test_no_pump_is_told_in_physics(changes: Given, flow: float, told: str) -> None:
    with pytest.raises(NoAnswerError) as none:
        smallest_pump(study_from_dict(changed(changes)), "pleated-20", flow * L_H)
    assert told in str(none.value)


@pytest.mark.parametrize(
    ("limit", "why"),
    [("full", "a cartridge is full"), ("clarity", "the water is cloudy"), ("pressure", "the pressure has risen"),
     ("flow", "the flow has fallen")],
)  # fmt: skip
def test_why_no_area_lasts_is_what_ends_its_run(limit: str, why: str) -> None:
    study = study_of(short())
    entry = entry_of(study, study.options[0], study.pumps[0])
    longest = SimpleNamespace(runs=True, limit=limit, days=31.4, clean_m3_s=1e-3)
    told = _no_area(study, entry, 0, 90.0, longest)  # type: ignore[arg-type]  # as much of a trial as it looks at
    assert "lasts 90 days: the first run is 31.4 days at the longest, as " + why in told


KINDS = [
    ({"elements": [PAD]}, "pad", 60.0),
    ({"elements": [{**WOUND, "rating": "50 um"}]}, "wound-5", 20.0),
    ({"elements": [FOAM]}, "foam-20-ppi", 45.0),
    ({}, "pleated-20", 40.0),
    ({"elements.0.dirt_capacity": "20 g"}, "pleated-20", 40.0),
]


def more(element: Given, factor: float) -> Given:
    """Return so much more of an element, its sizes written out; sizes are those of model.md section 3."""
    kind, given_ = element["kind"], {key: value for key, value in element.items() if key != "size"}
    if "thickness" in element:
        area, unit = element["area"].split(" ")
        return {**given_, "area": f"{float(area) * factor:.12g} {unit}"}
    round_ = {"length": f"{250.0 * factor:.12g} mm", "outer_diameter": "63.6 mm", "inner_diameter": "27.6 mm"}
    if "dirt_capacity" in element:
        grams = float(element["dirt_capacity"].removesuffix(" g"))
        round_["dirt_capacity"] = f"{grams * factor:.12g} g"
    return {**given_, **round_, **({"area": f"{0.5 * factor:.12g} m^2"} if kind == "pleated" else {})}


@pytest.mark.parametrize(("changes", "option", "days"), KINDS)
def test_an_area_found_gives_the_interval(changes: Given, option: str, days: float) -> None:
    data = with_needs(changed(changes), turnovers_per_hour=2, **NO_LIMITS)
    found = area_for_interval(study_from_dict(data), option, days)
    there = answered({**data, "elements": [more(data["elements"][0], found.factor)]}, option)
    assert there.days_to_first_service == pytest.approx(days, rel=1e-4)
    assert there.governed_by == found.governed_by
    assert found.left_aside == ()
    assert found.present_days == pytest.approx(answered(data, option).days_to_first_service)


@pytest.mark.parametrize("element", [PAD, FOAM])
def test_two_housings_are_twice_the_area(element: Given) -> None:
    """Flat elements have no core, so that two side by side are one of twice the area."""
    data = with_needs(changed({"elements": [element]}), turnovers_per_hour=2, **NO_LIMITS)
    name = element["name"]
    two = {**data, "options": [{"name": "Two", "stages": [name], "housings_in_parallel": 2}]}
    days = answered(two, "two").days_to_first_service
    assert days
    found = area_for_interval(study_from_dict(data), name.lower().replace(" ", "-"), days)
    assert found.factor == pytest.approx(2.0, rel=1e-4)


@settings(max_examples=1)
@given(st.floats(1.0, 40.0), st.floats(1.05, 1.7), st.floats(1.05, 1.7))
def test_a_longer_interval_needs_more_area(days: float, longer: float, still_longer: float) -> None:
    study = study_from_dict(with_needs(short(), turnovers_per_hour=2, **NO_LIMITS))
    wished = (days, days * longer, days * longer * still_longer)
    found = [area_for_interval(study, "pleated-20", each) for each in wished]
    for less, larger in pairwise(found):
        assert larger.factor > less.factor
    for each in found:
        assert each.area_m2 == pytest.approx(0.5 * each.factor)
        assert each.length_m == pytest.approx(0.25 * each.factor)


@pytest.mark.parametrize("seed", range(4))
def test_the_present_run_needs_the_present_area(seed: int) -> None:
    """Any option, wished to run as long as it does, comes out as it is; makers' figures and trains included."""
    data = with_needs(random_study(seed), rinse_at_least_every="never", replace_at_least_every="never")
    study = study_of(data)
    for option in compare(study).options:
        if option.days_to_first_service and option.days_to_first_service < 150.0 and option.governed_by == "flow":
            found = area_for_interval(study, option.id, option.days_to_first_service)
            assert found.factor == pytest.approx(1.0, rel=1e-3), option.name
            assert found.present_days == pytest.approx(option.days_to_first_service)


def test_a_time_limit_shorter_than_the_wish_is_left_aside_and_named() -> None:
    data = with_needs(short(), turnovers_per_hour=2, see_through="0.1 m")
    found = area_for_interval(study_from_dict(data), "pleated-20", 30.0)
    assert found.left_aside == ("needs.rinse_at_least_every",)
    free = area_for_interval(study_from_dict(with_needs(data, **NO_LIMITS)), "pleated-20", 30.0)
    assert (free.factor, free.left_aside) == (found.factor, ())
    assert area_for_interval(study_from_dict(data), "pleated-20", 14.0).left_aside == ()


def test_what_cannot_be_rinsed_goes_by_its_own_limit() -> None:
    data = with_needs(changed({"elements": [{**WOUND, "rating": "50 um"}]}), turnovers_per_hour=1)
    found = area_for_interval(study_from_dict(data), "wound-5", 70.0)
    assert found.left_aside[0] == "needs.replace_at_least_every"
    assert (found.area_m2, found.fits, found.most_area_m2) == (None, None, None)
    assert found.length_m == pytest.approx(0.25 * found.factor)


@pytest.mark.parametrize("option", ["pleated-20", "wound-5"])
def test_common_sizes_do_as_the_study_would_have_them(option: str) -> None:
    elements = [short()["elements"][0], {**WOUND, "rating": "50 um"}]
    data = with_needs(changed({"elements": elements}), turnovers_per_hour=2, **NO_LIMITS)
    found = area_for_interval(study_from_dict(data), option, 30.0)
    table = found.table()
    assert set(table.index) == {"5 x 2.5 in", "10 x 2.5 in", "20 x 2.5 in", "10 x 4.5 in", "20 x 4.5 in"}
    for size, row in table.iterrows():
        there = answered({**data, "elements": [{**element, "size": size} for element in elements]}, option)
        assert row["days_to_first_service"] == pytest.approx(there.days_to_first_service), size
        assert row["reaches"] == (there.days_to_first_service >= 30.0)
    assert "<table" in found._repr_html_()


def test_what_fits_the_present_size() -> None:
    """The sheet that fills it is its room over the sheet's thickness; less of it, packed, does what it says."""
    room_m3 = pi * (0.0318**2 - 0.0138**2) * 0.250
    data = with_needs(short(), turnovers_per_hour=2, **NO_LIMITS)
    study = study_from_dict(data)
    present = answered(data, "pleated-20").days_to_first_service
    assert present
    found = area_for_interval(study, "pleated-20", 0.8 * present)
    assert found.most_area_m2 == pytest.approx(room_m3 / SHEET_M)
    assert found.area_in_this_size_m2 is not None
    assert found.longest_in_this_size_days is None
    packed = {**data, "elements": [{**data["elements"][0], "area": f"{found.area_in_this_size_m2:.12g} m^2"}]}
    assert answered(packed, "pleated-20").days_to_first_service == pytest.approx(0.8 * present, rel=1e-4)
    far = area_for_interval(study, "pleated-20", 100.0)
    assert not far.fits
    assert far.area_in_this_size_m2 is None
    assert far.longest_in_this_size_days is not None
    assert present <= far.longest_in_this_size_days < 100.0


def test_of_a_train_the_stage_that_chokes_is_sized() -> None:
    """Foam ahead of pleats hardly resists: the pleats are sized, the foam stays."""
    data = changed({"elements.1": FOAM, "options": [{"name": "Train", "stages": ["Foam 20 ppi", "Pleated 20"]}]})
    data = with_needs(data, turnovers_per_hour=2, **NO_LIMITS)
    found = area_for_interval(study_from_dict(data), "train", 50.0)
    assert found.element == "Pleated 20"
    pleats, foam = data["elements"]
    there = answered({**data, "elements": [more(pleats, found.factor), foam]}, "train")
    assert there.days_to_first_service == pytest.approx(50.0, rel=1e-4)


def test_a_full_stage_is_sized() -> None:
    """A tiny stated capacity ends the run, whatever the pressure."""
    foam = {**FOAM, "dirt_capacity": "5 g"}
    data = changed({"elements.1": foam, "options": [{"name": "Train", "stages": ["Foam 20 ppi", "Pleated 20"]}]})
    data = with_needs(data, turnovers_per_hour=1, **NO_LIMITS)
    assert answered(data, "train").governed_by == "full"
    found = area_for_interval(study_from_dict(data), "train", 8.0)
    assert (found.element, found.governed_by) == ("Foam 20 ppi", "full")


def test_a_view_no_area_gives_is_left_aside() -> None:
    study = study_from_dict(with_needs(short(), see_through="60 m"))
    assert area_for_interval(study, "pleated-20", 10.0).left_aside == ("needs.see_through",)


NO_AREA = [
    (
        {"needs.flow": "2400 L/h"},
        10.0,
        "no amount of Pleated 20 helps: with next to nothing in its way 'pump' gives ",
    ),
    ({"plumbing.static_lift": "3 m"}, 10.0, "pump 'pump' moves no water: it lifts at most 2.4 m"),
    (
        {},
        3000.0,
        "no amount of Pleated 20, up to 100 times the present one, lasts 3000 days: the first run is ",
    ),
    ({"elements.0.area": "3 m^2"}, 10.0, "the pleats of Pleated 20 do not fit as the study has them"),
]


@pytest.mark.parametrize(("changes", "days", "told"), NO_AREA)
def test_no_area_is_told_in_physics(changes: Given, days: float, told: str) -> None:
    with pytest.raises(NoAnswerError) as none:
        area_for_interval(study_from_dict(changed(changes)), "pleated-20", days)
    assert told in str(none.value)


def test_an_unknown_option_is_told_with_the_nearest() -> None:
    told = "option: no option has the id or name 'pleated-2'; the nearest is 'pleated-20'"
    for ask in (smallest_pump, area_for_interval):
        with pytest.raises(InputError) as fault:
            ask(study_from_text(SHORT), "pleated-2", 1e-3)
        assert fault.value.faults == (told,)


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf")])
def test_nothing_asked_is_told(value: float) -> None:
    with pytest.raises(InputError, match=r"^flow: must be more than 0 m3/s, got"):
        smallest_pump(study_from_text(SHORT), "pleated-20", value)
    with pytest.raises(InputError, match=r"^interval: must be more than 0 days, got"):
        area_for_interval(study_from_text(SHORT), "pleated-20", value)
