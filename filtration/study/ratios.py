"""A key of a study file that holds one number for each of some names, of which only the ratios count."""

from collections.abc import Sequence

import numpy as np

from filtration.base.errors import InputError
from filtration.base.units import shown
from filtration.study.keys import Key, number

MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def ratios(names: tuple[str, ...], most: float) -> Key:
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

    def read(value: object) -> tuple[float, ...]:
        if not isinstance(value, list | tuple) or len(value) != len(names):
            got = f"a list of {len(value)}" if isinstance(value, list | tuple) else shown(value)
            raise InputError(f"needs {need}, got {got}")
        faults, numbers, each = list[str](), list[float](), number(0, most)
        for name, one in zip(names, value, strict=True):
            try:
                numbers.append(float(each.read(one)))  # type: ignore[arg-type]  # number reads to a float
            except InputError as error:
                faults.append(f"the number of {name} {error}")
        if not faults and not any(numbers):
            faults.append("must not all be 0")
        if faults:
            raise InputError(*faults)
        return tuple(numbers)

    items = {"type": "number", "minimum": 0, "maximum": most}
    schema = {"type": "array", "items": items, "minItems": len(names), "maxItems": len(names)}
    return Key(need=need, read=read, schema={**schema, "description": f"{need}; only their ratios count"})


MONTH_DAYS = (31.0, 28.25, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0)


def over_mean(numbers: Sequence[float], weights: Sequence[float] = ()) -> tuple[float, ...]:
    """Return numbers over their mean.

    Parameters
    ----------
    numbers : sequence of float
        At least 0, and not all 0; or none.
    weights : sequence of float, optional
        How much each counts; left out, all alike.

    Returns
    -------
    tuple of float
        As many, of mean 1 [-].

    Examples
    --------
    >>> over_mean((1.0, 1.0, 4.0)), over_mean(())
    ((0.5, 0.5, 2.0), ())
    """
    if not numbers:
        return ()
    largest = max(numbers)  # or the mean of very small ones is none
    shares = [number / largest for number in numbers]
    mean = float(np.average(shares, weights=weights or None))
    return tuple(share / mean for share in shares)
