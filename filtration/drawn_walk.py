"""Runs, rinses, soaks and replacements of one kind of option before many draws: walks over the tables of its stages.

Shapes: d draws, s stages, k points of a table or runs in a row; draws come last.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from filtration.defaults import model
from filtration.drawn_stage import (
    FLOOR_PA,
    FULL_GAP,
    POWER,
    Duty,
    Flags,
    Rows,
    Stage,
    Table,
    gap_left,
    open_share,
    room_kg,
)
from filtration.site import root_between

Array = npt.NDArray[np.float64]
_DAYS_TOLERANCE = 2e-4
_MOST_WALKED, _STEADY = 40, 2e-3
_FULL_TOLERANCE = 1e-3
_MOST_RUNS = 4000
_NEWTON_STEPS = 4


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
    soak_every: npt.NDArray[np.int64]
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Walker:
    """Runs of an option from any state of its stages."""

    stages: Sequence[Stage]
    tables: Sequence[Table]
    duty: Duty

    @staticmethod
    def _between(along: Array, at: Array, draws: Rows) -> tuple[Rows, Array]:
        """Return the place below ``at`` along a column of a table, and the part of the way to the next."""
        flat = along.ravel()
        below = _last_before(lambda place: flat.take(place) < at, along.shape, draws)
        low, high = flat.take(below), flat.take(below + along.shape[1])
        rise = high - low
        part: Array = np.minimum(np.maximum((at - low) / np.where(rise > 0.0, rise, 1.0), 0.0), 1.0)
        return below, part

    def state(self, stage: int, days: Array, draws: Rows) -> tuple[Array, Array, Array]:
        """Clock, cake and loss of layers and core, ``days`` since new."""
        table = self.tables[stage]
        below, part = self._between(table.days, days, draws)
        above = below + table.days.shape[1]

        def value(column: Array) -> Array:
            flat = column.ravel()
            low = flat.take(below)
            between: Array = low + part * (flat.take(above) - low)
            return between

        return value(table.fed), value(table.cake_kg), np.exp(value(table.log_rest))

    def days_fed(self, stage: int, fed: Array, draws: Rows) -> Array:
        """Days since new at which the clock of a stage stands at ``fed``."""
        table = self.tables[stage]
        below, part = self._between(table.fed, fed, draws)
        flat = table.days.ravel()
        low = flat.take(below)
        days: Array = low + part * (flat.take(below + table.days.shape[1]) - low)
        return days

    def over(self, used: Array, extra: Array, draws: Rows) -> Callable[[Array], Array]:
        """Return how far a run is beyond due after some days: below 0 before, above after."""
        duty, growth = self.duty, self.duty.growth_per_day[draws]
        flow, left = duty.flow_m3_s[draws], duty.loss_pa[draws]
        dragged = [stage.drag_per_kg[draws] * flow for stage in self.stages]
        rooms = [room_kg(stage, draws) for stage in self.stages]
        full = [self.fullness(at, draws) for at in range(len(self.stages))]

        def beyond(days: Array) -> Array:
            total, fullest, grown = np.zeros(len(draws)), np.zeros(len(draws)), np.exp(growth * days)
            for at, (per_kg, room) in enumerate(zip(dragged, rooms, strict=True)):
                fed, cake, rest = self.state(at, used[at] + days, draws)
                cake = np.maximum(cake + extra[at] * grown, 0.0)
                total += _loss_pa(rest, per_kg * cake / open_share(cake, room))
                fullest = np.maximum(fullest, full[at](fed, cake))
            over_by: Array = np.maximum(np.log(total / left), fullest - 1.0)
            return over_by

        return beyond

    def fullness(self, at: int, draws: Rows) -> Callable[[Array, Array], Array]:
        """Return the share of what a stage can hold, by its gap or its stated capacity, for its clock and cake."""
        stage = self.stages[at]
        room, capacity, per_day = (
            FULL_GAP * room_kg(stage, draws),
            stage.capacity_kg[draws],
            self.tables[at].held_kg[draws],
        )
        return lambda fed, cake: np.maximum(cake / room, (fed * per_day + cake) / capacity)

    def run(self, used: Array, extra: Array, longest: Array, draws: Rows) -> Array:
        """Length of a run [day]."""
        known = np.max([table.days[-1, draws] - used[at] for at, table in enumerate(self.tables)], axis=0)
        longest = np.minimum(longest, np.maximum(known, 0.0))
        if len(self.stages) == 1:
            return np.minimum(self._single_run(used[0], extra[0], draws), longest)
        days = longest.copy()
        short = np.flatnonzero(self.over(used, extra, draws)(longest) >= 0.0)
        if short.size:
            over, zero = self.over(used[:, short], extra[:, short], draws[short]), np.zeros(short.size)
            days[short] = root_between(lambda at: -over(at), zero, longest[short], tolerance=_DAYS_TOLERANCE, steps=14)
        return days

    def _single_run(self, used: Array, extra: Array, draws: Rows) -> Array:
        """Length of a single stage's run, time limits aside: at due its loss, and with it the cake's drag, is known."""
        stage, table, duty = self.stages[0], self.tables[0], self.duty
        growth, log_left = duty.growth_per_day[draws], np.log(duty.loss_pa[draws])
        pressed = stage.drag_per_kg[draws] * duty.flow_m3_s[draws]
        pressed = pressed * np.maximum(duty.loss_pa[draws], FLOOR_PA) ** POWER
        room = room_kg(stage, draws)
        capacity, held = stage.capacity_kg[draws], table.held_kg[draws]
        limited = bool(np.isfinite(capacity).any())
        shape = table.days.shape
        at_days, at_fed, at_cake, at_rest = (
            column.ravel() for column in (table.days, table.fed, table.cake_kg, table.log_rest)
        )

        def over(place: Rows) -> tuple[Array, Array]:
            days = at_days.take(place) - used
            cake = np.maximum(at_cake.take(place) + extra * np.exp(growth * days), 0.0)
            share = cake / room
            loss = np.exp(at_rest.take(place)) + pressed * cake / np.maximum(1.0 - share, 1e-2)
            beyond = np.maximum(np.log(loss) - log_left, share / FULL_GAP - 1.0)
            if limited:
                beyond = np.maximum(beyond, (at_fed.take(place) * held + cake) / capacity - 1.0)
            return days, beyond

        def before(place: Rows) -> Flags:
            days, beyond = over(place)
            early: Flags = (days <= 0.0) | (beyond < 0.0)
            return early

        below = _last_before(before, shape, draws)
        (low, under), (high, beyond) = over(below), over(below + shape[1])
        rise = beyond - under
        part = np.where(rise > 0.0, -under / np.where(rise > 0.0, rise, 1.0), 1.0)
        days = low + np.clip(part, 0.0, 1.0) * (high - low)
        return np.maximum(np.where(beyond < 0.0, np.inf, days), 0.0)


def _loss_pa(rest_pa: Array, dragged: Array) -> Array:
    """Return a stage's loss from that of its layers and its cake's drag times the flow, as ``loading.stage_loss_pa``.

    From above Newton's method is within a millionth after four steps.
    """
    x = np.maximum(np.maximum(2.0 * rest_pa, (2.0 * dragged) ** (1.0 / (1.0 - POWER))), FLOOR_PA)
    for _ in range(_NEWTON_STEPS):
        power = dragged * x**POWER
        x = np.maximum((rest_pa + (1.0 - POWER) * power) / (1.0 - POWER * power / x), FLOOR_PA)
    under_floor = rest_pa + dragged * FLOOR_PA**POWER
    return np.where(under_floor <= FLOOR_PA, under_floor, x)


def _last_before(before: Callable[[Rows], Flags], shape: tuple[int, ...], draws: Rows) -> Rows:
    """Return the last but one at most of the places for which something still holds, by halving.

    A place is where a draw's point lies in a table of that shape (k, d) read row by row; its next point lies d later.
    """
    last, width = shape[0] - 2, shape[1]
    low = np.full(len(draws), min(last, 0), dtype=np.intp)
    for bit in range(max(last, 0).bit_length() - 1, -1, -1):
        trial = np.minimum(low + (1 << bit), last)
        low = np.where(before(trial * width + draws), trial, low)
    place: Rows = low * width + draws
    return place


def _first_run(walker: Walker, upkeep: Upkeep) -> Array:
    """Return the length of the first run, (d,)."""
    size = len(walker.duty.loss_pa)
    nothing = np.zeros((len(walker.stages), size))
    longest = np.min([stage.oldest_days for stage in walker.stages], axis=0)
    if upkeep.rinseable.any():
        longest = np.minimum(longest, upkeep.rinse_limit_days)
    return walker.run(nothing, nothing, longest, np.arange(size))


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
    first = _first_run(walker, upkeep)
    half = np.maximum(model("service.shortest_share") * first, model("service.shortest_days"))
    shortest = np.where(np.isnan(upkeep.shortest_days), half, upkeep.shortest_days)
    uncut = np.zeros((1, len(first)), dtype=bool)
    walked = _Walked(days=first[None], cut=uncut, spent_per_day=1.0 / np.maximum(first[None], 1e-12), period=1)
    if upkeep.rinseable.any() or len(walker.stages) > 1:
        walked = _walk(walker, upkeep, first)
    oldest = np.array([stage.oldest_days for stage in walker.stages])
    if len(walker.stages) == 1:
        return _best_life(walked, upkeep, oldest, shortest)
    return _given_lives(walked, upkeep, oldest, shortest)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Walked:
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


def _walk(walker: Walker, upkeep: Upkeep, first: Array) -> _Walked:
    """Walk run after run, nothing that can be rinsed replaced, until they repeat themselves."""
    stages, size = len(walker.stages), len(first)
    period = int(np.lcm.reduce(np.maximum(upkeep.soak_every, 1)))
    used, extra, age = (np.zeros((stages, size)) for _ in range(3))
    days, seen, all_cut = first, [first], [np.zeros(size, dtype=bool)]
    lives, lived = np.zeros((stages, size)), np.zeros((stages, size))
    on = np.arange(size)
    fixed = np.flatnonzero(~upkeep.rinseable)
    for number in range(1, _MOST_WALKED + 1):
        spent = np.zeros((stages, size), dtype=bool)
        age[:, on] += days
        if fixed.size:
            spent[:, on] = _spent(walker, used[:, on], extra[:, on], days, on)
        fixed_left = np.full(on.size, np.inf)
        for stage in range(stages):
            if upkeep.rinseable[stage]:
                spent[stage] = False
                soak = upkeep.soak_every[stage] > 0 and number % upkeep.soak_every[stage] == 0
                keeps = upkeep.rinse_keeps[stage, on] * (upkeep.soak_keeps[stage, on] if soak else 1.0)
            else:
                oldest = walker.stages[stage].oldest_days[on]
                spent[stage, on] |= age[stage, on] >= oldest - 1e-6
                keeps = np.where(spent[stage, on], 0.0, 1.0)
                lives[stage, on] += spent[stage, on]
                lived[stage, on] += np.where(spent[stage, on], age[stage, on], 0.0)
                age[stage, on] *= keeps
                fixed_left = np.minimum(fixed_left, oldest - age[stage, on])
            start = _rinsed(walker, stage, keeps, used[stage, on], extra[stage, on], days, on)
            used[stage, on], extra[stage, on] = start
        longest = np.minimum(upkeep.rinse_limit_days[on], fixed_left) if upkeep.rinseable.any() else fixed_left
        days = walker.run(used[:, on], extra[:, on], longest, on)
        back = period if number >= period else 1
        whole, cut = seen[-back].copy(), all_cut[-back].copy()
        whole[on], cut[on] = days, days >= fixed_left - 1e-6
        seen.append(whole)
        all_cut.append(cut)
        if number >= 2 * period:
            drift = np.max([np.abs(seen[-1 - back] - seen[-1 - back - period]) for back in range(period)], axis=0)
            go = drift[on] > _STEADY * seen[-1][on]
            on, days = on[go], days[go]
        if not on.size:
            break
    spent_per_day = np.where(lives > 0.0, lives / np.where(lived > 0.0, lived, 1.0), 1.0 / np.maximum(age, 1e-12))
    return _Walked(days=np.array(seen), cut=np.array(all_cut), spent_per_day=spent_per_day, period=period)


def _best_life(walked: _Walked, upkeep: Upkeep, oldest: Array, shortest: Array) -> Lives:
    """Return the lives of a single stage with the number of runs that costs least for each draw."""
    first = walked.days[0]
    size = len(first)
    life, runs, soaks, least = first.copy(), np.ones(size), np.zeros(size), first.copy()
    if upkeep.rinseable[0]:
        best, age, spent = np.full(size, np.inf), np.zeros(size), np.zeros(size)
        smallest, alive, number, soaked = np.full(size, np.inf), np.ones(size, dtype=bool), 0, 0
        every = int(upkeep.soak_every[0])
        while alive.any() and number < _MOST_RUNS:
            run = np.minimum(walked.run(number)[0], oldest[0] - age)
            alive &= (number == 0) | ((run >= shortest) & (age < oldest[0] - 1e-6))
            smallest = np.where(alive, np.minimum(smallest, run), smallest)
            age = np.where(alive, age + run, age)
            rate = (upkeep.replace_cost[0] + spent) / np.maximum(age, 1e-12)
            better = alive & (rate < best)
            number += 1
            best, life = np.where(better, rate, best), np.where(better, age, life)
            runs, soaks = np.where(better, number, runs), np.where(better, soaked, soaks)
            least = np.where(better, smallest, least)
            soak = every > 0 and number % every == 0
            spent = spent + upkeep.rinse_cost[0] + (upkeep.soak_cost[0] if soak else 0.0)
            soaked += soak
    per_life = 1.0 / np.maximum(life, 1e-12)
    return Lives(
        first_days=first,
        services_per_day=runs * per_life,
        replaced_per_day=per_life[None],
        rinsed_per_day=((runs - 1.0) * per_life)[None],
        soaked_per_day=(soaks * per_life)[None],
        shortest_days=least,
    )


def _given_lives(walked: _Walked, upkeep: Upkeep, oldest: Array, shortest: Array) -> Lives:
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


def _rinsed(
    walker: Walker, stage: int, keeps: Array, used: Array, extra: Array, days: Array, draws: Rows
) -> tuple[Array, Array]:
    """Return days of use and extra cake of a stage that keeps a share of its deposit at the end of a run."""
    fed, cake, _ = walker.state(stage, used + days, draws)
    cake = np.maximum(cake + extra * np.exp(walker.duty.growth_per_day[draws] * days), 0.0)
    start = walker.days_fed(stage, keeps * fed, draws)
    return start, keeps * cake - walker.state(stage, start, draws)[1]


def _spent(walker: Walker, used: Array, extra: Array, days: Array, draws: Rows) -> Flags:
    """Return which stages are full or carry so much of the extra loss when due that they are spent, shape (s, d)."""
    flow, growth = walker.duty.flow_m3_s[draws], walker.duty.growth_per_day[draws]
    gained, full = [], []
    for at, stage in enumerate(walker.stages):
        fed, cake, rest = walker.state(at, used[at] + days, draws)
        cake = np.maximum(cake + extra[at] * np.exp(growth * days), 0.0)
        drag = stage.drag_per_kg[draws] * cake / gap_left(stage, cake, draws)
        clean = np.exp(walker.tables[at].log_rest[0, draws])
        gained.append(_loss_pa(rest, drag * flow) - clean)
        full.append(walker.fullness(at, draws)(fed, cake) >= 1.0 - _FULL_TOLERANCE)
    extra_pa = np.array(gained)
    much = (extra_pa > 0.0) & (extra_pa >= model("service.replace_share") * extra_pa.sum(axis=0))
    spent: Flags = much | np.array(full)
    return spent
