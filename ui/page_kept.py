"""What the pages keep of what was worked out: once for everybody, in turns, with word of how far it is."""

import os
from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from threading import BoundedSemaphore, Lock
from typing import ParamSpec, TypeVar

Progress = Callable[[float, str], None]
P = ParamSpec("P")
R = TypeVar("R")

MOST_KEPT = 128
"""Answers kept of each kind: a club's worth, at about a megabyte each."""

_turns = BoundedSemaphore(os.cpu_count() or 1)
_has_turn: ContextVar[bool] = ContextVar("has turn", default=False)
_teller: ContextVar[Progress | None] = ContextVar("teller", default=None)


@contextmanager
def telling(progress: Progress) -> Iterator[None]:
    """Tell of the progress of whatever is worked out inside."""
    token = _teller.set(progress)
    try:
        yield
    finally:
        _teller.reset(token)


def progress_of_now() -> Progress | None:
    """Return whom to tell, if anybody waits."""
    return _teller.get()


@contextmanager
def _turn() -> Iterator[None]:
    """Wait for one's turn: as many work at a time as there are processors, so that light work stays quick."""
    if _has_turn.get():
        yield
        return
    if not _turns.acquire(blocking=False):
        tell = progress_of_now()
        if tell:
            tell(0.0, "others come first")
        _turns.acquire()
    token = _has_turn.set(True)
    try:
        yield
    finally:
        _has_turn.reset(token)
        _turns.release()


def kept(function: Callable[P, R]) -> Callable[P, R]:
    """Keep what a function returned; while one person waits for it, others wait for the same.

    A turn is taken before a lock, so that whoever holds a lock is at work and never waits for a turn.
    """
    known, locks, guard = OrderedDict[object, R](), dict[object, Lock](), Lock()

    def recall(key: object) -> bool:
        if key in known:
            known.move_to_end(key)
        return key in known

    @wraps(function)
    def once(*args: P.args, **kwargs: P.kwargs) -> R:
        key = (args, *kwargs.items())
        with guard:
            if recall(key):
                return known[key]
        with _turn():
            with guard:
                lock = locks.setdefault(key, Lock())
            try:
                with lock:
                    with guard:
                        if recall(key):
                            return known[key]
                    found = function(*args, **kwargs)
                    with guard:
                        known[key] = found
                        if len(known) > MOST_KEPT:
                            known.popitem(last=False)
                    return found
            finally:
                with guard:
                    locks.pop(key, None)

    return once
