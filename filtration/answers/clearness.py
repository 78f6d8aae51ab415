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
from filtration.physics.tub import Tub, attenuation_per_m
from filtration.study.values import Study

_MOST_SESSIONS = 120


def _new_and_due(of: Followed) -> list[tuple[float, list[Array]]]:
    """Return the flow [m3/s] and the cakes [kg], new and when first due; the same twice if it never runs."""
    new = of.clean_m3_s, of.case.new
    return [new, new if of.first is None else (of.first.due_m3_s, of.first.cakes_kg)]


def _removals(of: Followed) -> list[Array]:
    """Return the rates at which each size class is taken out, new and when due, each (24,) [1/day]."""
    return [of.removal_per_day(flow, cakes) for flow, cakes in _new_and_due(of)]


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


def _seen_at(tub: Tub, removal: Array, age_days: float, *, just_before: bool) -> float:
    return float(
        see_through_m(attenuation_per_m(replace(tub, water_life_days=age_days), removal, just_before=just_before))
    )


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
    The water just before session n + 1 is what session n left, filtered from one session to the next.
    """
    tub = followed.study.tub
    step = 1.0 / tub.sessions_per_day
    number = max(1, floor(tub.water_life_days * tub.sessions_per_day + 1e-9))
    sessions = np.unique(np.linspace(1, number, min(number, _MOST_SESSIONS)).round())
    removals = _removals(followed)
    before, after = [], []
    for session in sessions.tolist():
        after.append(min(_seen_at(tub, removal, session * step, just_before=False) for removal in removals))
        earlier = (session - 1.0) * step
        clear = float(see_through_m(replace(tub, water_life_days=0.0).haze_at_end_per_m))
        before.append(
            min(_seen_at(tub, removal, earlier, just_before=True) for removal in removals) if earlier > 0.0 else clear
        )
    return Clearness(day=tuple((sessions * step).tolist()), before_m=tuple(before), after_m=tuple(after))


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
    seen = _last_views(followed)
    return tuple(map(seen, life_days))


def _last_views(followed: Followed) -> Callable[[float], float]:
    """Return what gives, from a water's life [day], how far one sees just after its last session [m]."""
    tub, removals = followed.study.tub, _removals(followed)
    return lambda days: min(_seen_at(tub, removal, days, just_before=False) for removal in removals)


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
    shortest, seen = 1.0 / followed.study.tub.sessions_per_day, _last_views(followed)
    if seen(shortest) < view_m:
        return 0.0
    if seen(most_days) >= view_m:
        return most_days
    a, b = shortest, most_days
    for _ in range(40):
        middle = 0.5 * (a + b)
        a, b = (middle, b) if seen(middle) >= view_m else (a, middle)
    return a


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
