"""Where the mean over the water's life, under the present filter, misses days, views and clearing time.

Estimates in closed form, not a second answer: they only say when a figure deserves a note. How good they are is seen
against an unsteady tub (docs/validation.md).
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from filtration.answers.figures import Schedule, entry_id
from filtration.answers.results import OptionAnswer
from filtration.answers.water_memory import Views, bathers_of, views_with_memory
from filtration.base.arrays import Array, Flags
from filtration.base.remarks import Remark
from filtration.loading.assembly import Entry
from filtration.loading.lifetime import follow, rates_of, shortest_run_days
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.study.values import Study

_DAYS_OFF, _VIEW_OFF = 0.05, 0.045  # told from; the estimate of a view is a little low: 4.5 % finds what is 5 % off
_CLOSE = 0.15  # of the share that decides: so near to it water and sessions decide
_FEW_SESSIONS = 3.0  # in a run: the water of one clears under a filter that changes much meanwhile
_FURTHER = 1.1  # times a run: over so much more of it the view is taken to fall evenly


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
    views = views_with_memory(schedule, schedule.first.days)
    clean = np.array([answer.see_through_clean_m for answer in told])
    worst = np.array([answer.see_through_worst_m for answer in told])
    hours = np.array([answer.hours_to_clear_after_session or np.nan for answer in told])
    sessions, clarity = off_by_sessions(schedule), _off_by_clarity(schedule, views)
    seen = np.maximum(np.abs(clean / views.clean_m - 1.0), np.abs(worst / views.worst_m - 1.0))
    clearing = np.nan_to_num(np.abs(hours / views.hours_to_clear - 1.0))
    total = np.array([answer.cost_per_year.total or np.inf for answer in told])
    close = _off_by_close_calls(schedule) / total
    few = sessions * seen * DAYS_PER_YEAR * schedule.rates.cost_per_day / total

    def remark(kind: str, which: Flags, **figures: float) -> Iterator[Remark]:
        named = dict.fromkeys(answer.name for answer, counts in zip(told, which, strict=True) if counts)
        if named:
            yield Remark(kind=kind, figures={"options": ", ".join(named), **figures})

    early = sessions > _DAYS_OFF
    within = float(np.where(early, sessions * schedule.first.days, 0.0).max())
    yield from remark("due at a session", early, within_days=within)
    yield from remark("due by clarity", clarity > _DAYS_OFF, by=float(clarity.max()))
    yield from remark("views with memory", seen > _VIEW_OFF, by=float(seen.max()))
    yield from remark("clearing with memory", clearing > _VIEW_OFF, by=float(clearing.max()))
    yield from remark("clearing in a short run", short_runs(schedule))
    yield from remark("close call", close > _DAYS_OFF, by=float(close.max()))
    yield from remark("sessions decide", few > _DAYS_OFF, by=float(few.max()))


def short_runs(schedule: Schedule) -> Flags:
    """Return which runs hold so few sessions that the filter changes while the water clears, shape (r,)."""
    sessions = schedule.first.days * schedule.runner.site.tub.sessions_per_day
    few = (sessions > 0.0) & (sessions < _FEW_SESSIONS)
    short: Flags = few & (schedule.first.limit != "time limit")
    return short


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
    in_sessions = float(bathers_of(tub).deposit_load_kg_day.sum()) / whole if whole > 0.0 else 0.0
    off: Array = np.where(counted, in_sessions * np.maximum(last - sessions, sessions - last + 1.0) / sessions, 0.0)
    return off


def _off_by_clarity(schedule: Schedule, views: Views) -> Array:
    """Return how far runs that clarity ends are off, as their worst view is, shape (r,) [-]; at most 1."""
    by_clarity = (schedule.first.limit == "clarity") & (schedule.first.days > 0.0)
    if not by_clarity.any():
        return np.zeros(by_clarity.shape)
    further = views_with_memory(schedule, _FURTHER * schedule.first.days)
    falls_m = np.maximum(views.worst_m - further.worst_m, 1e-9) / (_FURTHER - 1.0)  # a run
    off: Array = np.abs(views.worst_m - schedule.runner.needs.see_through_m) / falls_m
    return np.where(by_clarity, np.minimum(off, 1.0), 0.0)


def _off_by_close_calls(schedule: Schedule) -> Array:
    """Return what a year costs more or less where the share that decides is a little other, shape (r,)."""
    off, runner = np.zeros(len(schedule.rows)), schedule.runner
    present = runner.site.trains.present[schedule.rows]
    fixed = present & ~runner.site.trains.rinseable[schedule.rows]
    trains = np.flatnonzero((present.sum(axis=-1) > 1) & fixed.any(axis=-1))
    rows, most = schedule.rows[trains], schedule.most_runs[trains]
    shortest = shortest_run_days(runner, schedule.first.days[trains])
    for factor in (1.0 - _CLOSE, 1.0 + _CLOSE) if trains.size else ():
        care = replace(schedule.care, replace_share=factor * schedule.care.replace_share)
        rates = rates_of(follow(runner, care, rows, most, shortest, schedule.until_days), care, rows)
        changed = DAYS_PER_YEAR * np.abs(rates.cost_per_day - schedule.rates.cost_per_day[trains])
        off[trains] = np.maximum(off[trains], changed)
    return off
