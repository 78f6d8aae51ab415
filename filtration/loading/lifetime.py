"""Runs strung together: rinses, soaks, replacements, and the number of rinses that costs least in the long run."""

from dataclasses import dataclass
from itertools import product

import numpy as np
import numpy.typing as npt

from filtration.base.arrays import Array, Counts, Flags, Rows
from filtration.loading.run import Runner, Runs, clean_state, unstated_shortest_days
from filtration.loading.site import State, losses_pa

_AGE_TOLERANCE_DAYS = 1e-6
_FULL_TOLERANCE = 1e-4
_MOST_RUNS = 400
_TRIALS = 150  # numbers of runs of a train tried side by side


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Care:
    """How elements are looked after and what that costs; o options, s stages, all housings of a stage together.

    Parameters
    ----------
    rinse_recovery, soak_recovery : (o, s) array
        Share of the deposit taken off by a rinse, and of what is left by a soak [-].
    soak_every : (o, s) array of int
        Rinses from one soak to the next; 0 for never.
    rinse_cost, soak_cost, replace_cost : (o, s) array
        Cost of one rinse, of one soak, and of new elements with disposal of the old.
    replace_share : float
        Of a train's extra loss when due, from which a stage that cannot be rinsed is replaced [-].
    """

    rinse_recovery: Array
    soak_recovery: Array
    soak_every: Counts
    rinse_cost: Array
    soak_cost: Array
    replace_cost: Array
    replace_share: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Services:
    """Services in the order they come; k services, r options, s stages. Past an option's end everything is 0.

    Parameters
    ----------
    days : (k, r) array
        Length of the run before each service [day].
    rinsed, soaked, replaced : (k, r, s) array of bool
        What is done to each stage.
    counted : (k, r) array of bool
        The service belongs to the option's sequence.
    cut : (k, r) array of bool
        The age of a stage that cannot be rinsed cut the run, so that its length says nothing of the others.
    used_days, extra_cake_kg : (k, r, s) array
        The state the run before each service starts in, see ``Runner.runs`` [day], [kg].
    renewed : (r,) array of bool
        The sequence ends with every stage replaced at once, from where it repeats itself.
    """

    days: Array
    rinsed: Flags
    soaked: Flags
    replaced: Flags
    counted: Flags
    cut: Flags
    used_days: Array
    extra_cake_kg: Array
    renewed: Flags


def shortest_run_days(runner: Runner, first_run_days: Array) -> Array:
    """Return the shortest run between services that the owner puts up with.

    Parameters
    ----------
    runner : Runner
        The options.
    first_run_days : (...) array
        First run of each [day].

    Returns
    -------
    (...) array
        Days: as stated, else see ``run.unstated_shortest_days``.
    """
    stated = runner.needs.shortest_run_days
    if stated is not None:
        return np.full(first_run_days.shape, stated)
    return unstated_shortest_days(first_run_days)


def _age_limits(runner: Runner, rows: Rows) -> tuple[Array, Array]:
    """Return the age at which each stage is replaced (r, s) and the longest run between rinses (r,) [day]."""
    needs, trains = runner.needs, runner.site.trains
    rinseable, present = trains.rinseable[rows], trains.present[rows]
    unrinsed = min(needs.replace_limit_days, needs.discard_days)
    oldest = np.where(rinseable, needs.discard_days, unrinsed)
    between = np.where((rinseable & present).any(axis=-1), needs.rinse_limit_days, np.inf)
    return np.where(present, oldest, np.inf), between


def first_runs(runner: Runner, rows: Rows) -> Runs:
    """Return the first run of each of the options, all stages new.

    Parameters
    ----------
    runner : Runner
        The options.
    rows : (r,) array of int
        Which of them.

    Returns
    -------
    Runs
        Lengths, limits and states when due.
    """
    oldest, between = _age_limits(runner, rows)
    new = np.zeros(oldest.shape)
    return runner.runs(rows, new, new, np.minimum(oldest.min(axis=-1), between))


def _extra_losses_pa(runner: Runner, rows: Rows, state: State) -> Array:
    """Return what each stage (r, s) loses more than when new, at the flow left [Pa]."""
    flow = runner.flow_of(rows, state)
    new = clean_state(runner.site).of(rows)
    extra: Array = losses_pa(runner.site, rows, state, flow) - losses_pa(runner.site, rows, new, flow)
    return extra


def spent_stages(runner: Runner, rows: Rows, state: State, replace_share: float) -> Flags:
    """Return which stages that cannot be rinsed are full, or carry so much of the extra loss that they are spent.

    Parameters
    ----------
    runner : Runner
        The options.
    rows : (r,) array of int
        Which of them.
    state : State
        Shape (r, s).
    replace_share : float
        Of the extra loss, from which a stage is spent [-].

    Returns
    -------
    (r, s) array of bool
        Where a service replaces the stage.
    """
    trains = runner.site.trains
    fixed = trains.present[rows] & ~trains.rinseable[rows]
    if (trains.present[rows].sum(axis=-1) == 1).all() or not fixed.any():
        return fixed
    extra = _extra_losses_pa(runner, rows, state)
    much = (extra > 0.0) & (extra >= replace_share * extra.sum(axis=-1, keepdims=True))
    spent: Flags = much | (runner.fullness(rows, state) >= 1.0 - _FULL_TOLERANCE)
    return spent


def follow(
    runner: Runner, care: Care, rows: Rows, most_runs: Counts, shortest_days: Array, until_days: float
) -> Services:
    """Follow options from new, service by service.

    Parameters
    ----------
    runner : Runner
        The options.
    care : Care
        How they are looked after.
    rows : (r,) array of int
        Which of them; one may come several times.
    most_runs : (r, s) array of int
        Runs after which a stage that can be rinsed is replaced instead.
    shortest_days : (r,) array
        Shortest run the owner puts up with [day]; after a shorter one all that can be rinsed is replaced.
    until_days : float
        How long to follow [day]; an option is left earlier once all its stages are new at once.

    Returns
    -------
    Services
        What is done, and when.
    """
    trains = runner.site.trains
    shape = trains.present[rows].shape
    used, extra, age = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    count = np.zeros(shape, dtype=np.int64)
    day, renewed = np.zeros(len(rows)), np.zeros(len(rows), dtype=bool)
    seen: list[tuple[npt.NDArray[np.generic], ...]] = []
    while True:
        on = np.flatnonzero(~renewed & (day < until_days))
        if not on.size:
            break
        row = rows[on]
        oldest, between = _age_limits(runner, row)
        start = used.copy(), extra.copy()
        present, rinseable = trains.present[row], trains.rinseable[row]
        left = oldest - age[on]
        runs = runner.runs(row, used[on], extra[on], np.minimum(left.min(axis=-1), between))
        fixed_left = np.where(present & ~rinseable, left, np.inf).min(axis=-1)
        cut = (runs.days >= fixed_left - _AGE_TOLERANCE_DAYS) & (day[on] > 0.0)
        aged = age[on] + runs.days[:, None]
        enough = (count[on] + 1 >= most_runs[on]) | ((runs.days < shortest_days[on]) & ~cut)[:, None]
        spent = np.where(rinseable, enough, spent_stages(runner, row, runs.when_due, care.replace_share))
        replaced = present & (spent | (aged >= oldest - _AGE_TOLERANCE_DAYS))
        rinsed = present & rinseable & ~replaced
        counted = np.where(rinsed, count[on] + 1, np.where(replaced, 0, count[on]))
        every = care.soak_every[row]
        soaked = rinsed & (every > 0) & (counted % np.maximum(every, 1) == 0)
        keeps = np.where(rinsed, 1.0 - care.rinse_recovery[row], 1.0)
        keeps = np.where(soaked, keeps * (1.0 - care.soak_recovery[row]), keeps)
        keeps = np.where(replaced, 0.0, keeps)
        due = runs.when_due
        days = used[on] + runs.days[:, None]
        days = np.where(rinsed | replaced, runner.history.days_with(row, keeps * due.layer_kg), days)
        used[on], age[on], count[on] = days, np.where(replaced, 0.0, aged), counted
        extra[on] = keeps * due.cake_kg - runner.history.at(row, days).cake_kg
        day[on] += runs.days
        renewed[on] = (replaced | ~present).all(axis=-1)
        flags = [np.zeros(shape, dtype=bool) for _ in range(3)] + [np.zeros(len(rows), dtype=bool) for _ in range(2)]
        whole = [np.zeros(len(rows)), *flags]
        for every_row, part in zip(whole, (runs.days, rinsed, soaked, replaced, True, cut), strict=True):
            every_row[on] = part
        seen.append((*whole, *start))
    days, rinsed, soaked, replaced, counted, cut, used, extra = (np.array(part) for part in zip(*seen, strict=True))
    return Services(
        days=days,
        rinsed=rinsed,
        soaked=soaked,
        replaced=replaced,
        counted=counted,
        cut=cut,
        used_days=used,
        extra_cake_kg=extra,
        renewed=renewed,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rates:
    """Long-run averages of some sequences; r options, s stages.

    Parameters
    ----------
    services_per_day : (r,) array
        Services of any kind [1/day].
    replaced_per_day, rinsed_per_day, soaked_per_day : (r, s) array
        By stage [1/day].
    cost_per_day : (r,) array
        Of elements, disposal, rinses and soaks.
    shortest_days : (r,) array
        Shortest run [day].
    """

    services_per_day: Array
    replaced_per_day: Array
    rinsed_per_day: Array
    soaked_per_day: Array
    cost_per_day: Array
    shortest_days: Array


def rates_of(services: Services, care: Care, rows: Rows) -> Rates:
    """Return the long-run averages of followed options.

    Parameters
    ----------
    services : Services
        What was done.
    care : Care
        What that costs.
    rows : (r,) array of int
        Which options.

    Returns
    -------
    Rates
        Exact where the sequence renews itself; else each stage's replacements over the time of its whole lives.
    """
    ends = np.cumsum(services.days, axis=0)
    total = ends[-1]
    last = np.where(services.replaced, ends[:, :, None], 0.0).max(axis=0)
    number = services.replaced.sum(axis=0)
    replaced = np.where(number > 0, number / np.where(last > 0.0, last, 1.0), 0.0)
    rinsed = services.rinsed.sum(axis=0) / total[:, None]
    soaked = services.soaked.sum(axis=0) / total[:, None]
    cost = care.replace_cost[rows] * replaced + care.rinse_cost[rows] * rinsed + care.soak_cost[rows] * soaked
    return Rates(
        services_per_day=services.counted.sum(axis=0) / total,
        replaced_per_day=replaced,
        rinsed_per_day=rinsed,
        soaked_per_day=soaked,
        cost_per_day=cost.sum(axis=-1),
        shortest_days=np.where(services.counted & ~services.cut, services.days, np.inf).min(axis=0),
    )


def best_number_of_runs(run_days: Array, replace_cost: float, service_costs: Array) -> int:
    """Return after how many runs replacing costs least in the long run.

    Parameters
    ----------
    run_days : (n,) array
        Length of each run from new [day].
    replace_cost : float
        Cost of a replacement.
    service_costs : (n,) array
        Cost of the rinse, and soak, after each run.

    Returns
    -------
    int
        Number of runs, 1 for replacing at every service.

    Notes
    -----
    Cost rate of N runs: (replacement + the first N - 1 services) / time; renewal-reward, as in the geometric process of
    Lam 1988.

    Examples
    --------
    >>> best_number_of_runs(40.0 * 1.15 ** -np.arange(30.0), 60.0, np.full(30, 3.0))
    12
    """
    before = np.concatenate([[0.0], np.cumsum(service_costs)[:-1]])
    return int(np.argmin((replace_cost + before) / np.cumsum(run_days))) + 1


def best_most_runs(runner: Runner, care: Care, rows: Rows, shortest: Array, until_days: float) -> Counts:
    """Return how many runs each stage serves before it is replaced, at the least cost in the long run.

    Parameters
    ----------
    runner : Runner
        The options.
    care : Care
        How they are looked after.
    rows : (r,) array of int
        Which options.
    shortest : (r,) array
        Shortest run the owner puts up with [day].
    until_days : float
        How long to follow trains, whose stages have counts of their own [day].

    Returns
    -------
    (r, s) array of int
        Runs; 1 means replaced at every service that spends it.
    """
    trains = runner.site.trains
    present = trains.present[rows]
    endless = np.full(present.shape, np.iinfo(np.int64).max)
    best = np.ones(present.shape, dtype=np.int64)
    oldest = float(min(until_days, runner.needs.discard_days))
    free = trains.rinseable[rows] & present

    alone = np.flatnonzero((present.sum(axis=-1) == 1) & free.any(axis=-1))
    if alone.size:
        unspent = follow(runner, care, rows[alone], endless[alone], shortest[alone], oldest)
        for place, at in enumerate(alone):
            option = rows[at]
            counted = unspent.counted[:, place]
            runs = unspent.days[counted, place]
            good = (runs >= shortest[at]) | unspent.cut[counted, place]
            number = max(1, int(good.argmin()) if not good.all() else len(runs))
            costs = care.rinse_cost[option, 0] + care.soak_cost[option, 0] * unspent.soaked[:, place, 0]
            best[at, 0] = best_number_of_runs(runs[:number], care.replace_cost[option, 0], costs[:number])
    for at in np.flatnonzero((present.sum(axis=-1) > 1) & free.any(axis=-1)):
        best[at] = _best_of_train(runner, care, rows[at], free[at], shortest[at], until_days)
    return best


def _best_of_train(runner: Runner, care: Care, option: int, free: Flags, shortest: float, until_days: float) -> Counts:
    """Return the best numbers of runs (s,) of one train: of a coarse grid, of finer ones around it, of each stage."""
    most = int(min(runner.needs.discard_days / max(shortest, 1.0), _MOST_RUNS)) + 1

    def cost_of(trials: Counts) -> Array:
        rows = np.full(len(trials), option)
        rates = rates_of(follow(runner, care, rows, trials, np.full(len(rows), shortest), until_days), care, rows)
        return np.where(rates.shortest_days >= shortest, rates.cost_per_day, np.inf)

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
