"""Whether anybody still waits for an answer: long work looks up now and then, and ends where nobody does.

It moves no figure. The look is that of a thread's own context, so that work is stopped for its own asker alone.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_look: ContextVar[Callable[[], object] | None] = ContextVar("look", default=None)


@contextmanager
def waited_for(look: Callable[[], object]) -> Iterator[None]:
    """Let all work inside look up now and then; ``look`` raises where nobody waits any more.

    Examples
    --------
    >>> with waited_for(lambda: print("still there")):
    ...     look_up()
    still there
    """
    token = _look.set(look)
    try:
        yield
    finally:
        _look.reset(token)


def look_up() -> None:
    """See whether anybody still waits, and raise if not."""
    look = _look.get()
    if look is not None:
        look()
