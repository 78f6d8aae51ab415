"""Visits to many tubs gathered on as few days as their needs allow.

A tub's services are those of its own plan, in their order. One that comes early leaves less behind, so that the wait
after it may be as long as in that plan: no wait is ever longer, whoever shares the day.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import ceil, floor

import numpy as np

from filtration.service.pace import EVEN, Pace

_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chore:
    """Something that a tub wants done again and again.

    Parameters
    ----------
    waits_days : tuple of float
        The longest wait before each time, the one under way first [day].
    whole : tuple of bool
        Each counts in full even if early, as it makes something new. Another one counts for as much of its wait as has
        gone: a filter rinsed at half time is worn by half a run.
    start_day : float
        When the wait under way began, from the first day [day]; 0 or before.
    repeats : bool
        After the last the first follows again; otherwise the last does.
    pace, since_day, bathers_share : Pace, float, float
        The calendar, the first day on it, and the bathers' share of the catch [-]; waits are then clock days.
    most_days : float
        No wait is longer, whatever the calendar [day].
    """

    waits_days: tuple[float, ...]
    whole: tuple[bool, ...]
    start_day: float = 0.0
    repeats: bool = False
    pace: Pace = field(default=EVEN)
    since_day: float = 0.0
    bathers_share: float = 0.0
    most_days: float = np.inf

    def number(self, worn: float) -> int:
        """Return which time comes next when so many are behind, early ones counted in part."""
        ahead = ceil(worn - _ROUNDING)
        return ahead % len(self.waits_days) if self.repeats else min(ahead, len(self.waits_days) - 1)

    def wait(self, worn: float, day: float) -> float:
        """Return the longest wait from a day on [day]."""
        longest = self.waits_days[self.number(worn)]
        if not self.pace.even:
            at = np.array([self.since_day + day, longest, self.bathers_share])[:, None]
            longest = float(self.pace.calendar(*at)[0])
        return min(longest, self.most_days)

    def worn_after(self, worn: float, share: float) -> float:
        """Return how many are behind after the next, done when so much of its wait has gone."""
        whole = float(ceil(worn - _ROUNDING)) + 1.0
        return whole if self.whole[self.number(worn)] else min(worn + share, whole)


@dataclass(frozen=True, slots=True)
class Served:
    """One time that a chore is done: when, from the first day [day], and which of its waits that ends."""

    time: float
    number: int

    @property
    def day(self) -> int:
        """The day of the visit."""
        return max(floor(self.time), 0)


@dataclass(slots=True)
class _State:
    """Where a chore stands: how many times are behind, when the last was, and when the next is due."""

    chore: Chore
    worn: float
    last: float
    due: float

    @property
    def due_day(self) -> int:
        """The last day on which it can be done."""
        return max(floor(self.due), 0)

    def after(self, day: int) -> tuple[float, float, float]:
        """Return the same once it is done on a day: at its time where it is due then, else as the day begins."""
        time = max(self.due, 0.0) if self.due_day <= day else float(day)
        wait = max(self.due - self.last, _ROUNDING)
        worn = self.chore.worn_after(self.worn, min(max(time - self.last, 0.0) / wait, 1.0))
        return worn, time, time + self.chore.wait(worn, time)


def gathered(chores: Sequence[Chore], days: int) -> list[list[Served]]:
    """Return when each of some chores is done, on as few days as they allow.

    Parameters
    ----------
    chores : sequence of Chore
        Of all tubs.
    days : int
        How many days to look ahead.

    Returns
    -------
    list of list of Served
        For each, in order.

    Notes
    -----
    Each visit falls on the last day that the chore due soonest allows; what could not wait for the visit after it is
    done too, nothing else. Of waits that stay the same no schedule has fewer days, and nothing comes earlier than its
    days ask for.

    Examples
    --------
    >>> weekly, slow = Chore(waits_days=(7.0,), whole=(False,)), Chore(waits_days=(17.0,), whole=(True,))
    >>> [[served.day for served in each] for each in gathered([weekly, slow], 30)]
    [[7, 14, 21, 28], [14, 28]]
    """
    states = [
        _State(chore, 0.0, chore.start_day, chore.start_day + chore.wait(0.0, chore.start_day)) for chore in chores
    ]
    done: list[list[Served]] = [[] for _ in chores]
    due = np.array([state.due_day for state in states], dtype=np.int64)
    while due.size and (day := int(due.min())) < days:
        now = due <= day
        latest = min(max(floor(states[at].after(day)[2]), 0) for at in np.flatnonzero(now))
        near = {int(at): states[at].after(day) for at in np.flatnonzero(due < latest)}
        visit = min([latest, *(max(floor(after[2]), int(due[at])) for at, after in near.items())])
        for at in np.flatnonzero(now | (due < visit)):
            state = states[at]
            worn, time, then = state.after(day)
            done[at].append(Served(time, state.chore.number(state.worn)))
            state.worn, state.last, state.due = worn, time, then
            due[at] = state.due_day
    return done


def days_of(done: Sequence[Sequence[Served]]) -> list[int]:
    """Return the days on which anything is done, in order."""
    return sorted({served.day for each in done for served in each})


def each_alone(chores: Sequence[Chore], days: int) -> Iterator[list[Served]]:
    """Yield when each chore is done, each on the last day that it allows."""
    for chore in chores:
        yield from gathered([chore], days)
