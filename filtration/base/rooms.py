"""Rooms of the package: each says its public names, and hands them out when they are asked for."""

from collections.abc import Sequence
from importlib import import_module
from pkgutil import iter_modules


def handed_out(room: str, public: Sequence[str], name: str) -> object:
    """Return a public name of a room, whose modules are imported only when something of it is asked for by its room.

    Parameters
    ----------
    room : str
        The package's name.
    public : sequence of str
        Its ``__all__``.
    name : str
        What is asked for.

    Returns
    -------
    object
        As its module has it.

    Raises
    ------
    AttributeError
        If the room has no such public name.
    """
    if name in public:
        homes = [import_module(f"{room}.{found.name}") for found in iter_modules(import_module(room).__path__)]
        known = [(home.__name__, vars(home)[name]) for home in homes if name in vars(home)]
        own = [value for home, value in known if getattr(value, "__module__", None) == home]
        return own[0] if own else known[0][1]
    raise AttributeError(f"module {room!r} has no public name {name!r}")
