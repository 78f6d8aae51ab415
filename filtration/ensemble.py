"""Whole lifetimes of one option for many draws of what is not known exactly, without a loop over draws.

With the mix of the catch frozen at mid flow every layer of a stage fills in the same proportion, so that one clock, the
days its layers have been fed, stands for all of them. Layers, cake and loss are tabulated once along that clock; runs,
rinses, soaks and replacements are walks over the tables. Shapes: d draws, s stages, k points of a table, n layers,
c size classes; draws come last.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from filtration.capture import CaptureCurve
from filtration.defaults import model
from filtration.loading import stage_loss_pa
from filtration.media import Medium
from filtration.permeability import permeability_m2
from filtration.site import root_between
from filtration.soil import CLASS_DIAMETERS_M
from filtration.water import Water

Array = npt.NDArray[np.float64]
Rows = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]

_FILL_STEP, _CAKE_STEP, _CAKE_START_KG_M2 = 0.016, 0.25, 1.0e-3
_MOST_POINTS = 600
_DAYS_TOLERANCE = 2e-4
_MOST_WALKED, _STEADY = 40, 2e-3
_POWER = model("loading.cake_exponent")
_FLOOR_PA = model("loading.cake_least_pressure")
_FULL = model("loading.full_solid_fraction")
_FULL_GAP = model("loading.full_gap_share")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stage:
    """One stage of an option with its unknowns, by draw; one element.

    Parameters
    ----------
    medium : Medium
        The element in the central case.
    fibre_squared_m2, density_kg_m3, onset, drag_per_kg : (d,) array
        Fibre diameter squared times permeability factor [m2]; deposit density [kg/m3]; solid fraction at which all dirt
        stays on the face [-]; drag of a kilogram of cake without compression, see ``cake_drag`` [Pa^0.4 s/m3/kg].
    inside : (c, d) array
        Share the clean element catches of what passes it [-].
    straining_kg_m2 : (d,) array
        Cake that strains, w0 [kg/m2]; infinite where none does.
    """

    medium: Medium
    fibre_squared_m2: Array
    density_kg_m3: Array
    onset: Array
    drag_per_kg: Array
    inside: Array
    straining_kg_m2: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """A stage's state along its clock; shape (k, d) each.

    Parameters
    ----------
    days : (k, d) array
        Time since new [day]; stands still once the stage alone chokes the option, is full or too old.
    fed : (k, d) array
        The clock: days' worth of catch in the layers, growth included [day].
    cake_kg : (k, d) array
        Cake [kg].
    log_rest : (k, d) array
        Logarithm of the loss of layers and core at the flow when due [Pa].
    held_kg : (d,) array
        Deposit in the layers for each day fed [kg/day].
    """

    days: Array
    fed: Array
    cake_kg: Array
    log_rest: Array
    held_kg: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Duty:
    """What an option has to do, by draw.

    Parameters
    ----------
    flow_m3_s : (d,) array
        Flow through one element when due [m3/s].
    loss_pa : (d,) array
        What pump and plumbing leave for the filter at that flow [Pa].
    growth_per_day : (d,) array
        Growth in the deposit [1/day].
    """

    flow_m3_s: Array
    loss_pa: Array
    growth_per_day: Array


def efficiencies(stages: Sequence[Stage], cakes_kg: Sequence[Array]) -> list[Array]:
    """Return what each stage takes out of the water that enters the first.

    Parameters
    ----------
    stages : sequence of Stage
        The stages in order.
    cakes_kg : sequence of (d,) array
        Cake on one element of each [kg].

    Returns
    -------
    list of (c, d) array
        Shares [-].
    """
    passing: Array = np.ones_like(stages[0].inside)
    shares = []
    for stage, cake in zip(stages, cakes_kg, strict=True):
        caught = (1.0 - stage.medium.capture.bypass) * _inside(stage, cake) * passing
        shares.append(caught)
        passing -= caught
    return shares


def _inside(stage: Stage, cake_kg: Array) -> Array:
    if not stage.medium.strains:
        return stage.inside
    reach = np.minimum(1.0, CLASS_DIAMETERS_M / model("capture.straining_diameter"))[:, None] ** 2
    through = np.exp(-reach * (cake_kg / stage.medium.face_m2 / stage.straining_kg_m2))
    return 1.0 - (1.0 - stage.inside) * through


def inside_of(curve: CaptureCurve, size: Array, slope: Array) -> Array:
    """Return the share a clean medium catches of what passes it.

    Parameters
    ----------
    curve : CaptureCurve
        The element's curve in the central case.
    size, slope : (d,) array
        Factors on the size it speaks of and on its slope [-].

    Returns
    -------
    (c, d) array
        Share [-].
    """
    log_size = np.log(CLASS_DIAMETERS_M / curve.rating_m)[:, None] - np.log(size)
    odds = curve.at_rating * np.exp(curve.slope * slope * log_size)
    if curve.thickness == 1.0:
        share: Array = odds / (1.0 + odds)
    else:
        share = -np.expm1(-curve.thickness * np.log1p(odds))
    return share


def fed_per_day(stage: Stage, by_class_kg_day: Array, inside: Array) -> Array:
    """Return what falls to each layer a day while all goes into the layers.

    Parameters
    ----------
    stage : Stage
        The stage.
    by_class_kg_day : (c, d) array
        Catch of one element by size class [kg/day].
    inside : (c, d) array
        Share caught of what passes it [-].

    Returns
    -------
    (n, d) array
        Catch by layer, outermost first [kg/day].
    """
    layers = stage.medium.layers
    through = np.exp(np.log1p(-np.minimum(inside, 1.0 - 1e-12)) / layers)
    part = by_class_kg_day * (1.0 - through) / np.maximum(inside, 1e-300)
    fed = np.empty((layers, inside.shape[1]))
    for layer in range(layers):
        fed[layer] = part.sum(axis=0)
        part *= through
    return fed


def table_of(
    stage: Stage, duty: Duty, fed_kg_day: Array, caught_kg_day: Array, oldest_days: float, water: Water
) -> Table:
    """Tabulate a stage from new until it alone would choke the option.

    Parameters
    ----------
    stage : Stage
        The stage.
    duty : Duty
        Flow and loss when due.
    fed_kg_day : (n, d) array
        Catch by layer while all goes into the layers [kg/day].
    caught_kg_day : (d,) array
        Catch of one element [kg/day].
    oldest_days : float
        Where to stop [day].
    water : Water
        The water.

    Returns
    -------
    Table
        Days, clock, cake and loss.
    """
    medium, growth = stage.medium, duty.growth_per_day
    room = medium.layer_volume_m3[:, None] * stage.density_kg_m3
    fill = fed_kg_day / room
    fastest, outer = fill.max(axis=0), fill[0] / (stage.onset - medium.solid_fraction)
    cake_full = np.minimum(_FULL_GAP * medium.half_gap_m * stage.density_kg_m3 * medium.face_m2, 1e9)
    pressed = np.maximum(duty.loss_pa, _FLOOR_PA) ** _POWER * stage.drag_per_kg * duty.flow_m3_s
    held = fed_kg_day.sum(axis=0)
    start = _CAKE_START_KG_M2 * medium.face_m2
    longest = np.minimum(oldest_days / 12.0, 0.15 / np.maximum(growth, 1e-9))
    days, fed, cake = (np.zeros_like(growth) for _ in range(3))
    alive = np.ones(growth.shape, dtype=bool)
    seen: list[tuple[Array, Array, Array, Array]] = []
    most = (_FULL - medium.solid_fraction) * room
    for _ in range(_MOST_POINTS):
        solid = np.minimum(medium.solid_fraction + fed * fill, _FULL)
        rest = _rest_pa(stage, solid, duty.flow_m3_s, water)
        on_face = cake
        if (fed * fastest).max() > _FULL - medium.solid_fraction:
            on_face = cake + np.maximum(fed * fed_kg_day - most, 0.0).sum(axis=0)
        seen.append((days, fed, on_face, rest))
        loss = rest + pressed * on_face / gap_left(stage, on_face, stage.density_kg_m3)
        alive &= (loss < duty.loss_pa) & (on_face < cake_full) & (days < oldest_days)
        alive &= (fed * held + cake < medium.capacity_kg) & (solid.min(axis=0) < _FULL)
        if not alive.any():
            break
        top = _sixth(fed * outer)
        step = np.minimum(_FILL_STEP / np.maximum(fastest * ((1.0 - top) + growth * fed), 1e-30), longest)
        step = np.minimum(step, (_CAKE_STEP * cake + start) / np.maximum(top * caught_kg_day + growth * cake, 1e-30))
        step = np.where(alive, step, 0.0)
        half = 0.5 * step * growth
        middle = fed * (1.0 + half) + (1.0 - top) * 0.5 * step
        top = _sixth(middle * outer)
        grown = np.exp(growth * step)
        gained = np.where(growth > 0.0, (grown - 1.0) / np.maximum(growth, 1e-300), step)
        days, fed, cake = days + step, fed * grown + (1.0 - top) * gained, cake * grown + top * gained * caught_kg_day
    days, fed, cake, rest = (np.array(column) for column in zip(*seen, strict=True))
    return Table(days=days, fed=fed, cake_kg=cake, log_rest=np.log(rest), held_kg=held)


def _sixth(filled: Array) -> Array:
    capped = np.minimum(filled, 1.0)
    square = capped * capped
    sixth: Array = square * square * square
    return sixth


def gap_left(stage: Stage, cake_kg: Array, density_kg_m3: Array) -> Array:
    """Return the share of the gap between pleats that a cake leaves open.

    Parameters
    ----------
    stage : Stage
        The stage.
    cake_kg, density_kg_m3 : (...) array
        Cake on one element [kg] and the density of its deposit [kg/m3].

    Returns
    -------
    (...) array
        Share [-]; 1 where no gap limits the cake.
    """
    medium = stage.medium
    left: Array = np.maximum(1.0 - cake_kg / (medium.face_m2 * density_kg_m3 * medium.half_gap_m), 1e-2)
    return left


def _rest_pa(stage: Stage, solid: Array, flow_m3_s: Array, water: Water) -> Array:
    """Return the loss of layers and core (d,) for solid fractions (n, d)."""
    medium = stage.medium
    k = permeability_m2(solid, stage.fibre_squared_m2 * solid / medium.solid_fraction)
    resistance = (medium.layer_path_per_m[:, None] / k).sum(axis=0)
    inertia: Array | float = medium.core_inertia_per_m4
    if medium.layer_inertia_per_m3[0] > 0.0:
        inertia = inertia + (medium.layer_inertia_per_m3[:, None] / np.sqrt(k)).sum(axis=0)
    loss: Array = (water.viscosity_pa_s * resistance + water.density_kg_m3 * inertia * flow_m3_s) * flow_m3_s
    return loss


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Upkeep:
    """How the stages of an option are looked after; s stages, all housings of a stage together.

    Parameters
    ----------
    rinseable : (s,) array of bool
        Can be rinsed.
    rinse_keeps, soak_keeps : (s, d) array, (s,) array
        Share of the deposit that stays after a rinse, and of that after a soak [-].
    soak_every, most_runs : (s,) array of int
        Rinses from one soak to the next (0: never); runs before a stage of a train is replaced.
    rinse_cost, soak_cost, replace_cost : (s,) array
        Costs.
    rinse_limit_days : float
        Longest run where anything is rinsed [day].
    shortest_days : float or None
        Shortest run as stated [day].
    """

    rinseable: Flags
    rinse_keeps: Array
    soak_keeps: Array
    soak_every: npt.NDArray[np.int64]
    most_runs: npt.NDArray[np.int64]
    rinse_cost: Array
    soak_cost: Array
    replace_cost: Array
    rinse_limit_days: float
    shortest_days: float | None


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
        """Return the point below ``at`` along a column of a table, and the part of the way to the next."""
        below = _last_before(lambda point: along[point, draws] < at, len(along), len(draws))
        low, high = along[below, draws], along[below + 1, draws]
        part = np.clip((at - low) / np.where(high > low, high - low, 1.0), 0.0, 1.0)
        return below, part

    def state(self, stage: int, days: Array, draws: Rows) -> tuple[Array, Array, Array]:
        """Clock, cake and loss of layers and core, ``days`` since new."""
        table = self.tables[stage]
        below, part = self._between(table.days, days, draws)
        above = below + 1

        def value(column: Array) -> Array:
            low: Array = column[below, draws]
            return low + part * (column[above, draws] - low)

        return value(table.fed), value(table.cake_kg), np.exp(value(table.log_rest))

    def days_fed(self, stage: int, fed: Array, draws: Rows) -> Array:
        """Days since new at which the clock of a stage stands at ``fed``."""
        table = self.tables[stage]
        below, part = self._between(table.fed, fed, draws)
        low = table.days[below, draws]
        days: Array = low + part * (table.days[below + 1, draws] - low)
        return days

    def spare(self, used: Array, extra: Array, days: Array, draws: Rows) -> Array:
        """How far a run is from due: above 0 before, below after."""
        duty, growth = self.duty, self.duty.growth_per_day[draws]
        flow, left = duty.flow_m3_s[draws], duty.loss_pa[draws]
        total, fullest = np.zeros(len(draws)), np.zeros(len(draws))
        for at, stage in enumerate(self.stages):
            fed, cake, rest = self.state(at, used[at] + days, draws)
            cake = np.maximum(cake + extra[at] * np.exp(growth * days), 0.0)
            drag = stage.drag_per_kg[draws] * cake
            density = stage.density_kg_m3[draws]
            gap = gap_left(stage, cake, density)
            if len(self.stages) == 1:
                total += rest + drag / gap * flow * np.maximum(left, _FLOOR_PA) ** _POWER
            else:
                total += stage_loss_pa(flow, rest / flow, np.zeros_like(flow), drag / gap)
            held = fed * self.tables[at].held_kg[draws] + cake
            share = np.maximum(
                cake / (_FULL_GAP * stage.medium.half_gap_m * density * stage.medium.face_m2),
                held / stage.medium.capacity_kg,
            )
            fullest = np.maximum(fullest, share)
        return np.minimum(np.log(left / total), 1.0 - fullest)

    def run(self, used: Array, extra: Array, longest: Array, draws: Rows) -> Array:
        """Length of a run [day]."""
        known = np.max([table.days[-1, draws] - used[at] for at, table in enumerate(self.tables)], axis=0)
        longest = np.minimum(longest, np.maximum(known, 0.0))
        days = longest.copy()
        short = np.flatnonzero(self.spare(used, extra, longest, draws) <= 0.0)
        if short.size:
            part = draws[short]
            sub_used, sub_extra = used[:, short], extra[:, short]

            def spare(at: Array) -> Array:
                return self.spare(sub_used, sub_extra, at, part)

            low, high = self._bracket(sub_used, sub_extra, longest[short], part)
            days[short] = root_between(spare, low, high, tolerance=_DAYS_TOLERANCE, steps=14)
        return days

    def _bracket(self, used: Array, extra: Array, longest: Array, draws: Rows) -> tuple[Array, Array]:
        """Return times at two neighbouring points of a single stage's table, between which a run falls due."""
        if len(self.stages) > 1:
            return np.zeros_like(longest), longest
        stage, table, duty = self.stages[0], self.tables[0], self.duty
        growth, left, density = duty.growth_per_day[draws], duty.loss_pa[draws], stage.density_kg_m3[draws]
        pressed = stage.drag_per_kg[draws] * duty.flow_m3_s[draws] * np.maximum(left, _FLOOR_PA) ** _POWER

        def before(point: Rows) -> Flags:
            days = table.days[point, draws] - used[0]
            cake = table.cake_kg[point, draws] + extra[0] * np.exp(growth * np.maximum(days, 0.0))
            loss = np.exp(table.log_rest[point, draws]) + pressed * cake / gap_left(stage, cake, density)
            early: Flags = (days <= 0.0) | (loss < left)
            return early

        below = _last_before(before, len(table.days), len(draws))
        low = np.clip(table.days[below, draws] - used[0], 0.0, longest)
        high = np.clip(table.days[below + 1, draws] - used[0], 0.0, longest)
        return low, np.where(high > low, high, longest)


def _last_before(before: Callable[[Rows], Flags], points: int, size: int) -> Rows:
    """Return the last but one at most of the points for which something still holds, by halving."""
    low, high = np.zeros(size, dtype=np.intp), np.full(size, points - 1)
    for _ in range((points - 1).bit_length()):
        middle = (low + high) >> 1
        holds = before(middle)
        low, high = np.where(holds, middle, low), np.where(holds, high, middle)
    return np.minimum(low, points - 2)


def _first_run(walker: Walker, upkeep: Upkeep, oldest_days: Array) -> Array:
    """Return the length of the first run, (d,)."""
    size = len(walker.duty.loss_pa)
    nothing = np.zeros((len(walker.stages), size))
    longest = np.full(size, min(upkeep.rinse_limit_days if upkeep.rinseable.any() else np.inf, *oldest_days))
    return walker.run(nothing, nothing, longest, np.arange(size))


def cakes_when_due(walker: Walker, upkeep: Upkeep, oldest_days: Array) -> list[Array]:
    """Return the cake on one element of each stage at the end of the first run.

    Parameters
    ----------
    walker : Walker
        The option.
    upkeep : Upkeep
        How it is looked after.
    oldest_days : (s,) array
        Age at which each stage is replaced [day].

    Returns
    -------
    list of (d,) array
        Cakes [kg].
    """
    first = _first_run(walker, upkeep, oldest_days)
    draws = np.arange(len(first))
    return [walker.state(at, first, draws)[1] for at in range(len(walker.stages))]


def lives_of(walker: Walker, upkeep: Upkeep, oldest_days: Array) -> Lives:
    """Return whole lifetimes: of a single stage with the best number of runs for each draw, of a train with given ones.

    Parameters
    ----------
    walker : Walker
        The option.
    upkeep : Upkeep
        How it is looked after.
    oldest_days : (s,) array
        Age at which each stage is replaced [day].

    Returns
    -------
    Lives
        First runs and long-run rates.

    Notes
    -----
    What a rinse leaves behind settles within a few soaks; from there on runs repeat themselves and are not walked
    again. In a train a stage's replacement is taken not to lengthen the others' runs.
    """
    first = _first_run(walker, upkeep, oldest_days)
    size = len(first)
    half = np.maximum(model("service.shortest_share") * first, model("service.shortest_days"))
    shortest = half if upkeep.shortest_days is None else np.full(size, upkeep.shortest_days)
    days, spent, period = first[None], None, 1
    if upkeep.rinseable.any():
        days, spent, period = _walk(walker, upkeep, first, oldest_days)
    rate_of = _best_life if len(walker.stages) == 1 else _given_lives
    services, replaced, rinsed, soaked, least = rate_of(days, spent, period, upkeep, oldest_days, shortest)
    return Lives(
        first_days=first,
        services_per_day=services,
        replaced_per_day=replaced,
        rinsed_per_day=rinsed,
        soaked_per_day=soaked,
        shortest_days=least,
    )


def _walk(walker: Walker, upkeep: Upkeep, first: Array, oldest_days: Array) -> tuple[Array, Flags, int]:
    """Return run after run (k, d) until they repeat themselves, what was spent in each (k, s, d), and the period."""
    stages, size = len(walker.stages), len(first)
    period = int(np.lcm.reduce(np.maximum(upkeep.soak_every[upkeep.rinseable], 1)))
    used, extra, age = (np.zeros((stages, size)) for _ in range(3))
    days, seen, all_spent = first.copy(), [first.copy()], []
    on = np.arange(size)
    fixed = ~upkeep.rinseable
    for number in range(1, _MOST_WALKED + 1):
        spent = np.zeros((stages, size), dtype=bool)
        age[:, on] += days
        if fixed.any():
            spent[:, on] = _spent(walker, used[:, on], extra[:, on], days, on)
            spent[:, on] |= age[:, on] >= oldest_days[:, None] - 1e-6
        for stage in range(stages):
            if fixed[stage]:
                keeps = np.where(spent[stage, on], 0.0, 1.0)
            else:
                soak = upkeep.soak_every[stage] > 0 and number % upkeep.soak_every[stage] == 0
                keeps = upkeep.rinse_keeps[stage, on] * (upkeep.soak_keeps[stage] if soak else 1.0)
            used[stage, on], extra[stage, on] = _rinsed(
                walker, stage, keeps, used[stage, on], extra[stage, on], days, on
            )
        age[spent] = 0.0
        all_spent.append(spent)
        longest = np.full(on.size, upkeep.rinse_limit_days)
        if fixed.any():
            longest = np.minimum(longest, (oldest_days[fixed][:, None] - age[fixed][:, on]).min(axis=0))
        days = walker.run(used[:, on], extra[:, on], longest, on)
        whole = seen[-period].copy() if number >= period else seen[-1].copy()
        whole[on] = days
        seen.append(whole)
        if number >= 2 * period:
            drift = np.max([np.abs(seen[-1 - back] - seen[-1 - back - period]) for back in range(period)], axis=0)
            go = drift[on] > _STEADY * seen[-1][on]
            on, days = on[go], days[go]
        if not on.size:
            break
    return np.array(seen), np.array(all_spent), period


def _run_days(days: Array, period: int, index: int) -> Array:
    """Return the length of a run (d,), those beyond what was walked repeating the last period."""
    known = len(days)
    return days[index] if index < known else np.asarray(days[known - period + (index - known) % period])


Rates = tuple[Array, Array, Array, Array, Array]


def _best_life(
    days: Array, _spent: Flags | None, period: int, upkeep: Upkeep, oldest_days: Array, shortest: Array
) -> Rates:
    """Return rates of a single stage with the number of runs that costs least for each draw."""
    size = days.shape[1]
    life, runs, soaks, least = days[0].copy(), np.ones(size), np.zeros(size), days[0].copy()
    if upkeep.rinseable[0]:
        best, age, spent = np.full(size, np.inf), np.zeros(size), 0.0
        smallest, alive, number, soaked = np.full(size, np.inf), np.ones(size, dtype=bool), 0, 0
        every = int(upkeep.soak_every[0])
        while alive.any():
            run = np.minimum(_run_days(days, period, number), oldest_days[0] - age)
            alive &= (number == 0) | ((run >= shortest) & (age < oldest_days[0] - 1e-6))
            age = np.where(alive, age + run, age)
            smallest = np.where(alive, np.minimum(smallest, run), smallest)
            rate = (upkeep.replace_cost[0] + spent) / np.maximum(age, 1e-12)
            better = alive & (rate < best)
            number += 1
            best, life = np.where(better, rate, best), np.where(better, age, life)
            runs, soaks = np.where(better, number, runs), np.where(better, soaked, soaks)
            least = np.where(better, smallest, least)
            soak = every > 0 and number % every == 0
            spent += upkeep.rinse_cost[0] + (upkeep.soak_cost[0] if soak else 0.0)
            soaked += soak
    per_life = 1.0 / np.maximum(life, 1e-12)
    return runs * per_life, per_life[None], ((runs - 1.0) * per_life)[None], (soaks * per_life)[None], least


def _given_lives(
    days: Array, spent: Flags | None, period: int, upkeep: Upkeep, oldest_days: Array, shortest: Array
) -> Rates:
    """Return rates of a train, each stage replaced after its given number of runs, when spent, or when too old."""
    stages, size = len(oldest_days), days.shape[1]
    services, longest_life = 1.0 / np.maximum(days[0], 1e-12), np.zeros(size)
    replaced, rinsed, soaked = (np.zeros((stages, size)) for _ in range(3))
    least = np.full(size, np.inf)
    replaced[:] = services
    for stage in np.flatnonzero(upkeep.rinseable):
        age, runs, alive, number = np.zeros(size), np.zeros(size), np.ones(size, dtype=bool), 0
        while alive.any():
            run = np.minimum(_run_days(days, period, number), oldest_days[stage] - age)
            alive &= (number == 0) | ((run >= shortest) & (age < oldest_days[stage] - 1e-6))
            alive &= number < upkeep.most_runs[stage]
            age, runs = np.where(alive, age + run, age), runs + alive
            least = np.where(alive, np.minimum(least, run), least)
            number += 1
        per_life = 1.0 / np.maximum(age, 1e-12)
        every = int(upkeep.soak_every[stage])
        replaced[stage], rinsed[stage] = per_life, (runs - 1.0) * per_life
        soaked[stage] = np.floor((runs - 1.0) / every) * per_life if every > 0 else 0.0
        services = np.where(age > longest_life, runs * per_life, services)
        longest_life = np.maximum(longest_life, age)
    if spent is not None:
        window = np.maximum(days[:-1][-period:].sum(axis=0), 1e-12)
        for stage in np.flatnonzero(~upkeep.rinseable):
            replaced[stage] = spent[-period:, stage].sum(axis=0) / window
    return services, replaced, rinsed, soaked, np.where(np.isfinite(least), least, days[0])


def _rinsed(
    walker: Walker, stage: int, keeps: Array, used: Array, extra: Array, days: Array, draws: Rows
) -> tuple[Array, Array]:
    """Return days of use and extra cake of a stage that keeps a share of its deposit at the end of a run."""
    fed, cake, _ = walker.state(stage, used + days, draws)
    cake = np.maximum(cake + extra * np.exp(walker.duty.growth_per_day[draws] * days), 0.0)
    start = walker.days_fed(stage, keeps * fed, draws)
    return start, keeps * cake - walker.state(stage, start, draws)[1]


def _spent(walker: Walker, used: Array, extra: Array, days: Array, draws: Rows) -> Flags:
    """Return which stages carry so much of the extra loss at the flow when due that they are spent, shape (s, d)."""
    flow, growth = walker.duty.flow_m3_s[draws], walker.duty.growth_per_day[draws]
    gained = []
    for at, stage in enumerate(walker.stages):
        _, cake, rest = walker.state(at, used[at] + days, draws)
        cake = np.maximum(cake + extra[at] * np.exp(growth * days), 0.0)
        drag = stage.drag_per_kg[draws] * cake / gap_left(stage, cake, stage.density_kg_m3[draws])
        clean = np.exp(walker.tables[at].log_rest[0, draws])
        gained.append(stage_loss_pa(flow, rest / flow, np.zeros_like(flow), drag) - clean)
    extra_pa = np.array(gained)
    spent: Flags = (extra_pa > 0.0) & (extra_pa >= model("service.replace_share") * extra_pa.sum(axis=0))
    return spent
