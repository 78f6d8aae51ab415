"""The service walk: options from new, service by service, by the clock or the calendar.

It serves lives, trains, plans, forecasts, sizing and fleets, the central case and draws alike. The deposit is the
clock, time limits are dates. Shapes: d cases, e some of them, s stages, k services.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from filtration.base.arrays import Array, Counts, Flags, Rows
from filtration.base.cases import taken
from filtration.base.draws import ONE_IN_TEN
from filtration.loading.runs import FULL_TOLERANCE, Tables
from filtration.loading.table import Deposit
from filtration.service.care import AGE_TOLERANCE_DAYS, Care
from filtration.service.pace import EVEN, Pace

KINDS = ("rinse", "soak", "replace")
_LONGEST_PERIOD = 12  # services after which soaks come in the same order again; beyond, nothing is repeated unwalked
_MOST_SERVICES = 4000
_SAME = 10.0  # times the tolerance of a run: so far apart two states are still the same


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Services:
    """Services in the order they come; k of them. Where a case is not followed further, nothing is done.

    Parameters
    ----------
    day, length_days : (k, d) array
        When, since new, and length of the run before [day].
    done : (k, 3, s, d) array of bool
        Whether each stage is rinsed, soaked, replaced.
    counted, cut : (k, d) array of bool
        The service was walked; the age of a stage that cannot be rinsed cut the run before it, so that its length says
        nothing of the others.
    used_days, extra_cake_kg : (k, s, d) array
        The state the run before each service starts in, see ``Tables``; none where they were not asked for [day], [kg].
    renewed : (d,) array of bool
        The last service made every stage new, so that all repeats itself.
    shortest_days : (d,) array
        Shortest run the owner puts up with [day].
    """

    day: Array
    length_days: Array
    done: Flags
    counted: Flags
    cut: Flags
    used_days: Array
    extra_cake_kg: Array
    renewed: Flags
    shortest_days: Array

    def days_of(self, kind: int, stages: Sequence[int], number: int) -> Array:
        """Return the days (number, d) on which something is done to any of some stages for the first, second … time.

        Infinite where a case is not followed so far.
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
    services : Services or None
        What was done then; None for rinses and soaks spread evenly.
    next_days : (float, float, float) or None
        10, 50 and 90 % of the day of the next service [day]; None for what the cases say.
    next_what : {"rinse", "soak", "replace"} or None
        What is done then to whatever can be rinsed; None for what the care says.
    """

    now: float
    number: int
    services: Services | None = None
    next_days: tuple[float, float, float] | None = None
    next_what: str | None = None

    def length(self, number: int, days: Array, day: Array) -> Array:
        """Return the length (d,) of the run before a service, from a day (d,) on, that would last so many days (d,)."""
        from scipy.special import ndtri

        if number < self.number:
            even = self.now / (self.number + 1)
            return np.full_like(days, even if self.services is None else self.services.length_days[number, 0])
        if self.next_days is None:
            return np.maximum(days, self.now - day)
        early, middle, late = self.next_days  # the sooner, the shorter the run
        way = ndtri((np.argsort(np.argsort(days, kind="stable")) + 0.5) / len(days)) / ONE_IN_TEN
        return np.maximum(middle + way * np.where(way > 0.0, late - middle, middle - early), self.now) - day

    def done(self, number: int, replaced: Flags, soaks: Flags) -> tuple[Flags, Flags]:
        """Return which stages (s, d) that can be rinsed are replaced at a service, and which of the others soaked."""
        if number < self.number:
            if self.services is None:
                return np.zeros_like(replaced), soaks
            _, soaked, new = self.services.done[number, :, :, :1]
            return np.broadcast_to(new, replaced.shape), np.broadcast_to(soaked, soaks.shape)
        if self.next_what is None:
            return replaced, soaks
        return np.full_like(replaced, self.next_what == "replace"), np.full_like(soaks, self.next_what == "soak")


@dataclass(slots=True, kw_only=True, eq=False)
class _InUse:
    """Where options stand as they are used and serviced; runs whose state came before are not walked again.

    ``period`` (d,) says after how many services a case's soaks come in the same order again, 0 where nothing is
    repeated; ``since`` (d,) how many there were since a stage was new, and ``same`` (d,) where the state is that of a
    period ago.
    """

    tables: Tables
    period: Counts
    used: Array
    extra: Array
    since: Counts
    same: Flags
    starts: list[tuple[Array, Array]] = field(default_factory=list)
    lengths: list[Array] = field(default_factory=list)

    @classmethod
    def new(cls, tables: Tables, care: Care, pace: Pace) -> "_InUse":
        """All stages new."""
        period = np.lcm.reduce(np.maximum(care.soak_every, 1), axis=0)
        size = tables.case.size
        return cls(
            tables=tables,
            period=np.where((period <= _LONGEST_PERIOD) & pace.even, period, 0),
            used=tables.new,
            extra=tables.new,
            since=np.zeros(size, dtype=np.int64),
            same=np.zeros(size, dtype=bool),
        )

    def run(self, longest: Array, on: Rows) -> Array:
        """Length (e,) of the next run, at most so long (e,) [day]."""
        self.starts.append((self.used.copy(), self.extra.copy()))
        days, walked = np.empty(on.size), ~self.same[on]
        for period in np.unique(self.period[on[~walked]]).tolist():
            again = ~walked & (self.period[on] == period)
            days[again] = np.minimum(self.lengths[-period][on[again]], longest[again])
        if walked.any():
            some = on[walked]
            days[walked] = self.tables.run(self.used[:, some], self.extra[:, some], longest[walked], some)
        whole = np.zeros(self.same.size)
        whole[on] = days
        self.lengths.append(whole)
        return days

    def held(self, days: Array, on: Rows) -> list[Deposit]:
        """Return what each stage (e,) holds at the end of a run [day]."""
        return self.tables.deposits(self.used[:, on], self.extra[:, on], days, on)

    def go_on(self, days: Array, residual: Array, on: Rows) -> None:
        """Go on from the end of a run (e,): each stage (s, e) keeps a share of its deposit; no number: left alone."""
        self.since[on] = np.where((residual == 0.0).any(axis=0), 0, self.since[on] + 1)
        self.same[on] &= self.since[on] > 0
        repeated = self.same[on]
        for period in np.unique(self.period[on[repeated]]).tolist():
            some = on[repeated & (self.period[on] == period)]
            used, extra = self.starts[-period]
            self.used[:, some], self.extra[:, some] = used[:, some], extra[:, some]
        if repeated.all():
            return
        on, days, residual = on[~repeated], days[~repeated], residual[:, ~repeated]
        held = self.held(days, on)
        for at, each in enumerate(held):
            alone = np.isnan(residual[at])
            used, extra = self.tables.kept(at, np.where(alone, 1.0, residual[at]), each, on)
            self.used[at, on] = np.where(alone, self.used[at, on] + days, used)
            if alone.any():  # as the table has it at its own clock, not where its layers would put it
                extra = np.where(alone, each.cake_kg - self.tables.cake_kg(at, self.used[at, on], on), extra)
            self.extra[at, on] = extra
        for period in np.unique(self.period[on]).tolist():
            mine = (self.period[on] == period) & (self.since[on] >= period)
            if 0 < period <= len(self.starts) and mine.any():
                self.same[on[mine]] = self._as_before(
                    period, days[mine], [each.cake_kg[mine] for each in held], on[mine]
                )

    def _as_before(self, period: int, days: Array, cakes: Sequence[Array], on: Rows) -> Flags:
        """Return where the state (e,) is that of so many services ago, measured by a run and the cake at its end."""
        near, (used, extra) = _SAME * self.tables.fineness.days, self.starts[-period]
        close = np.abs(self.used[:, on] - used[:, on]) <= near * days
        close &= np.abs(self.extra[:, on] - extra[:, on]) <= near * np.array(cakes) + 1e-15
        return np.asarray(close.all(axis=0))


def spent(tables: Tables, care: Care, held: Sequence[Deposit], on: Rows) -> Flags:
    """Return which stages (s, e) are full, or carry so much of the loop's extra loss that they are spent.

    A single stage is spent whenever it is due.
    """
    if len(held) == 1:
        return np.ones((1, on.size), dtype=bool)
    extra = tables.extra_losses_pa(held, on)
    much = (extra > 0.0) & (extra >= care.replace_share[on] * extra.sum(axis=0))
    full = np.array([tables.fullness(at, each, on) for at, each in enumerate(held)]) >= 1.0 - FULL_TOLERANCE
    return np.asarray(much | full)


def walk(
    tables: Tables,
    care: Care,
    *,
    until: Array | float,
    pace: Pace = EVEN,
    bathers_share: Array | None = None,
    needed: Counts | None = None,
    past: Past | None = None,
    to_renewal: bool = False,
    states: bool = False,
) -> Services:
    """Walk options from new, service by service.

    Parameters
    ----------
    tables : Tables
        How they load.
    care : Care
        How they are looked after.
    until : float or (d,) array
        How long to follow [day].
    pace : Pace, optional
        The calendar, from the day they were new.
    bathers_share : (d,) array, optional
        The bathers' share of the catch, where uses are not even [-].
    needed : (3, s) array of int, optional
        A case is left sooner once each stage was rinsed, soaked and replaced so many times.
    past : Past, optional
        What was done before today.
    to_renewal : bool, optional
        A case is left sooner once all its stages are new at once.
    states : bool, optional
        Keep the state that each run starts in.

    Returns
    -------
    Services
        What is done, and when.

    Notes
    -----
    Dirt follows the calendar's uses, dust does not; what has grown in the deposit follows real time. A run that ends
    with the same deposit as one of T days on the mean day's clock takes t days of the calendar, with
    T = t + b f (A(t0 + t) - A(t0)): A how far uses are ahead, b the bathers' share of the catch and f the share of the
    deposit's rise that is caught, meaned over the run. Right to first order in the swing of uses, exact without growth.
    A run is short where it is so both by the clock and by the calendar.
    """
    stages, size = care.oldest_days.shape
    in_use, log = _InUse.new(tables, care, pace), _Log(stages=stages, size=size)
    age, count, unsoaked, left_kept = (np.zeros((stages, size)) for _ in range(4))
    day, renewed, on = np.zeros(size), np.zeros(size, dtype=bool), np.arange(size)
    shortest, until_day = np.zeros(size), np.broadcast_to(until, size)
    while on.size and log.number < _MOST_SERVICES:
        mine, known = taken(care, on, size), past is not None and log.number <= past.number
        left = mine.oldest_days - age[:, on]
        limit = np.minimum(left.min(axis=0), mine.between_days)
        if pace.even or bathers_share is None:
            clock = days = in_use.run(limit, on)
        else:
            share = bathers_share[on], _mean_known(left_kept[:, on])
            days, clock = _by_calendar(in_use, pace, limit, day[on], share, on)
        if not log.number:
            shortest = care.shortest_days(np.minimum(in_use.lengths[-1], limit))
        if past is not None and known:
            days = past.length(log.number, days, day[on])
        aged, soon = age[:, on] + days, count[:, on] + 1
        fixed_left = np.where(mine.rinseable, np.inf, left).min(axis=0)
        cut = (days >= fixed_left - AGE_TOLERANCE_DAYS) & (day[on] > 0.0)
        short = (np.maximum(days, clock) < shortest[on]) & ~cut
        over = (soon >= mine.most_runs) | (aged >= mine.planned_days - AGE_TOLERANCE_DAYS) | short
        soaks = mine.soaks(unsoaked[:, on])
        if past is not None and known:
            over, soaks = past.done(log.number, over, soaks)
        if not mine.rinseable.all():
            over = np.where(mine.rinseable, over, spent(tables, care, in_use.held(clock, on), on))
        replaced = over | (aged >= mine.oldest_days - AGE_TOLERANCE_DAYS)
        rinsed = mine.rinseable & ~replaced
        soaked = rinsed & soaks
        left_kept[:, on] = residual = mine.residual(rinsed, soaked, replaced)
        in_use.go_on(clock, residual, on)
        if not states:
            del in_use.starts[:-_LONGEST_PERIOD]
        age[:, on] = np.where(replaced, 0.0, aged)
        count[:, on] = np.where(rinsed, soon, np.where(replaced, 0.0, count[:, on]))
        unsoaked[:, on] = np.where(soaked | replaced, 0.0, unsoaked[:, on] + rinsed)
        day[on] += days
        renewed[on] = replaced.all(axis=0)
        log.write(day, days, np.array([rinsed, soaked, replaced]), cut, on)
        go = day[on] < until_day[on]
        if needed is not None:
            go &= (log.total[:, :, on] < needed[:, :, None]).any(axis=(0, 1))
        if to_renewal:
            go &= ~renewed[on]
        on = on[go]
    starts = in_use.starts if states else []
    used, extra = (np.array([start[at] for start in starts]).reshape(-1, stages, size) for at in (0, 1))
    return log.services(used, extra, renewed, shortest)


@dataclass(slots=True, kw_only=True, eq=False)
class _Log:
    """What was done so far; ``total`` (3, s, d) how often."""

    stages: int
    size: int
    days: list[tuple[Array, Array]] = field(default_factory=list)
    flags: list[tuple[Flags, Flags, Flags]] = field(default_factory=list)
    total: Counts = field(init=False)

    def __post_init__(self) -> None:
        self.total = np.zeros((3, self.stages, self.size), dtype=np.int64)

    @property
    def number(self) -> int:
        """How many services were written."""
        return len(self.days)

    def write(self, day: Array, days: Array, done: Flags, cut: Flags, on: Rows) -> None:
        """Write one service of some cases (e,)."""
        length, counted, was_cut = np.zeros(self.size), np.zeros(self.size, dtype=bool), np.zeros(self.size, dtype=bool)
        now = np.zeros_like(self.total, dtype=bool)
        length[on], counted[on], was_cut[on], now[:, :, on] = days, True, cut, done
        self.days.append((day.copy(), length))
        self.flags.append((now, counted, was_cut))
        self.total += now

    def services(self, used: Array, extra: Array, renewed: Flags, shortest: Array) -> Services:
        """Return all that was written."""
        day, lengths = (np.array(part) for part in zip(*self.days, strict=True))
        done, counted, cut = (np.array(part) for part in zip(*self.flags, strict=True))
        return Services(
            day=day,
            length_days=lengths,
            done=done,
            counted=counted,
            cut=cut,
            used_days=used,
            extra_cake_kg=extra,
            renewed=renewed,
            shortest_days=shortest,
        )


def _by_calendar(
    in_use: _InUse, pace: Pace, limit: Array, day: Array, share: tuple[Array, Array], on: Rows
) -> tuple[Array, Array]:
    """Return the length of the next run by the calendar and by the clock (e,) [day]; a limit is one of the calendar.

    ``share`` has the bathers' share of the catch (e,), and what the stages kept at the last service (e,) [-].
    """
    bathers, kept = share
    free = in_use.run(np.full(on.size, np.inf), on)
    driven = bathers * caught_share(kept, in_use.tables.duty.growth_per_day[on] * free)
    days = pace.calendar(day, free, driven)
    late = days > limit
    return np.where(late, limit, days), np.where(late, pace.clock(day, limit, driven), free)


def _mean_known(kept: Array) -> Array:
    """Return the mean share (e,) that stages (s, e) kept, those left alone not counted [-]."""
    known = ~np.isnan(kept)
    mean: Array = np.where(known, kept, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    return mean


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
