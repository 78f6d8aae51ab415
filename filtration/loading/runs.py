"""Runs of one kind of option before many draws, found in the tables of its stages.

Shapes: d draws, s stages, k points of a table; draws come last.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from filtration.base.arrays import Array, Flags, Rows
from filtration.base.roots import root_between
from filtration.loading.law import near_loss_pa
from filtration.loading.stage import FLOOR_PA, FULL_GAP, POWER, Stage, open_share, room_kg
from filtration.loading.table import Duty, Table

_DAYS_TOLERANCE, _STEPS = 2e-4, 14  # of the search for the end of a train's run

Spot = tuple[Rows, Array]  # a place in a table and the part of the way to the next, for each draw
Somewhere = Spot | tuple[Rows, None]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Walker:
    """Runs of an option from any state of its stages."""

    stages: Sequence[Stage]
    tables: Sequence[Table]
    duty: Duty

    def state(self, stage: int, days: Array, draws: Rows) -> tuple[Array, Array, Array]:
        """Clock, cake and loss of layers and core, ``days`` since new."""
        return self.state_at(stage, spot(self.tables[stage].days, days, draws))

    def state_at(self, stage: int, where: Spot) -> tuple[Array, Array, Array]:
        """Clock, cake and loss of layers and core at a spot of a stage's table."""
        table = self.tables[stage]
        return between(table.fed, where), between(table.cake_kg, where), between_powers(table.rest_pa, where)

    def ends(self, used: Array, extra: Array, days: Array, draws: Rows) -> list[tuple[Array, Array, Array]]:
        """Clock, cake and loss of layers and core of each stage some days into a run."""
        grown, found = np.exp(self.duty.growth_per_day[draws] * days), []
        for at in range(len(self.stages)):
            fed, cake, rest = self.state(at, used[at] + days, draws)
            found.append((fed, np.maximum(cake + extra[at] * grown, 0.0), rest))
        return found

    def rinsed(self, stage: int, keeps: Array, fed: Array, cake: Array, draws: Rows) -> tuple[Array, Array]:
        """Days of use and extra cake of a stage that keeps a share of its deposit."""
        table = self.tables[stage]
        start = spot(table.fed, keeps * fed, draws)
        return between(table.days, start), keeps * cake - between(table.cake_kg, start)

    def over(self, used: Array, extra: Array, draws: Rows) -> Callable[[Array], Array]:
        """Return how far a run is beyond due after some days: below 0 before, above after."""
        flow, left = self.duty.flow_m3_s[draws], self.duty.loss_pa[draws]
        dragged = [stage.drag_per_kg[draws] * flow for stage in self.stages]
        rooms = [room_kg(stage, draws) for stage in self.stages]

        def beyond(days: Array) -> Array:
            total, fullest = np.zeros(len(draws)), np.zeros(len(draws))
            for at, (fed, cake, rest) in enumerate(self.ends(used, extra, days, draws)):
                total += near_loss_pa(rest, dragged[at] * cake / open_share(cake, rooms[at]))
                fullest = np.maximum(fullest, self.fullness(at, fed, cake, draws))
            over_by: Array = np.maximum(np.log(total / left), fullest - 1.0)
            return over_by

        return beyond

    def fullness(self, at: int, fed: Array, cake: Array, draws: Rows) -> Array:
        """Share of what a stage can hold, by its gap or its stated capacity, for its clock and cake."""
        stage, held = self.stages[at], self.tables[at].held_kg[draws]
        room, capacity = FULL_GAP * room_kg(stage, draws), stage.capacity_kg[draws]
        share: Array = np.maximum(cake / room, (fed * held + cake) / capacity)
        return share

    def run(self, used: Array, extra: Array, longest: Array, draws: Rows) -> Array:
        """Length of a run [day]."""
        left = np.array([table.days[-1, draws] - used[at] for at, table in enumerate(self.tables)])
        longest = np.minimum(longest, np.maximum(left.max(axis=0), 0.0))
        alone = np.clip(left.min(axis=0), 0.0, longest)  # by then a stage alone is due, unless a rinse took its cake
        over = self.over(used, extra, draws)
        days, beyond = longest.copy(), over(alone)
        late = beyond < 0.0
        high, at_high = np.where(late, longest, alone), beyond.copy()
        some = np.flatnonzero(late & (longest > alone))
        if some.size:
            at_high[some] = self.over(used[:, some], extra[:, some], draws[some])(longest[some])
        short = np.flatnonzero(at_high >= 0.0)
        if short.size:
            over = self.over(used[:, short], extra[:, short], draws[short])
            low = np.where(late, alone, 0.0)[short]
            days[short] = root_between(lambda at: -over(at), low, high[short], tolerance=_DAYS_TOLERANCE, steps=_STEPS)
        return days

    def run_alone(self, used: Array, extra: Array, longest: Array, draws: Rows) -> tuple[Array, Spot]:
        """Length of a single stage's run [day] and where its table then stands.

        When it is due its loss, and with it the cake's drag, is known.
        """
        stage, table, duty = self.stages[0], self.tables[0], self.duty
        growth, left = duty.growth_per_day[draws], duty.loss_pa[draws]
        pressed = stage.drag_per_kg[draws] * duty.flow_m3_s[draws]
        pressed = pressed * np.maximum(left, FLOOR_PA) ** POWER
        room = room_kg(stage, draws)
        capacity, held = stage.capacity_kg[draws], table.held_kg[draws]
        limited = bool(np.isfinite(capacity).any())
        first = extra * np.exp(-growth * used)

        def over(where: Somewhere) -> tuple[Array, Array]:
            cake = np.maximum(between(table.cake_kg, where) + first * between(table.grown, where), 0.0)
            share = cake / room
            loss = between_powers(table.rest_pa, where) + pressed * cake / np.maximum(1.0 - share, 1e-2)
            beyond = np.maximum(loss / left - 1.0, share / FULL_GAP - 1.0)
            if limited:
                beyond = np.maximum(beyond, (between(table.fed, where) * held + cake) / capacity - 1.0)
            return between(table.days, where) - used, beyond

        def before(place: Rows) -> Flags:
            days, beyond = over((place, None))
            early: Flags = (days <= 0.0) | ((beyond < 0.0) & (days < longest))
            return early

        below = _last_before(before, table.days.shape, draws)
        (low, under), (high, beyond) = over((below, None)), over((below + table.days.shape[1], None))
        part = _crossing(under, beyond)
        _, middle = over((below, part))
        part = np.where(middle < 0.0, part + (1.0 - part) * _crossing(middle, beyond), part * _crossing(under, middle))
        part = np.minimum(part, np.maximum((longest - low) / np.maximum(high - low, 1e-12), 0.0))
        return np.maximum(low + part * (high - low), 0.0), (below, part)


def _crossing(under: Array, beyond: Array) -> Array:
    """Return the part of the way at which a line from ``under`` to ``beyond`` crosses 0, between 0 and 1."""
    part: Array = np.minimum(np.maximum(under / np.minimum(under - beyond, -1e-300), 0.0), 1.0)
    return part


def between(column: Array, where: Somewhere) -> Array:
    """Return a column of a table at a spot, or at a place of it."""
    below, part = where
    flat = column.ravel()
    low = flat.take(below)
    if part is None:
        return low
    value: Array = low + part * (flat.take(below + column.shape[1]) - low)
    return value


def between_powers(column: Array, where: Somewhere) -> Array:
    """Return a column that rises by powers at a spot: between the linear and the harmonic way, as good as its log."""
    below, part = where
    flat = column.ravel()
    low = flat.take(below)
    if part is None:
        return low
    high = flat.take(below + column.shape[1])
    step = part * (high - low)
    value: Array = 0.5 * (low + step + low * high / (high - step))
    return value


def spot(along: Array, at: Array, draws: Rows) -> Spot:
    """Return where a rising column of a table stands at a value, its last point where the value lies beyond."""
    flat = along.ravel()
    below = _last_before(lambda place: flat.take(place) < at, along.shape, draws)
    low, high = flat.take(below), flat.take(below + along.shape[1])
    part: Array = np.minimum(np.maximum((at - low) / np.maximum(high - low, 1e-30), 0.0), 1.0)
    return below, part


def _last_before(before: Callable[[Rows], Flags], shape: tuple[int, ...], draws: Rows) -> Rows:
    """Return the last but one at most of the places for which something still holds, by halving.

    A place is where a draw's point lies in a table of that shape (k, d) read row by row; its next point lies d later.
    """
    last, width = shape[0] - 2, shape[1]
    low = np.full(len(draws), min(last, 0), dtype=np.intp)
    for bit in range(max(last, 0).bit_length() - 1, -1, -1):
        trial = np.minimum(low + (1 << bit), last)
        low += (trial - low) * before(trial * width + draws)
    place: Rows = low * width + draws
    return place
