"""The two ways a request can fail, and what a message says of what was written."""

from collections.abc import Iterable, Mapping
from datetime import date
from difflib import get_close_matches

_LONGEST_SHOWN, _LONGEST_MATCHED, _MOST_DIGITS, _MOST_KNOWN = 60, 200, 18, 30


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
    close = get_close_matches(word[:_LONGEST_MATCHED].casefold(), by_letters, n=1)
    return by_letters[close[0]] if close else None


def joined(names: Iterable[str]) -> str:
    """Return some names as a sentence has them.

    Examples
    --------
    >>> joined(["East"]), joined(["East", "West", "Guests"])
    ('East', 'East, West and Guests')
    """
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


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


def option_id(names: Mapping[str, str], named: str) -> str | None:
    """Return the id of the option that an id or a name stands for, capitals aside; None where it is that of none.

    Examples
    --------
    >>> option_id({"pleated-20": "Pleated 20"}, "pleated 20")
    'pleated-20'
    """
    wanted = " ".join(named.split()).casefold()
    return next((each for each, name in names.items() if wanted in (each.casefold(), name.casefold())), None)


def no_option(names: Mapping[str, str], named: str) -> str:
    """Return that no option is called so, as a clause: with the nearest where one is near, else with all there are.

    Examples
    --------
    >>> no_option({"foam": "Foam", "pleated-20": "Pleated 20"}, "pleated-21")
    "no option has the id or name 'pleated-21'; the nearest is 'pleated-20'"
    >>> no_option({"foam": "Foam", "pleated-20": "Pleated 20"}, "wound")
    "no option has the id or name 'wound'; there are 'foam', 'pleated-20'"
    """
    ids = {word: each for each, name in names.items() for word in (name, each)}
    near = nearest(named, ids)
    told = known_ones(named, names) if near is None else f"the nearest is {shown(ids[near])}"
    return f"no option has the id or name {shown(named)}; {told}"


def option_of(names: Mapping[str, str], named: str, where: str = "option") -> str:
    """Return the id of the option that an id or a name stands for.

    Parameters
    ----------
    names : mapping of str to str
        The options' names, as they are written, by id.
    named : str
        An id or a name, capitals aside.
    where : str, optional
        What messages call the place it comes from.

    Returns
    -------
    str
        The id.

    Raises
    ------
    InputError
        If it is that of no option.

    Examples
    --------
    >>> option_of({"pleated-20": "Pleated 20"}, "Pleated 20")
    'pleated-20'
    """
    found = option_id(names, named)
    if found is None:
        raise InputError(f"{where}: {no_option(names, named)}")
    return found
