"""Names of the fields, why they matter and how to find them out; what is wrong with one, in the page's words."""

import re
from collections.abc import Sequence

from filtration.base.defaults import UNKNOWNS
from filtration.present.words.sentences import named, single

_HINTS = single("hints")
FIELDS = {
    **named("fields"),
    **{
        f"uncertainty.{unknown.key}": (
            f"{unknown.words[:1].upper()}{unknown.words[1:]}",
            f"So many times more or less, in two of three cases. To narrow it: {_HINTS[unknown.key]}.",
        )
        for unknown in UNKNOWNS
        if unknown.spread
    },
}
"""What the keys of a study are called, and the sentence that explains each."""
COLUMNS = named("columns")
GROUPS, WHAT_IFS, _UNIT_SIGNS = single("groups"), single("what_ifs"), single("unit_signs")
SHELF_NOTE = single("asides")["shelf"]

MISSING = "Still to fill in"

EMPTY = "An empty tub"

DIRT_HELD = "Dirt held, dry"

STARTS = "Start another from"

FILE_SAVED = "saved, as every change will be."
FILE_WAITS = "not saved until everything fits."
FILE_READ_ONLY = "open to look at. It is saved only where the pages are served to this machine alone."
FILE_CHANGED = "was changed elsewhere meanwhile, so your changes are not saved."
FILE_FOLLOWED = "was changed elsewhere, and is read anew."
FILE_LOST = "neither read nor saved."

_GROUP_OF = {"needs": "wish", "plumbing": "hose", "measured": "hose_more", "cooling": "prices"}
_IN_LISTS = {"elements": "Filter", "pumps": "Pump", "options": "Combination"}
_KEY = re.compile(r"\b[a-z0-9]+(?:_[a-z0-9]+)+\b")
_HEADING = re.compile(r"\[\[?(\w+)\]\]?")
_OF_FILES = re.compile(r" \(one plain number, .*?\)| such as \[\[.*?\]\]")
_SIGNS = {"m^2": "m²", "m^3": "m³", "degC": "°C", "degF": "°F", " um": " µm"}

Place = Sequence[str | int]


def fault_words(place: Place, message: str) -> str:
    """Return what is wrong at a place of a study, in the words of the page.

    Examples
    --------
    >>> fault_words(("elements", 1, "clean_loss_at"), "says where clean_loss was measured, but there is no clean_loss")
    "Says where “Maker's clean loss” was measured, but there is no “Maker's clean loss”"
    >>> fault_words(("tub", "volume"), "must be 1 L to 100 m^3, got '0 L'")
    "Must be 1 L to 100 m³, got '0 L'"
    """
    table, told = str(place[0]) if place else "", _OF_FILES.sub("", message)
    told = _KEY.sub(lambda found: f"“{_key_name(found[0], table)}”", told)
    told = _HEADING.sub(lambda found: f"“{GROUPS.get(found[1], found[1])}”", told)
    for sign, shown in _SIGNS.items():
        told = told.replace(sign, shown)
    return told[:1].upper() + told[1:]


def _key_name(key: str, table: str) -> str:
    """Return what a key is called, in its table if it has it."""
    places = [f"{table}.{key}", *(place for place in FIELDS if place.endswith(f".{key}"))]
    return next((FIELDS[place][0] for place in places if place in FIELDS), key)


def place_words(place: Place, called: str = "") -> str:
    """Return what a place of a study is called, an entry of a list by its name where it has one.

    Examples
    --------
    >>> place_words(("elements", 13, "pleat_depth"), "Pleated 20"), place_words(("tub", "volume"))
    ('Pleated 20, Pleat depth', 'Water')
    >>> place_words(("elements", 13)), place_words(("needs",))
    ('Filter 14', 'What you want')
    """
    table, row, key = _parts(place)
    words = [] if row is None else [called or f"{_IN_LISTS.get(table, table)} {row + 1}"]
    field = f"{'pump' if table == 'pumps' else table}.{key}" if key else table
    if field in FIELDS:
        words.append(FIELDS[field][0])
    elif row is None and (group := _GROUP_OF.get(field, field)) in GROUPS:
        words.append(GROUPS[group])
    return ", ".join(words)


def _parts(place: Place) -> tuple[str, int | None, str]:
    """Return table, entry and key of a place."""
    table, *rest = place or ("",)
    row = next((part for part in rest if isinstance(part, int)), None)
    return str(table), row, next((part for part in rest if isinstance(part, str)), "")


def label(key: str, unit: str | None = None) -> str:
    """Return what a field, by table and key, is called, with the unit it is read in as a study file spells it.

    Examples
    --------
    >>> label("tub.volume", "gal"), label("tub.feet")
    ('Water, US gal', 'Feet')
    """
    return with_unit(FIELDS[key][0], unit)


def with_unit(name: str, unit: str | None) -> str:
    """Return a field's name with its unit as a page shows it."""
    return f"{name}, {_UNIT_SIGNS.get(unit, unit)}" if unit else name
