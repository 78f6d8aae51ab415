"""Values by case: dataclasses whose arrays have the cases on their last axis, cut and put side by side."""

from collections.abc import Sequence
from dataclasses import fields
from typing import Any, TypeVar, cast

import numpy as np

from filtration.base.arrays import Rows

ByCase = TypeVar("ByCase")


def taken(value: ByCase, cases: Rows, size: int) -> ByCase:
    """Return a value for some of its cases.

    Parameters
    ----------
    value : dataclass
        Arrays whose last axis is the cases, or one; such dataclasses, and tuples of them.
    cases : (e,) array of int
        Which to keep.
    size : int
        How many there are.

    Returns
    -------
    dataclass
        The same for them alone.
    """
    if len(cases) == size and (cases == np.arange(size)).all():
        return value
    if hasattr(value, "of_cases"):
        return cast("ByCase", value.of_cases(cases))
    names = [field.name for field in fields(cast("Any", value))]
    return type(value)(**{name: _part(getattr(value, name), cases, size) for name in names})


def _part(value: Any, cases: Rows, size: int) -> Any:  # noqa: ANN401 - whatever a field holds
    if isinstance(value, np.ndarray):
        return value.take(cases, axis=-1) if value.shape[-1] == size else value
    if isinstance(value, tuple):
        return tuple(_part(each, cases, size) for each in value)
    return taken(value, cases, size) if hasattr(value, "__dataclass_fields__") else value


def side_by_side(values: Sequence[ByCase], sizes: Sequence[int]) -> ByCase:
    """Return values of one kind side by side along their cases.

    Parameters
    ----------
    values : sequence of dataclass
        As for ``taken``; other fields are those of the first.
    sizes : sequence of int
        How many cases each has.

    Returns
    -------
    dataclass
        All cases, in order.
    """
    if len(values) == 1:
        return values[0]
    first: Any = values[0]
    if hasattr(first, "beside"):
        return cast("ByCase", first.beside(values, sizes))
    names = [field.name for field in fields(first)]
    return type(values[0])(**{name: _joined([getattr(value, name) for value in values], sizes) for name in names})


def _joined(parts: Sequence[Any], sizes: Sequence[int]) -> Any:  # noqa: ANN401 - whatever a field holds
    first = parts[0]
    if isinstance(first, np.ndarray):
        both = zip(parts, sizes, strict=True)
        wide = [
            part if part.shape[-1] == size else np.broadcast_to(part, (*part.shape[:-1], size)) for part, size in both
        ]
        return np.concatenate(wide, axis=-1)
    if isinstance(first, tuple):
        return tuple(_joined(each, sizes) for each in zip(*parts, strict=True))
    return side_by_side(parts, sizes) if hasattr(first, "__dataclass_fields__") else first
