"""Events with dates and whole cents, and what they add up to."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from itertools import accumulate, pairwise

from filtration.base.frames import Frame, frame_of, html_of
from filtration.base.remarks import Remark
from filtration.service.events import Total, What
from filtration.study.values import Study


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """Something to do or to pay on a day.

    Parameters
    ----------
    day : int
        Days from the plan's first day.
    date : date
        The day.
    earliest, latest : date or None
        10 and 90 % of the draws, the planned day included; ``latest`` is None where it lies beyond twice the horizon.
    what, item : str
        What is done, and to what; or what is bought.
    count : float
        How many; kWh for electricity, months for disinfectant.
    amount : float
        What it costs, in whole cents.
    """

    day: int
    date: dt.date
    earliest: dt.date
    latest: dt.date | None
    what: What
    item: str
    count: float
    amount: float


def in_cents(amounts: Iterable[float]) -> list[float]:
    """Return amounts in whole cents that add up to their sum rounded, and so does every row of them from the first.

    Each is within a cent of what it was; one that was in whole cents stays as it was.

    Examples
    --------
    >>> in_cents([2.344, 2.344, 2.344, 0.08])
    [2.34, 2.35, 2.34, 0.08]
    """
    sums = [0, *(round(100.0 * total) for total in accumulate(amounts))]
    return [(after - before) / 100.0 for before, after in pairwise(sums)]


def summed(amounts: Iterable[float]) -> float:
    """Return the sum of amounts in whole cents, in whole cents.

    Examples
    --------
    >>> summed([0.1, 0.1, 0.1])
    0.3
    """
    return sum(round(100.0 * amount) for amount in amounts) / 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """From the long-run rate of a comparison to the plan's yearly average, in whole cents a year.

    Parameters
    ----------
    long_run : float
        What the comparison says a year costs, on and on.
    readings : float
        What readings change of that.
    first_purchases : float
        What is bought on the first day, spread over the horizon.
    part_used : float
        What is worn at the end of the horizon but not yet paid for again, less what was worn at its start.
    interest : float
        Interest on pump and housings, that the long-run rate carries and the plan's plain sum does not.
    seasons : float
        Uses that change with month and weekday.
    average : float
        The plan's undiscounted total over its years: the sum of all the above.
    """

    long_run: float
    readings: float
    first_purchases: float
    part_used: float
    interest: float
    seasons: float
    average: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakEven:
    """What is rinsed and used again against what is thrown away: the plan's option and the cheapest of the other sort.

    Parameters
    ----------
    reusable, disposable : str
        Names of the option with every stage rinsed, and of that with a stage that is not.
    reusable_is_cheapest, disposable_is_cheapest : bool
        Whether each is the cheapest of its sort that meets the needs; the plan's own option may not be.
    day : int or None
        Day from which the first has cost less for good; 0 from the start, None if it has not within the horizon.
    rinses : int or None
        Days up to that one on which it is rinsed.
    horizon_days : int
        How far was looked.
    reusable_total, disposable_total : float
        What both cost over the horizon, undiscounted.
    """

    reusable: str
    disposable: str
    reusable_is_cheapest: bool
    disposable_is_cheapest: bool
    day: int | None
    rinses: int | None
    horizon_days: int
    reusable_total: float
    disposable_total: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """One line of a year's shopping list.

    Parameters
    ----------
    item : str
        What to buy.
    what : {"element", "equipment", "cleaner", "disinfectant"}
        What it is; a count of cleaner is in soaks, of disinfectant in months.
    count, amount : float
        How many the plan uses in its first year, and what they cost.
    next_needed, order_by : date or None
        First day after today on which the plan may need one, at the earliest, and the day to order it by; None where it
        needs none in the year, or no lead time is told.
    spares, swap : int
        To keep for the lead time, and clean dry ones to swap in at a rinse; bought once, beside the plan's sums.
    stock_amount : float
        What spares and swaps cost.
    lead_time_days, suppliers : float or None, int or None
        As told.
    """

    item: str
    what: str
    count: float
    amount: float
    next_needed: dt.date | None = None
    order_by: dt.date | None = None
    spares: int = 0
    swap: int = 0
    stock_amount: float = 0.0
    lead_time_days: float | None = None
    suppliers: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Plan:
    """What to do and to buy with one option, from a first day on.

    Parameters
    ----------
    study : Study
        The study, as readings see it.
    option, name, pump : str
        The option's id, its name and that of its pump.
    first_day, last_day : date
        The horizon.
    fitted_on : date
        When the elements were, or will be, new.
    events : tuple of Planned
        In order.
    total : Total
        What they come to, plain and discounted to the first day.
    gap : Gap
        Why their yearly average is not the comparison's long-run rate.
    shopping : tuple of Purchase
        What to buy in the first year, and what to keep.
    break_even : BreakEven or None
        None where no option of the other sort, rinsed or thrown away, meets the needs.
    uneven : bool
        Uses change with month or weekday.
    lacks : float
        Share of the draws in which the option lacks the flow; they have no dates [-].
    draws, seed : int
        How many draws the earliest and latest days come from, and which.
    notes : tuple of Remark
        What the reader should know besides.
    """

    study: Study
    option: str
    name: str
    pump: str
    first_day: dt.date
    last_day: dt.date
    fitted_on: dt.date
    events: tuple[Planned, ...]
    total: Total
    gap: Gap
    shopping: tuple[Purchase, ...]
    break_even: BreakEven | None
    uneven: bool
    lacks: float
    draws: int
    seed: int
    notes: tuple[Remark, ...]

    @property
    def by_month(self) -> dict[str, float]:
        """Sums of the months in which anything is paid, as "2026-03", in whole cents."""
        return _sums(self.events, len("2026-03"))

    @property
    def by_year(self) -> dict[str, float]:
        """Sums of the calendar's years, as "2026", in whole cents."""
        return _sums(self.events, len("2026"))

    def table(self) -> Frame:
        """Return the events.

        Returns
        -------
        pandas.DataFrame
            One row an event; columns named as in the document, days as datetime64.
        """
        table = frame_of(map(asdict, self.events), Planned.__slots__)
        return table.astype(dict.fromkeys(("date", "earliest", "latest"), "datetime64[s]"))

    _repr_html_ = html_of

    def __repr__(self) -> str:
        """Say in a line what it is a plan of; ``table`` and the fields have all."""
        days = f"first_day={self.first_day}, last_day={self.last_day}, events={len(self.events)}"
        return f"{type(self).__name__}(study={self.study.name!r}, option={self.option!r}, {days})"


def _sums(events: Iterable[Planned], digits: int) -> dict[str, float]:
    """Return sums by so much of an event's date."""
    amounts = defaultdict[str, list[float]](list)
    for event in events:
        amounts[event.date.isoformat()[:digits]].append(event.amount)
    return {key: summed(each) for key, each in amounts.items()}
