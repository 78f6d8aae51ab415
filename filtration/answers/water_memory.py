"""How clear the water is where it still holds dirt from earlier in a run; r options, c size classes.

Loading stays quasi-steady; only what the water holds is followed, through runs like the first, one after the other.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from filtration.base.arrays import Array
from filtration.physics.optics import see_through_m
from filtration.physics.tub import Tub
from filtration.service.lives import Life

_POINTS = 17  # of a run, the removal straight between them
_SHORTEST_DAYS = 1e-6
_CLEARED = 0.9


def bathers_of(tub: Tub) -> Tub:
    """Return the tub without what falls in."""
    return replace(tub, sources=tuple(source for source in tub.sources if not source.falls_in))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Trail:
    """What runs like the first take out of the water, one after the other.

    Parameters
    ----------
    days : (r,) array
        Length of a run [day].
    removal : (r, points, c) array
        Rate at points evenly over a run, straight between them [1/day].
    """

    days: Array
    removal: Array

    def removed(self, when: Array) -> Array:
        """Integral (r, n, c) of the rate from the start of a run to ``when`` (r, n), or before it [-]."""
        step = self.days / (self.removal.shape[1] - 1)
        between = 0.5 * step[:, None, None] * (self.removal[:, 1:] + self.removal[:, :-1])
        until = np.pad(np.cumsum(between, axis=1), ((0, 0), (1, 0), (0, 0)))
        runs = np.floor(when / self.days[:, None])
        place = when / step[:, None] - runs * between.shape[1]
        below = np.clip(place.astype(int), 0, between.shape[1] - 1)[..., None]
        part = place[..., None] - below
        first, last = (np.take_along_axis(self.removal, at, axis=1) for at in (below, below + 1))
        here = step[:, None, None] * part * (first + 0.5 * part * (last - first))
        return np.asarray(np.take_along_axis(until, below, axis=1) + here + runs[..., None] * until[:, -1:])


def _trail_of(lives: Sequence[Life], days: Array) -> _Trail:
    days = np.maximum(days, _SHORTEST_DAYS)
    removal = []
    for life, length in zip(lives, days.tolist(), strict=True):
        tables = life.tables.of(np.zeros(_POINTS, dtype=np.intp))
        held = tables.deposits(tables.new, tables.new, length * np.linspace(0.0, 1.0, _POINTS), tables.all)
        taken_out = tables.case.removal_per_day(tables.flow_m3_s(held), [each.cake_kg for each in held])
        removal.append(taken_out.T.astype(np.float64))
    return _Trail(days=days, removal=np.array(removal))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Views:
    """Views and clearing time.

    Parameters
    ----------
    clean_m, worst_m : (r,) array
        See-through at the end of the water's life, just before a session one session after a service, and just after
        a session, the filter due [m].
    hours_to_clear : (r,) array
        After the second session after a service [h]; not a number where the water does not clear.
    """

    clean_m: Array
    worst_m: Array
    hours_to_clear: Array


def views_with_memory(tub: Tub, lives: Sequence[Life], days: Array) -> Views:
    """Return what one sees, the water followed through runs like the first.

    Parameters
    ----------
    tub : Tub
        The tub.
    lives : sequence of Life
        Options that run in it, one case each.
    days : (r,) array
        Length of a run [day].

    Returns
    -------
    Views
        Of each of them.

    Notes
    -----
    Of what a session or a while of dust brings, exp(-X) is left after the filter has removed X = integral of k dt.
    """
    trail = _trail_of(lives, days)
    gap, life = 1.0 / tub.sessions_per_day, tub.water_life_days
    session = bathers_of(tub).session_attenuation_per_m
    dust = (tub.session_attenuation_per_m - session) / gap

    def held(day: Array, since_session: float) -> tuple[Array, Array]:
        """Attenuation (r, c) of the dirt in water one life old, and of all in it (r,), on a day (r,) of a run [1/m]."""
        number = max(int(np.ceil((life - since_session) / gap - 1e-9)), 0)
        edges = np.concatenate([[-life], -since_session - gap * np.arange(number)[::-1], [0.0]])
        removed = trail.removed(day[:, None] + edges)
        left = np.exp(removed - removed[:, -1:])
        fell = np.diff(edges)[:, None] * _left_of_dust(np.diff(removed, axis=1)) * left[:, 1:]
        dirt: Array = session * left[:, 1:-1].sum(axis=1) + dust * fell.sum(axis=1)
        haze = replace(tub, water_life_days=number * gap).haze_at_end_per_m
        return dirt, haze + dirt.sum(axis=-1)

    fresh = np.minimum(gap, trail.days)
    _, before = held(fresh, gap)
    start, _ = held(fresh, 0.0)
    _, after = held(trail.days, 0.0)
    later = gap * np.concatenate([[0.0], np.geomspace(1e-3, 1.0, 60)])
    removed = trail.removed(fresh[:, None] + later) - trail.removed(fresh[:, None])
    seen = start[:, None] * np.exp(-removed) + dust * later[:, None] * _left_of_dust(removed)
    hours = _hours_to_clear(24.0 * later, seen.sum(axis=-1))
    return Views(clean_m=see_through_m(before), worst_m=see_through_m(after), hours_to_clear=hours)


def _left_of_dust(removed: Array) -> Array:
    """Return the share left of what fell evenly while ``removed`` (...) was taken out [-]."""
    x = np.maximum(removed, 1e-9)
    return np.asarray(-np.expm1(-x) / x)


def _hours_to_clear(hours: Array, seen: Array) -> Array:
    """Return when (r,) the attenuation ``seen`` (r, n) [1/m] at ``hours`` (n,) is most of the way to its last [h]."""
    target = seen[:, 0] - _CLEARED * (seen[:, 0] - seen[:, -1])
    rows = zip(target, seen, strict=True)
    return np.array([np.interp(-goal, -one, hours) if one[0] > one[-1] else np.nan for goal, one in rows])
