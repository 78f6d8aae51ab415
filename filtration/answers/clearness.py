"""How far one sees over a water's life behind one option, and what sizes of dirt it catches."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import ceil, floor

import numpy as np

from filtration.answers.figures import Followed
from filtration.base.arrays import Array
from filtration.loading.stage import efficiencies
from filtration.physics.optics import see_through_m
from filtration.physics.soil import CLASS_DIAMETERS_M
from filtration.physics.tub import see_through_at_end_m
from filtration.study.values import Study

_MOST_SESSIONS = 120


def _new_and_due(of: Followed) -> list[tuple[float, list[Array]]]:
    """Return the flow [m3/s] and the cakes [kg], new and when first due; the same twice if it never runs."""
    new = of.clean_m3_s, of.case.new
    return [new, new if of.first is None else (of.first.due_m3_s, of.first.cakes_kg)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearness:
    """How far one sees over the water's life, the element new or due, whichever is worse.

    Parameters
    ----------
    day : tuple of float
        Days since the water was changed, at each session.
    before_m, after_m : tuple of float
        See-through just before and just after that session [m].
    """

    day: tuple[float, ...]
    before_m: tuple[float, ...]
    after_m: tuple[float, ...]


def clearness_of(followed: Followed) -> Clearness:
    """Return how far one sees before and after each session of a water's life.

    Parameters
    ----------
    followed : Followed
        The option.

    Returns
    -------
    Clearness
        Sessions from the first to the last; of very many, evenly spread ones.

    Notes
    -----
    The water just before session n + 1 is what session n left, filtered from one session to the next. Where some of it
    lags, that is the dirtier.
    """
    tub = followed.study.tub
    step = 1.0 / tub.sessions_per_day
    number = max(1, floor(tub.water_life_days * tub.sessions_per_day + 1e-9))
    sessions = np.unique(np.linspace(1, number, min(number, _MOST_SESSIONS)).round())
    before, after = (_last_views(followed, just_before=each) for each in (True, False))
    clear = float(see_through_m(replace(tub, water_life_days=0.0).haze_at_end_per_m))
    before_m = tuple(before(days) if days > 0.0 else clear for days in ((sessions - 1.0) * step).tolist())
    ends = tuple((sessions * step).tolist())
    return Clearness(day=ends, before_m=before_m, after_m=tuple(map(after, ends)))


def views_by_water_life(followed: Followed, life_days: Sequence[float]) -> tuple[float, ...]:
    """Return how far one sees just after the last session of waters of several lives.

    Parameters
    ----------
    followed : Followed
        The option; new or due, whichever is worse.
    life_days : sequence of float
        Days between water changes.

    Returns
    -------
    tuple of float
        See-through [m].
    """
    return tuple(map(_last_views(followed), life_days))


def _last_views(followed: Followed, *, just_before: bool = False) -> Callable[[float], float]:
    """Return what gives, from a water's life [day], how far one sees just after its last session, or before it [m]."""
    removals = [followed.removal_per_day(flow, cakes) for flow, cakes in _new_and_due(followed)]
    still = followed.case.still

    def seen(days: float) -> float:
        tub = replace(followed.study.tub, water_life_days=days)
        views = (see_through_at_end_m(tub, removal, just_before=just_before, still=still) for removal in removals)
        return min(map(float, views))

    return seen


def longest_water_life_days(followed: Followed, view_m: float, most_days: float = 365.0) -> float:
    """Return how long the water may stay for a wished view.

    Parameters
    ----------
    followed : Followed
        The option; new or due, whichever is worse.
    view_m : float
        Least see-through just after a session [m].
    most_days : float, optional
        Longest life looked at [day].

    Returns
    -------
    float
        Days; 0 where even the first session's water is too dull, ``most_days`` where it never is.
    """
    from scipy.optimize import brentq

    shortest, seen = 1.0 / followed.study.tub.sessions_per_day, _last_views(followed)
    if seen(shortest) < view_m:
        return 0.0
    if seen(most_days) >= view_m:
        return most_days
    return float(brentq(lambda days: seen(days) - view_m, shortest, most_days))


@dataclass(frozen=True, slots=True, kw_only=True)
class CatchBySize:
    """Share caught in one pass by particle size, the element new and when due."""

    diameter_um: tuple[float, ...]
    new: tuple[float, ...]
    due: tuple[float, ...]


def catch_by_size(followed: Followed) -> CatchBySize:
    """Return what share of each size of dirt the option catches in one pass.

    Parameters
    ----------
    followed : Followed
        The option.

    Returns
    -------
    CatchBySize
        At the diameters of the size classes; a train's stages together.
    """
    shares = [np.sum(efficiencies(followed.case.stages, cakes), axis=0)[:, 0] for _, cakes in _new_and_due(followed)]
    new, due = (tuple(share.tolist()) for share in shares)
    return CatchBySize(diameter_um=tuple((1e6 * CLASS_DIAMETERS_M).tolist()), new=new, due=due)


def lives_to_show(study: Study) -> tuple[float, ...]:
    """Return water lives worth looking at: from a session to twice the present one, at least a month.

    Parameters
    ----------
    study : Study
        The study.

    Returns
    -------
    tuple of float
        Days.
    """
    most = max(30.0, 2.0 * study.tub.water_life_days)
    least = 1.0 / study.tub.sessions_per_day
    return tuple(np.linspace(least, max(most, 2.0 * least), min(40, 2 + ceil(most))).tolist())
