"""The lists of a study as they are changed on a page: filters, what is compared of them, pumps."""

from collections.abc import Mapping
from itertools import chain, count
from typing import Any

import page_state

from filtration.study.rules import slug

Row = dict[str, Any]
Tables = dict[str, Any]


def rows_of(tables: Mapping[str, Any], table: str) -> list[Row]:
    """Return the entries of a list that are tables."""
    found = tables.get(table)
    return [row for row in found if isinstance(row, dict)] if isinstance(found, list) else []


def write(tables: Tables, table: str, at: int | None, key: str, value: object) -> None:
    """Write one value; a new name of a filter goes wherever it is meant."""
    if table == "options":
        each_alone(tables)
    before = page_state.table_in(tables, table, at).get(key)
    page_state.write(tables, table, key, value, at)
    if key == "name" and at is not None and isinstance(before, str) and isinstance(value, str):
        {"elements": _rename_stages, "options": _rename_fitted}.get(table, _keep)(tables, before, value)


def _keep(_tables: Tables, _before: str, _name: str) -> None:
    """Leave all as it is."""


def _rename_stages(tables: Tables, before: str, name: str) -> None:
    for option in rows_of(tables, "options"):
        option["stages"] = [name if stage == before else stage for stage in option.get("stages", [])]
        if option.get("name") == before:
            option["name"] = name
    _rename_fitted(tables, before, name)


def _rename_fitted(tables: Tables, before: str, name: str) -> None:
    fitted = tables.get("in_use")
    if isinstance(fitted, dict) and fitted.get("option") in {before, slug(before, 0)}:
        fitted["option"] = slug(name, 0)


def own_option(tables: Mapping[str, Any], name: object) -> int | None:
    """Return which option is a filter on its own; None where it is not compared so."""
    own = (at for at, row in enumerate(rows_of(tables, "options")) if row.get("stages") == [name] == [row.get("name")])
    return next(own, None)


def each_alone(tables: Tables) -> list[Row]:
    """Return the options of a study; where it has none of its own, write each filter down on its own first."""
    if not isinstance(tables.get("options"), list):
        names = [row.get("name") for row in rows_of(tables, "elements")]
        tables["options"] = [{"name": name, "stages": [name]} for name in names]
    options: list[Row] = tables["options"]
    return options


def compare_alone(tables: Tables, name: str, *, compared: bool) -> None:
    """Compare a filter on its own, or no more."""
    options = each_alone(tables)
    at = own_option(tables, name)
    if compared and at is None:
        options.append({"name": name, "stages": [name]})
    elif not compared and at is not None and len(options) > 1:
        del options[at]


def add_element(tables: Tables, row: Row) -> None:
    """Add a filter, compared on its own."""
    tables.setdefault("elements", []).append(row)
    if "options" in tables:
        compare_alone(tables, row["name"], compared=True)


def drop_element(tables: Tables, at: int) -> None:
    """Take away a filter, with what is compared of it."""
    name = tables["elements"].pop(at).get("name")
    options = tables.get("options")
    if isinstance(options, list):
        left = [option for option in options if name not in option.get("stages", [])]
        tables["options"] = left
        if not left:
            del tables["options"]


def resize(tables: Tables, before: str, size: str) -> None:
    """Give every filter of one size another; those of other sizes stay."""
    for row in rows_of(tables, "elements"):
        if row.get("size") == before:
            row["size"] = size


def second_pump(tables: Tables) -> None:
    """Set another pump beside the present one, as a copy to change."""
    first = tables.pop("pump", {})
    tables["pumps"] = [first | {"name": first.get("name", "Pump 1")}, first | {"name": "Another pump"}]


def drop_pump(tables: Tables, at: int) -> None:
    """Take away one of several pumps; the last one left is the pump."""
    del tables["pumps"][at]
    if len(tables["pumps"]) == 1:
        tables["pump"] = tables.pop("pumps")[0]


def free_name(wanted: str, rows: list[Row]) -> str:
    """Return a name that no entry has: the one wanted, with a number where it is taken."""
    taken = {slug(str(row.get("name", "")), 0) for row in rows}
    names = chain([wanted], (f"{wanted} ({number})" for number in count(2)))
    return next(name for name in names if slug(name, 0) not in taken)


def called(row: Mapping[str, Any]) -> str:
    """Return what a filter is called that has no name: by kind and micron rating, or pores.

    Examples
    --------
    >>> called({"kind": "pleated", "rating": "20 um"}), called({"kind": "foam", "pores_per_inch": 20})
    ('Pleated 20', 'Foam 20 ppi')
    """
    kind = str(row.get("kind", "filter")).capitalize()
    number = (
        f"{row['pores_per_inch']} ppi" if "pores_per_inch" in row else str(row.get("rating", "")).removesuffix(" um")
    )
    return f"{kind} {number}".strip()
