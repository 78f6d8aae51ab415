"""Where the mean over the water's life, under the present filter, misses days, views and clearing time.

Estimates in closed form, not a second answer: they only say when a figure deserves a note. How good they are is seen
against an unsteady tub (docs/validation.md).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from filtration.answer import OptionAnswer, Remark
from filtration.assembly import Entry
from filtration.defaults import model
from filtration.figures import Schedule, entry_id
from filtration.lifetime import extra_losses_pa
from filtration.loading import catch_shares
from filtration.optics import see_through_m
from filtration.site import removal_at
from filtration.study import Study
from filtration.tub import Tub

Array = npt.NDArray[np.float64]
_DAYS_OFF, _VIEW_OFF = 0.05, 0.045  # told from; the estimate of a view is a little low: 4.5 % finds what is 5 % off
_LATE = 1.5  # the removal falls from clean to due as this power of the time in a run: late
_DUE_BEFORE_DUE = 1.0 / (1.0 + _LATE)  # part of the due removal in the mean of a run
_DUE_BEFORE_NEW = 0.7  # the same just after a service, when the filter of the last days was due
_CLEARED = 0.9
_CLOSE = 0.2  # of the share that decides: so near to it water and sessions decide
_SLOWEST_PER_DAY = 1e-9


def beyond_mean(
    study: Study, driven: Sequence[Entry], schedule: Schedule | None, answers: Sequence[OptionAnswer]
) -> Iterator[Remark]:
    """Yield which options' days, views, clearing time or cost the mean misses by more than about 5 %, and by how much.

    Parameters
    ----------
    study : Study
        The study.
    driven : sequence of Entry
        Options whose pump drives the loop.
    schedule : Schedule or None
        What became of those that can be scheduled.
    answers : sequence of OptionAnswer
        Their figures.

    Yields
    ------
    Remark
        One for each kind of figure.
    """
    if schedule is None:
        return
    by_id = {answer.id: answer for answer in answers}
    told = [by_id[entry_id(study, driven[row])] for row in schedule.rows]
    views = views_with_memory(schedule)
    clean = np.array([answer.see_through_clean_m for answer in told])
    worst = np.array([answer.see_through_worst_m for answer in told])
    hours = np.array([answer.hours_to_clear_after_session or np.nan for answer in told])
    sessions, clarity = off_by_sessions(schedule), _off_by_clarity(told, views)
    seen = np.maximum(np.abs(clean / views.clean_m - 1.0), np.abs(worst / views.worst_m - 1.0))
    clearing = np.nan_to_num(np.abs(hours / views.hours_to_clear - 1.0))

    def remark(kind: str, which: npt.NDArray[np.bool_], **figures: float) -> Iterator[Remark]:
        named = dict.fromkeys(answer.name for answer, counts in zip(told, which, strict=True) if counts)
        if named:
            yield Remark(kind=kind, figures={"options": ", ".join(named), **figures})

    early = sessions > _DAYS_OFF
    within = float(np.where(early, sessions * schedule.first.days, 0.0).max())
    yield from remark("due at a session", early, within_days=within)
    yield from remark("due by clarity", clarity > _DAYS_OFF, by=float(clarity.max()))
    yield from remark("views with memory", seen > _VIEW_OFF, by=float(seen.max()))
    yield from remark("clearing with memory", clearing > _VIEW_OFF, by=float(clearing.max()))
    cost = np.array(
        [
            _off_by_close_calls(study, driven[row], answer, share)
            for row, answer, share in zip(schedule.rows, told, _extra_shares(schedule), strict=True)
        ]
    )
    yield from remark("close call", cost > _DAYS_OFF, by=float(cost.max()))


def off_by_sessions(schedule: Schedule) -> Array:
    """Return how far a first run counted in whole sessions may lie from its days, at most.

    Parameters
    ----------
    schedule : Schedule
        The options that can be scheduled, r of them.

    Returns
    -------
    (r,) array
        Over the days [-]; 0 where a time limit ends the run, as that does not wait for a session.

    Notes
    -----
    An element takes what a session brings soon after it, so it falls due at one: after fewer days if the first session
    comes soon after fitting, after more if late.
    """
    runner, first = schedule.runner, schedule.first
    tub = runner.site.tub
    counted = runner.clarity_counts[schedule.rows] & (first.limit != "time limit") & (first.days > 0.0)
    sessions = np.where(counted, first.days * tub.sessions_per_day, 1.0)
    last = np.ceil(sessions)
    whole = float(tub.deposit_load_kg_day.sum())
    in_sessions = float(_bathers(tub).deposit_load_kg_day.sum()) / whole if whole > 0.0 else 0.0
    off: Array = np.where(counted, in_sessions * np.maximum(last - sessions, sessions - last + 1.0) / sessions, 0.0)
    return off


def _off_by_clarity(told: Sequence[OptionAnswer], views: "Views") -> Array:
    """Return how far runs that clarity ends are off, as their worst view is, shape (r,) [-]; at most 1."""
    off = np.zeros(len(told))
    for place, (answer, worst_m) in enumerate(zip(told, views.worst_m, strict=True)):
        if answer.governed_by == "clarity" and answer.days_to_first_service:
            falls_m = _LATE * max(answer.see_through_new_m - answer.see_through_worst_m, 1e-9)  # as the run ends, a run
            off[place] = min(abs(float(worst_m) - answer.see_through_worst_m) / falls_m, 1.0)
    return off


def _bathers(tub: Tub) -> Tub:
    """Return the tub without what falls in."""
    return replace(tub, sources=tuple(source for source in tub.sources if not source.falls_in))


def _extra_shares(schedule: Schedule) -> Array:
    """Return each stage's share of a train's extra loss when first due, shape (r, s) [-]; single elements 1."""
    runner, rows = schedule.runner, schedule.rows
    present = runner.site.trains.present[rows]
    if (present.sum(axis=-1) == 1).all():
        return present.astype(np.float64)
    extra = np.maximum(extra_losses_pa(runner, rows, schedule.first.when_due), 0.0)
    share: Array = extra / np.maximum(extra.sum(axis=-1, keepdims=True), 1e-9)
    return share


def _off_by_close_calls(study: Study, entry: Entry, answer: OptionAnswer, share: Array) -> float:
    """Return what replacing half as often would save a year where a stage is, or is not, replaced by a hair [-]."""
    total, decides = answer.cost_per_year.total, model("service.replace_share")
    if not total:
        return 0.0
    each = sum(
        element.price + study.prices.disposal_each
        for element, part in zip(entry.option.stages, share, strict=False)
        if not element.rinseable and abs(float(part) / decides - 1.0) < _CLOSE
    )
    return 0.5 * (answer.services_per_year or 0.0) * entry.option.housings_in_parallel * each / total


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Views:
    """Views and clearing time where the water holds dirt from earlier in a run; r options.

    Parameters
    ----------
    clean_m, worst_m : (r,) array
        See-through as in the answer, at the end of the water's life [m].
    hours_to_clear : (r,) array
        After a session, the filter clean [h]; not a number where nothing falls.
    """

    clean_m: Array
    worst_m: Array
    hours_to_clear: Array


def views_with_memory(schedule: Schedule) -> Views:
    """Return the views with the filter's mean over a run before, dust that falls all day, and whole sessions.

    Parameters
    ----------
    schedule : Schedule
        The options that can be scheduled.

    Returns
    -------
    Views
        Estimates.
    """
    runner, rows, due = schedule.runner, schedule.rows, schedule.first.when_due
    tub, clean = runner.site.tub, np.maximum(runner.clean.removal_per_day[rows], _SLOWEST_PER_DAY)
    _, caught = catch_shares(runner.site.trains, rows, due.cake_kg)
    spent = removal_at(runner.site, rows, runner.flow_of(rows, due), caught.sum(axis=-2))
    gap, life = 1.0 / tub.sessions_per_day, tub.water_life_days

    def removal(part_due: float | Array) -> Array:
        between: Array = np.maximum(clean + part_due * (spent - clean), _SLOWEST_PER_DAY)
        return between

    before_new, before_due = removal(_DUE_BEFORE_NEW), removal(_DUE_BEFORE_DUE)
    second_gap = 1.5 * gap / np.maximum(schedule.first.days, 1.5 * gap)
    next_gap = removal(second_gap[:, None] ** _LATE)
    number = np.ceil(life / gap - 1e-9)
    session = _bathers(tub).session_attenuation_per_m
    dust = (tub.session_attenuation_per_m - session) / gap

    def of_sessions(count: float, k: Array) -> Array:
        held: Array = np.expm1(-k * gap * count) / np.expm1(-k * gap)
        return held * session

    def of_dust(days: float, k: Array) -> Array:
        held: Array = -np.expm1(-k * days) / k
        return held * dust

    def haze(count: float) -> float:
        return replace(tub, water_life_days=count * gap).haze_at_end_per_m

    earlier = max(number - 1.0, 0.0)
    left = of_sessions(earlier, before_new) + of_dust(max(life - gap, 0.0), before_new)
    just_before = np.exp(-clean * gap) * left + of_dust(gap, clean)
    just_after = of_sessions(number, before_due) + of_dust(life, before_due)
    return Views(
        clean_m=see_through_m(haze(earlier) + just_before.sum(axis=-1)),
        worst_m=see_through_m(haze(number) + just_after.sum(axis=-1)),
        hours_to_clear=_hours_to_clear(just_before + session, dust, next_gap, gap),
    )


def _hours_to_clear(start: Array, dust: Array, removal: Array, gap: float) -> Array:
    """Return the hours (r,) until the attenuation ``start`` (r, c) [1/m] is most of the way to the next session's."""
    days = gap * np.concatenate([[0.0], np.geomspace(1e-3, 1.0, 60)])
    x = removal[:, None, :] * days[:, None]
    left = np.exp(-x)
    seen = (start[:, None, :] * left + dust / removal[:, None, :] * (1.0 - left)).sum(axis=-1)
    target = seen[:, 0] - _CLEARED * (seen[:, 0] - seen[:, -1])
    hours = [
        np.interp(-goal, -one, 24.0 * days) if one[0] > one[-1] else np.nan
        for goal, one in zip(target, seen, strict=True)
    ]
    return np.array(hours)
