"""Plans: of a tub that a reader can work out by hand, and of others, plain and hostile, that tests write to files."""

from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from studies import DIRT_ALONE, Given, answered, demo_data, study_of

from filtration import Comparison
from filtration.plan.dated import Plan
from filtration.plan.dated_plan import plan

FIRST_DAY = date(2027, 3, 1)
NOW = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)
HOSTILE = '=HYPERLINK("http://x.example","y") <script>alert(1)</script> שלום \N{ICE CUBE} & \' ; , \\ end'
LIKE_A_LINK = "http://x.example/ +1 @SUM(A1)"
HALF = [2, 2, 2, 2, 2, 2, 1, 1, 1, 1, 1, 1]  # twice the dips from January to June
# A sheet that is full at 5 g, in a tub whose dirt comes with bathers alone and does not grow: the deposit is the clock.
SHEET: Given = {
    "name": "Sheet",
    "kind": "pleated",
    "size": "10 x 2.5 in",
    "rating": "20 um",
    "dirt_capacity": "5 g",
    "dirt_capacity_dust": "like the tub's",
    "price": 20,
    "rinse_recovery": 0.8,
    "rinse_water": "0 L",
    "soak_every_rinses": 0,
}
SPUN: Given = {"name": "Spun", "kind": "spun", "size": "20 x 4.5 in", "rating": "50 um", "price": 6}


def hostile_data() -> Given:
    """Return a study all of whose names are an attack on some reader."""
    data = demo_data("freezer")
    data["name"] = HOSTILE
    data["elements"] = [element | {"name": f"{HOSTILE}{place}"} for place, element in enumerate(data["elements"][:5])]
    data["elements"][0]["name"] = LIKE_A_LINK
    data["pump"]["name"] = f"-{HOSTILE}"
    data.pop("options", None)
    data.pop("in_use", None)
    return data


@dataclass(frozen=True)
class Case:
    """An answer with its plan."""

    answer: Comparison
    plan: Plan


_cases: dict[str, Case] = {}


def case_of(data: Given, **how: Any) -> Case:
    """Answer and plan the study of some tables, once a session."""
    key = repr((data, how))
    if key not in _cases:
        answer = answered(data, 16)
        _cases[key] = Case(answer, plan(answer.study, answer=answer, today=FIRST_DAY, draws=16, **how))
    return _cases[key]


def cents(amounts: Any) -> int:
    return sum(round(100 * amount) for amount in amounts)


def sheet_tub(*elements: Given, **tables: Given) -> Given:
    """Return a study of a tub without dust or growth, with no limit and no price but what is given."""
    data = demo_data("freezer")
    data["tub"] |= {"disinfectant": "kept", "uncovered_hours_per_day": 0} | tables.pop("tub", {})
    data["needs"] = DIRT_ALONE | tables.pop("needs", {})
    data["prices"] |= {"disposal_each": 0, "discount_rate": 0, "horizon": "2 year"} | tables.pop("prices", {})
    data["elements"] = list(elements or [SHEET])
    data["options"] = [{"name": each["name"], "stages": [each["name"]]} for each in data["elements"]]
    return data | tables


def days_of(found: Plan, what: str) -> list[int]:
    return [event.day for event in found.events if event.what == what]


def planned(data: Given, **how: Any) -> Plan:
    return plan(study_of(data), today=FIRST_DAY, draws=16, **how)
