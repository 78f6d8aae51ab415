"""Inverse questions: the smallest pump that keeps a flow, and how much element gives an interval."""

from collections.abc import Callable, Mapping
from dataclasses import asdict, replace
from typing import Any

import numpy as np

from filtration.answers.figures import L_PER_H, first_run_of, without_time_limits
from filtration.answers.size_answer import AreaSize, AreaTrial, PumpSize, PumpTrial
from filtration.answers.size_search import (
    Trial,
    Tried,
    checked,
    entry_named,
    first_runs_of,
    longest,
    smallest,
    time_limits,
)
from filtration.base.arrays import Array
from filtration.base.defaults import model
from filtration.base.errors import NoAnswerError
from filtration.loading.assembly import Entry, entry_of
from filtration.loading.case import central_case, load_of
from filtration.loading.table import FINE
from filtration.loading.tabulate import groups_of
from filtration.physics.media import Medium
from filtration.physics.pump import Pump
from filtration.study.keys import SIZES
from filtration.study.values import Element, Study, medium_of

LEAST_TIMES, MOST_TIMES_PUMP, MOST_TIMES_AREA = 1e-3, 20.0, 100.0
_STEPS_UP, _AS_GOOD_AS = (1.1, 1.25, 1.5, 2.0), 0.05
_OF_SHAPE = ("layer_volume_m3", "layer_path_per_m", "layer_inertia_per_m3", "face_m2", "half_gap_m")


def _smallest_in(
    study: Study, tried_in: Callable[[Study], Tried], days: float, among: tuple[float, float]
) -> tuple[float | None, Study, tuple[str, ...]]:
    """Return the smallest size that lasts, the needs it was found with, and which of them are left aside for it."""
    factor = smallest(tried_in(study), days, *among)
    if factor is not None:
        return factor, study, ()
    hazy = replace(study, needs=replace(study.needs, see_through_m=0.0))
    return smallest(tried_in(hazy), days, *among), hazy, ("needs.see_through",)


def smallest_pump(study: Study, option_id: str, flow_m3_s: float) -> PumpSize:
    """Return the smallest pump that keeps a flow until an element is due.

    Parameters
    ----------
    study : Study
        The study; its own wanted flow, turnovers or share of the clean flow are replaced.
    option_id : str
        Id of an option, with ``@`` and its pump's name where there are several pumps; or its name.
    flow_m3_s : float
        Flow to be kept [m3/s].

    Returns
    -------
    PumpSize
        The pump with head and flow scaled by one factor.

    Raises
    ------
    InputError
        If there is no such option, or the flow is none.
    NoAnswerError
        If no pump up to 20 times the present one keeps the flow.

    Notes
    -----
    Kept is a flow if it is there when the element is due and the first run lasts the shortest run the owner puts up
    with: as stated, else 3 days, or the time limit where that is shorter. All other limits hold as they are; a
    see-through distance that no pump gives is left aside and named. Power is not scaled. A lift test is scaled as a
    whole, lift and flow: hoses then lose in proportion to flow instead of nearly its square, which flatters a larger
    pump.
    """
    checked("flow", flow_m3_s, "m3/s")
    entry = entry_named(study, option_id)
    option = entry.option
    asked = replace(study, needs=replace(study.needs, flow_m3_s=flow_m3_s, share_of_clean_flow=None))
    limit_days = min(time_limits(study.needs, option).values())
    stated = study.needs.shortest_run_days
    shortest = min(model("service.shortest_days"), limit_days) if stated is None else stated

    def tried_in(there: Study) -> Tried:
        return lambda factors: first_runs_of(there, [_scaled(there, entry, factor) for factor in factors.tolist()])

    among = LEAST_TIMES, MOST_TIMES_PUMP
    factor, there, left_aside = _smallest_in(asked, tried_in, shortest, among)
    tried = tried_in(there)
    if factor is None:
        raise NoAnswerError(_no_pump(asked, entry, shortest, longest(tried, *among)))
    known_by, points = _known_by(study, entry.pump)
    larger = [factor * step for step in _STEPS_UP if abs(factor * step - 1.0) > _AS_GOOD_AS]
    steps = np.array(sorted({1.0, factor, *larger}))
    trials = {
        step: PumpTrial(
            factor=step,
            head_m=step * points[0][1],
            flow_l_per_h=step * points[-1][0] * L_PER_H,
            clean_flow_l_per_h=first.clean_m3_s * L_PER_H,
            days_to_first_service=first.days,
            governed_by=first.limit,
            suffices=first.lasts(shortest),
        )
        for step, first in zip(steps.tolist(), tried(steps), strict=True)
    }
    (found,) = tried(np.array([factor]))
    return PumpSize(
        study=study,
        option=study.id_of(option, entry.pump),
        name=option.name,
        pump=entry.pump.name,
        wanted_flow_l_per_h=flow_m3_s * L_PER_H,
        shortest_run_days=shortest,
        known_by=known_by,
        factor=factor,
        curve_l_per_h=tuple(factor * flow * L_PER_H for flow, _ in points),
        curve_m=tuple(factor * head for _, head in points),
        clean_flow_l_per_h=found.clean_m3_s * L_PER_H,
        due_flow_l_per_h=found.due_m3_s * L_PER_H,
        days_to_first_service=found.days,
        governed_by=found.limit,
        present=trials[1.0],
        left_aside=left_aside,
        sizes=tuple(trials.values()),
    )


def _known_by(study: Study, pump: Pump) -> tuple[str, tuple[tuple[float, float], ...]]:
    """Return what a pump is known by, and its points: flow [m3/s], rising, and head [m]."""
    if study.lift_test:
        return "lift test", tuple((flow, lift) for lift, flow in reversed(study.lift_test))
    if pump.points:
        return "curve", pump.points
    return "box", ((0.0, pump.shutoff_head_m or 0.0), (pump.max_flow_m3_s or 0.0, 0.0))


def _scaled(study: Study, entry: Entry, factor: float) -> Entry:
    """Return an option on its pump with head and flow times a factor."""
    pump = entry.pump
    larger = replace(
        pump,
        shutoff_head_m=None if pump.shutoff_head_m is None else factor * pump.shutoff_head_m,
        max_flow_m3_s=None if pump.max_flow_m3_s is None else factor * pump.max_flow_m3_s,
        points=tuple((factor * flow, factor * head) for flow, head in pump.points),
    )
    lifts = tuple((factor * lift, factor * flow) for lift, flow in study.lift_test)
    return entry_of(replace(study, lift_test=lifts), entry.option, larger)


def _no_pump(study: Study, entry: Entry, shortest_days: float, most: Trial) -> str:
    """Say in physics why no pump keeps the flow; clarity is left aside by now."""
    name, times = entry.option.name, f"{MOST_TIMES_PUMP:g} times the head and flow of {entry.pump.name!r}"
    strongest = _scaled(study, entry, MOST_TIMES_PUMP)
    if strongest.loop is None:
        return f"no pump up to {times} drives this loop: {strongest.faults[-1].figures['why']}"
    if not most.runs:
        return (
            f"no pump up to {times} keeps {(study.needs.flow_m3_s or 0.0) * L_PER_H:.4g} L/h through {name}: the hoses "
            f"and the new cartridge let {most.clean_m3_s * L_PER_H:.4g} L/h pass at most; a wider bore or more "
            "housings in parallel would"
        )
    why = {
        "time limit": "the time limit ends it, whatever the pump",
        "full": "the cartridge is full by then, whatever the pump; only more area would help",
        "pressure": "the pressure has risen by then as far as allowed; only more area would help",
    }.get(most.limit, "the cartridge chokes whatever pushes; only more area would help")
    return (
        f"no pump up to {times} lets {name} run the {shortest_days:.3g} days you accept: its first run lasts "
        f"{most.days:.3g} days at the longest, as {why}"
    )


def area_for_interval(study: Study, option_id: str, days: float) -> AreaSize:
    """Return how much of an element gives a wished first run.

    Parameters
    ----------
    study : Study
        The study.
    option_id : str
        Id of an option, with ``@`` and its pump's name where there are several pumps; or its name.
    days : float
        First run wished [day].

    Returns
    -------
    AreaSize
        Area or length of one element, the common sizes that do it, and what fits the present size.

    Raises
    ------
    InputError
        If there is no such option, or the interval is none.
    NoAnswerError
        If the pump cannot drive the loop, or no area gives such a run.

    Notes
    -----
    More of the same: a pad or foam of more area, a depth cylinder of more length, pleats as far apart as now in an
    element as much longer. What a maker says of the element goes with it: permeability and capture stay, a dirt
    capacity grows alike. Flow, pressure, clarity and fullness end the run as they do in ``compare``; a time limit
    shorter than the wish is left aside and named, and so is a see-through distance that no area gives.
    """
    checked("interval", days, "days")
    entry = entry_named(study, option_id)
    if entry.loop is None:
        raise NoAnswerError(str(entry.faults[-1].figures["why"]))
    option, needs = entry.option, study.needs
    free = without_time_limits(study)
    free = replace(free, needs=replace(free.needs, discard_days=max(needs.discard_days, 1.01 * days)))
    stage = _choking_stage(free, entry)
    element, medium = option.stages[stage], entry.media[stage]

    def tried_in(there: Study, shape: Callable[[float], Mapping[str, Any]]) -> Tried:
        def tried(factors: Array) -> list[Trial]:
            media = [_reshaped(medium, element, shape(factor)) for factor in factors.tolist()]
            return first_runs_of(there, [_with_stage(entry, stage, each) for each in media])

        return tried

    def more(factor: float) -> dict[str, float]:
        return {key: factor * value for key, value in _extent(element).items()}

    aside = [key for key, limit in time_limits(needs, option).items() if limit < days]
    among = (LEAST_TIMES, MOST_TIMES_AREA)
    factor, there, hazy = _smallest_in(free, lambda there: tried_in(there, more), days, among)
    tried = tried_in(there, more)
    if factor is None:
        raise NoAnswerError(_no_area(free, entry, stage, days, longest(tried, *among)))
    found, present = tried(np.array([factor, 1.0]))
    here = _in_this_size(element, medium, days, lambda shape: tried_in(there, shape))
    grown, now = more(factor), _extent(element)
    return AreaSize(
        study=study,
        option=study.id_of(option, entry.pump),
        name=option.name,
        pump=entry.pump.name,
        element=element.name,
        kind=element.kind,
        housings_in_parallel=option.housings_in_parallel,
        wanted_days=days,
        present_days=present.days,
        factor=factor,
        area_m2=grown.get("area_m2"),
        present_area_m2=now.get("area_m2"),
        length_m=grown.get("length_m"),
        present_length_m=now.get("length_m"),
        governed_by=found.limit,
        left_aside=(*aside, *hazy),
        most_area_m2=here[0],
        area_in_this_size_m2=here[1],
        longest_in_this_size_days=here[2],
        sizes=_common_sizes(there, entry, stage, days),
    )


def _extent(element: Element) -> dict[str, float]:
    """Return what more of an element has more of."""
    extent = {"area_m2": element.area_m2, "length_m": element.length_m}
    return {key: value for key, value in extent.items() if value is not None}


def _reshaped(medium: Medium, element: Element, shape: Mapping[str, Any]) -> Medium:
    """Return the same medium in another shape: what its maker says of it is kept, a dirt capacity goes with volume."""
    by_law = medium_of(replace(element, clean_loss=(), beta=(), capacity_kg=None, **shape))
    by_shape: dict[str, Any] = {name: getattr(by_law, name) for name in _OF_SHAPE}
    times = float(by_law.layer_volume_m3.sum() / medium.layer_volume_m3.sum())
    return replace(medium, capacity_kg=medium.capacity_kg * times, **by_shape)


def _with_stage(entry: Entry, stage: int, medium: Medium) -> Entry:
    """Return an option with another medium in one stage; none that moves water where its pleats leave no gap."""
    media = (*entry.media[:stage], medium, *entry.media[stage + 1 :])
    return replace(entry, media=media, loop=entry.loop if medium.half_gap_m > 0.0 else None)


def _choking_stage(study: Study, entry: Entry) -> int:
    """Return the stage to size: the one that takes most when due, or that is full."""
    case = central_case(study, entry, load_of(study))
    for _, tables in groups_of([case], FINE):
        [first] = first_run_of(tables)
        if first.limit == "full":
            shares = [tables.fullness(at, held, tables.all)[0] for at, held in enumerate(first.when_due)]
            return int(np.argmax(shares))
        return int(np.argmax(case.losses_pa(tables.resistances(first.when_due), tables.due_m3_s)))
    return int(np.argmax(case.losses_pa(case.clean, case.clean_and_due()[1])))


def _in_this_size(
    element: Element, medium: Medium, days: float, tried_as: Callable[[Callable[[float], Mapping[str, Any]]], Tried]
) -> tuple[float | None, float | None, float | None]:
    """Return the sheet that fills the present size, the least in it that lasts, and the longest run where none does."""
    area = element.area_m2
    if element.kind != "pleated" or area is None:
        return None, None, None
    fills, tried = medium.times_to_fill, tried_as(lambda factor: {"area_m2": factor * area})
    among = (LEAST_TIMES, fills * (1.0 - 1e-6))
    factor = smallest(tried, days, *among)
    if factor is None:
        return fills * area, None, longest(tried, *among).days
    return fills * area, factor * area, None


def _common_sizes(study: Study, entry: Entry, stage: int, days: float) -> tuple[AreaTrial, ...]:
    """Return how the common cartridge sizes do in place of a stage, smallest first."""
    element, medium = entry.option.stages[stage], entry.media[stage]
    if element.length_m is None:
        return ()
    shapes = {name: asdict(size) for name, size in SIZES.items()}
    for shape in shapes.values():
        pleated_m2, _ = shape.pop("pleated_m2"), shape.pop("usual_m3_s")
        shape["area_m2"] = pleated_m2 if element.kind == "pleated" else None
    media = [_reshaped(medium, element, shape) for shape in shapes.values()]
    found = first_runs_of(study, [_with_stage(entry, stage, each) for each in media])
    trials = [
        AreaTrial(
            size=name,
            area_m2=shape["area_m2"],
            length_m=shape["length_m"],
            days_to_first_service=first.days,
            governed_by=first.limit,
            reaches=first.lasts(days),
        )
        for (name, shape), first in zip(shapes.items(), found, strict=True)
    ]
    volumes = {name: float(each.layer_volume_m3.sum()) for name, each in zip(shapes, media, strict=True)}
    return tuple(sorted(trials, key=lambda trial: volumes[trial.size]))


def _no_area(study: Study, entry: Entry, stage: int, days: float, most: Trial) -> str:
    """Say in physics why no area gives a run; clarity and time limits are left aside by now."""
    name, flow = entry.option.stages[stage].name, (study.needs.flow_m3_s or 0.0) * L_PER_H
    if not most.runs:
        return (
            f"no amount of {name} helps: with next to nothing in its way {entry.pump.name!r} gives "
            f"{most.clean_m3_s * L_PER_H:.4g} L/h at most and {flow:.4g} L/h are wanted; a stronger pump or a wider "
            "bore is needed"
        )
    others = [each.name for place, each in enumerate(entry.option.stages) if place != stage]
    besides = f" and {', '.join(others)} stays as it is" if others else ""
    why = {
        "clarity": "the water is cloudy by then",
        "full": "a cartridge is full by then",
        "pressure": "the pressure has risen by then as far as allowed",
    }.get(most.limit, "the flow has fallen by then to what is wanted")
    return (
        f"no amount of {name}, up to {MOST_TIMES_AREA:g} times the present one, lasts {days:.4g} days: the first run "
        f"is {most.days:.3g} days at the longest, as {why}{besides}"
    )
