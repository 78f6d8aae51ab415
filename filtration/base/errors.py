"""The two ways a request can fail, and what a message says of what was written."""

from collections.abc import Iterable, Mapping
from datetime import date
from difflib import get_close_matches
from typing import TypeVar

T = TypeVar("T")
_LONGEST_SHOWN, _MOST_DIGITS, _MOST_KNOWN = 60, 18, 30


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


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that is most like another, without regard to capitals; None where none is near.

    Examples
    --------
    >>> nearest("Max_flwo", ["max_flow", "power"]), nearest("units", ["max_flow", "power"])
    ('max_flow', None)
    """
    by_letters = {each.casefold(): each for each in known}
    close = get_close_matches(word[:200].casefold(), by_letters, n=1)
    return by_letters[close[0]] if close else None


def known_ones(word: str, known: Iterable[str]) -> str:
    """Return, for a message, the known word nearest to an unknown one, or what there is where none is near.

    Examples
    --------
    >>> known_ones("foma", ["foam", "pleated-20"]), known_ones("x", ["foam", "pleated-20"])
    ("the nearest is 'foam'", "there are 'foam', 'pleated-20'")
    """
    all_known = list(known)
    near = nearest(word, all_known)
    if near is not None:
        return f"the nearest is {shown(near)}"
    more = f" and {len(all_known) - _MOST_KNOWN} more" if len(all_known) > _MOST_KNOWN else ""
    return f"there {'is only' if len(all_known) == 1 else 'are'} {', '.join(map(shown, all_known[:_MOST_KNOWN]))}{more}"


def no_option(option_id: str, known: Iterable[str]) -> str:
    """Return why an id is none of an option, as a clause.

    Examples
    --------
    >>> no_option("pleated-21", ["foam", "pleated-20"])
    "no option has the id 'pleated-21'; the nearest is 'pleated-20'"
    """
    return f"no option has the id {shown(option_id)}; {known_ones(option_id, known)}"


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
