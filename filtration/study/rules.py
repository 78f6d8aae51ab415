"""What the keys of a study file must be together.

The rules look at the file as it was written, whatever single keys are at fault, so that all faults are told
at once.
"""

import re
import unicodedata
from collections.abc import Iterator, Mapping
from typing import Any

from filtration.base.errors import InputError
from filtration.base.ids import nearest, no_option
from filtration.base.units import shown
from filtration.study.keys import MOST_STAGES
from filtration.study.tables import ElementTable, PlumbingTable, PumpTable, Table

Place = tuple[str | int, ...]
Fault = tuple[Place, str]
Given = Mapping[str, Any]

_MOST_ROWS = 500
_BOX = ("shutoff_head", "max_flow")
_RINSE = {key for key in ElementTable.model_fields if key.startswith(("rinse_", "soak_"))}
_ROUND = {"length", "outer_diameter", "inner_diameter"}
_FLAT = {"area", "thickness"}
_PLEATS = {"pleats", "pleat_depth"}
_SHAPE = {
    "foam": _FLAT | {"pores_per_inch"},
    "depth": {"size"} | _ROUND | _FLAT,
    "pleated": {"size", "area"} | _ROUND | _PLEATS,
}
_SHAPE_WORDS = {
    "foam": "area, thickness and pores_per_inch",
    "depth": "a size, or length, outer_diameter and inner_diameter, or area and thickness of a flat pad",
    "pleated": "a size, or length and both diameters with area, or with pleats and pleat_depth",
}
_EXTRA = {"foam": _RINSE, "depth": set[str](), "pleated": _RINSE}
_BY_KIND = {"size", "pores_per_inch"} | _ROUND | _FLAT | _PLEATS | _RINSE


def slug(name: str, place: int) -> str:
    """Return the identifier that goes with an option's name.

    Parameters
    ----------
    name : str
        Its name.
    place : int
        Its place in the list, from 1, for a name without any letter or digit of ASCII.

    Returns
    -------
    str
        Lower case, accents left out, any other run of characters a hyphen.

    Examples
    --------
    >>> slug("Foam 20 ppi", 1), slug("\u6ee4\u82af", 3)
    ('foam-20-ppi', 'option-3')
    """
    plain = "".join(c for c in unicodedata.normalize("NFKD", name) if not unicodedata.combining(c))
    return re.sub("[^a-z0-9]+", "-", plain.lower()).strip("-") or f"option-{place}"


def rules(given: Given) -> Iterator[Fault]:
    """Check the keys of a study against each other.

    Parameters
    ----------
    given : mapping
        The file as it was written.

    Yields
    ------
    (place, message)
        Where and what, fault by fault.

    Examples
    --------
    >>> [message for place, message in rules({"pump": {}, "pumps": [], "measured": {"lift_test": []}})]
    ['give either [pump] or [[pumps]], not both']
    """
    lifted = "lift_test" in _table(given, "measured")
    yield from _pump_rules(given, lifted=lifted)
    yield from _plumbing_rules(given, lifted=lifted)
    yield from _one_of(_table(given, "needs"), ("needs",), ("turnovers_per_hour", "flow", "share_of_clean_flow"))
    for place, element in _tables(given, "elements"):
        yield from (((*place, *at), message) for at, message in _element_rules(element))
    for key in ("pumps", "elements", "options"):
        yield from _name_rules(given, key)
    yield from _stage_rules(given)
    yield from _in_use_rules(given)


def _table(given: Given, key: str) -> Given:
    table = given.get(key)
    return table if isinstance(table, dict) else {}


def _tables(given: Given, key: str) -> list[tuple[Place, Given]]:
    tables = given.get(key)
    rows = tables if isinstance(tables, list | tuple) else ()
    return [((key, at), row) for at, row in enumerate(rows[:_MOST_ROWS]) if isinstance(row, dict)]


def _value(table: type[Table], given: Given, name: str) -> object:
    """Return a key's value; None where it is missing or at fault."""
    key = table.key(name)
    if key is None or given.get(name) is None:
        return None
    try:
        return key.read(given[name])
    except InputError:
        return None


def _float(table: type[Table], given: Given, name: str) -> float | None:
    value = _value(table, given, name)
    return value if isinstance(value, float) else None


def _named(keys: set[str]) -> str:
    """Return keys of an element in the order of the file: a, b and c."""
    *most, last = sorted(keys, key=list(ElementTable.model_fields).index)
    return f"{', '.join(most)} and {last}" if most else last


def _one_of(given: Given, place: Place, keys: tuple[str, ...]) -> Iterator[Fault]:
    present = [key for key in keys if key in given]
    if len(present) > 1:
        yield place, f"give only one of {', '.join(keys[:-1])} and {keys[-1]}, got {' and '.join(present)}"


def _pump_rules(given: Given, *, lifted: bool) -> Iterator[Fault]:
    if "pump" in given and "pumps" in given:
        yield ("pump",), "give either [pump] or [[pumps]], not both"
    if "pump" not in given and "pumps" not in given:
        yield ("pump",), "is missing; needs shutoff_head, max_flow and power as the pump's box has them"
    several = _tables(given, "pumps")
    if lifted and len(several) > 1:
        yield ("measured", "lift_test"), f"belongs to one pump, but [[pumps]] has {len(several)}"
    for place, pump in several:
        if "name" not in pump:
            yield (*place, "name"), "is missing; each of several pumps needs its name"
        yield from _curve_rules(place, pump, lifted=lifted)
    if isinstance(given.get("pump"), dict):
        yield from _curve_rules(("pump",), _table(given, "pump"), lifted=lifted)


def _curve_rules(place: Place, pump: Given, *, lifted: bool) -> Iterator[Fault]:
    """Check that a pump has one curve: two box numbers, or points, or a lift test that stands for both."""
    box = [key for key in _BOX if key in pump]
    if "curve" in pump and box:
        yield (
            (*place, "curve"),
            f"give either a curve or the box numbers, not a curve and {' and '.join(box)}",
        )
    elif "curve" not in pump and not lifted:
        for name in _BOX:
            if name not in pump:
                yield (*place, name), f"{_is_missing(PumpTable, name)}, or give a curve or a lift test"


def _plumbing_rules(given: Given, *, lifted: bool) -> Iterator[Fault]:
    plumbing = _table(given, "plumbing")
    if not lifted and isinstance(given.get("plumbing", {}), dict):
        for name in ("bore", "length"):
            if name not in plumbing:
                yield ("plumbing", name), f"{_is_missing(PlumbingTable, name)}, or give a lift test"
    length, outside = (_float(PlumbingTable, plumbing, name) for name in ("length", "length_outside"))
    if length is not None and outside is not None and outside > length:
        got = f"got {shown(plumbing['length_outside'])} of {shown(plumbing['length'])}"
        yield ("plumbing", "length_outside"), f"must be at most the whole length, {got}"
    if lifted and outside and "bore" not in plumbing:
        yield (
            ("plumbing", "bore"),
            f"{_is_missing(PlumbingTable, 'bore')}, for the warmth a hose outside takes up",
        )


def _is_missing(table: type[Table], name: str) -> str:
    key = table.key(name)
    return f"is missing; needs {key.need}" if key else "is missing"


def _element_rules(given: Given) -> Iterator[Fault]:
    kind = given.get("kind")
    if isinstance(kind, str) and kind in _SHAPE:
        yield from _kind_rules(given, kind)
    if "rating" not in given and kind in ("depth", "pleated"):
        yield ("rating",), _is_missing(ElementTable, "rating")
    for key, of in (("clean_loss_at", "clean_loss"), ("dirt_capacity_at", "dirt_capacity")):
        if key in given and of not in given:
            yield (key,), f"says where {of} was measured, but there is no {of}"
    outer, inner = (_float(ElementTable, given, key) for key in ("outer_diameter", "inner_diameter"))
    if outer is not None and inner is not None and inner >= outer:
        got = f"got {shown(given['inner_diameter'])} in {shown(given['outer_diameter'])}"
        yield ("inner_diameter",), f"must be less than outer_diameter, {got}"


def _kind_rules(given: Given, kind: str) -> Iterator[Fault]:
    """Check that an element has one whole shape and nothing that its kind has not."""
    for key in _BY_KIND.intersection(given) - _SHAPE[kind] - _EXTRA[kind]:
        why = "a depth element cannot be rinsed" if key in _RINSE else f"its shape is {_SHAPE_WORDS[kind]}"
        yield (key,), f"does not go with kind '{kind}': {why}"
    shape = _SHAPE[kind].intersection(given)
    if kind == "foam":
        yield from _missing(given, _SHAPE["foam"])
    elif "size" in shape:
        doubled = shape & (_ROUND if kind == "pleated" else _ROUND | _FLAT)
        if doubled:
            yield ("size",), f"gives the shape already; leave out {_named(doubled)}, or the size"
    elif kind == "depth" and shape & _FLAT and shape & _ROUND:
        yield (), f"needs either {_named(_ROUND)}, or {_named(_FLAT)} of a flat pad, got {_named(shape)}"
    elif kind == "depth" and shape & _FLAT:
        yield from _missing(given, _FLAT)
    elif shape & _ROUND:
        yield from _missing(given, _ROUND)
    else:
        yield (), f"has no shape: needs {_SHAPE_WORDS[kind]}"
    if kind == "pleated" and shape:
        yield from _sheet_rules(shape)


def _sheet_rules(shape: set[str]) -> Iterator[Fault]:
    if "area" in shape and shape & _PLEATS:
        yield ("area",), f"give either the area or the pleats, not area and {_named(shape & _PLEATS)}"
    elif shape & _PLEATS:
        yield from (((key,), f"is missing; {_named(_PLEATS)} go together") for key in _PLEATS - shape)
    elif "area" not in shape and "size" not in shape:
        yield ("area",), f"{_is_missing(ElementTable, 'area')}, or give {_named(_PLEATS)}"


def _missing(given: Given, keys: set[str]) -> Iterator[Fault]:
    for name in sorted(keys.difference(given), key=list(ElementTable.model_fields).index):
        yield (name,), _is_missing(ElementTable, name)


def _name_rules(given: Given, key: str) -> Iterator[Fault]:
    """Check that names differ, and so do the identifiers made of them."""
    seen: dict[str, str] = {}
    for place, name, identifier in _names(given, key):
        other = seen.get(identifier)
        seen.setdefault(identifier, name)
        if other == name:
            yield (*place, "name"), f"must differ from every other, got {shown(name)} twice"
        elif other is not None:
            yield (*place, "name"), f"is too like {shown(other)}: both are {shown(identifier)} for short"


def _names(given: Given, key: str) -> list[tuple[Place, str, str]]:
    """Return place, name and identifier of every row whose name is sound."""
    named = ((place, _value(ElementTable, row, "name")) for place, row in _tables(given, key))
    return [(place, name, slug(name, int(place[1]) + 1)) for place, name in named if isinstance(name, str)]


def _stage_rules(given: Given) -> Iterator[Fault]:
    elements = [name for _, name, _ in _names(given, "elements")]
    if not elements:
        return
    for place, option in _tables(given, "options"):
        stages = option.get("stages")
        for stage in stages[:MOST_STAGES] if isinstance(stages, list | tuple) else ():
            if isinstance(stage, str) and stage.strip() and stage.strip() not in elements:
                near = shown(nearest(stage, elements))
                yield (*place, "stages"), f"no element is named {shown(stage)}; the nearest is {near}"


def _in_use_rules(given: Given) -> Iterator[Fault]:
    option = _table(given, "in_use").get("option")
    key = "options" if "options" in given else "elements"
    known = [identifier for _, _, identifier in _names(given, key)]
    pumps = [name for _, name, _ in _names(given, "pumps")]
    on_pump = {f"{identifier}@{pump}" for identifier in known for pump in pumps}
    if isinstance(option, str) and known and option not in known and option not in on_pump:
        yield ("in_use", "option"), no_option(option, known)
