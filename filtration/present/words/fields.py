"""Names of the fields, why they matter and how to find them out."""

import re

from filtration.present.words.sentences import named, single

FIELDS = named("fields")
COLUMNS = named("columns")
GROUPS, WHAT_IFS, _UNIT_SIGNS = single("groups"), single("what_ifs"), single("unit_signs")
LIFT_TEST, SHELF_NOTE = single("asides")["lift test"], single("asides")["shelf"]

MISSING = "Still to fill in"

EMPTY = "An empty tub"

STARTS = "Start another from"

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
