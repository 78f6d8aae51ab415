"""Whole lives of options: how many rinses before replacing cost least, and what is done a day in the long run.

Shapes: d cases, s stages, k runs in a row; cases come last.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from filtration.base.arrays import Array, Counts, Flags, Rows
from filtration.base.cases import taken
from filtration.loading.runs import Tables
from filtration.loading.table import COARSE, FINE
from filtration.service.care import ENDLESS, Care
from filtration.service.visits import Services, Skip, Visits
from filtration.service.walk import walk_services

_MOST_RUNS = 400
_TRIED = replace(FINE, days=COARSE.days, rounds_of_a_root=1)
_TRIALS = 150  # numbers of runs of a train tried side by side
_TOGETHER = 6  # so many more or fewer of all its stages at once
_SAME_COST = 1e-9  # so near the cheapest is as cheap [-]
_TRIAL_AGES, _FIRST_AGES = 1.5, 1.0  # of an element: so long a train is followed for each, and for each of the grid


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rates:
    """Long-run averages by case.

    Parameters
    ----------
    most_runs : (s, d) array of int
        Runs each stage serves before it is replaced; 1 for replacing it whenever it is spent.
    services_per_day : (d,) array
        Services of any kind [1/day].
    replaced_per_day, rinsed_per_day, soaked_per_day : (s, d) array
        By stage [1/day].
    shortest_days : (d,) array
        Shortest run [day].
    """

    most_runs: Counts
    services_per_day: Array
    replaced_per_day: Array
    rinsed_per_day: Array
    soaked_per_day: Array
    shortest_days: Array

    def cost_per_day(self, care: Care) -> Array:
        """Elements, disposal, rinses and soaks (d,)."""
        replaced, rinsed = care.replace_cost * self.replaced_per_day, care.rinse_cost * self.rinsed_per_day
        cost: Array = (replaced + rinsed + care.soak_cost * self.soaked_per_day).sum(axis=0)
        return cost


def no_rates(stages: int, size: int) -> Rates:
    """Return the averages of so many stages and cases to which nothing is done."""
    none = np.zeros(size)
    return Rates(
        most_runs=np.ones((stages, size), dtype=np.int64),
        services_per_day=none,
        replaced_per_day=np.zeros((stages, size)),
        rinsed_per_day=np.zeros((stages, size)),
        soaked_per_day=np.zeros((stages, size)),
        shortest_days=none + np.inf,
    )


def rates_of(visits: Visits, most_runs: Counts) -> Rates:
    """Return the long-run averages of walked options.

    Parameters
    ----------
    visits : Visits
        What was done.
    most_runs : (s, d) array of int
        Runs each stage serves before it is replaced.

    Returns
    -------
    Rates
        Exact where the sequence renews itself; else each stage's replacements over the time of its whole lives.
    """
    size, total = visits.size, np.zeros((3, visits.stages, visits.size))
    day, number, shortest = np.zeros(size), np.zeros(size), np.full(size, np.inf)
    last = np.zeros((visits.stages, size))
    for on, days, done, cut in visits.each:
        day[on] += days
        number[on] += 1.0
        total[:, :, on] += done
        last[:, on] = np.where(done[2], day[on], last[:, on])
        shortest[on] = np.where(cut, shortest[on], np.minimum(shortest[on], days))
    (rinsed, soaked, replaced), day = total, np.maximum(day, 1e-12)
    return Rates(
        most_runs=most_runs,
        services_per_day=number / day,
        replaced_per_day=np.where(replaced > 0, replaced / np.where(last > 0.0, last, 1.0), 0.0),
        rinsed_per_day=rinsed / day,
        soaked_per_day=soaked / day,
        shortest_days=shortest,
    )


@dataclass(slots=True, kw_only=True, eq=False)
class Cheapest:
    """After how many runs replacing a single stage costs least in the long run, told run by run; (d,) each.

    Cost rate of N runs: (replacement + the first N - 1 services) / time; renewal-reward, as in the geometric process of
    Lam 1988. ``number``, ``spent``, ``age``, ``soaked`` and ``least`` are those so far: runs, cost, days, soaks, and
    the shortest run that no age cut; ``runs``, ``life``, ``soaks`` and ``shortest`` the same at the best number, whose
    cost a day is ``rate``.

    Examples
    --------
    >>> best = Cheapest.of(np.array([60.0]))
    >>> for run in range(30):
    ...     best.run(np.arange(1), np.array([40.0 * 1.15**-run]), np.array([False]), np.array([True]))
    ...     best.serve(np.arange(1), np.array([3.0]), np.array([0]))
    >>> best.runs.tolist()
    [12]
    """

    number: Counts
    spent: Array
    age: Array
    soaked: Counts
    least: Array
    rate: Array
    life: Array
    runs: Counts
    soaks: Counts
    shortest: Array
    ends: Flags

    @classmethod
    def of(cls, replace_cost: Array) -> "Cheapest":
        """Return what is known before the first run, of replacements of some costs (d,)."""
        nothing, none = np.zeros(len(replace_cost)), np.zeros(len(replace_cost), dtype=np.int64)
        return cls(
            number=none.copy(),
            spent=replace_cost.copy(),
            age=nothing.copy(),
            soaked=none.copy(),
            least=nothing + np.inf,
            rate=nothing + np.inf,
            life=nothing.copy(),
            runs=none + 1,
            soaks=none.copy(),
            shortest=nothing + np.inf,
            ends=none == 0,
        )

    def run(self, on: Rows, days: Array, cut: Flags, may_end: Flags) -> None:
        """Add a run of some cases ``on``, and whether it and those before may be the last; the first always may."""
        self.number[on] += 1
        self.age[on] += days
        self.least[on] = np.where(cut, self.least[on], np.minimum(self.least[on], days))
        self.ends[on] &= may_end | (self.number[on] == 1)
        rate = self.spent[on] / np.maximum(self.age[on], 1e-12)
        cheaper = self.ends[on] & (rate < self.rate[on])
        better = on[cheaper]
        self.rate[better], self.life[better], self.runs[better] = rate[cheaper], self.age[better], self.number[better]
        self.soaks[better], self.shortest[better] = self.soaked[better], self.least[better]

    def serve(self, on: Rows, cost: Array, soaked: Counts | Flags) -> None:
        """Add the service after it."""
        self.spent[on] += cost
        self.soaked[on] += soaked

    def skip(self, skip: Skip, cost: Array) -> None:
        """Add cycles that repeat what came before, each of some cost (e,); none is cheaper than what follows."""
        self.number[skip.on] += skip.cycles * skip.services
        self.age[skip.on] += skip.cycles * skip.days
        self.serve(skip.on, skip.cycles * cost, skip.cycles * skip.soaks)


def lives_of(tables: Tables, care: Care) -> Rates:
    """Return the long-run averages of options: single stages at their best numbers of runs, trains at given ones.

    Parameters
    ----------
    tables : Tables
        How they load.
    care : Care
        How they are looked after.

    Returns
    -------
    Rates
        By case. A train is followed until each of its stages was replaced once.
    """
    if len(tables.tables) > 1:
        needed = np.array([[0], [0], [1]]) * np.ones(len(tables.tables), dtype=np.int64)
        return rates_of(walk_services(tables, care, until=np.inf, needed=needed), care.most_runs)
    best = _best_of_single(tables, care)
    life = np.maximum(best.life, 1e-12)
    return Rates(
        most_runs=best.runs[None],
        services_per_day=best.runs / life,
        replaced_per_day=(1.0 / life)[None],
        rinsed_per_day=((best.runs - 1) / life)[None],
        soaked_per_day=(best.soaks / life)[None],
        shortest_days=best.shortest,
    )


def _best_of_single(tables: Tables, care: Care) -> Cheapest:
    """Follow a single stage until age or too short a run ends it, and return its best number of runs."""
    endless = care.with_counts(np.full_like(care.most_runs, ENDLESS))
    visits = walk_services(tables, endless, until=np.inf, to_renewal=True, skip=True)
    best, (rinse_cost,), (soak_cost,) = Cheapest.of(care.replace_cost[0]), care.rinse_cost, care.soak_cost
    for place, (on, days, done, cut) in enumerate(visits.each):
        if place in visits.skips:
            skip = visits.skips[place]
            best.skip(skip, skip.services * rinse_cost[skip.on] + skip.soaks * soak_cost[skip.on])
        may_end = care.rinseable[0, on] & ((days >= visits.shortest_days[on]) | cut)
        best.run(on, days, cut, may_end)
        best.serve(on, rinse_cost[on] + np.where(done[1, 0], soak_cost[on], 0.0), done[1, 0])
    return best


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Life:
    """Options of the central case from new, at the numbers of runs that cost least: what is done, and its averages.

    Parameters
    ----------
    tables : Tables
        How they load.
    care : Care
        How they are looked after, with those numbers.
    services : Services
        Until all is renewed, or to the end of the horizon; with the states that runs start in.
    rates : Rates
        Long-run averages.
    """

    tables: Tables
    care: Care
    services: Services
    rates: Rates


def best_life(tables: Tables, care: Care, until_days: Array) -> Life:
    """Follow options of the central case at the numbers of runs that cost least in the long run.

    Parameters
    ----------
    tables : Tables
        How they load.
    care : Care
        How they are looked after.
    until_days : (d,) array
        How long to follow what does not renew itself [day].

    Returns
    -------
    Life
        Services and averages.
    """
    if len(tables.tables) == 1:
        best = _best_of_single(tables, care).runs[None]
    else:
        best = np.ones_like(care.most_runs)
        for case in range(tables.case.size):
            one = np.array([case])
            best[:, case] = _best_of_train(tables.of(one), taken(care, one, tables.case.size), float(until_days[case]))
    cared = care.with_counts(best)
    visits = walk_services(tables, cared, until=until_days, to_renewal=True, states=True)
    return Life(tables=tables, care=cared, services=visits.services(), rates=rates_of(visits, best))


def _best_of_train(tables: Tables, care: Care, until_days: float) -> Counts:
    """Return the best numbers of runs (s,) of one train: of a coarse grid, then of what is close by or in line.

    The fewest of those that cost the same. It is found where no neighbour is cheaper.
    """
    free = np.flatnonzero(care.rinseable[:, 0])
    one = np.ones(len(care.rinseable), dtype=np.int64)
    if not free.size:
        return one
    shortest = float(care.shortest_days(tables.first_days())[0])
    oldest = float(care.oldest_days[free].min())
    most = int(min(oldest / max(shortest, 1.0), _MOST_RUNS)) + 1
    tried = replace(tables, fineness=_TRIED)  # of the tables, only the search for each run's end is coarser
    known: dict[tuple[int, ...], float] = {}

    def cheapest(trials: Sequence[tuple[int, ...]], ages: float) -> tuple[int, ...]:
        fresh = [trial for trial in trials if trial not in known]
        if fresh:
            until = min(until_days, ages * oldest)
            rows = np.zeros(len(fresh), dtype=np.intp)
            cared = taken(care, rows, 1).with_counts(np.array(fresh).T)
            rates = rates_of(walk_services(tried.of(rows), cared, until=until, to_renewal=True), cared.most_runs)
            cost = np.where(rates.shortest_days >= shortest, rates.cost_per_day(cared), np.inf)
            known.update(zip(fresh, cost.tolist(), strict=True))
        enough = min(known[trial] for trial in trials) * (1.0 + _SAME_COST)
        return min((trial for trial in trials if known[trial] <= enough), key=sum)

    per_stage = max(2, int(_TRIALS ** (1.0 / free.size)))
    half, can = max((per_stage - 1) // 2, 1), [stage in free for stage in range(len(one))]
    coarse = sorted({round(count) for count in np.geomspace(1, most, per_stage).tolist()})
    best = cheapest(list(product(*(coarse if each else [1] for each in can))), _FIRST_AGES)
    known.clear()

    def moved(counts: tuple[int, ...], by: int) -> tuple[int, ...]:
        return tuple(min(max(count + by, 1), most) if each else 1 for count, each in zip(counts, can, strict=True))

    def around(counts: tuple[int, ...], by: int) -> set[tuple[int, ...]]:
        low, high = moved(counts, -by), moved(counts, by)
        return set(product(*(range(least, last + 1) for least, last in zip(low, high, strict=True))))

    while True:
        trials = around(best, half) | {moved(best, by) for by in range(-_TOGETHER, _TOGETHER + 1)}
        for stage in free:
            trials |= {(*best[:stage], count, *best[stage + 1 :]) for count in range(1, most + 1)}
        before, best = best, cheapest(sorted(trials), _TRIAL_AGES)
        if around(best, 1) <= known.keys() or known[best] >= known[before] * (1.0 - _SAME_COST):
            return np.array(best)
