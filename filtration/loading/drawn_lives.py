"""Rinses, soaks and replacements of one kind of option before many draws.

Shapes: d draws, s stages, k runs in a row; draws come last.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from filtration.base.arrays import Array, Counts, Flags, Rows
from filtration.base.defaults import model
from filtration.loading.law import near_loss_pa
from filtration.loading.run import unstated_shortest_days
from filtration.loading.runs import Walker
from filtration.loading.stage import drag_of

_MOST_WALKED, _STEADY = 40, 2e-3
_FULL_TOLERANCE = 1e-3
_MOST_RUNS = 4000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Upkeep:
    """How the stages of one kind of option are looked after, all housings of a stage together.

    Parameters
    ----------
    rinseable : (s,) array of bool
        Can be rinsed.
    soak_every : (s,) array of int
        Rinses from one soak to the next (0: never).
    rinse_keeps, soak_keeps : (s, d) array
        Share of the deposit that stays after a rinse, and of that after a soak [-].
    most_runs : (s, d) array
        Runs before a stage of a train is replaced.
    rinse_cost, soak_cost, replace_cost : (s, d) array
        Costs.
    rinse_limit_days, shortest_days : (d,) array
        Longest run where anything is rinsed, shortest run as stated (no number: not stated) [day].
    """

    rinseable: Flags
    soak_every: Counts
    rinse_keeps: Array
    soak_keeps: Array
    most_runs: Array
    rinse_cost: Array
    soak_cost: Array
    replace_cost: Array
    rinse_limit_days: Array
    shortest_days: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lives:
    """Whole lifetimes by draw.

    Parameters
    ----------
    first_days : (d,) array
        First run [day].
    services_per_day : (d,) array
        Services of any kind [1/day].
    replaced_per_day, rinsed_per_day, soaked_per_day : (s, d) array
        By stage [1/day].
    shortest_days : (d,) array
        Shortest run of the plan [day].
    """

    first_days: Array
    services_per_day: Array
    replaced_per_day: Array
    rinsed_per_day: Array
    soaked_per_day: Array
    shortest_days: Array


def lives_of(walker: Walker, upkeep: Upkeep) -> Lives:
    """Return whole lifetimes: of a single stage with the best number of runs for each draw, of a train with given ones.

    Parameters
    ----------
    walker : Walker
        The option.
    upkeep : Upkeep
        How it is looked after.

    Returns
    -------
    Lives
        First runs and long-run rates.

    Notes
    -----
    What a rinse leaves behind settles within a few soaks; from there on runs repeat themselves and are not walked
    again. In a train a stage's replacement is taken not to lengthen the others' runs.
    """
    oldest = np.array([stage.oldest_days for stage in walker.stages])
    longest = oldest.min(axis=0)
    if upkeep.rinseable.any():
        longest = np.minimum(longest, upkeep.rinse_limit_days)
    walked = (row_alone if len(walker.stages) == 1 else row_of_train)(walker, upkeep, longest)
    first = walked.days[0]
    half = unstated_shortest_days(first)
    shortest = np.where(np.isnan(upkeep.shortest_days), half, upkeep.shortest_days)
    if len(walker.stages) == 1:
        return _best_life(walked, upkeep, oldest, shortest)
    return _given_lives(walked, upkeep, oldest, shortest)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Walked:
    """Runs in a row (k, d), and which of them the age of a stage that cannot be rinsed cut.

    After so many as ``period`` they repeat themselves; ``spent_per_day`` (s, d) is how often such stages were replaced.
    """

    days: Array
    cut: Flags
    spent_per_day: Array
    period: int

    def run(self, index: int) -> tuple[Array, Flags]:
        """Return a run's length and whether it was cut (d,); those beyond what was walked repeat the last period."""
        known = len(self.days)
        at = index if index < known else known - self.period + (index - known) % self.period
        return self.days[at], self.cut[at]


def _steady(seen: Sequence[Array], period: int, on: Rows) -> Flags:
    """Return which draws repeat the runs of the period before."""
    apart = [np.abs(seen[-1 - back][on] - seen[-1 - back - period][on]) for back in range(period)]
    steady: Flags = np.max(apart, axis=0) <= _STEADY * seen[-1][on]
    return steady


def row_alone(walker: Walker, upkeep: Upkeep, longest: Array) -> Walked:
    """Walk a single stage run after run, never replaced, until the runs repeat themselves.

    Parameters
    ----------
    walker : Walker
        The option.
    upkeep : Upkeep
        How it is looked after.
    longest : (d,) array
        Time limit of the first run [day].

    Returns
    -------
    Walked
        Its runs.
    """
    on, every = np.arange(len(longest)), int(upkeep.soak_every[0])
    used, extra, period = np.zeros(on.size), np.zeros(on.size), max(every, 1)
    days, end = walker.run_alone(used, extra, longest, on)
    seen = [days]
    for number in range(1, _MOST_WALKED + 1 if upkeep.rinseable[0] else 1):
        keeps = upkeep.rinse_keeps[0, on]
        if every and number % every == 0:
            keeps = keeps * upkeep.soak_keeps[0, on]
        fed, cake, _ = walker.state_at(0, end)
        cake = np.maximum(cake + extra * np.exp(walker.duty.growth_per_day[on] * days), 0.0)
        used, extra = walker.rinsed(0, keeps, fed, cake, on)
        days, end = walker.run_alone(used, extra, upkeep.rinse_limit_days[on], on)
        whole = seen[-period if number >= period else -1].copy()
        whole[on] = days
        seen.append(whole)
        if number >= 2 * period:
            go = ~_steady(seen, period, on)
            on, days, extra, end = on[go], days[go], extra[go], (end[0][go], end[1][go])
        if not on.size:
            break
    uncut = np.zeros((len(seen), len(longest)), dtype=bool)
    return Walked(days=np.array(seen), cut=uncut, spent_per_day=1.0 / np.maximum(seen[0], 1e-12)[None], period=period)


def row_of_train(walker: Walker, upkeep: Upkeep, longest: Array) -> Walked:
    """Walk a train run after run, nothing that can be rinsed replaced, until the runs repeat themselves.

    Parameters
    ----------
    walker : Walker
        The option.
    upkeep : Upkeep
        How it is looked after.
    longest : (d,) array
        Time limit of the first run [day].

    Returns
    -------
    Walked
        Its runs.
    """
    stages, size = len(walker.stages), len(longest)
    period = int(np.lcm.reduce(np.maximum(upkeep.soak_every, 1)))
    used, extra, age = (np.zeros((stages, size)) for _ in range(3))
    on = np.arange(size)
    days = walker.run(used, extra, longest, on)
    seen, all_cut = [days], [np.zeros(size, dtype=bool)]
    lives, lived = np.zeros((stages, size)), np.zeros((stages, size))
    fixed = bool((~upkeep.rinseable).any())
    for number in range(1, _MOST_WALKED + 1):
        age[:, on] += days
        ends = walker.ends(used[:, on], extra[:, on], days, on)
        spent = _spent(walker, ends, on) if fixed else np.zeros((stages, on.size), dtype=bool)
        fixed_left = np.full(on.size, np.inf)
        for stage, (fed, cake, _) in enumerate(ends):
            if upkeep.rinseable[stage]:
                soak = upkeep.soak_every[stage] > 0 and number % upkeep.soak_every[stage] == 0
                keeps = upkeep.rinse_keeps[stage, on] * (upkeep.soak_keeps[stage, on] if soak else 1.0)
            else:
                oldest = walker.stages[stage].oldest_days[on]
                gone = spent[stage] | (age[stage, on] >= oldest - 1e-6)
                keeps = np.where(gone, 0.0, 1.0)
                lives[stage, on] += gone
                lived[stage, on] += np.where(gone, age[stage, on], 0.0)
                age[stage, on] *= keeps
                fixed_left = np.minimum(fixed_left, oldest - age[stage, on])
            used[stage, on], extra[stage, on] = walker.rinsed(stage, keeps, fed, cake, on)
        most = np.minimum(upkeep.rinse_limit_days[on], fixed_left) if upkeep.rinseable.any() else fixed_left
        days = walker.run(used[:, on], extra[:, on], most, on)
        back = period if number >= period else 1
        whole, cut = seen[-back].copy(), all_cut[-back].copy()
        whole[on], cut[on] = days, days >= fixed_left - 1e-6
        seen.append(whole)
        all_cut.append(cut)
        if number >= 2 * period:
            go = ~_steady(seen, period, on)
            on, days = on[go], days[go]
        if not on.size:
            break
    spent_per_day = np.where(lives > 0.0, lives / np.where(lived > 0.0, lived, 1.0), 1.0 / np.maximum(age, 1e-12))
    return Walked(days=np.array(seen), cut=np.array(all_cut), spent_per_day=spent_per_day, period=period)


def _best_life(walked: Walked, upkeep: Upkeep, oldest: Array, shortest: Array) -> Lives:
    """Return the lives of a single stage with the number of runs that costs least for each draw."""
    first = walked.days[0]
    size = len(first)
    life, runs, soaks, least = first.copy(), np.ones(size), np.zeros(size), first.copy()
    every, number, soaked = int(upkeep.soak_every[0]), 0, 0
    on = np.arange(size if upkeep.rinseable[0] else 0)
    best, smallest = np.full(on.size, np.inf), np.full(on.size, np.inf)
    age, spent = np.zeros(on.size), upkeep.replace_cost[0, on]
    while on.size and number < _MOST_RUNS:
        run = np.minimum(walked.run(number)[0][on], oldest[0, on] - age)
        smallest = np.minimum(smallest, run)
        age = age + run
        rate = spent / np.maximum(age, 1e-12)
        better = np.flatnonzero(rate < best)
        number += 1
        cheaper = on[better]
        best[better], life[cheaper] = rate[better], age[better]
        runs[cheaper], soaks[cheaper], least[cheaper] = number, soaked, smallest[better]
        soak = every > 0 and number % every == 0
        spent = spent + upkeep.rinse_cost[0, on] + (upkeep.soak_cost[0, on] if soak else 0.0)
        soaked += soak
        ahead = np.minimum(walked.run(number)[0][on], oldest[0, on] - age)
        go = (ahead >= shortest[on]) & (age < oldest[0, on] - 1e-6)
        if not go.all():
            on, age, spent, best, smallest = on[go], age[go], spent[go], best[go], smallest[go]
    per_life = 1.0 / np.maximum(life, 1e-12)
    return Lives(
        first_days=first,
        services_per_day=runs * per_life,
        replaced_per_day=per_life[None],
        rinsed_per_day=((runs - 1.0) * per_life)[None],
        soaked_per_day=(soaks * per_life)[None],
        shortest_days=least,
    )


def _given_lives(walked: Walked, upkeep: Upkeep, oldest: Array, shortest: Array) -> Lives:
    """Return the lives of a train, each stage replaced after its given number of runs, when spent, or when too old."""
    first, period = walked.days[0], walked.period
    stages, size = oldest.shape
    replaced, rinsed, soaked = (np.zeros((stages, size)) for _ in range(3))
    window = np.maximum(walked.days[:-1][-period:].sum(axis=0), 1e-12)
    services, longest_life, least = period / window, np.zeros(size), np.full(size, np.inf)
    for stage in range(stages):
        if not upkeep.rinseable[stage]:
            replaced[stage] = walked.spent_per_day[stage]
            continue
        age, runs, alive, number = np.zeros(size), np.zeros(size), np.ones(size, dtype=bool), 0
        while alive.any():
            run, cut = walked.run(number)
            run = np.minimum(run, oldest[stage] - age)
            alive &= (number == 0) | (((run >= shortest) | cut) & (age < oldest[stage] - 1e-6))
            alive &= number < upkeep.most_runs[stage]
            least = np.where(alive & ~cut, np.minimum(least, run), least)
            age, runs = np.where(alive, age + run, age), runs + alive
            number += 1
        per_life = 1.0 / np.maximum(age, 1e-12)
        every = int(upkeep.soak_every[stage])
        replaced[stage], rinsed[stage] = per_life, (runs - 1.0) * per_life
        soaked[stage] = np.floor((runs - 1.0) / every) * per_life if every > 0 else 0.0
        services = np.where(age > longest_life, runs * per_life, services)
        longest_life = np.maximum(longest_life, age)
    return Lives(
        first_days=first,
        services_per_day=services,
        replaced_per_day=replaced,
        rinsed_per_day=rinsed,
        soaked_per_day=soaked,
        shortest_days=np.where(np.isfinite(least), least, first),
    )


def _spent(walker: Walker, ends: Sequence[tuple[Array, Array, Array]], draws: Rows) -> Flags:
    """Return which stages are full or carry so much of the extra loss when due that they are spent, shape (s, d)."""
    flow = walker.duty.flow_m3_s[draws]
    gained, full = [], []
    for at, (stage, (fed, cake, rest)) in enumerate(zip(walker.stages, ends, strict=True)):
        gained.append(near_loss_pa(rest, drag_of(stage, cake, draws) * flow) - walker.tables[at].rest_pa[0, draws])
        full.append(walker.fullness(at, fed, cake, draws) >= 1.0 - _FULL_TOLERANCE)
    extra_pa = np.array(gained)
    much = (extra_pa > 0.0) & (extra_pa >= model("service.replace_share") * extra_pa.sum(axis=0))
    spent: Flags = much | np.array(full)
    return spent
