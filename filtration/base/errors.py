"""The two ways a request can fail, and what a message says of what was written."""

from collections.abc import Iterable, Mapping
from datetime import date
from difflib import get_close_matches
from typing import TypeVar

T = TypeVar("T")
_LONGEST_SHOWN, _MOST_DIGITS = 60, 18


class InputError(ValueError):
    """The input is wrong. Carries every fault found, one readable line each.

    Parameters
    ----------
    *faults : str
        One line a fault: what is wrong, the allowed range, the unit, what came, and where.

    Examples
    --------
    >>> InputError("study.toml, [tub] volume: must be more than 0 L, got '-3 L'").faults
    ("study.toml, [tub] volume: must be more than 0 L, got '-3 L'",)
    """

    def __init__(self, *faults: str) -> None:
        super().__init__("\n".join(faults))
        self.faults: tuple[str, ...] = faults

    def __reduce__(self) -> tuple[type["InputError"], tuple[str, ...]]:
        """Keep every fault when the error travels between processes."""
        return type(self), self.faults


class NoAnswerError(Exception):
    """The input is good, but physics gives no answer; the message says why."""


def shown(value: object) -> str:
    """Return what somebody wrote, fit to stand in a message: text quoted and cut, a list or table by its name alone.

    Examples
    --------
    >>> shown("2.4 L"), shown(True), shown([1, 2])
    ("'2.4 L'", 'true', 'a list')
    """
    if isinstance(value, str):
        return repr(value if len(value) <= _LONGEST_SHOWN else value[: _LONGEST_SHOWN - 3] + "...")
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        return str(value) if abs(value) < 10**_MOST_DIGITS else f"a number of more than {_MOST_DIGITS} digits"
    if isinstance(value, float | date):
        return str(value)
    kinds = ((dict, "a table"), (list, "a list"), (tuple, "a list"), (type(None), "nothing"))
    return next((words for kind, words in kinds if isinstance(value, kind)), "a value of another type")


def nearest(word: str, known: Iterable[str]) -> str:
    """Return the known word, of at least one, that is most like another.

    Examples
    --------
    >>> nearest("max_flwo", ["max_flow", "power"])
    'max_flow'
    """
    return get_close_matches(word[:200], list(known), n=1, cutoff=0.0)[0]


def no_option(option_id: str, known: Iterable[str]) -> str:
    """Return why an id is none of an option, as a clause.

    Examples
    --------
    >>> no_option("pleated-21", ["foam", "pleated-20"])
    "no option has the id 'pleated-21'; the nearest is 'pleated-20'"
    """
    return f"no option has the id {shown(option_id)}; the nearest is {shown(nearest(option_id, known))}"


def option_of(known: Mapping[str, T], option_id: str, where: str = "option") -> T:
    """Return what an option's id stands for; raises InputError, and names the nearest, where it stands for nothing.

    Examples
    --------
    >>> option_of({"foam": 1}, "foam")
    1
    """
    if option_id not in known:
        raise InputError(f"{where}: {no_option(option_id, known)}")
    return known[option_id]
