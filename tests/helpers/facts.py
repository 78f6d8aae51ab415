"""What any good answer has to keep to: by itself, and beside the answer to a study changed in one thing.

An option that the answer itself says does not meet the needs is not passed off as good, so a fact about days and money
holds for those alone that meet them after the change. What is *not* held to, since physics or the rules allow it:

- more dips, where the rule for public spas sets the water's life: fresh water comes oftener, and takes dirt with it;
- more dips beside falling dust: another mix of dirt fills another part of the element;
- a finer rating gives a longer or a shorter run: less is let through, and more room is lost;
- a bigger pump gives a shorter run or a longer one: more dirt comes to the filter, and more head is left for it;
- a dearer element and its options in series: their counts are found stage by stage, not all together.
"""

import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Any

from filtration import Comparison, OptionAnswer
from filtration.base.units import in_unit, read_quantity

Given = dict[str, Any]
_CENTS = 0.06  # each of nine parts and their sum is rounded to a cent
_SAME = 1e-6  # roots and interpolation
_WALK = 0.01  # days: a run ends between two points of a table


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """A change to a study, and what may not come of it.

    Parameters
    ----------
    name : str
        What holds, in words.
    before, after : callable
        What to make of the tables of a study, in place.
    broken : callable
        From an option before and after to whether the fact is broken.
    """

    name: str
    before: Callable[[Given], None]
    after: Callable[[Given], None]
    broken: Callable[[OptionAnswer, OptionAnswer], bool]


def _steady(tables: Given) -> None:
    """Let the water's life be stated and no dust fall, so that all dirt comes with the bathers in one mix."""
    tables["tub"] |= {"water_change_every": "20 day", "uncovered_hours_per_day": 0}


def _as_it_is(tables: Given) -> None:
    del tables


def _more_dips(tables: Given) -> None:
    _steady(tables)
    tables["tub"]["uses_per_day"] = min(5000, tables["tub"]["uses_per_day"] * 2)


def _turnovers(number: float) -> Callable[[Given], None]:
    def change(tables: Given) -> None:
        needs = tables.setdefault("needs", {})
        for key in ("flow", "share_of_clean_flow"):
            needs.pop(key, None)
        needs["turnovers_per_hour"] = number

    return change


_PRICES = ("electricity_per_kwh", "water_per_m3", "own_time_per_hour", "disposal_each", "disinfectant_per_month")


def _pumps(tables: Given) -> list[Given]:
    return tables["pumps"] if "pumps" in tables else [tables["pump"]]


def _prices(factor: float) -> Callable[[Given], None]:
    """State every price, times a factor; what the study leaves out costs some round sum."""

    def change(tables: Given) -> None:
        named = [element["name"] for element in tables["elements"]]
        tables.setdefault("options", [{"name": name, "stages": [name]} for name in named])
        for table, keys in (
            *((table, _PRICES) for table in [tables.setdefault("prices", {})]),
            *((pump, ("price",)) for pump in _pumps(tables)),
            *((element, ("price", "soak_price")) for element in tables["elements"]),
            *((option, ("housing_price",)) for option in tables["options"]),
        ):
            for key in keys:
                table[key] = min(1e8, table.get(key, 1.0)) * factor

    return change


def _electricity(factor: float) -> Callable[[Given], None]:
    def change(tables: Given) -> None:
        prices = tables.setdefault("prices", {})
        prices["electricity_per_kwh"] = min(1e8, prices.get("electricity_per_kwh", 0.3)) * factor

    return change


def _elements_dearer(tables: Given) -> None:
    for element in tables["elements"]:
        element["price"] = min(1e9, 2 * element.get("price", 0))


def _box(head: str) -> Callable[[Given], None]:
    """Give every pump the two numbers of a box."""

    def change(tables: Given) -> None:
        tables.pop("measured", None)
        tables["plumbing"] = {"bore": "19 mm", "length": "3 m"} | tables.get("plumbing", {})
        for pump in _pumps(tables):
            pump.pop("curve", None)
            pump |= {"shutoff_head": head, "max_flow": pump.get("max_flow", "2400 L/h")}

    return change


def _hose(tables: Given) -> None:
    plumbing = tables.get("plumbing", {})
    if "length" in plumbing and "lift_test" not in tables.get("measured", {}):
        longer = 2.0 * in_unit(read_quantity(plumbing["length"], "length"), "m")
        plumbing["length"] = f"{min(longer, 1000.0):.6g} m"


def _longer(before: OptionAnswer, after: OptionAnswer) -> bool:
    """Whether the first run of a good answer became longer."""
    if not (before.meets_needs and after.meets_needs) or before.days_to_first_service is None:
        return False
    days = after.days_to_first_service
    return days is None or days > before.days_to_first_service * (1.0 + _WALK)


def _cheaper(before: OptionAnswer, after: OptionAnswer) -> bool:
    old, new = before.cost_per_year.total, after.cost_per_year.total
    return old is not None and new is not None and new < old * (1.0 - _SAME) - _CENTS


def _not_doubled(before: OptionAnswer, after: OptionAnswer) -> bool:
    """Whether money did not go with the worth of the coin, or anything else did."""
    old, new = before.cost_per_year.total, after.cost_per_year.total
    if (old is None) != (new is None) or before.days_to_first_service != after.days_to_first_service:
        return True
    return old is not None and new is not None and abs(new - 2.0 * old) > 2.0 * _CENTS + _SAME * old


def _clean_flow_fell(before: OptionAnswer, after: OptionAnswer) -> bool:
    return after.clean_flow_l_per_h < before.clean_flow_l_per_h * (1.0 - _SAME)


def _clean_flow_rose(before: OptionAnswer, after: OptionAnswer) -> bool:
    return _clean_flow_fell(after, before)


FACTS = (
    Fact(name="twice the dips never lengthen the first run", before=_steady, after=_more_dips, broken=_longer),
    Fact(
        name="more flow wanted never lengthens the first run",
        before=_turnovers(2.0),
        after=_turnovers(2.4),
        broken=_longer,
    ),
    Fact(
        name="a coin worth half doubles what all costs and changes nothing else",
        before=_prices(1.0),
        after=_prices(2.0),
        broken=_not_doubled,
    ),
    Fact(
        name="dearer electricity never lowers the cost",
        before=_electricity(1.0),
        after=_electricity(2.0),
        broken=_cheaper,
    ),
    Fact(
        name="dearer elements never lower the cost of one element by itself",
        before=_as_it_is,
        after=_elements_dearer,
        broken=lambda before, after: len(before.stages) == 1 and _cheaper(before, after),
    ),
    Fact(
        name="a stronger pump never lowers the clean flow",
        before=_box("3 m"),
        after=_box("4.5 m"),
        broken=_clean_flow_fell,
    ),
    Fact(name="a longer hose never raises the clean flow", before=_as_it_is, after=_hose, broken=_clean_flow_rose),
)


def options_of(answer: Comparison) -> dict[str, OptionAnswer]:
    """Return the options of an answer by id."""
    return {option.id: option for option in answer.options}


def both(tables: Given, fact: Fact) -> tuple[Given, Given]:
    """Return a study's tables before and after the change of a fact."""
    old, new = copy.deepcopy(tables), copy.deepcopy(tables)
    fact.before(old)
    fact.before(new)
    fact.after(new)
    return old, new


def broken_within(answer: Comparison) -> Iterator[str]:
    """Tell what an answer breaks by itself: flow falls and loss rises with the deposit, parts add up, none is paid."""
    for option in answer.options:
        yield from (f"{option.id}: {what}" for what in _broken(option))


def _broken(option: OptionAnswer) -> Iterator[str]:
    clean, due = option.clean_flow_l_per_h, option.due_flow_l_per_h
    if due is not None and due > clean * (1.0 + _SAME):
        yield f"more flow when due than clean, {due} after {clean} L/h"
    new_kpa, due_kpa = option.clean_filter_loss_kpa, option.due_filter_loss_kpa
    if new_kpa is not None and due_kpa is not None and due_kpa < new_kpa * (1.0 - _SAME):
        yield f"less loss when due than clean, {due_kpa} after {new_kpa} kPa"
    if (option.days_to_first_service or 0.0) < 0.0 or (option.meets_needs and option.reasons):
        yield "a run of less than nothing, or a good option with reasons against it"
    record = option.flow_record.flow_l_per_h
    rose = (old is not None and new is not None and new > old * (1.0 + _SAME) for old, new in pairwise(record))
    if any(rose):
        yield "the flow rises within a run"
    parts = {part.name: getattr(option.cost_per_year, part.name) for part in fields(option.cost_per_year)}
    total = parts.pop("total")
    if any(part is not None and part < 0.0 for part in parts.values()):
        yield f"a cost below nothing: {parts}"
    if total is not None and abs(total - sum(part or 0.0 for part in parts.values())) > _CENTS + _SAME * total:
        yield f"the parts of the cost do not add up to {total}: {parts}"
