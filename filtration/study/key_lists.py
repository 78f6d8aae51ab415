"""How keys of a study file that hold a list are read: points, and one number for each of some names."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from filtration.base.errors import InputError, shown
from filtration.study.keys import Key, number

_MOST_POINTS = 100


def _list(value: object, least: int, most: int, need: str) -> Sequence[Any]:
    """Return a list of the file that is as long as it has to be."""
    if not isinstance(value, list | tuple) or not least <= len(value) <= most:
        got = f"a list of {len(value)}" if isinstance(value, list | tuple) else shown(value)
        raise InputError(f"{need}, got {got}")
    return value


def points(example: str, *, least: int, falls: str = "", **columns: Key[float]) -> Key[tuple[tuple[float, ...], ...]]:
    """Return a key that holds a list of points.

    Parameters
    ----------
    example : str
        Points as a study file would have them.
    least : int
        Fewest points.
    falls : str, optional
        The column that has to fall strictly from point to point; the others rise.
    **columns : Key
        How each column is read, by its noun, an underscore for a blank.

    Returns
    -------
    Key
        Reads to a tuple of points; every fault is told, not the first alone.

    Examples
    --------
    >>> from filtration.study.keys import quantity
    >>> size, ratio = quantity("length", "0.1 um", "1 mm"), number(1, 1e7, above=True)
    >>> points("[['20 um', 75]]", least=1, size=size, beta_ratio=ratio).read([["1 mm", 75]])
    ((0.001, 75.0),)
    """
    keys = {noun.replace("_", " "): key for noun, key in columns.items()}
    need = f"a list of {least} to {_MOST_POINTS} points such as {example}"

    def read(value: object) -> tuple[tuple[float, ...], ...]:
        given = _list(value, least, _MOST_POINTS, f"needs {need}")
        faults: list[str] = []
        rows = [_row(row, place, keys, faults) for place, row in enumerate(given, start=1)]
        for at, noun in enumerate(keys):
            for place, (before, after) in enumerate(pairwise(row[at] for row in rows), start=1):
                in_order = before is None or after is None or (after < before if noun == falls else after > before)
                if not in_order:
                    way = f"{'less' if noun == falls else 'more'} than the one before"
                    got = f"{shown(given[place][at])} after {shown(given[place - 1][at])}"
                    faults.append(f"every {noun} must be {way}; point {place + 1} has {got}")
        if faults:
            raise InputError(*faults)
        return tuple(rows)

    cells = {"prefixItems": [dict(key.schema) for key in keys.values()], "minItems": len(keys), "maxItems": len(keys)}
    return Key(need=need, read=read, schema={"type": "array", "items": {"type": "array", **cells}, "minItems": least})


def _row(row: object, place: int, keys: Mapping[str, Key[float]], faults: list[str]) -> tuple[Any, ...]:
    """Read one point; what is wrong goes to the faults and leaves None."""
    try:
        cells = _list(row, len(keys), len(keys), f"point {place} needs a pair of {' and '.join(keys)}")
    except InputError as error:
        faults += error.faults
        return (None,) * len(keys)
    return tuple(_each(cells, {f"{noun} of point {place}": key for noun, key in keys.items()}, faults))


def _each(cells: Sequence[object], keys: Mapping[str, Key[float]], faults: list[str]) -> list[float | None]:
    """Read cells by what they are; what is wrong goes to the faults and leaves None."""
    values: list[float | None] = []
    for cell, (what, key) in zip(cells, keys.items(), strict=True):
        try:
            values.append(key.read(cell))
        except InputError as error:
            faults.append(f"{what} {error}")
            values.append(None)
    return values


def ratios(names: tuple[str, ...], most: float) -> Key[tuple[float, ...]]:
    """Return a key that holds one plain number for each of some names, of which only the ratios count.

    Parameters
    ----------
    names : tuple of str
        What the numbers stand for, in order.
    most : float
        Largest number; the least is 0, but not of all.

    Returns
    -------
    Key
        Reads to a tuple of floats; every fault is told, not the first alone.

    Examples
    --------
    >>> ratios(("morning", "evening"), 100).read([1, 3])
    (1.0, 3.0)
    """
    need = f"a list of {len(names)} plain numbers, {names[0]} to {names[-1]}"
    each = number(0, most)

    def read(value: object) -> tuple[float, ...]:
        faults: list[str] = []
        cells = _list(value, len(names), len(names), f"needs {need}")
        numbers = _each(cells, {f"the number of {name}": each for name in names}, faults)
        if not faults and not any(numbers):
            faults.append("must not all be 0")
        if faults:
            raise InputError(*faults)
        return tuple(number for number in numbers if number is not None)

    schema = {"type": "array", "items": dict(each.schema), "minItems": len(names), "maxItems": len(names)}
    return Key(need=need, read=read, schema={**schema, "description": f"{need}; only their ratios count"})
