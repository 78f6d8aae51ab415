"""The states of a stage tabulated along its clock, from new until it alone would choke the option.

With the mix of the catch frozen at mid flow every layer of a stage fills in the same proportion, so that one clock, the
days its layers have been fed, stands for all of them. Shapes: d draws, k points of a table, n layers; draws come last.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import cast

import numpy as np

from filtration.base.arrays import Array, Flags, Rows, Single
from filtration.loading.stage import FLOOR_PA, FULL, FULL_GAP, POWER, Stage, open_share, room_kg, taken
from filtration.physics.permeability import permeability_m2

_FILL_STEP, _CAKE_STEP = 0.025, 0.35  # of solid fraction; of the cake, or of what its gap has left
_CAKE_START = 0.05  # the first step of the cake: of the loss when due
_MOST_POINTS = 600
_WORTH_SORTING = 0.7  # share of the draws still on their way at which the others are left behind


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
    rest_pa : (k, d) array
        Loss of layers and core at the flow when due [Pa].
    grown : (k, d) array
        What has grown out of each part of a deposit that was there when new [-].
    held_kg : (d,) array
        Deposit in the layers for each day fed [kg/day].
    """

    days: Array
    fed: Array
    cake_kg: Array
    rest_pa: Array
    grown: Array
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


def table_of(stage: Stage, duty: Duty, fed_kg_day: Array, caught_kg_day: Array, rise: Array) -> Table:
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
        Catch of one element without a cake [kg/day].
    rise : (2, d) array
        What a cake that strains adds to that in the end, as a share of it [-], and the cake that adds half of it [kg].

    Returns
    -------
    Table
        Days, clock, cake and loss.
    """
    size = len(caught_kg_day)
    seen: list[Single] = [np.ones((4, size), dtype=np.float32)]
    on = np.arange(size)
    state: Single = np.zeros((3, size), dtype=np.float32)
    while on.size and len(seen) < _MOST_POINTS:
        some_stage, some_duty = taken(stage, on, size), taken(duty, on, size)
        rates = fed_kg_day.take(on, axis=1), caught_kg_day[on], rise.take(on, axis=1)
        state, alive = _stepped(some_stage, some_duty, *rates, state, on, seen)
        on, state = on[alive], state.compress(alive, axis=1)
    days, fed, cake, rest = np.array(seen[1:]).transpose(1, 0, 2).copy()
    grown = np.exp(duty.growth_per_day.astype(np.float32) * days)
    return Table(days=days, fed=fed, cake_kg=cake, rest_pa=rest, grown=grown, held_kg=fed_kg_day.sum(axis=0))


def cake_at_most(stage: Stage, duty: Duty, fed_kg_day: Array, longest_days: Array) -> Array:
    """Return about how much cake a first run ends with.

    Parameters
    ----------
    stage : Stage
        The stage.
    duty : Duty
        Flow and loss when due.
    fed_kg_day : (n, d) array
        Catch by layer while all goes into the layers [kg/day].
    longest_days : (d,) array
        Time limit [day].

    Returns
    -------
    (d,) array
        Cake that takes what the layers leave once dirt stays on the face, or what can be caught in time [kg].
    """
    fill = fed_kg_day / (stage.volume_m3 * stage.density_kg_m3)
    days = (stage.onset - stage.solid_fraction) / np.maximum(fill[0], 1e-30)
    solid = np.minimum(stage.solid_fraction + days * fill, FULL).astype(np.float32)
    rest = _rest(stage, duty.flow_m3_s)(solid)
    choking = np.maximum(duty.loss_pa - rest, 0.0) / _pressing(stage, duty)
    in_time = np.maximum(np.minimum(longest_days, stage.oldest_days) - days, 0.0) * fed_kg_day.sum(axis=0)
    most: Array = np.minimum(choking, in_time)
    return most


def _stepped(
    stage: Stage,
    duty: Duty,
    fed_kg_day: Array,
    caught_kg_day: Array,
    rise: Array,
    state: Single,
    on: Rows,
    seen: list[Single],
) -> tuple[Single, Flags]:
    """Take steps of days, clock and cake (3, d) until many draws are done; return where they stand and who goes on."""
    volume_kg = stage.volume_m3 * stage.density_kg_m3
    filling = fed_kg_day / volume_kg
    fill, growth, clean, most, per_layer, pressed, left, held, caught, strain, room, capacity, oldest = (
        part.astype(np.float32)
        for part in (
            filling,
            duty.growth_per_day,
            stage.solid_fraction,
            (FULL - stage.solid_fraction) * volume_kg,
            fed_kg_day,
            _pressing(stage, duty),
            duty.loss_pa,
            fed_kg_day.sum(axis=0),
            caught_kg_day,
            rise,
            room_kg(stage),
            stage.capacity_kg,
            stage.oldest_days,
        )
    )
    fastest, outer = fill.max(axis=0), (filling[0] / (stage.onset - stage.solid_fraction)).astype(np.float32)
    start, gap_full = _CAKE_START * left / pressed, FULL_GAP * room
    longest = np.minimum(oldest / 10.0, 0.5 / np.maximum(growth, np.float32(1e-9)))
    rest_of = _rest(stage, duty.flow_m3_s)
    strains = bool(strain[0].any())

    def strained(cake_kg: Single) -> Single | float:
        return 1.0 + strain[0] * cake_kg / (strain[1] + cake_kg) if strains else 1.0

    days, fed, cake = state
    while True:
        solid = np.minimum(clean + fed * fill, np.float32(FULL))
        rest = rest_of(solid)
        on_face, alive = cake, days < oldest
        if (clean + fed * fastest).max() > FULL:
            on_face = cake + np.maximum(fed * per_layer - most, 0.0).sum(axis=0)
            alive &= solid.min(axis=0) < np.float32(FULL)
        point = seen[-1].copy()
        point[:, on] = days, fed, on_face, rest
        seen.append(point)
        loss = rest + pressed * on_face / open_share(on_face, room)
        alive &= (loss < left) & (on_face < gap_full) & (fed * held + cake < capacity)
        if alive.mean() < _WORTH_SORTING or len(seen) >= _MOST_POINTS:
            return np.array((days, fed, cake)), alive
        top, more = _sixth(fed * outer), strained(cake)
        filling_now = np.maximum(fastest * ((1.0 - top) * more + growth * fed), np.float32(1e-30))
        onto = np.maximum(top * more * caught + growth * cake, np.float32(1e-30))
        most_onto = np.minimum(_CAKE_STEP * cake + start, _CAKE_STEP * np.maximum(room - cake, 0.0))
        step = np.minimum(np.minimum(_FILL_STEP / filling_now, longest), most_onto / onto) * alive
        middle = fed * (1.0 + 0.5 * step * growth) + (1.0 - top) * 0.5 * step * more
        top_middle = _sixth(middle * outer)
        u = growth * step  # at most a half: (e^u - 1) / u by its series
        gained = step * (1.0 + u / 2.0 * (1.0 + u / 3.0 * (1.0 + u / 4.0 * (1.0 + u / 5.0))))
        grown = 1.0 + growth * gained
        on_way = cake + 0.5 * top_middle * gained * more * caught
        gained = gained * strained(on_way)
        held_over = fed * grown
        top_end = _sixth((held_over + (1.0 - 2.0 * top_middle + top) * gained) * outer)
        mean = (top + 4.0 * top_middle + top_end) / 6.0  # Kutta's third order
        days, fed, cake = days + step, held_over + (1.0 - mean) * gained, cake * grown + mean * gained * caught


def _pressing(stage: Stage, duty: Duty) -> Array:
    """Return what a kilogram of cake loses when due, between wide pleats (d,) [Pa/kg]."""
    pressing: Array = np.maximum(duty.loss_pa, FLOOR_PA) ** POWER * stage.drag_per_kg * duty.flow_m3_s
    return pressing


def _sixth(filled: Single) -> Single:
    capped = np.minimum(filled, 1.0)
    square = capped * capped
    sixth: Single = square * square * square
    return sixth


def _rest(stage: Stage, flow_m3_s: Array) -> Callable[[Single], Single]:
    """Return the function from solid fractions (n, d) to the loss of layers and core (d,), in single precision."""
    per_layer = stage.solid_fraction / stage.fibre_squared_m2
    path = (stage.viscosity_pa_s * flow_m3_s * per_layer * stage.path_per_m).astype(np.float32)
    square = stage.water_kg_m3 * flow_m3_s**2
    core = (square * stage.core_per_m4).astype(np.float32)
    inertia = (square * np.sqrt(per_layer) * stage.inertia_per_m3).astype(np.float32)
    foam = bool(inertia.any())

    def rest(solid: Single) -> Single:
        layers = cast("Array", solid)
        k = permeability_m2(layers, layers)  # times the fibre's square over the clean solid fraction
        loss = (path / k).sum(axis=0) + core
        if foam:
            loss = loss + (inertia / np.sqrt(k)).sum(axis=0)
        return cast("Single", loss)

    return rest
