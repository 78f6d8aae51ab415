"""Options before many draws of what is not known exactly: walked, and judged; d draws, s stages."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from filtration.base.arrays import Array, Flags, Rows
from filtration.base.roots import root_between
from filtration.loading.case import Case, part_of, side_by_side
from filtration.loading.drawn_lives import lives_of
from filtration.loading.law import near_loss_pa
from filtration.loading.runs import Walker
from filtration.loading.stage import drag_of
from filtration.physics.permeability import permeability_m2

BLOCK = 8192  # draws worked at a time: their tables then fit the processor's cache


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnOption:
    """One option before many draws; (d,) each, no number where the clean filter lacks the flow.

    Parameters
    ----------
    meets : (d,) array of bool
        The clean filter reaches flow and view, and every run lasts the stated shortest.
    flows : (d,) array of bool
        It has the flow, so that a life and a cost exist.
    clean_flow_m3_s, first_days, worst_view_m : (d,) array
        Clean flow, days to the first service as answered (0 where a need fails), view just after a session when due.
    watched_flow_m3_s, watched_loss_pa : (w, d) array
        Flow and the filter's loss on each day of the first run on which it is watched, or when due if that comes
        first; those of the clean filter where it lacks the flow.
    services_per_day : (d,) array
        Services [1/day].
    replaced_per_day, rinsed_per_day, soaked_per_day : (s, d) array
        By stage [1/day].
    """

    meets: Flags
    flows: Flags
    clean_flow_m3_s: Array
    first_days: Array
    worst_view_m: Array
    watched_flow_m3_s: Array
    watched_loss_pa: Array
    services_per_day: Array
    replaced_per_day: Array
    rinsed_per_day: Array
    soaked_per_day: Array


def _sliced(drawn: DrawnOption, part: slice) -> DrawnOption:
    return DrawnOption(**{field.name: getattr(drawn, field.name)[..., part] for field in fields(DrawnOption)})


def _joined(blocks: Sequence[DrawnOption]) -> DrawnOption:
    if len(blocks) == 1:
        return blocks[0]
    names = [field.name for field in fields(DrawnOption)]
    return DrawnOption(**{name: np.concatenate([getattr(block, name) for block in blocks], axis=-1) for name in names})


def drawn_options(cases: Sequence[Sequence[Case]], watch_days: Sequence[float] = ()) -> list[DrawnOption]:
    """Work options out, those of one kind side by side.

    Parameters
    ----------
    cases : sequence of sequence of Case
        Each option in blocks of draws.
    watch_days : (w,) sequence of float, optional
        Days of the first run on which the flow is watched.

    Returns
    -------
    list of DrawnOption
        In the order given.
    """
    kinds: dict[object, list[tuple[int, Case]]] = {}
    for at, blocks in enumerate(cases):
        for block in blocks:
            kinds.setdefault(block.kind, []).append((at, block))
    found: list[list[DrawnOption]] = [[] for _ in cases]
    for members in kinds.values():
        while members:
            taken = [members.pop(0)]
            size = len(taken[0][1].works)
            while members and size + len(members[0][1].works) <= BLOCK:
                size += len(members[0][1].works)
                taken.append(members.pop(0))
            drawn = drawn_option(side_by_side([case for _, case in taken]), watch_days)
            start = 0
            for at, case in taken:
                end = start + len(case.works)
                found[at].append(_sliced(drawn, slice(start, end)))
                start = end
    return [_joined(blocks) for blocks in found]


def clean_and_due(case: Case) -> tuple[Array, Array]:
    """Return the clean flow and that when due.

    Parameters
    ----------
    case : Case
        Side by side along their draws.

    Returns
    -------
    (d,) array, (d,) array
        Flows [m3/s].
    """
    loop, linear, square = case.loop, np.zeros_like(case.works, dtype=np.float64), np.zeros_like(case.growth_per_day)
    for stage in case.stages:
        k = permeability_m2(stage.solid_fraction, stage.fibre_squared_m2)
        linear += stage.viscosity_pa_s * stage.path_per_m.sum(axis=0) / k / case.housings
        inertia = stage.core_per_m4 + stage.inertia_per_m3.sum(axis=0) / np.sqrt(k)
        square += stage.water_kg_m3 * inertia / case.housings**2
    none = np.zeros_like(linear)

    def spare(flow: Array) -> Array:
        return loop.left_pa(flow) - (linear + square * flow) * flow

    clean = root_between(spare, none, loop.largest_m3_s, tolerance=1e-6)
    due = np.where(np.isnan(case.wanted_share), case.wanted_m3_s, clean * case.wanted_share)
    if np.isfinite(case.rise_pa).any():
        limit = loop.left_pa(clean) + case.rise_pa
        at_rise = root_between(lambda flow: loop.left_pa(flow) - limit, none, loop.largest_m3_s, tolerance=1e-6)
        due = np.maximum(due, at_rise)
    return clean, due


def drawn_option(case: Case, watch_days: Sequence[float] = ()) -> DrawnOption:
    """Work one or several options of a kind out.

    Parameters
    ----------
    case : Case
        Side by side along their draws.
    watch_days : (w,) sequence of float, optional
        Days of the first run on which the flow is watched.

    Returns
    -------
    DrawnOption
        What became of them.

    Notes
    -----
    Clarity ends a run where the view at its end falls short: the run is then walked again to the flow at which that
    end's cakes still leave the view wanted.
    """
    clean, due = clean_and_due(case)
    flows = (clean > due) & (clean > 0.0) & case.works
    seen_clean = case.seen_m(clean, [np.zeros_like(clean)] * len(case.stages))
    clear = seen_clean >= case.view_m
    size, stages = len(clean), len(case.stages)
    whole = DrawnOption(
        meets=np.zeros(size, dtype=bool),
        flows=flows,
        clean_flow_m3_s=clean,
        first_days=np.zeros(size),
        watched_flow_m3_s=np.tile(clean, (len(watch_days), 1)),
        watched_loss_pa=np.tile(case.loop.left_pa(clean), (len(watch_days), 1)),
        worst_view_m=seen_clean.copy(),
        services_per_day=np.zeros(size),
        replaced_per_day=np.zeros((stages, size)),
        rinsed_per_day=np.zeros((stages, size)),
        soaked_per_day=np.zeros((stages, size)),
    )
    some = np.flatnonzero(flows)
    if some.size:
        part = case if some.size == size else part_of(case, some)
        walked, cakes = _walked(part, clean[some], due[some], watch_days)
        _fill(whole, some, walked)
        clouded = np.flatnonzero(clear[some] & (walked.worst_view_m < case.view_m[some]))
        if clouded.size:
            again, part = some[clouded], part_of(part, clouded)
            ends = [cake[clouded] for cake in cakes]
            short = root_between(lambda flow: part.view_m - part.seen_m(flow, ends), due[again], clean[again])
            walked, _ = _walked(part, clean[again], np.minimum(short, (1.0 - 1e-6) * clean[again]), watch_days)
            _fill(whole, again, walked)
            whole.worst_view_m[again] = case.view_m[again]
    whole.meets[:] &= clear
    whole.first_days[~clear] = 0.0
    return whole


def _fill(whole: DrawnOption, draws: Rows, part: DrawnOption) -> None:
    """Write what became of some draws over what stands there."""
    for field in fields(DrawnOption):
        getattr(whole, field.name)[..., draws] = getattr(part, field.name)


def _walked(case: Case, clean: Array, due: Array, watch_days: Sequence[float]) -> tuple[DrawnOption, list[Array]]:
    """Return what becomes of draws that have the flow, clarity not judged, and the cakes of the first run's end."""
    walk = case.walker(clean, due)
    lives = lives_of(walk, case.upkeep)
    flow_then, cakes_then = _flow_after(case, walk, lives.first_days, clean, due)
    watched = np.tile(clean, (len(watch_days), 1))
    for place, day in enumerate(watch_days):
        if day > 0.0:
            watched[place], _ = _flow_after(case, walk, np.minimum(day, lives.first_days), clean, due)
    stated = case.upkeep.shortest_days
    return DrawnOption(
        meets=np.isnan(stated) | (lives.shortest_days >= stated),
        flows=np.ones(len(clean), dtype=bool),
        clean_flow_m3_s=clean,
        first_days=lives.first_days,
        watched_flow_m3_s=watched,
        watched_loss_pa=case.loop.left_pa(watched),
        worst_view_m=case.seen_m(flow_then, cakes_then),
        services_per_day=lives.services_per_day,
        replaced_per_day=lives.replaced_per_day,
        rinsed_per_day=lives.rinsed_per_day,
        soaked_per_day=lives.soaked_per_day,
    ), cakes_then


def _flow_after(case: Case, walk: Walker, days: Array, clean: Array, due: Array) -> tuple[Array, list[Array]]:
    """Return the flow so many days into the first run, not below that when due, and the cakes then."""
    draws = np.arange(len(days))
    states = [walk.state(at, days, draws) for at in range(len(walk.stages))]
    slowed = [(rest / due, drag_of(stage, cake)) for stage, (_, cake, rest) in zip(walk.stages, states, strict=True)]

    def spare(flow: Array) -> Array:
        each = flow / case.housings
        loss = sum(near_loss_pa(per_flow * flow, drag * each) for per_flow, drag in slowed)
        return np.asarray(case.loop.left_pa(flow) - loss)

    return root_between(spare, due, clean, tolerance=1e-4), [cake for _, cake, _ in states]
