"""The states of a stage along its clock, from new until it alone would choke the option.

With the mix of the catch frozen every layer of a stage fills in the same proportion, so that one clock, the days its
layers have been fed, stands for all of them; the outermost, which decides what stays on the face, has its own mass.
Shapes: d cases, k points of a table, n layers, q points of a course; cases come last.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, cast

import numpy as np

from filtration.base.arrays import Array, Flags, Numbers, Rows, Single, column_sums
from filtration.base.cases import side_by_side, taken
from filtration.loading.law import FLOOR_PA, FULL, FULL_GAP, POWER
from filtration.loading.stage import Stage, open_share
from filtration.physics.permeability import permeability_m2

_CAKE_START = 0.05  # the first step of the cake: of the loss when due
_FIRST_POINTS, _MOST_POINTS = 64, 4000
_WORTH_SORTING = 0.7  # share of the cases still on their way at which the others are left behind


@dataclass(frozen=True, slots=True, kw_only=True)
class Fineness:
    """How finely cases are worked.

    Parameters
    ----------
    step : float
        Of a table, over the steps that draws take [-].
    rounds : int
        How often the catch along the first run is found anew from that run.
    days : float
        Tolerance of a run's length, over it [-].
    looks : int
        Points of a first run at which the view is looked at.
    rounds_of_a_root : int
        How often what holds a root is cut into sixteen, see ``roots.root_by_sections``; 0 for many cases, whose roots
        are found one step after the other.
    """

    step: float
    rounds: int
    days: float
    looks: int
    rounds_of_a_root: int

    @property
    def fill_step(self) -> float:
        """Largest step of solid fraction [-]."""
        return 0.025 * self.step

    @property
    def cake_step(self) -> float:
        """Largest step of the cake, over the cake, or what its gap has left [-]."""
        return 0.35 * self.step


COARSE = Fineness(step=1.0, rounds=0, days=2e-4, looks=2, rounds_of_a_root=0)
"""For draws: a first run within about a tenth of a per cent in the middle, a few per cent where flow falls far."""

FINE = Fineness(step=0.25, rounds=1, days=1e-7, looks=24, rounds_of_a_root=4)
"""For the central case: within about a hundredth of a per cent in the middle."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Duty:
    """What an option has to do, by case.

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """What a stage catches along its clock: a frozen mix, times what changes with cake and time.

    Parameters
    ----------
    fed_kg_day : (n, d) array
        Catch by layer while all goes into the layers [kg/day].
    rise : (2, d) array
        What a cake that strains adds in the end, as a share [-], and the cake that adds half of it [kg].
    days : (d,) array
        Length of the run that ``shares`` were found in [day].
    shares, outer_shares : (q, d) array
        The catch at even times of that run over the frozen one, in all and of the outermost layer, straight between;
        from its end on their mean [-].
    """

    fed_kg_day: Array
    rise: Array
    days: Array
    shares: Array
    outer_shares: Array

    def caught(self) -> Callable[[Single, Single], tuple[Single, Single, Single]]:
        """Return the function from days since new and cake (d,), [day], [kg], to the catch there (d,).

        In all [kg/day], of the outermost layer [kg/day], and of the others over the frozen one [-].
        """
        per_layer, last = self.fed_kg_day.astype(np.float32), len(self.shares) - 1
        in_outer, in_rest = per_layer[0], np.maximum(column_sums(per_layer[1:]), np.float32(1e-30))
        held, (in_the_end, to_half) = in_outer + in_rest, self.rise.astype(np.float32)
        strains, unity = bool(in_the_end.any()), np.ones_like(held)

        def straining(_days: Single, cake_kg: Single) -> tuple[Single, Single, Single]:
            if not strains:
                return held, in_outer, unity
            share = 1.0 + in_the_end * cake_kg / (to_half + cake_kg)
            return share * held, share * in_outer, share

        if not last:
            return straining
        both = np.stack([self.shares, self.outer_shares], axis=-1).astype(np.float32)
        every, mean = np.arange(both.shape[1]), 0.5 * (both[1:] + both[:-1]).sum(axis=0) / last
        per_day = (last / np.maximum(self.days, 1e-12)).astype(np.float32)

        def along(days: Single, _cake_kg: Single) -> tuple[Single, Single, Single]:
            place = days * per_day
            below = np.minimum(place.astype(np.intp), last - 1)
            low, high = both[below, every], both[below + 1, every]
            share = np.where((place < last)[:, None], low + (place - below)[:, None] * (high - low), mean)
            whole, outer = share.T.astype(np.float32) * (held, in_outer)
            return whole, outer, (whole - outer) / in_rest

        return along


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """A stage's state along its clock; shape (k, d) each, single precision.

    Parameters
    ----------
    days : (k, d) array
        Time since new [day]; stands still once the stage alone chokes the option, is full or too old.
    fed : (k, d) array
        The clock: days' worth of the frozen catch in the layers but the outermost, growth included [day].
    outer_kg, layer_kg, cake_kg : (k, d) array
        Deposit that fell to the outermost layer, in all layers, and on the face [kg].
    rest_pa : (k, d) array
        Loss of layers and core at the flow when due [Pa].
    grown : (k, d) array
        What has grown out of each part of a deposit that was there when new [-].
    """

    days: Single
    fed: Single
    outer_kg: Single
    layer_kg: Single
    cake_kg: Single
    rest_pa: Single
    grown: Single


class Deposit(NamedTuple):
    """What one element of a stage holds (e,): in its layers, on its face [kg]; loss of layers and core [Pa]."""

    layer_kg: Array
    cake_kg: Array
    rest_pa: Array


def on_face(stage: Stage, outer_kg: Array) -> Array:
    """Return the share (d,) of a catch that stays on the face [-] where the outermost layer holds so much (d,) [kg].

    The sixth power of how far that layer is on its way to the onset.
    """
    way_kg = stage.volume_m3[0] * stage.density_kg_m3 * (stage.onset - stage.solid_fraction)
    return np.asarray(_sixth(outer_kg / way_kg))


def table_of(stage: Stage, duty: Duty, course: Course, fineness: Fineness) -> Table:
    """Tabulate a stage from new until it alone would choke the option.

    Parameters
    ----------
    stage : Stage
        The stage.
    duty : Duty
        Flow and loss when due.
    course : Course
        What it catches.
    fineness : Fineness
        How long the steps are.

    Returns
    -------
    Table
        Days, clock, deposit and loss.
    """
    size = len(duty.loss_pa)
    points = _Points(size)
    stage = _without_capture(stage)
    on = np.arange(size)
    state: Single = np.zeros((4, size), dtype=np.float32)
    while on.size and points.number < _MOST_POINTS:
        some = taken(stage, on, size), taken(duty, on, size), taken(course, on, size)
        state, alive = _stepped(*some, fineness, state, on, points)
        on, state = on[alive], state.compress(alive, axis=1)
    days, fed, outer, layers, cake, rest = points.columns()
    grown = np.exp(duty.growth_per_day.astype(np.float32) * days)
    return Table(days=days, fed=fed, outer_kg=outer, layer_kg=layers, cake_kg=cake, rest_pa=rest, grown=grown)


def tables_of_stages(parts: Sequence[tuple[Stage, Duty, Course]], fineness: Fineness) -> list[Table]:
    """Tabulate stages of whatever options, those with as many layers side by side; see ``table_of``."""
    alike: dict[tuple[int, int], list[int]] = {}
    for at, (stage, _, course) in enumerate(parts):
        alike.setdefault((len(stage.volume_m3), len(course.shares)), []).append(at)
    found = dict[int, Table]()
    for places in alike.values():
        stages, duties, courses = zip(*(parts[at] for at in places), strict=True)
        sizes = [len(duty.loss_pa) for duty in duties]
        stage = side_by_side([_without_capture(each) for each in stages], sizes)
        together = table_of(stage, side_by_side(duties, sizes), side_by_side(courses, sizes), fineness)
        ends = np.cumsum(sizes).tolist()
        for at, size, end in zip(places, sizes, ends, strict=True):
            found[at] = taken(together, np.arange(end - size, end), ends[-1])
    return [found[at] for at in range(len(parts))]


def _without_capture(stage: Stage) -> Stage:
    """Return a stage without what tells its catch, of which a course tells."""
    return replace(stage, log_past=stage.log_past[:0], inside=stage.inside[:0])


class _Points:
    """The points of a table so far, of six columns, in room that grows; a case no longer followed stands still."""

    def __init__(self, size: int) -> None:
        self.number, self._room = 0, np.empty((6, _FIRST_POINTS, size), dtype=np.float32)

    def add(self, on: Rows, *values: Single) -> None:
        """Add a point of some cases ``on`` (e,)."""
        if self.number == self._room.shape[1]:
            self._room = np.concatenate([self._room, np.empty_like(self._room)], axis=1)
        now = self._room[:, self.number]
        if len(on) == now.shape[1]:
            now[:] = values
        else:
            now[:] = self._room[:, self.number - 1]
            now[:, on] = values
        self.number += 1

    def columns(self) -> Single:
        """Return all (6, k, d), at least two: a table of an element that is full when new has no way to go."""
        return self._room[:, : self.number] if self.number > 1 else self._room[:, [0, 0]]


def cake_at_most(stage: Stage, duty: Duty, fed_kg_day: Array, longest_days: Array) -> Array:
    """Return about how much cake (d,) a first run ends with [kg].

    What the layers leave to it once dirt stays on the face, or what can be caught in time (d,) [day].
    """
    fill = fed_kg_day / (stage.volume_m3 * stage.density_kg_m3)
    days = (stage.onset - stage.solid_fraction) / np.maximum(fill[0], 1e-30)
    solid = np.minimum(stage.solid_fraction + days * fill, FULL).astype(np.float32)
    rest = _rest(stage, duty.flow_m3_s)(solid)
    choking = np.maximum(duty.loss_pa - rest, 0.0) / _pressing(stage, duty)
    in_time = np.maximum(longest_days - days, 0.0) * column_sums(fed_kg_day)
    most: Array = np.minimum(choking, in_time)
    return most


def _stepped(
    stage: Stage, duty: Duty, course: Course, fineness: Fineness, state: Single, on: Rows, points: _Points
) -> tuple[Single, Flags]:
    """Take steps of days, clock, outermost layer and cake (4, d) until many are done; return where, and who goes on."""
    volume_kg = stage.volume_m3 * stage.density_kg_m3
    fill, growth, clean, volume, most, per_layer, pressed, left, room, capacity, oldest, way = (
        part.astype(np.float32)
        for part in (
            course.fed_kg_day / volume_kg,
            duty.growth_per_day,
            stage.solid_fraction,
            volume_kg[0],
            (FULL - stage.solid_fraction) * volume_kg,
            course.fed_kg_day,
            _pressing(stage, duty),
            duty.loss_pa,
            stage.room_kg,
            stage.capacity_kg,
            stage.oldest_days,
            (stage.onset - stage.solid_fraction) * volume_kg[0],
        )
    )
    in_rest, fastest = column_sums(per_layer[1:]), fill.max(axis=0)
    held = np.maximum(per_layer[0] + in_rest, np.float32(1e-30))
    start, gap_full = np.float32(_CAKE_START * fineness.step) * left / pressed, FULL_GAP * room
    longest = np.minimum(oldest / 10.0, 0.5 / np.maximum(growth, np.float32(1e-9))) * np.float32(fineness.step)
    rest_of, into = _rest(stage, duty.flow_m3_s), course.caught()
    days, fed, outer, cake = state
    while True:
        solid = clean + fed * fill
        solid[0] = clean + outer / volume
        in_layers = outer + fed * in_rest
        inside, on_top, alive = in_layers, cake, days < oldest
        if np.maximum(clean + fed * fastest, solid[0]).max() > FULL:
            layers = fed * per_layer
            layers[0] = outer
            over = column_sums(np.maximum(layers - most, 0.0))
            inside, on_top, solid = inside - over, cake + over, np.minimum(solid, np.float32(FULL))
            alive &= solid.min(axis=0) < np.float32(FULL)
        rest = rest_of(solid)
        points.add(on, days, fed, outer, inside, on_top, rest)
        loss = rest + pressed * on_top / open_share(on_top, room)
        alive &= (loss < left) & (on_top < gap_full) & (inside + on_top < capacity)
        if alive.mean() < _WORTH_SORTING or points.number >= _MOST_POINTS:
            return np.array((days, fed, outer, cake)), alive
        top, (caught, to_outer, to_rest) = _sixth(outer / way), into(days, cake)
        filling = np.maximum(fastest * (1.0 - top) * (caught / held + growth * fed), np.float32(1e-30))
        onto = np.maximum(top * (caught + growth * in_layers) + growth * cake, np.float32(1e-30))
        most_onto = np.minimum(fineness.cake_step * cake + start, fineness.cake_step * np.maximum(room - cake, 0.0))
        step = np.minimum(np.minimum(fineness.fill_step / filling, longest), most_onto / onto) * alive
        top_middle = _sixth((outer + (1.0 - top) * 0.5 * step * (to_outer + growth * outer)) / way)
        gained, grown = _grown(growth, step)
        caught, to_outer, to_rest = into(days + 0.5 * step, cake + 0.5 * top_middle * gained * caught)
        top_end = _sixth((outer + (1.0 - 2.0 * top_middle + top) * gained * (to_outer + growth * outer)) / way)
        mean = (top + 4.0 * top_middle + top_end) / 6.0  # Kutta's third order
        inside_gained, inside_grown = _grown((1.0 - mean) * growth, step)
        inwards = (1.0 - mean) * inside_gained
        days, fed = days + step, fed * inside_grown + inwards * to_rest
        outer = outer * inside_grown + inwards * to_outer
        onto_face = caught + growth * 0.5 * (in_layers + outer + fed * in_rest)
        cake = cake * grown + mean * gained * onto_face


def _grown(growth: Single, step: Single) -> tuple[Single, Single]:
    """Return what a day's worth that comes evenly in a step has grown to [day], and what each gram there has [-]."""
    u = growth * step  # at most a half: (e^u - 1) / u by its series
    gained = cast("Single", step * (1.0 + u / 2.0 * (1.0 + u / 3.0 * (1.0 + u / 4.0 * (1.0 + u / 5.0)))))
    return gained, 1.0 + growth * gained


def _pressing(stage: Stage, duty: Duty) -> Array:
    """Return what a kilogram of cake loses when due, between wide pleats (d,) [Pa/kg]."""
    pressing: Array = np.maximum(duty.loss_pa, FLOOR_PA) ** POWER * stage.drag_per_kg * duty.flow_m3_s
    return pressing


def _sixth(filled: Numbers) -> Numbers:
    capped = np.minimum(filled, 1.0)
    square = capped * capped
    return cast("Numbers", square * square * square)


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
        loss = column_sums(path / k) + core
        if foam:
            loss = loss + column_sums(inertia / np.sqrt(k))
        return cast("Single", loss)

    return rest
