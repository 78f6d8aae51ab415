"""What the keys of a study file must be together.

The rules look at the file as it was written, whatever single keys are at fault, so that all faults are told
at once.
"""

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from filtration.base.errors import InputError, joined, known_ones, no_option, option_id, shown
from filtration.study.keys import MOST_STAGES
from filtration.study.tables import TABLES, ElementTable
from filtration.study.values import DEPTH, RINSED

Place = tuple[str | int, ...]
Fault = tuple[Place, str]
Given = Mapping[str, Any]

_MOST_ROWS = 500
_FLOWS = ("turnovers_per_hour", "flow", "share_of_clean_flow")
_WATERS = ("water_per_m3", "water_per_1000_gal")
_RINSE = {key for key in ElementTable.model_fields if key.startswith(("rinse_", "soak_"))}
_ROUND = {"length", "outer_diameter", "inner_diameter"}
_FLAT = {"area", "thickness"}
_PLEATS = {"pleats", "pleat_depth"}
_SHAPE = {
    "foam": _FLAT | {"pores_per_inch"},
    "spun": {"size"} | _ROUND | _FLAT,
    "wound": {"size"} | _ROUND,
    "pleated": {"size", "area"} | _ROUND | _PLEATS,
}
_SHAPE_WORDS = {
    "foam": "area, thickness and pores_per_inch",
    "spun": "a size, or length, outer_diameter and inner_diameter, or area and thickness of a flat pad",
    "wound": "a size, or length, outer_diameter and inner_diameter",
    "pleated": "a size, or length and both diameters with area, or with pleats and pleat_depth",
}


def slug(name: str, place: int) -> str:
    """Return the identifier that goes with an option's name: lower case, without accents, hyphens between words.

    A name without any letter or digit of ASCII is known by its place in the list, from 1.

    Examples
    --------
    >>> slug("Foam 20 ppi", 1), slug("\u6ee4\u82af", 3)
    ('foam-20-ppi', 'option-3')
    """
    plain = "".join(c for c in unicodedata.normalize("NFKD", name) if not unicodedata.combining(c))
    return re.sub("[^a-z0-9]+", "-", plain.lower()).strip("-") or f"option-{place}"


def broken_rules(given: Given) -> Iterator[Fault]:
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
    >>> [message for place, message in broken_rules({"pump": {}, "pumps": [], "measured": {"lift_test": []}})]
    ['give either [pump] or [[pumps]], not both']
    """
    lifted = "lift_test" in _table(given, "measured")
    yield from _at(("tub",), _belongs("still_share", "dye_even_after", _table(given, "tub"), "how much water lags"))
    yield from _pump_rules(given, lifted=lifted)
    yield from _plumbing_rules(given, lifted=lifted)
    flows = [key for key in _FLOWS if key in _table(given, "needs")]
    if len(flows) > 1:
        yield ("needs",), f"give only one of {', '.join(_FLOWS[:-1])} and {_FLOWS[-1]}, got {' and '.join(flows)}"
    if len(waters := [key for key in _WATERS if key in _table(given, "prices")]) > 1:
        yield ("prices", waters[1]), f"give either {waters[0]} or {waters[1]}, not both"
    for place, element in _tables(given, "elements"):
        yield from _at(place, _element_rules(element))
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


def _value(table: str, given: Given, name: str) -> Any:  # noqa: ANN401 - whatever the key reads to
    """Return a key's value; None where it is missing or at fault."""
    key = TABLES[table].key(name)
    try:
        return key.read(given[name]) if key and name in given else None
    except InputError:
        return None


def _named(keys: set[str]) -> str:
    """Return keys of an element in the order of the file: a, b and c."""
    return joined(sorted(keys, key=list(ElementTable.model_fields).index))


def _missing(table: str, given: Given, *names: str, or_else: str = "") -> Iterator[Fault]:
    """Yield which keys of a table are missing, in the order of the file, with what would do instead."""
    for name in TABLES[table].model_fields:
        if name in names and name not in given and (key := TABLES[table].key(name)):
            yield (name,), f"is missing; needs {key.need}{or_else}"


def _belongs(key: str, other: str, given: Given, what: str) -> Iterator[Fault]:
    """Yield that a key says something of another that is missing."""
    if key in given and other not in given:
        yield (key,), f"says {what}, but there is no {other}"


def _at(place: Place, faults: Iterator[Fault]) -> Iterator[Fault]:
    return (((*place, *at), message) for at, message in faults)


def _pump_rules(given: Given, *, lifted: bool) -> Iterator[Fault]:
    several = _tables(given, "pumps")
    if "pump" in given and "pumps" in given:
        yield ("pump",), "give either [pump] or [[pumps]], not both"
    elif "pump" not in given and "pumps" not in given:
        yield ("pump",), "is missing; needs shutoff_head, max_flow and power as the pump's box has them"
    if lifted and len(several) > 1:
        yield ("measured", "lift_test"), f"belongs to one pump, but [[pumps]] has {len(several)}"
    for place, pump in several:
        if "name" not in pump:
            yield (*place, "name"), "is missing; each of several pumps needs its name"
    if isinstance(given.get("pump"), dict):
        several.append((("pump",), given["pump"]))
    for place, pump in several:
        yield from _at(place, _curve_rules(pump, lifted=lifted))


def _curve_rules(pump: Given, *, lifted: bool) -> Iterator[Fault]:
    """Check that a pump has one curve: two box numbers, or points, or a lift test that stands for both."""
    box = [key for key in ("shutoff_head", "max_flow") if key in pump]
    yield from _belongs("share_of_box_flow", "max_flow", pump, "how much of max_flow it gives")
    if "curve" in pump and box:
        yield ("curve",), f"give either a curve or the box numbers, not a curve and {' and '.join(box)}"
    elif "curve" not in pump and not lifted:
        or_else = ", or give a curve or a lift test"
        yield from _missing("pump", pump, "shutoff_head", "max_flow", or_else=or_else)


def _plumbing_rules(given: Given, *, lifted: bool) -> Iterator[Fault]:
    plumbing, place = _table(given, "plumbing"), ("plumbing",)
    if not lifted and isinstance(given.get("plumbing", {}), dict):
        yield from _at(place, _missing("plumbing", plumbing, "bore", "length", or_else=", or give a lift test"))
    length, outside = (_value("plumbing", plumbing, name) for name in ("length", "length_outside"))
    if length is not None and outside is not None and outside > length:
        got = f"got {shown(plumbing['length_outside'])} of {shown(plumbing['length'])}"
        yield (*place, "length_outside"), f"must be at most the whole length, {got}"
    if lifted and outside:
        why = ", for the warmth a hose outside takes up"
        yield from _at(place, _missing("plumbing", plumbing, "bore", or_else=why))


def _element_rules(given: Given) -> Iterator[Fault]:
    kind = given.get("kind")
    if isinstance(kind, str) and kind in _SHAPE:
        yield from _kind_rules(given, kind)
    if isinstance(kind, str) and kind in DEPTH | {"pleated"}:
        yield from _missing("elements", given, "rating")
    for key in ("clean_loss", "dirt_capacity"):
        yield from _belongs(f"{key}_at", key, given, f"where {key} was measured")
    yield from _belongs("dirt_capacity_dust", "dirt_capacity", given, "with what dirt_capacity was measured")
    outer, inner = (_value("elements", given, key) for key in ("outer_diameter", "inner_diameter"))
    if outer is not None and inner is not None and inner >= outer:
        got = f"got {shown(given['inner_diameter'])} in {shown(given['outer_diameter'])}"
        yield ("inner_diameter",), f"must be less than outer_diameter, {got}"


def foreign_keys(kind: str) -> set[str]:
    """Return the keys of an element that do not go with a kind.

    Examples
    --------
    >>> sorted(foreign_keys("wound") - foreign_keys("spun"))
    ['area', 'thickness']
    """
    return _RINSE.union(*_SHAPE.values()) - _SHAPE[kind] - (_RINSE if kind in RINSED else set())


def _kind_rules(given: Given, kind: str) -> Iterator[Fault]:
    """Check that an element has one whole shape and nothing that its kind has not."""
    for key in foreign_keys(kind).intersection(given):
        why = f"a {kind} cartridge cannot be rinsed" if key in _RINSE else f"its shape is {_SHAPE_WORDS[kind]}"
        yield (key,), f"does not go with kind '{kind}': {why}"
    shape = _SHAPE[kind].intersection(given)
    flat = kind == "spun" and shape & _FLAT
    doubled = shape & (_ROUND if kind == "pleated" else _ROUND | _FLAT)
    if kind == "foam":
        yield from _missing("elements", given, *_SHAPE["foam"])
    elif "size" in shape:
        if doubled:
            yield ("size",), f"gives the shape already; leave out {_named(doubled)}, or the size"
    elif flat and shape & _ROUND:
        yield (), f"needs either {_named(_ROUND)}, or {_named(_FLAT)} of a flat pad, got {_named(shape)}"
    elif flat or shape & _ROUND:
        yield from _missing("elements", given, *(_FLAT if flat else _ROUND))
    else:
        yield (), f"has no shape: needs {_SHAPE_WORDS[kind]}"
    if kind == "pleated" and shape:
        yield from _sheet_rules(shape)


def _sheet_rules(shape: set[str]) -> Iterator[Fault]:
    if "area" in shape and shape & _PLEATS:
        yield ("area",), f"give either the area or the pleats, not area and {_named(shape & _PLEATS)}"
    elif shape & _PLEATS:
        yield from (((key,), f"is missing; {_named(_PLEATS)} go together") for key in _PLEATS - shape)
    elif "size" not in shape:
        yield from _missing("elements", dict.fromkeys(shape), "area", or_else=f", or give {_named(_PLEATS)}")


def _name_rules(given: Given, key: str) -> Iterator[Fault]:
    """Check that names differ, and so do the identifiers made of them."""
    seen: dict[str, str] = {}
    for place, name, identifier in _names(given, key):
        if seen.get(identifier) == name:
            yield (*place, "name"), f"must differ from every other, got {shown(name)} twice"
        elif identifier in seen:
            yield (*place, "name"), f"is too like {shown(seen[identifier])}: both are {shown(identifier)} for short"
        seen.setdefault(identifier, name)


def _names(given: Given, key: str) -> list[tuple[Place, str, str]]:
    """Return place, name and identifier of every row whose name is sound."""
    named = ((place, _value("elements", row, "name")) for place, row in _tables(given, key))
    return [(place, name, slug(name, int(place[1]) + 1)) for place, name in named if name is not None]


def _stage_rules(given: Given) -> Iterator[Fault]:
    elements = [name for _, name, _ in _names(given, "elements")]
    for place, option in _tables(given, "options") if elements else ():
        stages = option.get("stages")
        for stage in stages[:MOST_STAGES] if isinstance(stages, list | tuple) else ():
            if isinstance(stage, str) and stage.strip() and stage.strip() not in elements:
                yield (*place, "stages"), f"no cartridge is named {shown(stage)}; {known_ones(stage, elements)}"


def _in_use_rules(given: Given) -> Iterator[Fault]:
    option = _table(given, "in_use").get("option")
    options = _names(given, "options" if "options" in given else "elements")
    known = {identifier: name for _, name, identifier in options}
    names = fitted_names(known, [pump for _, pump, _ in _names(given, "pumps")])
    if isinstance(option, str) and known and option_id(names, option) is None:
        yield ("in_use", "option"), no_option(known, option)


def fitted_names(names: Mapping[str, str], pumps: Iterable[str]) -> dict[str, str]:
    """Return how what is in use may be called, by id: an option alone, or on one of some pumps.

    Examples
    --------
    >>> fitted_names({"foam": "Foam"}, ["Pond pump"])
    {'foam': 'Foam', 'foam@Pond pump': 'Foam on Pond pump'}
    """
    on_pumps = {f"{each}@{pump}": f"{name} on {pump}" for each, name in names.items() for pump in pumps}
    return {**names, **on_pumps}
