"""Options of one kind put into tables: the catch along the first run, and the flow at which the water clouds.

Shapes: d cases, e some of them, s stages, n layers, q times of a run; cases come last.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from filtration.base.arrays import Array, Flags, Rows, Single, column_sums
from filtration.base.cases import side_by_side, taken
from filtration.base.roots import root_between
from filtration.base.waiting import look_up
from filtration.loading.case import Case, beside
from filtration.loading.runs import Tables
from filtration.loading.stage import fed_per_day
from filtration.loading.table import (
    COARSE,
    Course,
    Deposit,
    Duty,
    Fineness,
    Table,
    cake_at_most,
    on_face,
    tables_of_stages,
)

_NEARLY = 1.0 - 1e-6  # full, of a layer in single precision
MOST_DUE = 0.9
"""Of the clean flow, that tables run down to where the clean filter lacks the flow wanted [-]."""

_LEAST_M3_S = 1e-12  # a flow that is none
_UNDER_CLEAN = 1.0 - 1e-6  # of the clean flow, the most that can be wanted
_COURSE_POINTS = 17


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
    return _tables_of_kinds([(case, *(flows_m3_s or case.clean_and_due()))], fineness)[0]


def _tables_of_kinds(kinds: Sequence[tuple[Case, Array, Array]], fineness: Fineness) -> list[Tables]:
    """Tabulate options, those of one kind side by side, each with its clean flow and that when due."""
    look_up()
    wanted, dull = [], []
    for case, clean, due_at_need in kinds:
        lacks, due = ~case.runs(clean, due_at_need), due_at_need
        due = np.where(lacks, np.minimum(due, MOST_DUE * clean), due)
        due = np.maximum(np.where(due > 0.0, due, MOST_DUE * clean), _LEAST_M3_S)
        clear = ~lacks & (case.seen_m(clean, case.new) >= case.view_m) & (case.seen_m(due, case.new) < case.view_m)
        wanted.append(_Wanted(case, clean, due, lacks))
        dull.append(np.flatnonzero(clear))
    return [
        _until_dull(tables, some) if some.size else tables
        for tables, some in zip(_tabulated(wanted, fineness), dull, strict=True)
    ]


def _until_dull(tables: Tables, cases: Rows) -> Tables:
    """Return tables down to the flow at which the water clouds, of some cases where it may."""
    again, flow = _flow_when_dull(tables, cases)
    if not again.size:
        return tables
    clean = tables.clean_m3_s[again]
    part = taken(tables.case, again, tables.case.size)
    due = np.minimum(flow, _UNDER_CLEAN * clean)
    return _with(tables, again, *_tabulated([_Wanted(part, clean, due, tables.lacks[again])], tables.fineness))


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


class _Wanted(NamedTuple):
    """Options of one kind to be tabulated down to some flow: clean and due (d,) [m3/s], and which lack it."""

    case: Case
    clean_m3_s: Array
    due_m3_s: Array
    lacks: Flags

    @property
    def duty(self) -> Duty:
        """What they have to do when due."""
        return self.case.duty(self.due_m3_s)


def _tabulated(kinds: Sequence[_Wanted], fineness: Fineness) -> list[Tables]:
    """Return tables, the catch guessed at mid flow, then taken from the run it leads to."""
    courses = [guessed_courses(each.case, each.duty, 0.5 * (each.clean_m3_s + each.due_m3_s)) for each in kinds]
    on_the_way = replace(COARSE, rounds_of_a_root=fineness.rounds_of_a_root)
    for _ in range(fineness.rounds):
        courses = [_along(tables) for tables in _made(kinds, courses, on_the_way)]
    return _made(kinds, courses, fineness)


def _made(kinds: Sequence[_Wanted], courses: Sequence[tuple[Course, ...]], fineness: Fineness) -> list[Tables]:
    """Return tables with some catch, the stages of all kinds stepped side by side."""
    duties = [each.duty for each in kinds]
    parts = [
        (stage, duty, course)
        for each, duty, of in zip(kinds, duties, courses, strict=True)
        for stage, course in zip(each.case.stages, of, strict=True)
    ]
    tables = iter(tables_of_stages(parts, fineness))
    return [
        Tables(
            case=each.case,
            clean_m3_s=each.clean_m3_s,
            due_m3_s=each.due_m3_s,
            lacks=each.lacks,
            clouded=np.zeros(each.case.size, dtype=bool),
            duty=duty,
            layers_full_kg=np.array([_NEARLY * column_sums(stage.layer_full_kg) for stage in each.case.stages])
            * np.ones(each.case.size),
            tables=tuple(next(tables) for _ in of),
            courses=of,
            fineness=fineness,
        )
        for each, duty, of in zip(kinds, duties, courses, strict=True)
    ]


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


def _kinds(cases: Sequence[Case]) -> Iterator[tuple[list[int], Case]]:
    """Yield places of options of one kind, and those side by side."""
    kinds: dict[object, list[int]] = {}
    for place, case in enumerate(cases):
        kinds.setdefault(case.kind, []).append(place)
    for places in kinds.values():
        yield places, beside([cases[place] for place in places])


def side_by_kind(tables: Sequence[Tables]) -> Iterator[tuple[list[int], Tables]]:
    """Yield places of options of one kind that were tabulated apart, and those side by side."""
    kinds: dict[object, list[int]] = {}
    for place, each in enumerate(tables):
        kinds.setdefault((each.case.kind, *(len(table.days) for table in each.tables)), []).append(place)
    for places in kinds.values():
        some = [tables[place] for place in places]
        yield places, side_by_side(some, [each.case.size for each in some])


def clean_and_due_of(cases: Sequence[Case]) -> tuple[Array, Array]:
    """Return the clean flow and that when due (d,) of options, one case of each [m3/s]; see ``Case.clean_and_due``."""
    clean, due = np.empty((2, len(cases)))
    for places, together in _kinds(cases):
        clean[places], due[places] = together.clean_and_due()
    return clean, due


def groups_of(
    cases: Sequence[Case], fineness: Fineness, flows_m3_s: tuple[Array, Array] | None = None
) -> list[tuple[list[int], Tables]]:
    """Tabulate options that run, those of one kind side by side.

    Parameters
    ----------
    cases : sequence of Case
        One case of each option.
    fineness : Fineness
        How finely.
    flows_m3_s : ((d,) array, (d,) array), optional
        Their clean flow and that when due, where they are known [m3/s].

    Returns
    -------
    list of (list of int, Tables)
        Places of options of one kind, and their tables; options whose clean filter lacks the flow are left out.
    """
    all_clean, all_due = flows_m3_s or clean_and_due_of(cases)
    places_of, kinds = [], []
    for places, together in _kinds(cases):
        clean, due = all_clean[places], all_due[places]
        run = np.flatnonzero(together.runs(clean, due))
        if run.size:
            places_of.append([places[at] for at in run])
            kinds.append((taken(together, run, len(places)), clean[run], due[run]))
    return list(zip(places_of, _tables_of_kinds(kinds, fineness), strict=True))
