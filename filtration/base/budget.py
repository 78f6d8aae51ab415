"""How much one question may ask for: checked before any of it is worked out, and refused with the limit said."""

from filtration.base.errors import InputError

MOST_CASES = 1 << 23
"""Draws times elements of a study, counted on every pump: a few minutes of a core."""

MOST_STEPS = 2000
"""Readings, services and weeks of counted dips that one fit follows a filter over: some twenty seconds of a core."""

MOST_DRAWN_STEPS = 1 << 22
"""Those times the draws of a forecast."""


def afford(asked: int, most: int, what: str, less: str) -> None:
    """Refuse what asks for more than there is: how much of what, and how to ask for less.

    Examples
    --------
    >>> afford(3, 2, "cups", "take fewer")
    Traceback (most recent call last):
    filtration.base.errors.InputError: needs 3 cups, the most is 2; take fewer
    """
    if asked > most:
        raise InputError(f"needs {asked:,} {what}, the most is {most:,}; {less}")
