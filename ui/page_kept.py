"""What the pages keep of what was worked out: once for everybody, in turns, with word of how far it is."""

from collections import OrderedDict, deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from threading import Condition, Lock, Timer
from typing import Generic, ParamSpec, TypeVar

from filtration.base.waiting import look_up

Progress = Callable[[float, str], None]
P = ParamSpec("P")
R = TypeVar("R")

MOST_KEPT = 128
"""Answers kept of each kind: a club's worth, at about a megabyte each."""
MOST_FITTED = 120
"""Elements of all options on all pumps that a page works out: some ten minutes of one core at most."""


_LOOK_UP_S = 1.0
_LONG_S = 10.0


class Turns:
    """So many may work at a time; whoever came first is next."""

    def __init__(self, number: int) -> None:
        self._free, self._queue, self._change = number, deque[object](), Condition()

    def take(self, waiting: Callable[[], object]) -> None:
        """Wait for a turn; ``waiting`` is called now and then meanwhile, and raises where nobody waits any more."""
        me = object()

        def is_next() -> bool:
            return self._free > 0 and self._queue[0] is me

        with self._change:
            self._queue.append(me)
            try:
                if not is_next():
                    waiting()
                while not self._change.wait_for(is_next, _LOOK_UP_S):
                    waiting()
                self._free -= 1
            finally:  # for one's turn has come, or one has gone
                self._queue.remove(me)
                self._change.notify_all()

    def give_back(self) -> None:
        """Let the next one work."""
        with self._change:
            self._free += 1
            self._change.notify_all()


_turns = Turns(1)  # two at once share one interpreter: both take longer than one after the other


class _Mine:
    """Somebody's turn; where their work takes long, the next one does not wait for its end."""

    def __init__(self) -> None:
        self._long: Timer | None = None
        self._given_back = Lock()

    def wait(self) -> None:
        """Wait until it is one's turn, unless it is already, and say so meanwhile."""
        if self._long is None:
            tell = progress_of_now() or (lambda _share, _what: None)
            _turns.take(lambda: (look_up(), tell(0.0, "others come first")))
            self._long = Timer(_LONG_S, self._give_back)
            self._long.daemon = True
            self._long.start()

    def end(self) -> None:
        """Let the next one work, if one had a turn at all."""
        if self._long is not None:
            self._long.cancel()
            self._give_back()

    def _give_back(self) -> None:
        if self._given_back.acquire(blocking=False):  # once
            _turns.give_back()


_mine: ContextVar[_Mine | None] = ContextVar("mine", default=None)
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
def one_turn() -> Iterator[_Mine]:
    """Let all that is worked out inside take one turn, so that a page waits once; what is known needs none."""
    outer = _mine.get()
    if outer is not None:
        yield outer
        return
    mine = _Mine()
    token = _mine.set(mine)
    try:
        yield mine
    finally:
        _mine.reset(token)
        mine.end()


class kept(Generic[P, R]):  # noqa: N801 - it decorates
    """Keep what a function returned; while one person waits for it, others wait for the same.

    A turn is taken before a lock, so that whoever holds a lock is at work and never waits for a turn.
    """

    def __init__(self, function: Callable[P, R]) -> None:
        self._function, self._guard = function, Lock()
        self._known, self._locks = OrderedDict[object, R](), dict[object, Lock]()

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        """Return what is known, or work it out."""
        key = (args, *kwargs.items())
        with self._guard:
            if self._recall(key):
                return self._known[key]
        with one_turn() as mine:
            mine.wait()
            with self._guard:
                lock = self._locks.setdefault(key, Lock())
            try:
                with lock:
                    with self._guard:
                        if self._recall(key):
                            return self._known[key]
                    found = self._function(*args, **kwargs)
                    self.learn(found, *args, **kwargs)
                    return found
            finally:
                with self._guard:
                    self._locks.pop(key, None)

    def _recall(self, key: object) -> bool:
        if key in self._known:
            self._known.move_to_end(key)
        return key in self._known

    def learn(self, found: R, *args: P.args, **kwargs: P.kwargs) -> None:
        """Know what has been worked out, here or by another process."""
        with self._guard:
            self._known[args, *kwargs.items()] = found
            if len(self._known) > MOST_KEPT:
                self._known.popitem(last=False)
