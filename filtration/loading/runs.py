"""Runs of one kind of option, found in the tables of its stages: when it is due, and what stands there then.

Shapes: d cases, e some of them, s stages, k points of a table, q times of a run; cases come last.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt

from filtration.base.arrays import Array, Flags, Rows
from filtration.base.cases import taken
from filtration.base.roots import root_between, root_by_sections
from filtration.loading.case import Case
from filtration.loading.law import FLOOR_PA, FULL_GAP, POWER, loss_with_cake_pa
from filtration.loading.spots import Somewhere, Spot, between, between_powers, crossing, last_before, spot
from filtration.loading.stage import Resistance, drag_of, resistance_of
from filtration.loading.table import Course, Deposit, Duty, Fineness, Table
from filtration.study.values import Limit

FULL_TOLERANCE = 1e-4
"""So near to full an element is full [-]."""
_NEAR_SIDES = (0.97, 1.03)  # of the run before, where the next one's end is looked for first
_NEAR = 1e-4  # tolerance of a flow that only shares losses out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tables:
    """Options of one kind tabulated: runs from any state of their stages.

    A state is how long each stage has been in use since new, ``used`` (s, e) [day], and the cake that it has above what
    it had then, ``extra`` (s, e) [kg]; what is on the face grows.

    Parameters
    ----------
    case : Case
        The options.
    clean_m3_s, due_m3_s : (d,) array
        Clean flow and that when due; where the clean filter lacks it, some flow below the clean one [m3/s].
    lacks, clouded : (d,) array of bool
        The clean filter lacks the flow; the water clouds before the flow falls to what is wanted.
    duty : Duty
        What one element has to do when due.
    layers_full_kg : (s, d) array
        Deposit in the layers of each stage, all of them full [kg].
    tables, courses : tuple of Table, tuple of Course
        Of each stage, and the catch they were made with.
    fineness : Fineness
        How finely they were worked.
    """

    case: Case
    clean_m3_s: Array
    due_m3_s: Array
    lacks: Flags
    clouded: Flags
    duty: Duty
    layers_full_kg: Array
    tables: tuple[Table, ...]
    courses: tuple[Course, ...]
    fineness: Fineness

    @property
    def all(self) -> Rows:
        """Every case."""
        return np.arange(self.case.size)

    @property
    def new(self) -> Array:
        """Days of use, or extra cake, of new stages (s, d)."""
        return np.zeros((len(self.tables), self.case.size))

    def of(self, cases: Rows) -> "Tables":
        """Return the tables of some cases (e,), each maybe several times."""
        return taken(self, cases, self.case.size)

    def deposits(self, used: Array, extra: Array, days: Array, cases: Rows) -> list[Deposit]:
        """Return what each stage holds some days (e,) into a run."""
        grown, found = np.exp(self.duty.growth_per_day[cases] * days), []
        for table, start, more in zip(self.tables, used, extra, strict=True):
            held = _at(table, spot(table.days, start + days, cases))
            found.append(held._replace(cake_kg=np.maximum(held.cake_kg + more * grown, 0.0)))
        return found

    def kept(self, at: int, residual: Array, held: Deposit, cases: Rows) -> tuple[Array, Array]:
        """Days of use and extra cake (e,) of a stage that keeps a share (e,) of its deposit."""
        table = self.tables[at]
        start = spot(table.layer_kg, residual * held.layer_kg, cases)
        return between(table.days, start), residual * held.cake_kg - between(table.cake_kg, start)

    def cake_kg(self, at: int, used: Array, cases: Rows) -> Array:
        """Cake (e,) of a stage that was never rinsed, after so long in use (e,) [kg], [day]."""
        table = self.tables[at]
        return between(table.cake_kg, spot(table.days, used, cases))

    def fullness(self, at: int, held: Deposit, cases: Rows) -> Array:
        """Share (e,) that a stage holds of what it can, between pleats, in layers, or as its maker states [-]."""
        stage, most_kg = self.case.stages[at], self.layers_full_kg[at, cases]
        share = np.maximum(held.cake_kg / (FULL_GAP * stage.room_kg[cases]), held.layer_kg / most_kg)
        if np.isfinite(stage.capacity_kg).any():
            share = np.maximum(share, (held.layer_kg + held.cake_kg) / stage.capacity_kg[cases])
        return np.asarray(share)

    def choked(self, held: Sequence[Deposit], cases: Rows) -> Array:
        """How far (e,) the loss at the flow when due is beyond what is left for it: 0 is due [-]."""
        total = sum(self.due_losses_pa(held, cases))
        beyond: Array = np.log(total / self.duty.loss_pa[cases])
        return beyond

    def due_losses_pa(self, held: Sequence[Deposit], cases: Rows) -> list[Array]:
        """Loss (e,) of each stage at the flow when due [Pa]."""
        return self._losses_pa(held, self.duty.flow_m3_s[cases], np.ones(len(cases)), cases)

    def _losses_pa(self, held: Sequence[Deposit], each_m3_s: Array, over_due: Array, cases: Rows) -> list[Array]:
        """Loss (e,) of each stage at a flow, so much of that when due; what a core takes as if linear [Pa]."""
        pairs = list(zip(self.case.stages, held, strict=True))
        return [
            loss_with_cake_pa(over_due * of.rest_pa, drag_of(stage, of.cake_kg, cases) * each_m3_s)
            for stage, of in pairs
        ]

    def _near_flow_m3_s(self, held: Sequence[Deposit], cases: Rows) -> Array:
        """Flow left (e,), at least that when due; what a core takes as if linear [m3/s]."""
        each_due, loop = self.duty.flow_m3_s[cases], self.case.loop.of_cases(cases)
        housings = self.case.housings[cases]

        def spare(flow: Array) -> Array:
            each = flow / housings
            return np.asarray(loop.left_pa(flow) - sum(self._losses_pa(held, each, each / each_due, cases)))

        return root_between(spare, each_due * housings, self.clean_m3_s[cases], tolerance=_NEAR)

    def extra_losses_pa(self, held: Sequence[Deposit], cases: Rows) -> Array:
        """Loss (s, e) of each stage above that of a new one, at the flow left, which is at least that when due [Pa]."""
        each = self._near_flow_m3_s(held, cases) / self.case.housings[cases]
        over_due = each / self.duty.flow_m3_s[cases]
        clean = np.array([over_due * table.rest_pa[0, cases] for table in self.tables])
        return np.asarray(np.array(self._losses_pa(held, each, over_due, cases)) - clean)

    def filled(self, held: Sequence[Deposit], cases: Rows) -> Array:
        """Fullness (e,) of the fullest stage [-]."""
        return np.asarray(np.max([self.fullness(at, each, cases) for at, each in enumerate(held)], axis=0))

    def beyond(self, used: Array, extra: Array, cases: Rows) -> Callable[[Array], Array]:
        """Return how far a run is beyond due after some days: below 0 before, above after."""

        def over(days: Array) -> Array:
            held = self.deposits(used, extra, days, cases)
            return np.maximum(self.choked(held, cases), self.filled(held, cases) - 1.0)

        return over

    def run(self, used: Array, extra: Array, longest: Array, cases: Rows, near: Array | None = None) -> Array:
        """Length (e,) of a run, at most so long (e,), and maybe near some length (e,) [day]."""
        if len(self.tables) == 1:
            return self._run_alone(used[0], extra[0], longest, cases)
        left = np.array([table.days[-1, cases] - start for table, start in zip(self.tables, used, strict=True)])
        longest = np.minimum(longest, np.maximum(left.max(axis=0), 0.0))
        alone = np.clip(left.min(axis=0), 0.0, longest)  # by then a stage alone is due, unless a rinse took its cake
        days, at_high = longest.copy(), self.beyond(used, extra, cases)(alone)
        late = at_high < 0.0
        high = np.where(late, longest, alone)
        some = np.flatnonzero(late & (longest > alone))
        if some.size:
            at_high[some] = self.beyond(used[:, some], extra[:, some], cases[some])(longest[some])
        short = np.flatnonzero(at_high >= 0.0)
        if short.size:
            over = self.beyond(used[:, short], extra[:, short], cases[short])
            low = np.where(late, alone, 0.0)[short]
            about = None if near is None else near[short]
            days[short] = self._root(lambda at: -over(at), low, high[short], -at_high[short], about)
        return days

    def _root(
        self, falling: Callable[[Array], Array], low: Array, high: Array, at_high: Array, near: Array | None
    ) -> Array:
        """Root (e,) of falling functions whose value at the upper bound is known, as finely as all is worked."""
        rounds = self.fineness.rounds_of_a_root
        if rounds:
            return root_by_sections(falling, low, high, rounds=rounds)
        at_low = np.full(low.shape, np.nan)
        around = [] if near is None else [side * near for side in _NEAR_SIDES]
        for guess in around:  # a run is mostly about as long as the one before
            at = np.clip(guess, low, high)
            value = falling(at)
            early = value > 0.0
            low, at_low = np.where(early, at, low), np.where(early, value, at_low)
            high, at_high = np.where(early, high, at), np.where(early, at_high, value)
        unknown = np.isnan(at_low)
        if unknown.any():
            at_low = np.where(unknown, falling(low), at_low)
        return root_between(falling, low, high, tolerance=self.fineness.days, at_ends=(at_low, at_high))

    def _run_alone(self, used: Array, extra: Array, longest: Array, cases: Rows) -> Array:
        """Length of a single stage's run: when it is due its loss, and with it the cake's drag, is known."""
        stage, table, duty = self.case.stages[0], self.tables[0], self.duty
        growth, left = duty.growth_per_day[cases], duty.loss_pa[cases]
        pressed = stage.drag_per_kg[cases] * duty.flow_m3_s[cases] * np.maximum(left, FLOOR_PA) ** POWER
        room, capacity = stage.room_kg[cases], stage.capacity_kg[cases]
        limited = bool(np.isfinite(capacity).any())
        first = extra * np.exp(-growth * used)

        def over(where: Somewhere) -> tuple[Array, Array]:
            cake = np.maximum(between(table.cake_kg, where) + first * between(table.grown, where), 0.0)
            share = cake / room
            loss = between_powers(table.rest_pa, where) + pressed * cake / np.maximum(1.0 - share, 1e-2)
            beyond = np.maximum(loss / left - 1.0, share / FULL_GAP - 1.0)
            if limited:
                beyond = np.maximum(beyond, (between(table.layer_kg, where) + cake) / capacity - 1.0)
            return between(table.days, where) - used, beyond

        def before(place: Rows) -> Flags:
            days, beyond = over((place, None))
            early: Flags = (days <= 0.0) | ((beyond < 0.0) & (days < longest))
            return early

        below = last_before(before, table.days.shape, cases, longest)
        (low, under), (high, beyond) = over((below, None)), over((below + table.days.shape[1], None))
        first_part, last_part = np.zeros(len(cases)), np.ones(len(cases))
        for _ in range(1 + self.fineness.rounds_of_a_root):
            part = first_part + (last_part - first_part) * crossing(under, beyond)
            _, middle = over((below, part))
            early = middle < 0.0
            first_part, under = np.where(early, part, first_part), np.where(early, middle, under)
            last_part, beyond = np.where(early, last_part, part), np.where(early, beyond, middle)
        part = first_part + (last_part - first_part) * crossing(under, beyond)
        part = np.minimum(part, np.maximum((longest - low) / np.maximum(high - low, 1e-12), 0.0))
        return np.maximum(low + part * (high - low), 0.0)

    def first_days(self) -> Array:
        """Length (d,) of the run from new [day]."""
        return self.run(self.new, self.new, self.case.limit_days, self.all)

    def by_layer_kg(self, at: int, layer_kg: Array, cases: Rows) -> Array:
        """Return what fell to each layer (n, e) of a stage whose layers hold so much (e,) [kg]."""
        table, where = self.tables[at], spot(self.tables[at].layer_kg, layer_kg, cases)
        inner = between(table.fed, where) * self.courses[at].fed_kg_day[1:, cases]
        return np.concatenate([between(table.outer_kg, where)[None], inner])

    def resistances(self, held: Sequence[Deposit], cases: Rows | None = None) -> list[Resistance]:
        """Return what stages that hold so much do to the flow, of all cases or of some (e,)."""
        some = self.all if cases is None else cases
        layers = [self.by_layer_kg(at, each.layer_kg, some) for at, each in enumerate(held)]
        stages = taken(self.case, some, self.case.size).stages
        return [
            resistance_of(stage, np.minimum(kg, stage.layer_full_kg), each.cake_kg)
            for stage, kg, each in zip(stages, layers, held, strict=True)
        ]

    def flow_m3_s(self, held: Sequence[Deposit], cases: Rows | None = None, *, many: bool = False) -> Array:
        """Flow left by stages that hold so much, of all cases or some (e,); of draws at least that when due [m3/s].

        Roots of ``many``, a few hundred, are found one step after the other: by sections they would take longer.
        """
        some, rounds = self.all if cases is None else cases, self.fineness.rounds_of_a_root
        if not rounds:
            return self._near_flow_m3_s(held, some)
        rounds = 0 if many else rounds
        return taken(self.case, some, self.case.size).flow_m3_s(self.resistances(held, some), rounds=rounds)

    def seen_m(self, held: Sequence[Deposit], flow: Array) -> Array:
        """View (d,) just after a session at the end of the water's life, the stages holding so much [m]."""
        return self.case.seen_m(flow, [each.cake_kg for each in held])

    def limit(self, days: Array, held: Sequence[Deposit]) -> list[Limit]:
        """Name the limits (d,) that end first runs of such lengths, with what their stages hold then."""
        full = self.filled(held, self.all) - 1.0 >= self.choked(held, self.all)
        return cast("list[Limit]", self.governed_by(days >= self.case.limit_days * (1.0 - 1e-9), full).tolist())

    def governed_by(self, in_time: Flags, full: Flags) -> npt.NDArray[np.str_]:
        """Name what ends runs (d,): time or a full element where it does, else what asks for the flow when due."""
        case = self.case
        wanted = np.where(np.isnan(case.wanted_share), case.wanted_m3_s, self.clean_m3_s * case.wanted_share)
        pressure = ~self.lacks & (self.due_m3_s > wanted * (1.0 + 1e-12))
        return np.select([in_time, full, self.clouded, pressure], ["time limit", "full", "clarity", "pressure"], "flow")


def _at(table: Table, where: Spot) -> Deposit:
    return Deposit(
        layer_kg=between(table.layer_kg, where),
        cake_kg=between(table.cake_kg, where),
        rest_pa=between_powers(table.rest_pa, where),
    )
