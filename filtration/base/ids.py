"""What bears an id, and what to say where nothing does."""

from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import TypeVar

from filtration.base.errors import InputError
from filtration.base.units import shown

T = TypeVar("T")


def nearest(word: str, known: Iterable[str]) -> str:
    """Return the known word most like another.

    Parameters
    ----------
    word : str
        What was written.
    known : iterable of str
        The words there are, at least one.

    Returns
    -------
    str
        One of them.

    Examples
    --------
    >>> nearest("max_flwo", ["max_flow", "power"])
    'max_flow'
    """
    return get_close_matches(word[:200], list(known), n=1, cutoff=0.0)[0]


def no_option(option_id: str, known: Iterable[str]) -> str:
    """Return why an id is none of an option.

    Parameters
    ----------
    option_id : str
        What was written.
    known : iterable of str
        The ids there are, at least one.

    Returns
    -------
    str
        A clause.

    Examples
    --------
    >>> no_option("pleated-21", ["foam", "pleated-20"])
    "no option has the id 'pleated-21'; the nearest is 'pleated-20'"
    """
    return f"no option has the id {shown(option_id)}; the nearest is {shown(nearest(option_id, known))}"


def option_of(known: Mapping[str, T], option_id: str, where: str = "option") -> T:
    """Return what an option's id stands for.

    Parameters
    ----------
    known : mapping of str to anything
        What there is by id, at least one.
    option_id : str
        What was asked for.
    where : str, optional
        Where it stands, for the message.

    Returns
    -------
    anything
        What is known by that id.

    Raises
    ------
    InputError
        If there is none; the nearest is named.

    Examples
    --------
    >>> option_of({"foam": 1}, "foam")
    1
    """
    if option_id not in known:
        raise InputError(f"{where}: {no_option(option_id, known)}")
    return known[option_id]
