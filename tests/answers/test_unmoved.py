"""What an answer does not hang on: the coin that prices are told in, the order of the file, names; and its reasons."""

from collections.abc import Mapping
from dataclasses import asdict
from functools import cache
from typing import Any

import pytest
from studies import FOAM, WOUND, Given, answered, central, changed, short, study_of

from filtration import Comparison, savings
from filtration.service.events import Event

COIN = 2.0**-10  # so that not a digit is lost
PRICED = ("price", "soak_price", "housing_price")
COSTS = {
    "amount", "undiscounted", "discounted", "choice_cost_per_year", "cost_of_choosing_wrong_per_year", "total",
    "worth_of_measuring_load_per_year", "saves_per_year",
    "elements", "rinsing", "own_time", "pumping", "cooling", "disposal", "equipment", "water_changes", "disinfectant",
}  # fmt: skip
PRICES: Given = {
    "electricity_per_kwh": 0.3, "water_per_m3": 4.0, "own_time_per_hour": 12.0, "disposal_each": 0.5,
    "disinfectant_per_month": 2.0, "discount_rate": 0.03, "horizon": "2 year",
}  # fmt: skip


def tub(coin: float = 1.0) -> Given:
    """Return a study of four options on two pumps, one of them a pair, each of which something is paid for."""
    pleated = short()["elements"][0] | {"soak_price": 1.0 * coin}
    elements = [pleated, WOUND | {"rating": "20 um", "price": 6}, FOAM | {"price": 6, "soak_price": 1.0 * coin}]
    first = short()["pump"] | {"name": "Small", "price": 60 * coin}
    data = short() | {
        "pumps": [first, first | {"name": "Large", "max_flow": "3000 L/h", "power": "55 W", "price": 90 * coin}],
        "elements": [each | {"price": each["price"] * coin} for each in elements],
        "options": [{"name": each["name"], "stages": [each["name"]], "housing_price": 35 * coin} for each in elements]
        + [{"name": "Both", "stages": ["Foam 20 ppi", "Pleated 20"], "housings_in_parallel": 2}],
        "prices": {key: each * coin if "_per_" in key or "each" in key else each for key, each in PRICES.items()},
    }
    data["options"][-1]["housing_price"] = 40 * coin
    del data["pump"]
    return data


def differing(one: Any, other: Any, coin: float, at: str = "") -> list[str]:
    """Return where two values differ: those of money by more than the coin, all others at all."""
    if isinstance(one, Event):
        one, other = one._asdict(), other._asdict()
    if isinstance(one, Mapping):
        assert one.keys() == other.keys(), at
        return [each for key in one for each in differing(one[key], other[key], coin, f"{at}.{key}")]
    if isinstance(one, list | tuple):
        assert len(one) == len(other), at
        return [each for here, there in zip(one, other, strict=True) for each in differing(here, there, coin, at)]
    money = at.rsplit(".", 1)[-1] in COSTS or at.endswith("cost_per_year")
    money &= "energy_kwh" not in at and isinstance(one, float | int)
    return [] if other == (one * coin if money else one) else [f"{at}: {one} {other}"]


def figures(answer: Comparison) -> Given:
    return {option.id: asdict(option) for option in answer.options}


@cache
def drawn(coin: float = 1.0) -> Comparison:
    return answered(tub(coin), 64)


def test_a_smaller_coin_changes_sums_alone() -> None:
    """With every price a thousandth every sum is, and not a day, chance or advice is another."""
    one, other = drawn(), drawn(COIN)
    assert differing(figures(one), figures(other), COIN) == []
    assert (one.decision, one.odds.measure) == (other.decision, other.odds.measure)
    for driver, there in zip(one.odds.drivers, other.odds.drivers, strict=True):
        assert (driver.unknown, driver.of) == (there.unknown, there.of)
        assert driver.total_index == pytest.approx(there.total_index, abs=1e-6)
        assert driver.total_index < 1.3  # of 1 at most, give or take what so few points leave
    assert other.odds.worth_of_measuring_load_per_year == COIN * one.odds.worth_of_measuring_load_per_year
    assert [each.kind for each in one.notes] == [each.kind for each in other.notes]
    saved, there = (savings(answer) for answer in (one, other))
    assert saved.changes
    for a_change, the_other in zip((*saved.changes, saved.together), (*there.changes, there.together), strict=True):
        assert a_change is not None
        assert differing(asdict(a_change), asdict(the_other), COIN) == []  # type: ignore[call-overload]


def test_the_order_of_a_file_is_no_matter() -> None:
    """Elements, options and pumps from last to first: the same figures, in the same order."""
    data = tub()
    other = answered(data | {key: data[key][::-1] for key in ("elements", "options", "pumps")}, 64)
    assert [option.id for option in drawn().options] == [option.id for option in other.options]
    assert differing(figures(drawn()), figures(other), 1.0) == []
    assert drawn().decision == other.decision


HAZE = 4.8 / (0.06 + 0.3 + 0.01 * 420.0 / 3.785411784 / 3.0 / 4.2)
"""A black disc in water as old as a spa's rule allows, a dip for every 3 US gallons, that holds no dirt [m]."""


@pytest.mark.parametrize(
    ("changes", "wanted"),
    [
        ({}, {}),
        ({"needs.flow": "1900 L/h"}, {"flow": 1900.0}),
        ({"needs.turnovers_per_hour": 5}, {"flow": 5 * 420.0}),
        ({"needs.see_through": "7 m"}, {"clarity": 7.0}),
        ({"needs.see_through": "40 m"}, {"haze": 40.0}),
        ({"needs.see_through": "40 m", "needs.turnovers_per_hour": 5}, {"flow": 5 * 420.0, "haze": 40.0}),
        ({"tub.uses_per_day": 2000, "needs.see_through": "1 cm"}, {"spent within a day": None}),
        ({"needs.shortest_run": "13.9 day"}, {"short run": 13.9}),
        ({"plumbing.static_lift": "4 m"}, {"no flow": None}),
    ],
)
def test_a_reason_for_each_need_that_is_not_met(changes: Given, wanted: dict[str, float | None]) -> None:
    """What there is of it is the answer's own figure, what is wanted stands in the study; else the needs are met."""
    (option,) = central(study_of(changed(changes))).options
    assert option.meets_needs is not bool(wanted)
    told = {reason.kind: reason.figures for reason in option.reasons}
    assert {kind: figures.get("want") for kind, figures in told.items()} == pytest.approx(wanted)
    there = {"flow": option.clean_flow_l_per_h, "short run": option.days_to_first_service}
    for kind, figures in told.items():
        if "have" in figures:
            assert figures["have"] == pytest.approx(there.get(kind, option.worst_view_m))
    if "flow" in told:
        assert told["flow"]["have_turnovers"] == pytest.approx(option.clean_flow_l_per_h / 420.0)
        assert told["flow"]["want_turnovers"] == pytest.approx((wanted["flow"] or 0.0) / 420.0)
    for kind in told.keys() & {"haze", "clarity"}:
        assert told[kind]["haze_alone"] == pytest.approx(HAZE)
    if "spent within a day" in told:
        assert told["spent within a day"]["hours"] == pytest.approx(24.0 * (option.days_to_first_service or 0.0))
