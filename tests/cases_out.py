"""Answers with plans, plain and hostile, that tests write to files."""

from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from conftest import Given, demo_data, study_of

from filtration import Comparison, compare
from filtration.plan.dated import Plan
from filtration.plan.dated_plan import plan

FIRST_DAY = date(2027, 3, 1)
NOW = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)
HOSTILE = '=HYPERLINK("http://x.example","y") <script>alert(1)</script> שלום \N{ICE CUBE} & \' ; , \\ end'
LIKE_A_LINK = "http://x.example/ +1 @SUM(A1)"


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


def case_of(data: Given, **how: Any) -> Case:
    answer = compare(study_of(data), draws=16)
    return Case(answer, plan(answer.study, answer=answer, today=FIRST_DAY, draws=16, **how))


def cents(amounts: Any) -> int:
    return sum(round(100 * amount) for amount in amounts)
