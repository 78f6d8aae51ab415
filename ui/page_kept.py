"""What the pages keep of what was worked out: once for everybody, in turns, with word of how far it is."""

from collections import OrderedDict, deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from threading import Condition, Lock, Timer
from time import monotonic
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
_WHILE_S, _LONG_S = 2.0, 10.0


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

    @property
    def wanted(self) -> bool:
        """Whether anybody waits."""
        return bool(self._queue)

    def give_back(self) -> None:
        """Let the next one work."""
        with self._change:
            self._free += 1
            self._change.notify_all()


_turns = Turns(1)  # two at once share one interpreter: both take longer than one after the other


class _Turn:
    """A turn that somebody has; after a long time it is given back all the same, so that nobody is held up."""

    def __init__(self) -> None:
        self.since, self._late, self._given_back = monotonic(), Timer(_LONG_S, self.give_back), Lock()
        self._late.daemon = True
        self._late.start()

    @property
    def is_over(self) -> bool:
        """Whether it has been given back."""
        return self._given_back.locked()

    def give_back(self) -> None:
        """Let the next one work."""
        self._late.cancel()
        if self._given_back.acquire(blocking=False):  # once
            _turns.give_back()


class _Mine:
    """Somebody's turn, or none; where their work takes long, others come in between."""

    def __init__(self) -> None:
        self._turn: _Turn | None = None

    def wait(self) -> None:
        """Wait until it is one's turn, unless it is already, and say so meanwhile."""
        if self._turn is None:
            tell = progress_of_now() or (lambda _share, _what: None)
            _turns.take(lambda: (look_up(), tell(0.0, "others come first")))
            self._turn = _Turn()

    def end(self) -> None:
        """Let the next one work, if one had a turn at all."""
        if self._turn is not None:
            self._turn.give_back()
            self._turn = None

    def pause(self) -> None:
        """Let those who wait come first, if one has worked for a while."""
        mine = self._turn
        if mine is not None and monotonic() - mine.since > _WHILE_S and (mine.is_over or _turns.wanted):
            self.end()
            self.wait()


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


def pause() -> None:
    """Let others come first, where one has worked for a while and they wait."""
    mine = _mine.get()
    if mine is not None:
        mine.pause()


@contextmanager
def _alone(lock: Lock, mine: _Mine) -> Iterator[None]:
    """Hold a lock; while another works on the same, the turn is theirs."""
    if not lock.acquire(blocking=False):
        mine.end()
        while not lock.acquire(timeout=_LOOK_UP_S):
            look_up()
    try:
        yield
    finally:
        lock.release()


class kept(Generic[P, R]):  # noqa: N801 - it decorates
    """Keep what a function returned; while one person waits for it, others wait for the same.

    Whoever waits for another's lock has no turn, so that whoever holds it gets one.
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
            with self._guard:
                lock = self._locks.setdefault(key, Lock())
            try:
                with _alone(lock, mine):
                    with self._guard:
                        if self._recall(key):
                            return self._known[key]
                    mine.wait()
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
