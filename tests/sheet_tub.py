"""A tub whose plan a reader can work out by hand, shared by the tests of plans."""

from datetime import date
from typing import Any

from conftest import Given, demo_data, study_of

from filtration.plan.dated import Plan
from filtration.plan.dated_plan import plan

FIRST_DAY = date(2027, 3, 1)
HALF = [2, 2, 2, 2, 2, 2, 1, 1, 1, 1, 1, 1]  # twice the dips from January to June
# A sheet that is full at 5 g, in a tub whose dirt comes with bathers alone and does not grow: the deposit is the clock.
SHEET: Given = {
    "name": "Sheet",
    "kind": "pleated",
    "size": "10 x 2.5 in",
    "rating": "20 um",
    "dirt_capacity": "5 g",
    "price": 20,
    "rinse_recovery": 0.8,
    "rinse_water": "0 L",
    "soak_every_rinses": 0,
}
SPUN: Given = {"name": "Spun", "kind": "depth", "size": "20 x 4.5 in", "rating": "50 um", "price": 6}


def sheet_tub(*elements: Given, **tables: Given) -> Given:
    """Return a study of a tub without dust or growth, with no limit and no price but what is given."""
    data = demo_data("freezer")
    data["tub"] |= {"disinfectant": "kept", "uncovered_hours_per_day": 0} | tables.pop("tub", {})
    data["needs"] = {
        "turnovers_per_hour": 1,
        "see_through": "0.01 m",
        "rinse_at_least_every": "never",
        "replace_at_least_every": "never",
        "discard_after": "365 day",
        "shortest_run": "0 day",
    } | tables.pop("needs", {})
    data["prices"] |= {"disposal_each": 0, "discount_rate": 0, "horizon": "2 year"} | tables.pop("prices", {})
    data["elements"] = list(elements or [SHEET])
    data["options"] = [{"name": each["name"], "stages": [each["name"]]} for each in data["elements"]]
    return data | tables


def days_of(found: Plan, what: str) -> list[int]:
    return [event.day for event in found.events if event.what == what]


def planned(data: Given, **how: Any) -> Plan:
    return plan(study_of(data), today=FIRST_DAY, draws=16, **how)
