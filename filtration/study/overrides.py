"""Keys of a study overridden one by one: by the row of a table, on the command line, or to try something."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from copy import copy
from typing import Any

from filtration.base.errors import InputError, shown


def value_of_text(text: str) -> object:
    """Return what a text means: a number, true or false in any case of letters, or text."""
    bare = text.strip()
    if bare.lower() in {"true", "false"}:
        return bare.lower() == "true"
    if "_" in bare:  # Python reads 1_000 as a number, nobody else does
        return bare
    with suppress(ValueError):
        return int(bare)
    with suppress(ValueError):
        return float(bare)
    return bare


def place(tables: dict[str, Any], key: str, value: object, called: str = "column") -> None:
    """Override one key, tables and names of lists joined by points: ``elements.Pleated 20.price``.

    Parameters
    ----------
    tables : dict
        The tables and keys of a study; it is changed, what it holds is not: whatever leads to the key is a copy.
    key : str
        What to override.
    value : object
        What it is to be.
    called : str, optional
        What messages call the key.

    Raises
    ------
    InputError
        If there is no such place.
    """
    here: Any = tables
    rest = key
    while "." in rest:
        step, _, after = rest.partition(".")
        if isinstance(here, list):
            named = {f"{each.get('name')}.": each for each in here if isinstance(each, dict)}
            fits = [each for each in named if rest.startswith(each)]  # names have points too
            name = max(fits, key=len, default=None)
            if name is None:
                raise InputError(f"{called} {shown(key)}: there is no {shown(step)} in the template")
            at, rest = here.index(named[name]), rest[len(name) :]
            here[at] = here = dict(here[at])
        elif isinstance(here, dict):
            here[step] = here = copy(here.get(step, {}))
            rest = after
        else:
            raise InputError(f"{called} {shown(key)}: {shown(step)} has no table before it in the template")
    if not isinstance(here, dict):
        raise InputError(f"{called} {shown(key)}: names no key")
    here[rest] = value


def filled(
    template: Mapping[str, Any],
    row: Mapping[str, Any],
    read: Callable[[Any], object] = lambda value: value,
    called: str = "column",
) -> dict[str, Any]:
    """Return the tables of a template, a study's, with the keys that a row overrides; see ``place``."""
    tables = dict(template)
    for key, value in row.items():
        is_name = key.rsplit(".", 1)[-1] == "name"  # a tub may be called 12
        place(tables, key, str(value) if is_name else read(value), called)
    return tables
