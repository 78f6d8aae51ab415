"""Runs of one kind of option, found in the tables of its stages: when it is due, and what stands there then.

Shapes: d cases, e some of them, s stages, k points of a table, q times of a run; cases come last.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
import numpy.typing as npt

from filtration.base.arrays import Array, Flags, Rows, Single, column_sums
from filtration.base.cases import taken
from filtration.base.roots import root_between, root_by_sections
from filtration.loading.case import Case, beside
from filtration.loading.law import FLOOR_PA, FULL_GAP, POWER, loss_with_cake_pa
from filtration.loading.stage import Resistance, drag_of, fed_per_day, resistance_of
from filtration.loading.table import COARSE, Course, Deposit, Duty, Fineness, Table, cake_at_most, on_face, table_of
from filtration.study.values import Limit

FULL_TOLERANCE = 1e-4
"""So near to full an element is full [-]."""

_NEARLY = 1.0 - 1e-6  # full, of a layer in single precision
MOST_DUE = 0.9
"""Of the clean flow, that tables run down to where the clean filter lacks the flow wanted [-]."""

_LEAST_M3_S = 1e-12  # a flow that is none
_UNDER_CLEAN = 1.0 - 1e-6  # of the clean flow, the most that can be wanted
_NEAR_SIDES = (0.97, 1.03)  # of the run before, where the next one's end is looked for first
_COURSE_POINTS = 17
_COUNTED = 8192  # so many comparisons at once cost less than halving step by step
_NEAR = 1e-4  # tolerance of a flow that only shares losses out

Spot = tuple[Rows, Array]  # a place in a table and the part of the way to the next, for each case
Somewhere = Spot | tuple[Rows, None]


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

        below = _last_before(before, table.days.shape, cases, longest)
        (low, under), (high, beyond) = over((below, None)), over((below + table.days.shape[1], None))
        first_part, last_part = np.zeros(len(cases)), np.ones(len(cases))
        for _ in range(1 + self.fineness.rounds_of_a_root):
            part = first_part + (last_part - first_part) * _crossing(under, beyond)
            _, middle = over((below, part))
            early = middle < 0.0
            first_part, under = np.where(early, part, first_part), np.where(early, middle, under)
            last_part, beyond = np.where(early, last_part, part), np.where(early, beyond, middle)
        part = first_part + (last_part - first_part) * _crossing(under, beyond)
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

    def flow_m3_s(self, held: Sequence[Deposit], cases: Rows | None = None) -> Array:
        """Flow left by stages that hold so much, of all cases or some (e,); of many at least that when due [m3/s]."""
        some, rounds = self.all if cases is None else cases, self.fineness.rounds_of_a_root
        if not rounds:
            return self._near_flow_m3_s(held, some)
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


def tables_of(case: Case, fineness: Fineness = COARSE, flows_m3_s: tuple[Array, Array] | None = None) -> Tables:
    """Tabulate options of one kind.

    Parameters
    ----------
    case : Case
        The options.
    fineness : Fineness, optional
        How finely.
    flows_m3_s : ((d,) array, (d,) array), optional
        Clean flow and that when due, where they are known [m3/s].

    Returns
    -------
    Tables
        Down to the flow when due.

    Notes
    -----
    Clarity ends a run where the view of a clear option falls below what is wanted: the flow left there, in the first
    run, is then the flow when due. The flow when due without a cake is the dullest there is, so that few are looked at.
    """
    clean, due = flows_m3_s or case.clean_and_due()
    lacks = ~((clean > due) & (clean > 0.0) & case.works)
    due = np.where(lacks, np.minimum(due, MOST_DUE * clean), due)
    due = np.maximum(np.where(due > 0.0, due, MOST_DUE * clean), _LEAST_M3_S)
    clear = ~lacks & (case.seen_m(clean, case.new) >= case.view_m) & (case.seen_m(due, case.new) < case.view_m)
    tables = _tabulated(case, clean, due, lacks, fineness)
    some = np.flatnonzero(clear)
    again, flow = _flow_when_dull(tables, some) if some.size else (some, due)
    if again.size:
        due = due.copy()
        due[again] = np.minimum(flow, _UNDER_CLEAN * clean[again])
        part = taken(case, again, case.size)
        tables = _with(tables, again, _tabulated(part, clean[again], due[again], lacks[again], fineness))
    return tables


def _flow_when_dull(tables: Tables, cases: Rows) -> tuple[Rows, Array]:
    """Return which of some cases cloud within the first run, so that one sees too little, and the flow then [m3/s]."""
    first, looks, tolerance = tables.first_days(), tables.fineness.looks, max(5.0 * tables.fineness.days, 1e-6)

    def held(part: Array, cases: Rows) -> list[Deposit]:
        new = np.zeros((len(tables.tables), len(cases)))
        return tables.deposits(new, new, part * first[cases], cases)

    def spare_view(cases: Rows) -> Callable[[Array], Array]:
        case = taken(tables.case, cases, tables.case.size)

        def spare(part: Array) -> Array:
            now = held(part, cases)
            return case.seen_m(tables.flow_m3_s(now, cases), [each.cake_kg for each in now]) - case.view_m

        return spare

    spare = spare_view(cases)
    dull = np.array([spare(np.full(len(cases), look / looks)) < 0.0 for look in range(1, looks + 1)])
    some, look = cases[dull.any(axis=0)], dull.argmax(axis=0)[dull.any(axis=0)]
    part = root_between(spare_view(some), look / looks, (look + 1) / looks, tolerance=tolerance) if some.size else look
    return some, tables.flow_m3_s(held(part, some), some)


def _with(tables: Tables, cases: Rows, part: Tables) -> Tables:
    """Return tables with those of some cases in their place."""
    stages = []
    for old, new in zip(tables.tables, part.tables, strict=True):
        columns = {}
        for name in Table.__slots__:
            before, after = getattr(old, name), getattr(new, name)
            longer = max(len(before), len(after))
            column = np.concatenate([before, np.repeat(before[-1:], longer - len(before), axis=0)])
            column[:, cases] = np.concatenate([after, np.repeat(after[-1:], longer - len(after), axis=0)])
            columns[name] = column
        stages.append(Table(**columns))
    due, clouded = tables.due_m3_s.copy(), tables.clouded.copy()
    due[cases], clouded[cases] = part.due_m3_s, True
    courses = []
    for old_course, new_course in zip(tables.courses, part.courses, strict=True):
        values = {}
        for name in Course.__slots__:
            values[name] = getattr(old_course, name).copy()
            values[name][..., cases] = getattr(new_course, name)
        courses.append(Course(**values))
    return replace(
        tables,
        due_m3_s=due,
        clouded=clouded,
        duty=tables.case.duty(due),
        tables=tuple(stages),
        courses=tuple(courses),
    )


def _tabulated(case: Case, clean: Array, due: Array, lacks: Flags, fineness: Fineness) -> Tables:
    """Return tables down to some flow (d,), the catch guessed at mid flow, then taken from the run it leads to."""
    duty = case.duty(due)
    full_kg = [_NEARLY * column_sums(stage.layer_full_kg) for stage in case.stages]
    courses = guessed_courses(case, duty, 0.5 * (clean + due))

    def made(with_courses: tuple[Course, ...], how: Fineness) -> Tables:
        pairs = zip(case.stages, with_courses, strict=True)
        return Tables(
            case=case,
            clean_m3_s=clean,
            due_m3_s=due,
            lacks=lacks,
            clouded=np.zeros(case.size, dtype=bool),
            duty=duty,
            layers_full_kg=np.array(full_kg) * np.ones(case.size),
            tables=tuple(table_of(stage, duty, course, how) for stage, course in pairs),
            courses=with_courses,
            fineness=how,
        )

    on_the_way = replace(COARSE, rounds_of_a_root=fineness.rounds_of_a_root)
    for _ in range(fineness.rounds):
        courses = _along(made(courses, on_the_way))
    return made(courses, fineness)


def guessed_courses(case: Case, duty: Duty, mid: Array) -> tuple[Course, ...]:
    """Return the catch at mid flow; where a sheet strains, its cake adds to it, and takes it from those behind."""
    none, ones = case.new, np.ones((1, case.size))
    caught = case.catches(mid, none)
    rises = [np.array([[0.0], [1.0]]) * ones] * len(caught)
    if any(stage.strains for stage in case.stages):
        most = [
            cake_at_most(stage, duty, fed_per_day(stage, by_class), np.minimum(case.limit_days, stage.oldest_days))
            if stage.strains
            else np.zeros(case.size)
            for stage, by_class in zip(case.stages, caught, strict=True)
        ]
        half, full = (case.catches(mid, [share * cake for cake in most]) for share in (0.5, 1.0))
        rises = [_rise(*parts) for parts in zip(most, caught, half, full, strict=True)]
        caught = [
            now if stage.strains else 0.5 * (now + then)
            for stage, now, then in zip(case.stages, caught, half, strict=True)
        ]
    return tuple(
        Course(
            fed_kg_day=fed_per_day(stage, by_class), rise=rise, days=np.zeros(case.size), shares=ones, outer_shares=ones
        )
        for stage, by_class, rise in zip(case.stages, caught, rises, strict=True)
    )


def _rise(most: Array, none: Single, half: Single, full: Single) -> Array:
    """Return what a cake that strains adds to a catch in the end, as a share, and the cake that adds half of it (2, d).

    A hyperbola through the catch with none, half and most of the cake: size classes are strained at different cakes, so
    that their sum rises steeply at first and settles slowly.
    """
    at_none, at_half, at_full = (column_sums(by_class.astype(np.float64)) for by_class in (none, half, full))
    gain = at_full - at_none
    strains = (most > 0.0) & (gain > 1e-4 * at_none)
    half_way = np.clip((at_half - at_none) / np.where(strains, gain, 1.0), 0.501, 0.999)
    to_half = most * 0.5 * (1.0 - half_way) / (half_way - 0.5)
    in_the_end = gain / np.maximum(at_none, 1e-30) * (1.0 + to_half / np.maximum(most, 1e-30))
    return np.where(strains, np.array([in_the_end, to_half]), np.array([[0.0], [1.0]]))


def _along(tables: Tables) -> tuple[Course, ...]:
    """Return the catch along the first run as flow and cakes have it there.

    Where it falls among the layers is meaned by what goes into them: once dirt stays on the face it no longer matters.
    """
    days, size, points = tables.first_days(), tables.case.size, _COURSE_POINTS
    along = tables.of(np.tile(tables.all, points))  # every case at every point
    held = along.deposits(along.new, along.new, np.outer(np.linspace(0.0, 1.0, points), days).ravel(), along.all)
    cakes = [each.cake_kg for each in held]
    caught = along.case.catches(along.flow_m3_s(held), cakes)
    ends = np.array([0.5, *[1.0] * (points - 2), 0.5])[:, None]
    courses = []
    for at, (stage, by_class, each) in enumerate(zip(along.case.stages, caught, held, strict=True)):
        falls = fed_per_day(stage, by_class, each.cake_kg).reshape(-1, points, size).swapaxes(0, 1)
        into = np.maximum(
            1.0 - on_face(stage, along.by_layer_kg(at, each.layer_kg, along.all)[0]).reshape(points, size), 1e-6
        )
        total = column_sums(np.ascontiguousarray(falls))
        mean, weight = column_sums(ends * total) / ends.sum(), ends * into
        mix = (weight[:, None] * falls).sum(axis=0) / np.maximum(column_sums(weight * total), 1e-300)
        fed_kg_day = mean * mix
        courses.append(
            Course(
                fed_kg_day=fed_kg_day,
                rise=np.array([[0.0], [1.0]]) * np.ones(size),
                days=days,
                shares=total / np.maximum(mean, 1e-300),
                outer_shares=falls[:, 0] / np.maximum(fed_kg_day[0], 1e-300),
            )
        )
    return tuple(courses)


def _at(table: Table, where: Spot) -> Deposit:
    return Deposit(
        layer_kg=between(table.layer_kg, where),
        cake_kg=between(table.cake_kg, where),
        rest_pa=between_powers(table.rest_pa, where),
    )


def _crossing(under: Array, beyond: Array) -> Array:
    """Return the part of the way at which a line from ``under`` to ``beyond`` crosses 0, between 0 and 1."""
    part: Array = np.minimum(np.maximum(under / np.minimum(under - beyond, -1e-300), 0.0), 1.0)
    return part


def between(column: Single, where: Somewhere) -> Array:
    """Return a column of a table at a spot, or at a place of it."""
    below, part = where
    flat = column.ravel()
    low = flat.take(below)
    if part is None:
        return np.asarray(low)
    value: Array = low + part * (flat.take(below + column.shape[1]) - low)
    return value


def between_powers(column: Single, where: Somewhere) -> Array:
    """Return a column that rises by powers at a spot: between the linear and the harmonic way, as good as its log."""
    below, part = where
    flat = column.ravel()
    low = flat.take(below)
    if part is None:
        return np.asarray(low)
    high = flat.take(below + column.shape[1])
    step = part * (high - low)
    value: Array = 0.5 * (low + step + low * high / (high - step))
    return value


def spot(along: Single, at: Array, cases: Rows) -> Spot:
    """Return where a rising column of a table stands at a value, its last point where the value lies beyond."""
    flat, (points, width) = along.ravel(), along.shape
    if points * at.size <= _COUNTED:
        columns = along.take(cases, axis=1).reshape(points, *[1] * (at.ndim - 1), -1)
        below = cases + width * np.minimum(np.maximum((columns < at).sum(axis=0) - 1, 0), max(points - 2, 0))
    else:
        below = _last_before(lambda place: flat.take(place) < at, along.shape, cases, at)
    low, high = flat.take(below), flat.take(below + along.shape[1])
    part: Array = np.minimum(np.maximum((at - low) / np.maximum(high - low, 1e-30), 0.0), 1.0)
    return below, part


def _last_before(before: Callable[[Rows], Flags], shape: tuple[int, ...], cases: Rows, like: Array) -> Rows:
    """Return the last but one at most of the places for which something still holds, by halving.

    They have the shape of ``like``. A place is where a case's point lies in a table of that shape (k, d) read row by
    row; its next point lies d later.
    """
    left, width = max(shape[0] - 1, 1), shape[1]
    place = np.broadcast_to(cases, like.shape).astype(np.intp)
    while left > 1:  # it is this place or one of so few less one that follow
        half = left // 2
        place += half * width * before(place + half * width)
        left -= half
    return place


def groups_of(cases: Sequence[Case], fineness: Fineness) -> list[tuple[list[int], Tables]]:
    """Tabulate options that run, those of one kind side by side.

    Parameters
    ----------
    cases : sequence of Case
        One case of each option.
    fineness : Fineness
        How finely.

    Returns
    -------
    list of (list of int, Tables)
        Places of options of one kind, and their tables; options whose clean filter lacks the flow are left out.
    """
    kinds: dict[object, list[int]] = {}
    for place, case in enumerate(cases):
        kinds.setdefault(case.kind, []).append(place)
    groups = []
    for places in kinds.values():
        all_of_kind = beside([cases[place] for place in places])
        clean, due = all_of_kind.clean_and_due()
        run = np.flatnonzero((clean > due) & (clean > 0.0) & all_of_kind.works)
        if run.size:
            tables = tables_of(taken(all_of_kind, run, len(places)), fineness, (clean[run], due[run]))
            groups.append(([places[at] for at in run], tables))
    return groups
