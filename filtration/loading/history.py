"""How the stages of many options load from new, side by side: the deposit is the clock."""

from dataclasses import dataclass

import numpy as np

from filtration.base.arrays import Array, Rows
from filtration.loading.law import Trains, catch_shares, layers_resistance, spread_over_layers, stays_on_face
from filtration.loading.site import Site, State, flow_left_m3_s, left_pa, losses_pa, removal_at
from filtration.physics.tub import life_mean_share

_FILL_STEP = 0.006  # of solid fraction a step
_CAKE_STEP = 0.10  # of the cake a step
_CAKE_START_KG_M2 = 0.3e-3
_MOST_STEPS = 3000
_FLOW_TOLERANCE = 1e-5  # the catch hardly depends on the flow
_POINTS = 1025
_LONGEST_DAYS = 36525.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class History:
    """Each stage's state against the time it has been in use since new, when nothing was rinsed; o options, s stages.

    Parameters
    ----------
    end_days : (o, s) array
        Where a stage's history ends [day]: it alone chokes the option, it is full, or it is too old.
    state : State
        Shape (g, o, s), at g equally spaced times from 0 to ``end_days``.
    """

    end_days: Array
    state: State

    def at(self, rows: Rows, days: Array) -> State:
        """State of the stages, shape (..., s), of the options ``rows`` (...) after ``days`` (..., s) in use."""
        last = len(self.state.cake_kg) - 1
        stage = np.arange(self.end_days.shape[1])
        place = np.clip(days / self.end_days[rows] * last, 0.0, last - 1e-6)
        below = place.astype(np.intp)
        part = place - below
        row = rows[..., None]

        def between(values: Array) -> Array:
            low: Array = values[below, row, stage]
            return low + part * (values[below + 1, row, stage] - low)

        state = self.state
        return State(
            resistance_per_m3=between(state.resistance_per_m3),
            inertia_per_m4=between(state.inertia_per_m4),
            layer_kg=between(state.layer_kg),
            cake_kg=between(state.cake_kg),
        )

    def days_with(self, rows: Rows, layer_kg: Array) -> Array:
        """Days in use (..., s) after which the layers of the options ``rows`` (...) hold ``layer_kg`` (..., s)."""
        masses = self.state.layer_kg
        last = len(masses) - 1
        stage, row = np.arange(self.end_days.shape[1]), rows[..., None]
        low, high = np.zeros(layer_kg.shape, dtype=np.intp), np.full(layer_kg.shape, last, dtype=np.intp)
        while (high - low > 1).any():
            middle = (low + high) // 2
            below = masses[middle, row, stage] < layer_kg
            low, high = np.where(below, middle, low), np.where(below, high, middle)
        at_low, at_high = masses[low, row, stage], masses[high, row, stage]
        rise = np.where(at_high > at_low, at_high - at_low, 1.0)
        part = np.clip((layer_kg - at_low) / rise, 0.0, 1.0)
        days: Array = (low + part) / last * self.end_days[rows]
        return days


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Catch:
    """What one element of each stage catches a day, in all (o, s) and by layer (o, s, n) [kg/day]."""

    total: Array
    by_layer: Array


def catch_of(site: Site, flow: Array, cake_kg: Array) -> Catch:
    """Return the mean catch over the water's life at the present flow and cake."""
    rows, trains, tub = site.all_rows, site.trains, site.tub
    inside, of_water = catch_shares(trains, rows, cake_kg)
    whole = of_water.sum(axis=-2)
    share = life_mean_share(removal_at(site, rows, flow, whole) * tub.water_life_days)
    of_load = share / np.where(whole > 0.0, whole, 1.0)
    by_class = of_water * (tub.deposit_load_kg_day * of_load / trains.housings[:, None])[:, None, :]
    return Catch(total=by_class.sum(axis=-1), by_layer=spread_over_layers(trains, inside, by_class))


def _step_days(site: Site, layer_kg: Array, cake_kg: Array, catch: Catch, face: Array, longest: float) -> Array:
    """Return steps, shape (o, s), over which layers and cakes change little."""
    trains, growth = site.trains, site.tub.growth_per_day
    into = (1.0 - face)[..., None] * catch.by_layer + growth * layer_kg
    room = np.where(trains.volume_m3 > 0.0, trains.volume_m3, np.inf) * trains.density_kg_m3[..., None]
    fill = (into / room).max(axis=-1)
    refused = np.where(layer_kg >= trains.layer_full_kg, into, 0.0).sum(axis=-1)
    onto = face * catch.total + refused + growth * cake_kg
    with np.errstate(divide="ignore"):
        by_fill = _FILL_STEP / fill
        by_cake = (_CAKE_STEP * cake_kg + _CAKE_START_KG_M2 * trains.face_m2) / onto
    smallest: Array = np.minimum(np.minimum(by_fill, by_cake), longest)
    return smallest


def _advance(
    site: Site, layer_kg: Array, cake_kg: Array, catch: Catch, face: Array, days: Array
) -> tuple[Array, Array]:
    """Return layers and cake after some days (o, s) of a steady catch."""
    growth = site.tub.growth_per_day
    grown = np.exp(growth * days)
    gained = np.expm1(growth * days) / growth if growth > 0.0 else days
    layers = layer_kg * grown[..., None] + ((1.0 - face) * gained)[..., None] * catch.by_layer
    refused = np.maximum(layers - site.trains.layer_full_kg, 0.0)
    cake = cake_kg * grown + face * gained * catch.total + refused.sum(axis=-1)
    return layers - refused, cake


def history_of(site: Site, least_flow_m3_s: Array, longest_days: float) -> History:
    """Load every stage of every option from new until it alone would choke the option.

    Parameters
    ----------
    site : Site
        The options.
    least_flow_m3_s : (o,) array
        Flow at which each option is due [m3/s]; the catch goes on at this flow beyond.
    longest_days : float
        Longest time to follow [day].

    Returns
    -------
    History
        The states against time.

    Notes
    -----
    The catch is quasi-steady: that of the present flow and cake, meaned over the water's life. It is held over steps in
    which layers and cakes change little, each step taken with the catch of its middle; growth and filling within a step
    are exact.
    """
    trains, rows = site.trains, site.all_rows
    longest = min(longest_days, _LONGEST_DAYS)
    most_a_step = longest / 60.0
    if site.tub.growth_per_day > 0.0:
        most_a_step = min(most_a_step, 0.1 / site.tub.growth_per_day)

    layers, cake = np.zeros(trains.volume_m3.shape), np.zeros(trains.face_m2.shape)
    full, capacity = trains.layer_full_kg, trains.capacity_kg
    days, ends = np.zeros(len(rows)), np.where(trains.present, np.nan, 0.0)
    left_when_due = left_pa(site, rows, least_flow_m3_s)[:, None]
    flow = site.largest_flow_m3_s
    catch = catch_of(site, np.maximum(least_flow_m3_s, 0.9 * flow), cake)
    seen = [(days, layers, cake)]
    for _ in range(_MOST_STEPS):
        open_stages = np.isnan(ends)
        face = stays_on_face(trains, layers[..., 0])
        step = np.where(open_stages, _step_days(site, layers, cake, catch, face, most_a_step), np.inf).min(axis=1)
        step = np.where(open_stages.any(axis=1), step, 0.0)
        each = np.where(open_stages, step[:, None], 0.0)
        middle, middle_cake = _advance(site, layers, cake, catch, face, 0.5 * each)
        resistance, inertia = layers_resistance(trains, middle)
        state = State(
            resistance_per_m3=resistance, inertia_per_m4=inertia, layer_kg=middle.sum(axis=-1), cake_kg=middle_cake
        )
        flow = flow_left_m3_s(site, rows, state, least_flow_m3_s, flow, tolerance=_FLOW_TOLERANCE)
        catch = catch_of(site, flow, middle_cake)
        layers, cake = _advance(site, layers, cake, catch, stays_on_face(trains, middle[..., 0]), each)
        days = days + step
        seen.append((days, layers, cake))
        choked = losses_pa(site, rows, state, least_flow_m3_s) >= left_when_due
        filled = (middle_cake >= trains.cake_full_kg) | (state.layer_kg + middle_cake >= capacity)
        filled |= state.layer_kg >= (1.0 - 1e-9) * full.sum(axis=-1)
        over = choked | filled | (days >= longest)[:, None]
        ends = np.where(np.isnan(ends) & over, days[:, None], ends)
        if not np.isnan(ends).any():
            break
    return _resampled(trains, seen, np.where(np.isnan(ends), days[:, None], ends))


def _resampled(trains: Trains, seen: list[tuple[Array, Array, Array]], ends: Array) -> History:
    """Return what was seen at uneven times at even ones, stage by stage."""
    days = np.array([moment[0] for moment in seen])
    layers = np.array([moment[1] for moment in seen])
    cake = np.array([moment[2] for moment in seen])
    resistance, inertia = layers_resistance(trains, layers)
    options, stages = ends.shape
    even = np.zeros((4, _POINTS, options, stages))
    ends = np.where(ends > 0.0, ends, 1.0)
    for option in range(options):
        for stage in range(stages):
            at = np.linspace(0.0, ends[option, stage], _POINTS)
            for value, kept in zip((resistance, inertia, layers.sum(axis=-1), cake), even, strict=True):
                kept[:, option, stage] = np.interp(at, days[:, option], value[:, option, stage])
    return History(
        end_days=ends,
        state=State(resistance_per_m3=even[0], inertia_per_m4=even[1], layer_kg=even[2], cake_kg=even[3]),
    )
