"""Services of one option by the calendar: the deposit is the clock, time limits are dates; d draws, s stages."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from filtration.answers.odds import most_runs_of
from filtration.answers.results import OptionAnswer
from filtration.base.arrays import Array, Counts, Flags, Rows
from filtration.base.draws import ONE_IN_TEN
from filtration.loading.assembly import Entry
from filtration.loading.case import BY_AGE_ALONE
from filtration.loading.lifetime import Services
from filtration.service.pace import Pace
from filtration.study.values import Study

_AGE_TOLERANCE_DAYS = 1e-6
_BY_AGE = 0.9  # of the age at which an element is replaced in any case: a life that ends then ends by age
KINDS = ("rinse", "soak", "replace")


class Deposit(Protocol):
    """How an option in use loads, from new, service by service; of some draws ``on`` (e,)."""

    def run(self, longest: Array, on: Rows) -> Array:
        """Clock days (e,) of the next run, at most so many [day]."""

    def spent(self, clock: Array, on: Rows) -> Flags:
        """Which stages (s, e) that cannot be rinsed are replaced at its end, so many clock days on."""

    def serviced(self, clock: Array, keeps: Array, on: Rows) -> None:
        """Go on from its end: each stage (s, e) keeps a share of its deposit; no number where it is left alone."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rules:
    """How the stages are looked after, whatever the draw.

    Parameters
    ----------
    rinseable : (s,) array of bool
        Can be rinsed.
    soak_every, most_runs : (s,) array of int
        Rinses from one soak to the next (0: never); runs after which a stage is replaced instead of rinsed.
    soak_keeps, planned_days, oldest_days : (s,) array
        Share of the deposit that stays after a soak [-]; age from which a service replaces a stage, and age at which it
        is replaced in any case [day].
    between_days : float
        Longest time between rinses [day].
    """

    rinseable: Flags
    soak_every: Counts
    most_runs: Counts
    soak_keeps: Array
    planned_days: Array
    oldest_days: Array
    between_days: float


def rules_of(study: Study, entry: Entry, answer: OptionAnswer) -> Rules:
    """Return how an option is looked after.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.
    answer : OptionAnswer
        What the central case makes of it.

    Returns
    -------
    Rules
        Stage by stage: as many rinses as in the central case; where its life ends about when the element is too old
        anyway, not a number of rinses but that age decides.
    """
    stages, needs = entry.option.stages, study.needs
    lives, runs = [stage.life_days or 0.0 for stage in answer.stages], most_runs_of(answer)
    by_age = [most > 1 and life >= _BY_AGE * needs.discard_days for life, most in zip(lives, runs, strict=True)]
    unrinsed = min(needs.replace_limit_days, needs.discard_days)
    rinseable = np.array([element.rinseable for element in stages])
    return Rules(
        rinseable=rinseable,
        soak_every=np.array([element.soak_every_rinses if element.rinseable else 0 for element in stages]),
        most_runs=np.where(by_age, BY_AGE_ALONE, runs),
        planned_days=np.where(by_age, lives, np.inf),
        soak_keeps=np.array([1.0 - element.soak_recovery for element in stages]),
        oldest_days=np.where(rinseable, needs.discard_days, unrinsed),
        between_days=needs.rinse_limit_days if rinseable.any() else np.inf,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Dated:
    """Services in the order they come; k services. Where a draw is not followed further, nothing is done.

    Parameters
    ----------
    day : (k, d) array
        When, since new [day].
    length_days : (k, d) array
        Length of the run before [day].
    done : (k, 3, s, d) array of bool
        Whether each stage is rinsed, soaked, replaced.
    """

    day: Array
    length_days: Array
    done: Flags

    def services(self) -> Services:
        """Return those of the first draw as ``plan`` takes them."""
        (rinsed, soaked, replaced), size = self.done[..., :1].transpose(1, 0, 3, 2), self.day[:, :1].shape
        nothing = np.zeros(rinsed.shape)
        return Services(
            days=self.length_days[:, :1],
            rinsed=rinsed,
            soaked=soaked,
            replaced=replaced,
            counted=np.ones(size, dtype=bool),
            cut=np.zeros(size, dtype=bool),
            used_days=nothing,
            extra_cake_kg=nothing,
            renewed=np.zeros(1, dtype=bool),
        )

    def days_of(self, kind: int, stages: Sequence[int], number: int) -> Array:
        """Return the days (number, d) on which something is done to any of some stages for the first, second … time.

        Infinite where a draw is not followed so far.
        """
        size = self.day.shape[1]
        found, counted = np.full((number, size), np.inf), np.zeros(size, dtype=np.intp)
        for day, done in zip(self.day, self.done[:, kind], strict=True):
            for stage in stages:
                now = np.flatnonzero(done[stage] & (counted < number))
                found[counted[now], now] = day[now]
                counted[now] += 1
        return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Past:
    """What was done before today, and what is known of the next service.

    Parameters
    ----------
    now : float
        Today, since the option was new [day].
    number : int
        Services so far.
    walk : Dated or None
        What was done then; None for rinses and soaks spread evenly.
    next_days : (float, float, float) or None
        10, 50 and 90 % of the day of the next service [day]; None for what the draws say.
    next_what : {"rinse", "soak", "replace"} or None
        What is done then to whatever can be rinsed; None for what the rules say.
    """

    now: float
    number: int
    walk: Dated | None = None
    next_days: tuple[float, float, float] | None = None
    next_what: str | None = None

    def length(self, number: int, days: Array, day: Array) -> Array:
        """Return the length (d,) of the run before a service, from a day (d,) on, that would last so many days (d,)."""
        from scipy.special import ndtri

        if number < self.number:
            even = self.now / (self.number + 1)
            return np.full_like(days, even if self.walk is None else self.walk.length_days[number, 0])
        if self.next_days is None:
            return np.maximum(days, self.now - day)
        early, middle, late = self.next_days  # the sooner, the shorter the run
        way = ndtri((np.argsort(np.argsort(days, kind="stable")) + 0.5) / len(days)) / ONE_IN_TEN
        return np.maximum(middle + way * np.where(way > 0.0, late - middle, middle - early), self.now) - day

    def done(self, number: int, replaced: Flags, soaks: Flags) -> tuple[Flags, Flags]:
        """Return which stages (s, d) that can be rinsed are replaced at a service, and which of the others soaked."""
        if number < self.number:
            if self.walk is None:
                return np.zeros_like(replaced), soaks
            _, soaked, new = self.walk.done[number, :, :, :1]
            return np.broadcast_to(new, replaced.shape), np.broadcast_to(soaked, soaks.shape)
        if self.next_what is None:
            return replaced, soaks
        return np.full_like(replaced, self.next_what == "replace"), np.full_like(soaks, self.next_what == "soak")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Varied:
    """What of an option depends on the draws.

    Parameters
    ----------
    rinse_keeps : (s, d) array
        Share of a deposit that stays after a rinse [-].
    growth_per_day, bathers_share, shortest_days : (d,) array
        Growth in the deposit [1/day], the bathers' share of the catch [-], shortest run the owner puts up with [day].
    """

    rinse_keeps: Array
    growth_per_day: Array
    bathers_share: Array
    shortest_days: Array


def walked(
    deposit: Deposit,
    varied: Varied,
    rules: Rules,
    pace: Pace,
    *,
    until: float,
    needed: Counts | None = None,
    past: Past | None = None,
) -> Dated:
    """Walk an option from new, service by service.

    Parameters
    ----------
    deposit : Deposit
        How it loads, from new.
    varied : Varied
        What else of the option depends on the draws.
    rules : Rules
        How it is looked after.
    pace : Pace
        The calendar, from the day it was new.
    until : float
        How long to follow [day].
    needed : (3, s) array of int, optional
        A draw is left sooner once each stage was rinsed, soaked and replaced so many times.
    past : Past, optional
        What was done before today.

    Returns
    -------
    Dated
        What is done, and when.

    Notes
    -----
    Dirt follows the calendar's uses, dust does not; what has grown in the deposit follows real time. A run that ends
    with the same deposit as one of T days on the mean day's clock takes t days of the calendar, with
    T = t + b f (A(t0 + t) - A(t0)): A how far uses are ahead, b the bathers' share of the catch and f the share of the
    deposit's rise that is caught, meaned over the run. Right to first order in the swing of uses, exact without growth.
    A run is short where it is so both by the clock and by the calendar.
    """
    stages, size = varied.rinse_keeps.shape
    age, count, unsoaked, left_kept = (np.zeros((stages, size)) for _ in range(4))
    done = np.zeros((3, stages, size), dtype=np.int64)
    day, on = np.zeros(size), np.arange(size)
    seen: list[tuple[Array, Array, Flags]] = []
    rinseable, every, most = rules.rinseable[:, None], rules.soak_every[:, None], rules.most_runs[:, None]
    oldest, planned = rules.oldest_days[:, None], rules.planned_days[:, None]
    while on.size:
        number = len(seen)
        left = oldest - age[:, on]
        limit = np.minimum(left.min(axis=0), rules.between_days)
        days, clock = _run(deposit, varied, pace, left_kept[:, on], limit, day[on], on)
        if past is not None and number <= past.number:
            days = past.length(number, days, day[on])
        aged, soon = age[:, on] + days, count[:, on] + 1
        cut = (days >= np.where(rinseable, np.inf, left).min(axis=0) - _AGE_TOLERANCE_DAYS) & (day[on] > 0.0)
        short = (np.maximum(days, clock) < varied.shortest_days[on]) & ~cut
        enough = (soon >= most) | (aged >= planned - _AGE_TOLERANCE_DAYS) | short
        soaks = (every > 0) & (unsoaked[:, on] + 1 >= every)
        if past is not None and number <= past.number:
            enough, soaks = past.done(number, enough, soaks)
        over = np.where(rinseable, enough, deposit.spent(clock, on))
        replaced = over | (aged >= oldest - _AGE_TOLERANCE_DAYS)
        rinsed = rinseable & ~replaced
        soaked = rinsed & soaks
        keeps = np.where(rinsed, varied.rinse_keeps[:, on], np.where(replaced, 0.0, np.nan))
        keeps = np.where(soaked, keeps * rules.soak_keeps[:, None], keeps)
        deposit.serviced(clock, keeps, on)
        left_kept[:, on] = keeps
        age[:, on] = np.where(replaced, 0.0, aged)
        count[:, on] = np.where(rinsed, soon, np.where(replaced, 0.0, count[:, on]))
        unsoaked[:, on] = np.where(soaked | replaced, 0.0, unsoaked[:, on] + rinsed)
        day[on] += days
        now, length = np.zeros((3, stages, size), dtype=bool), np.zeros(size)
        now[:, :, on], length[on] = np.array([rinsed, soaked, replaced]), days
        seen.append((day.copy(), length, now))
        done += now
        go = day[on] < until
        if needed is not None:
            go &= (done[:, :, on] < needed[:, :, None]).any(axis=(0, 1))
        on = on[go]
    all_days, lengths, all_done = (np.array(part) for part in zip(*seen, strict=True))
    return Dated(day=all_days, length_days=lengths, done=all_done)


def _run(
    deposit: Deposit, varied: Varied, pace: Pace, left_kept: Array, limit: Array, day: Array, on: Rows
) -> tuple[Array, Array]:
    """Return the length of a run by the calendar and by the clock (e,) [day]; stages (s, e) kept so much before it."""
    if pace.even:
        days = deposit.run(limit, on)
        return days, days
    clock = deposit.run(np.full(on.size, np.inf), on)
    known = ~np.isnan(left_kept)
    kept = np.where(known, left_kept, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    share = varied.bathers_share[on] * caught_share(kept, varied.growth_per_day[on] * clock)
    days = pace.calendar(day, clock, share)
    late = days > limit
    return np.where(late, limit, days), np.where(late, pace.clock(day, limit, share), clock)


def caught_share(kept: Array, grown: Array) -> Array:
    """Return the share of a deposit's rise that is caught rather than grown, meaned over a run.

    Parameters
    ----------
    kept : (...) array
        Deposit at the start of the run over that at its end, 0 for a new element [-].
    grown : (...) array
        Growth times the run's length, g T [-].

    Returns
    -------
    (...) array
        Share [-]: the mean of c / (c + g m) where m' = c + g m, the catch c being steady.

    Examples
    --------
    >>> [round(float(caught_share(np.array(0.0), np.array(grown))), 4) for grown in (0.0, 1.0)]
    [1.0, 0.6321]
    """
    x = np.maximum(grown, 1e-9)
    from_catch = np.maximum(1.0 - kept * np.exp(x), 0.0) / (1.0 - np.minimum(kept, 1.0 - 1e-9))
    share: Array = from_catch * -np.expm1(-x) / x
    return share
