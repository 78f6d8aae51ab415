"""The service walk: options from new, service by service, by the clock or the calendar.

It serves lives, trains, plans, forecasts, sizing and fleets, the central case and draws alike. The deposit is the
clock, time limits are dates. Shapes: d cases, e some of them, s stages, k services.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from filtration.base.arrays import Array, Counts, Flags, Rows
from filtration.base.cases import taken
from filtration.base.waiting import look_up
from filtration.loading.runs import FULL_TOLERANCE, Tables
from filtration.loading.table import Deposit
from filtration.service.care import AGE_TOLERANCE_DAYS, ENDLESS, Care
from filtration.service.pace import EVEN, Pace
from filtration.service.visits import Past, Skip, Visit, Visits

_LONGEST_PERIOD = 12  # services after which soaks come in the same order again; beyond, nothing is repeated unwalked
_MOST_SERVICES = 4000
_WORTH_SORTING = 0.85  # share of the cases still followed below which the others are left behind
_SAME = 10.0  # times the tolerance of a run: so far apart two states are still the same


class _Start(NamedTuple):
    """How a run starts (s, e), and how long it is (e,), limits aside; see ``Tables``."""

    used: Array
    extra: Array
    days: Array


@dataclass(slots=True, kw_only=True, eq=False)
class _Now:
    """Where the cases ``on`` (e,) that are still followed stand; every array has them last.

    Runs whose state came before are not walked again: ``period`` says after how many services a case's soaks come in
    the same order again, 0 where nothing is repeated, ``since`` how many services there were since a stage was new, and
    ``same`` where the state is that of a period ago.
    """

    tables: Tables
    on: Rows
    care: Care
    day: Array
    age: Array
    count: Array
    unsoaked: Array
    kept: Array
    used: Array
    extra: Array
    period: Counts
    since: Counts
    same: Flags
    before: list[_Start] = field(default_factory=list)

    @classmethod
    def new(cls, tables: Tables, care: Care, pace: Pace) -> "_Now":
        """All stages new."""
        period = np.lcm.reduce(np.maximum(care.soak_every, 1), axis=0)
        nothing, size = np.zeros(care.oldest_days.shape), tables.case.size
        return cls(
            tables=tables,
            on=tables.all,
            care=care,
            day=np.zeros(size),
            age=nothing,
            count=nothing,
            unsoaked=nothing,
            kept=nothing,
            used=nothing,
            extra=nothing,
            period=np.where((period <= _LONGEST_PERIOD) & pace.even, period, 0),
            since=np.zeros(size, dtype=np.int64),
            same=np.zeros(size, dtype=bool),
        )

    def only(self, go: Flags) -> "_Now":
        """Return where some of the cases stand."""
        cases, size = np.flatnonzero(go), len(go)
        parts = {
            name: getattr(self, name).take(cases, axis=-1)
            for name in ("on", "day", "age", "count", "unsoaked", "kept", "used", "extra", "period", "since", "same")
        }
        before = [_Start(*(part.take(cases, axis=-1) for part in start)) for start in self.before]
        return _Now(tables=self.tables, care=taken(self.care, cases, size), before=before, **parts)

    def run(self, longest: Array) -> Array:
        """Length (e,) of the next run, at most so long (e,) [day]."""
        days, periods = np.empty(self.on.size), np.unique(self.period[self.same]).tolist() if self.same.any() else []
        for period in periods:
            again = self.same & (self.period == period)
            days[again] = np.minimum(self.before[-period].days[again], longest[again])
        walked = np.flatnonzero(~self.same)
        if walked.size:
            near = self.before[-1].days[walked] if self.before else None
            used, extra, on = self.used[:, walked], self.extra[:, walked], self.on[walked]
            days[walked] = self.tables.run(used, extra, longest[walked], on, near)
        self.before = [*self.before, _Start(self.used, self.extra, days)][-max(int(self.period.max()), 1) :]
        return days

    def held(self, days: Array) -> list[Deposit]:
        """Return what each stage (e,) holds at the end of a run [day]."""
        return self.tables.deposits(self.used, self.extra, days, self.on)

    def go_on(self, days: Array, residual: Array) -> None:
        """Go on from the end of a run (e,): each stage (s, e) keeps a share of its deposit; no number: left alone."""
        self.since = np.where((residual == 0.0).any(axis=0), 0, self.since + 1)
        again = self.same & (self.since > 0)
        used, extra, periods = np.empty_like(self.used), np.empty_like(self.extra), np.unique(self.period).tolist()
        for period in periods if again.any() else ():
            mine = np.flatnonzero(again & (self.period == period))
            if mine.size:
                start = self.before[-period]
                used[:, mine], extra[:, mine] = start.used[:, mine], start.extra[:, mine]
        fresh, cakes = np.flatnonzero(~again), np.zeros_like(self.extra)
        if fresh.size:
            on, more = self.on[fresh], days[fresh]
            for at, held in enumerate(self.tables.deposits(self.used[:, fresh], self.extra[:, fresh], more, on)):
                alone, cakes[at, fresh] = np.isnan(residual[at, fresh]), held.cake_kg
                share = np.where(alone, 1.0, residual[at, fresh])
                later, left = self.tables.kept(at, share, held, on)
                if alone.any():  # as the table has it at its own clock, not where its layers would put it
                    later = np.where(alone, self.used[at, fresh] + more, later)
                    left = np.where(alone, held.cake_kg - self.tables.cake_kg(at, later, on), left)
                used[at, fresh], extra[at, fresh] = later, left
        near = _SAME * self.tables.fineness.days
        for period in periods:
            if 0 < period <= len(self.before):
                start = self.before[-period]
                close = (np.abs(used - start.used) <= near * days).all(axis=0)
                close &= (np.abs(extra - start.extra) <= near * cakes + 1e-15).all(axis=0)
                again |= close & (self.period == period) & (self.since >= period)
        self.used, self.extra, self.same = used, extra, again

    def skip(self) -> Skip:
        """Leave out whole cycles of a single stage, all but the last before it is too old."""
        cases = np.flatnonzero(self.same)
        period, days = self.period[cases], np.zeros(cases.size)
        for back, start in enumerate(reversed(self.before)):
            days += np.where(back < period, start.days[cases], 0.0)
        left = self.care.oldest_days[0, cases] - self.age[0, cases]
        cycles = (np.where(np.isfinite(left), left, 0.0) / days).astype(np.int64) - 1
        some = cycles > 0
        cases, cycles, days, period = cases[some], cycles[some], days[some], period[some]
        self.age[0, cases] += cycles * days
        self.day[cases] += cycles * days
        every = self.care.soak_every[0, cases]
        return Skip(self.on[cases], cycles, days, period, np.where(every > 0, period // np.maximum(every, 1), 0))

    def visit(self, pace: Pace, bathers_share: Array | None, past: Past | None, visits: Visits) -> Visit:
        """Run to the next service, do what is to be done, and go on."""
        care, number = self.care, visits.number
        if past is not None and past.left is not None and number == past.number:
            until = np.where(care.most_runs < ENDLESS, care.most_runs - 1.0 - past.left, self.count)
            self.count = np.where(care.rinseable, until, self.count)
        left = care.oldest_days - self.age
        limit = np.minimum(left.min(axis=0), care.between_days)
        if pace.even or bathers_share is None:
            clock = days = self.run(limit)
        else:
            days, clock = self.run_by_calendar(pace, bathers_share[self.on], limit)
        if not number:
            visits.shortest_days = care.shortest_days(np.minimum(self.before[-1].days, limit))
        if past is not None:
            days = past.length(number, days, self.day)
        fixed_left = np.where(care.rinseable, np.inf, left).min(axis=0)
        cut = (days >= fixed_left - AGE_TOLERANCE_DAYS) & (self.day > 0.0)
        short = (np.maximum(days, clock) < visits.shortest_days[self.on]) & ~cut
        aged, soon = self.age + days, self.count + 1
        over = (soon >= care.most_runs) | (aged >= care.planned_days - AGE_TOLERANCE_DAYS) | short
        soaks = care.soaks(self.unsoaked)
        if past is not None:
            over, soaks = past.done(number, over, soaks)
        if not care.rinseable.all():
            over = np.where(care.rinseable, over, spent(self.tables, care, self.held(clock), self.on))
        replaced = over | (aged >= care.oldest_days - AGE_TOLERANCE_DAYS)
        rinsed = care.rinseable & ~replaced
        soaked = rinsed & soaks
        self.kept = care.residual(rinsed, soaked, replaced)
        self.go_on(clock, self.kept)
        self.age = np.where(replaced, 0.0, aged)
        self.count = np.where(rinsed, soon, np.where(replaced, 0.0, self.count))
        self.unsoaked = np.where(soaked | replaced, 0.0, self.unsoaked + rinsed)
        self.day = self.day + days
        return Visit(self.on, days, np.stack([rinsed, soaked, replaced]), cut)

    def run_by_calendar(self, pace: Pace, bathers_share: Array, limit: Array) -> tuple[Array, Array]:
        """Length of the next run by the calendar and by the clock (e,) [day]; a limit is one of the calendar."""
        free = self.run(np.full(self.on.size, np.inf))
        growth = self.tables.duty.growth_per_day[self.on]
        driven = bathers_share * caught_share(_mean_known(self.kept), growth * free)
        days = pace.calendar(self.day, free, driven)
        late = days > limit
        return np.where(late, limit, days), np.where(late, pace.clock(self.day, limit, driven), free)


def spent(tables: Tables, care: Care, held: Sequence[Deposit], on: Rows) -> Flags:
    """Return which stages (s, e) are full, or carry so much of the loop's extra loss that they are spent.

    A single stage is spent whenever it is due.
    """
    if len(held) == 1:
        return np.ones((1, on.size), dtype=bool)
    extra = tables.extra_losses_pa(held, on)
    much = (extra > 0.0) & (extra >= care.replace_share * extra.sum(axis=0))
    full = np.array([tables.fullness(at, each, on) for at, each in enumerate(held)]) >= 1.0 - FULL_TOLERANCE
    return np.asarray(much | full)


def walk_services(
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
    skip: bool = False,
) -> Visits:
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
    skip : bool, optional
        Leave out what repeats itself; for single stages that age alone replaces.

    Returns
    -------
    Visits
        What is done, and when.

    Notes
    -----
    Dirt follows the calendar's uses, dust does not; what has grown in the deposit follows real time. A run that ends
    with the same deposit as one of T days on the mean day's clock takes t days of the calendar, with
    T = t + b f (A(t0 + t) - A(t0)): A how far uses are ahead, b the bathers' share of the catch and f the share of the
    deposit's rise that is caught, meaned over the run. Right to first order in the swing of uses, exact without growth.
    A run is short where it is so both by the clock and by the calendar.
    """
    size, stages = tables.case.size, len(tables.tables)
    visits, done = Visits.none(stages, size), np.zeros((3, stages, size), dtype=np.int64)
    now, until_day, alive = _Now.new(tables, care, pace), np.broadcast_to(until, size), np.ones(size, dtype=bool)
    while now.on.size and visits.number < _MOST_SERVICES:
        look_up()
        if states:
            visits.starts.append(_spread(now, size))
        visit = now.visit(pace, bathers_share, past if past and visits.number <= past.number else None, visits)
        if not alive.all():
            cases = np.flatnonzero(alive)
            visit = visit.only(cases)
        visits.write(visit)
        alive = alive & (now.day < until_day[now.on])
        if needed is not None:
            done[:, :, visit.on] += visit.done
            alive &= (done[:, :, now.on] < needed[:, :, None]).any(axis=(0, 1))
        if to_renewal:
            alive &= ~visits.renewed[now.on]
        if skip and now.same.any():
            visits.skips[visits.number] = now.skip()
        if alive.mean() < _WORTH_SORTING:
            now, alive = now.only(alive), np.ones(int(alive.sum()), dtype=bool)
    return visits


def _spread(now: _Now, size: int) -> tuple[Array, Array]:
    """Return the states of the cases that are still followed among all of them (s, d)."""
    used, extra = np.zeros((2, len(now.used), size))
    used[:, now.on], extra[:, now.on] = now.used, now.extra
    return used, extra


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
