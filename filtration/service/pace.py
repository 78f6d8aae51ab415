"""The calendar's pace: where uses change with month and weekday, a deposit's clock and the calendar differ."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import numpy as np

from filtration.base.arrays import Array

_CYCLE_DAYS = 10227  # 28 years, after which every date falls on the same weekday again


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pace:
    """How far uses run ahead of their mean, day by day.

    Parameters
    ----------
    ahead_days : (n,) array
        Uses since a first day over their mean, less the days gone, at the start of each day [day]; one number for even
        uses. Repeats itself after 28 years.
    """

    ahead_days: Array

    @property
    def even(self) -> bool:
        """Every day sees as many uses."""
        return len(self.ahead_days) == 1

    @property
    def swing_days(self) -> float:
        """How much longer than the clock a stretch of the calendar can be, or shorter [day]."""
        return float(np.ptp(self.ahead_days))

    def clock(self, start: Array, days: Array, share: Array) -> Array:
        """Return the clock days (...) in so many days of the calendar.

        Parameters
        ----------
        start, days : (...) array
            First day and how many [day].
        share : (...) array
            Share of the clock that uses drive, 0 to 1 [-].
        """
        if self.even:
            return days
        return days + share * (self._ahead(start + days) - self._ahead(start))

    def calendar(self, start: Array, clock_days: Array, share: Array) -> Array:
        """Return after how many days of the calendar (...) the clock has gone on by so many, see ``clock``."""
        if self.even:
            return clock_days
        most = share * self.swing_days
        low = np.floor(start + np.maximum(clock_days - most, 0.0))
        high = np.ceil(start + clock_days + most) + 1.0
        while (high - low > 1.0).any():
            middle = np.floor(0.5 * (low + high))
            late = self.clock(start, middle - start, share) >= clock_days
            low, high = np.where(late, low, middle), np.where(late, middle, high)
        low = np.maximum(low, start)
        at_low, at_high = (self.clock(start, at - start, share) for at in (low, high))
        part = (clock_days - at_low) / np.where(at_high > at_low, at_high - at_low, 1.0)
        return low + np.clip(part, 0.0, 1.0) * (high - low) - start

    def busiest(self, days: float, until: float) -> float:
        """Return the most uses over their mean in so many days in a row, between the first day and ``until`` [-]."""
        if self.even:
            return 1.0
        days = max(days, 1.0)
        starts = np.arange(max(until - days, 0.0) + 1.0)
        return float((1.0 + (self._ahead(starts + days) - self._ahead(starts)) / days).max())

    def _ahead(self, day: Array) -> Array:
        """Return how far uses are ahead at a time (...) [day]."""
        turns, day = np.divmod(day, len(self.ahead_days) - 1.0)
        below = day.astype(np.intp)
        low = self.ahead_days[below]
        ahead: Array = low + (day - below) * (self.ahead_days[below + 1] - low) + turns * self.ahead_days[-1]
        return ahead


EVEN = Pace(ahead_days=np.zeros(1))


@lru_cache(maxsize=8)
def pace_of(first: date, by_month: Sequence[float], by_weekday: Sequence[float]) -> Pace:
    """Return the pace from a first day on.

    Parameters
    ----------
    first : date
        The first day.
    by_month, by_weekday : sequence of float
        Uses of each month, from January, and of each weekday, from Monday, over their mean [-]; empty for all alike.

    Returns
    -------
    Pace
        Uses of a day are the product of both.

    Examples
    --------
    >>> from filtration.study.build import over_mean
    >>> weekend = pace_of(date(2024, 1, 1), (), over_mean((0, 0, 0, 0, 0, 1, 1)))
    >>> float(weekend.clock(np.array(0.0), np.array(5.0), np.array(1.0)))
    0.0
    """
    if not (by_month or by_weekday):
        return EVEN
    days = np.datetime64(first) + np.arange(_CYCLE_DAYS)
    months = days.astype("datetime64[M]").astype(int) % 12
    weekdays = (days.astype(int) + 3) % 7  # the first of January 1970 was a Thursday
    uses = np.array(by_month or (1.0,) * 12)[months] * np.array(by_weekday or (1.0,) * 7)[weekdays]
    return Pace(ahead_days=np.concatenate([[0.0], np.cumsum(uses - 1.0)]))
