"""Whole lives of options: how many rinses before replacing cost least, and what is done a day in the long run.

Shapes: d cases, s stages, k runs in a row; cases come last.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np

from filtration.base.arrays import Array, Counts, Flags
from filtration.base.cases import taken
from filtration.loading.runs import Tables
from filtration.service.care import ENDLESS, Care
from filtration.service.walk import Services, walk

_MOST_RUNS = 400
_TRIALS = 150  # numbers of runs of a train tried side by side
_TRIAL_AGES = 2.0  # of an element: so long a train is followed for each


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


def rates_of(services: Services, most_runs: Counts) -> Rates:
    """Return the long-run averages of walked options.

    Parameters
    ----------
    services : Services
        What was done.
    most_runs : (s, d) array of int
        Runs each stage serves before it is replaced.

    Returns
    -------
    Rates
        Exact where the sequence renews itself; else each stage's replacements over the time of its whole lives.
    """
    total = np.maximum(services.day[-1], 1e-12)
    rinsed, soaked, replaced = services.done.transpose(1, 0, 2, 3)
    last, number = np.where(replaced, services.day[:, None], 0.0).max(axis=0), replaced.sum(axis=0)
    counts = services.counted & ~services.cut
    return Rates(
        most_runs=most_runs,
        services_per_day=services.counted.sum(axis=0) / total,
        replaced_per_day=np.where(number > 0, number / np.where(last > 0.0, last, 1.0), 0.0),
        rinsed_per_day=rinsed.sum(axis=0) / total,
        soaked_per_day=soaked.sum(axis=0) / total,
        shortest_days=np.where(counts, services.length_days, np.inf).min(axis=0),
    )


def best_number_of_runs(run_days: Array, replace_cost: Array, service_costs: Array, allowed: Flags) -> Counts:
    """Return after how many runs replacing costs least in the long run.

    Parameters
    ----------
    run_days : (k, d) array
        Length of each run from new [day].
    replace_cost : (d,) array
        Cost of a replacement.
    service_costs : (k, d) array
        Cost of the rinse, and soak, after each run.
    allowed : (k, d) array of bool
        The run may be the last; the first always is.

    Returns
    -------
    (d,) array of int
        Number of runs, 1 for replacing at every service.

    Notes
    -----
    Cost rate of N runs: (replacement + the first N - 1 services) / time; renewal-reward, as in the geometric process of
    Lam 1988.

    Examples
    --------
    >>> days = 40.0 * 1.15 ** -np.arange(30.0)[:, None]
    >>> best_number_of_runs(days, np.array([60.0]), np.full((30, 1), 3.0), np.full((30, 1), True)).tolist()
    [12]
    """
    before = np.cumsum(service_costs, axis=0) - service_costs
    rate = (replace_cost + before) / np.maximum(np.cumsum(run_days, axis=0), 1e-12)
    first = np.arange(len(run_days))[:, None] == 0
    best: Counts = np.where(allowed | first, rate, np.inf).argmin(axis=0) + 1
    return best


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
        return rates_of(walk(tables, care, until=np.inf, needed=needed), care.most_runs)
    services, best = _best_of_single(tables, care)
    return _first_runs_alone(services, best)


def _best_of_single(tables: Tables, care: Care) -> tuple[Services, Counts]:
    """Return a single stage followed until age or too short a run ends it, and its best numbers of runs (1, d)."""
    services = walk(tables, care.with_counts(np.full_like(care.most_runs, ENDLESS)), until=np.inf, to_renewal=True)
    days, (_, soaked, _) = services.length_days, services.done[:, :, 0].transpose(1, 0, 2)
    long = (days >= services.shortest_days) | services.cut
    allowed = services.counted & np.logical_and.accumulate(long | ~services.counted, axis=0)
    costs = care.rinse_cost[0] + care.soak_cost[0] * soaked
    best = best_number_of_runs(days, care.replace_cost[0], costs, allowed)
    return services, np.where(care.rinseable[0], best, 1)[None]


def _first_runs_alone(services: Services, most_runs: Counts) -> Rates:
    """Return the averages of a single stage that is replaced after so many (1, d) of the runs it was followed for."""
    number = np.arange(1, len(services.day) + 1)[:, None]
    life = np.maximum(np.take_along_axis(services.day, most_runs - 1, axis=0), 1e-12)
    soaks = (services.done[:, 1, 0] & (number < most_runs)).sum(axis=0)
    return Rates(
        most_runs=most_runs,
        services_per_day=(most_runs / life)[0],
        replaced_per_day=1.0 / life,
        rinsed_per_day=(most_runs - 1) / life,
        soaked_per_day=soaks / life,
        shortest_days=np.where((number <= most_runs) & ~services.cut, services.length_days, np.inf).min(axis=0),
    )


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
        _, best = _best_of_single(tables, care)
    else:
        best = np.ones_like(care.most_runs)
        for case in range(tables.case.size):
            one = np.array([case])
            best[:, case] = _best_of_train(tables.of(one), taken(care, one, tables.case.size), float(until_days[case]))
    cared = care.with_counts(best)
    services = walk(tables, cared, until=until_days, to_renewal=True, states=True)
    return Life(tables=tables, care=cared, services=services, rates=rates_of(services, best))


def _best_of_train(tables: Tables, care: Care, until_days: float) -> Counts:
    """Return the best numbers of runs (s,) of one train: of a coarse grid, of finer ones around it, of each stage."""
    free = care.rinseable[:, 0]
    if not free.any():
        return np.ones(len(free), dtype=np.int64)
    shortest = float(care.shortest_days(tables.first_days())[0])
    oldest = float(care.oldest_days[free].min())
    most = int(min(oldest / max(shortest, 1.0), _MOST_RUNS)) + 1
    until = min(until_days, _TRIAL_AGES * oldest)

    def cost_of(trials: Counts) -> Array:
        rows = np.zeros(len(trials), dtype=np.intp)
        cared = taken(care, rows, 1).with_counts(trials.T)
        rates = rates_of(walk(tables.of(rows), cared, until=until, to_renewal=True), cared.most_runs)
        return np.where(rates.shortest_days >= shortest, rates.cost_per_day(cared), np.inf)

    per_stage = max(2, int(_TRIALS ** (1.0 / free.sum())))
    low, high = np.ones(len(free), dtype=np.int64), np.where(free, most, 1)
    while True:
        grid = [np.unique(np.linspace(a, b, per_stage).round().astype(int)) for a, b in zip(low, high, strict=True)]
        trials = np.array(list(product(*grid)))
        best: Counts = trials[int(np.argmin(cost_of(trials)))]
        if all(len(each) > b - a for each, a, b in zip(grid, low, high, strict=True)):
            break
        around = [np.searchsorted(each, count) for each, count in zip(grid, best, strict=True)]
        wide = (low, high)
        low = np.array([each[max(at - 1, 0)] for each, at in zip(grid, around, strict=True)])
        high = np.array([each[min(at + 1, len(each) - 1)] for each, at in zip(grid, around, strict=True)])
        if np.array_equal(wide, (low, high)):  # two or three points a stage need not narrow
            break
    while True:  # the cheapest may lie outside the finer grids, along one of the stages
        lines = np.repeat(best[None], free.sum() * most + 1, axis=0)
        for place, stage in enumerate(np.flatnonzero(free)):
            lines[1 + place * most : 1 + (place + 1) * most, stage] = np.arange(1, most + 1)
        cheapest = int(np.argmin(cost_of(lines)))
        if cheapest == 0:
            return best
        best = lines[cheapest]
