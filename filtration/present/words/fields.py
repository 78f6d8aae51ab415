"""Names of the fields, why they matter and how to find them out."""

import re
from collections.abc import Mapping

from filtration.present.words.sentences import named

FIELDS = named("fields")
COLUMNS = named("columns")
GROUPS: Mapping[str, str] = {
    "water": "The water",
    "pump": "The pump's box",
    "hose": "The hose",
    "wish": "What you want",
    "tub": "More about the tub",
    "pump_more": "More about the pump",
    "hose_more": "More about hoses, and the lift test",
    "limits": "Other limits",
    "prices": "Prices and cooling",
}

LIFT_TEST = (
    "The lift test replaces the box and the hose, and is better than both. Take the filter out. Hold the outlet above "
    "the water at two or more heights, and time how long it fills a bucket at each."
)

MISSING = "Still to fill in"

EMPTY = "An empty tub"

STARTS = "Start another from"

SHELF_NOTE = (
    "An empty tub starts with the usual slim cartridges and example prices. Put in your shop's prices, and take away "
    "what you would not buy."
)

_UNIT_SIGNS = {
    "degC": "°C",
    "degF": "°F",
    "gal": "US gal",
    "day": "days",
    "m^2": "m²",
    "year": "years",
}


_ENTRY = re.compile(r"\[\[(?:elements|pumps)\]\] (\d+)(?: \((.*?)\))? (\w+): ")


def fault_words(fault: str) -> str:
    """Return a fault of a study file as the page has it, with the names of row and column where it is of a column.

    Examples
    --------
    >>> fault_words("[[elements]] 1 (Pleated 20) rating: must be positive")
    'Pleated 20, Micron rating: must be positive'
    >>> fault_words("[prices] horizon: is unknown")
    '[prices] horizon: is unknown'
    """
    found = _ENTRY.match(fault)
    if found is None or found[3] not in COLUMNS:
        return fault
    return f"{found[2] or f'row {found[1]}'}, {COLUMNS[found[3]][0]}: {fault[found.end() :]}"


def label(key: str, unit: str | None = None) -> str:
    """Return what a field, by table and key, is called, with the unit it is read in as a study file spells it.

    Examples
    --------
    >>> label("tub.volume", "gal"), label("tub.feet")
    ('Water, US gal', 'Feet')
    """
    name = FIELDS[key][0]
    return name if unit is None else f"{name}, {_UNIT_SIGNS.get(unit, unit)}"


WHAT_IFS: Mapping[str, str] = {
    "tub.uses_per_day": "Fewer dips, or more",
    "tub.showered_share": "A shower first",
    "tub.water_change_every": "Fresh water more often",
    "tub.water_temperature": "Warmer water",
    "tub.volume": "Another tub",
    "pump.shutoff_head": "A pump that lifts higher",
    "pump.max_flow": "A pump that moves more",
    "pump.hours_per_day": "Fewer pump hours",
    "plumbing.bore": "A wider fitting",
    "plumbing.length": "A shorter hose",
    "needs.turnovers_per_hour": "Fewer turnovers",
    "needs.see_through": "Another wish for the view",
    "prices.electricity_per_kwh": "Dearer electricity",
}
