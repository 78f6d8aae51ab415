"""Where the mean over the water's life, under the present filter, misses days, views and clearing time.

Estimates in closed form, not a second answer: they only say when a figure deserves a note. How good they are is seen
against an unsteady tub (docs/validation.md).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from filtration.answers.figures import Followed, entry_id
from filtration.answers.results import OptionAnswer
from filtration.answers.water_memory import Views, bathers_of, views_with_memory
from filtration.base.arrays import Array, Flags
from filtration.base.cases import taken
from filtration.base.remarks import Remark
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.service.lives import Life, rates_of
from filtration.service.walk import walk_services
from filtration.study.values import Study

_DAYS_OFF, _VIEW_OFF = 0.05, 0.045  # told from; the estimate of a view is a little low: 4.5 % finds what is 5 % off
_CLOSE = 0.15  # of the share that decides: so near to it water and sessions decide
_FEW_SESSIONS = 3.0  # in a run: the water of one clears under a filter that changes much meanwhile
_FURTHER = 1.1  # times a run: over so much more of it the view is taken to fall evenly


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FirstRuns:
    """First runs of the options of one tub that run; (r,) each.

    Parameters
    ----------
    study : Study
        The study.
    days : (r,) array
        Length [day].
    limit : (r,) array of str
        What ends them.
    clear : (r,) array of bool
        The clean filter is clear enough.
    """

    study: Study
    days: Array
    limit: npt.NDArray[np.str_]
    clear: Flags


def first_runs_of(followed: Sequence[Followed]) -> FirstRuns:
    """Return the first runs of the options that run, at least one of them."""
    running = [(of, of.first) for of in followed if of.first is not None]
    return FirstRuns(
        study=followed[0].study,
        days=np.array([first.days for _, first in running]),
        limit=np.array([first.limit for _, first in running]),
        clear=np.array([of.clear for of, _ in running]),
    )


def misses_of_the_mean(followed: Sequence[Followed], answers: Sequence[OptionAnswer]) -> Iterator[Remark]:
    """Yield which options' days, views, clearing time or cost the mean misses by more than about 5 %, and by how much.

    Parameters
    ----------
    followed : sequence of Followed
        Options whose pump drives the loop.
    answers : sequence of OptionAnswer
        Their figures.

    Yields
    ------
    Remark
        One for each kind of figure.
    """
    lives = [of.life for of in followed if of.life is not None]
    if not lives:
        return
    first, study = first_runs_of(followed), followed[0].study
    by_id = {answer.id: answer for answer in answers}
    told = [by_id[entry_id(study, of.entry)] for of in followed if of.life is not None]
    views = views_with_memory(study.tub, lives, first.days)
    clean = np.array([answer.see_through_clean_m for answer in told])
    worst = np.array([answer.see_through_worst_m for answer in told])
    hours = np.array([answer.hours_to_clear_after_session or np.nan for answer in told])
    sessions, clarity = off_by_sessions(first), _off_by_clarity(first, lives, views)
    seen = np.maximum(np.abs(clean / views.clean_m - 1.0), np.abs(worst / views.worst_m - 1.0))
    clearing = np.nan_to_num(np.abs(hours / views.hours_to_clear - 1.0))
    total = np.array([answer.cost_per_year.total or np.inf for answer in told])
    close = np.array([_off_by_a_close_call(life, study) for life in lives]) / total
    cost_per_day = np.array([float(life.rates.cost_per_day(life.care)[0]) for life in lives])
    few = sessions * seen * DAYS_PER_YEAR * cost_per_day / total

    def remark(kind: str, which: Flags, **figures: float) -> Iterator[Remark]:
        named = dict.fromkeys(answer.name for answer, counts in zip(told, which, strict=True) if counts)
        if named:
            yield Remark(kind=kind, figures={"options": ", ".join(named), **figures})

    early = sessions > _DAYS_OFF
    within = float(np.where(early, sessions * first.days, 0.0).max())
    yield from remark("due at a session", early, within_days=within)
    yield from remark("due by clarity", clarity > _DAYS_OFF, by=float(clarity.max()))
    yield from remark("views with memory", seen > _VIEW_OFF, by=float(seen.max()))
    yield from remark("clearing with memory", clearing > _VIEW_OFF, by=float(clearing.max()))
    yield from remark("clearing in a short run", short_runs(first))
    yield from remark("close call", close > _DAYS_OFF, by=float(close.max()))
    yield from remark("sessions decide", few > _DAYS_OFF, by=float(few.max()))


def short_runs(first: FirstRuns) -> Flags:
    """Return which runs (r,) hold so few sessions that the filter changes while the water clears."""
    sessions = first.days * first.study.tub.sessions_per_day
    return np.asarray((sessions > 0.0) & (sessions < _FEW_SESSIONS) & (first.limit != "time limit"))


def off_by_sessions(first: FirstRuns) -> Array:
    """Return how far a first run counted in whole sessions may lie from its days, at most.

    Parameters
    ----------
    first : FirstRuns
        r of them.

    Returns
    -------
    (r,) array
        Over the days [-]; 0 where a time limit ends the run, as that does not wait for a session.

    Notes
    -----
    An element takes what a session brings soon after it, so it falls due at one: after fewer days if the first session
    comes soon after fitting, after more if late.
    """
    tub = first.study.tub
    counted = first.clear & (first.limit != "time limit") & (first.days > 0.0)
    sessions = np.where(counted, first.days * tub.sessions_per_day, 1.0)
    last = np.ceil(sessions)
    whole = float(tub.deposit_load_kg_day.sum())
    in_sessions = float(bathers_of(tub).deposit_load_kg_day.sum()) / whole if whole > 0.0 else 0.0
    return np.asarray(
        np.where(counted, in_sessions * np.maximum(last - sessions, sessions - last + 1.0) / sessions, 0.0)
    )


def _off_by_clarity(first: FirstRuns, lives: Sequence[Life], views: Views) -> Array:
    """Return how far runs (r,) that clarity ends are off, as their worst view is [-]; at most 1."""
    by_clarity = (first.limit == "clarity") & (first.days > 0.0)
    if not by_clarity.any():
        return np.zeros(by_clarity.shape)
    further = views_with_memory(first.study.tub, lives, _FURTHER * first.days)
    falls_m = np.maximum(views.worst_m - further.worst_m, 1e-9) / (_FURTHER - 1.0)  # a run
    off: Array = np.abs(views.worst_m - first.study.needs.see_through_m) / falls_m
    return np.where(by_clarity, np.minimum(off, 1.0), 0.0)


def _off_by_a_close_call(life: Life, study: Study) -> float:
    """Return what a year of an option costs more or less where the share that decides is a little other."""
    if len(life.tables.tables) == 1 or life.care.rinseable.all():
        return 0.0
    until = max(study.prices.horizon_days, study.needs.discard_days)
    factors = np.array([1.0 - _CLOSE, 1.0 + _CLOSE])
    both = np.zeros(2, dtype=np.intp)
    care = taken(life.care, both, 1)
    care = replace(care, replace_share=factors * care.replace_share)
    rates = rates_of(walk_services(life.tables.of(both), care, until=until, to_renewal=True), care.most_runs)
    now = float(life.rates.cost_per_day(life.care)[0])
    return DAYS_PER_YEAR * float(np.abs(rates.cost_per_day(care) - now).max())
