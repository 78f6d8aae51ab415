"""How clear the water is where it still holds dirt from earlier in a run; r options, c size classes.

Loading stays quasi-steady; only what the water holds is followed, through runs like the first, one after the other.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from filtration.base.arrays import Array
from filtration.base.cases import side_by_side
from filtration.loading.tabulate import side_by_kind
from filtration.physics.optics import see_through_m
from filtration.physics.soil import CLASS_DIAMETERS_M
from filtration.physics.still_water import StillWater, in_both_parts
from filtration.physics.tub import Tub
from filtration.service.lives import Life

_POINTS = 17  # of a run, the removal straight between them
_SHORTEST_DAYS = 1e-6
_CLEARED = 0.9
_SINGLY = 120  # of the last sessions each is followed where water lags
_Parts = tuple[Array, Array]  # of the water: on the filter's loop, lagging


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
    removal = np.empty((len(lives), _POINTS, len(CLASS_DIAMETERS_M)))
    for places, of_kind in side_by_kind([life.tables for life in lives]):
        tables = of_kind.of(np.repeat(of_kind.all, _POINTS))
        at = np.outer(days[places], np.linspace(0.0, 1.0, _POINTS))
        held = tables.deposits(tables.new, tables.new, at.ravel(), tables.all)
        taken_out = tables.case.removal_per_day(tables.flow_m3_s(held, many=True), [each.cake_kg for each in held])
        removal[places] = taken_out.T.reshape(len(places), _POINTS, -1)
    return _Trail(days=days, removal=removal)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Views:
    """Views and clearing time.

    Parameters
    ----------
    clean_m, worst_m : (r,) array
        See-through at the end of the water's life, just before a session one session after a service, and just after
        a session, the filter due; in the water that lags, where some does [m].
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
    Where water lags, both parts are followed from session to session, each time at the mean k; what long gone sessions
    brought counts as come evenly.
    """
    trail, still = _trail_of(lives, days), _still_of(lives)
    gap, life = 1.0 / tub.sessions_per_day, tub.water_life_days
    session = bathers_of(tub).session_attenuation_per_m
    dust = (tub.session_attenuation_per_m - session) / gap

    def held(day: Array, since_session: float) -> tuple[_Parts, Array]:
        """Attenuation of the dirt in water one life old, and of all in its dirtier part (r,), on a day (r,) [1/m]."""
        number = max(int(np.ceil((life - since_session) / gap - 1e-9)), 0)
        edges = np.concatenate([[-life], -since_session - gap * np.arange(number)[::-1], [0.0]])
        removed = trail.removed(day[:, None] + edges)
        if still is None:
            left = np.exp(removed - removed[:, -1:])
            fell = np.diff(edges)[:, None] * _left_of_dust(np.diff(removed, axis=1)) * left[:, 1:]
            dirt: Array = session * left[:, 1:-1].sum(axis=1) + dust * fell.sum(axis=1)
            parts = dirt[:, None], dirt[:, None]
        else:
            parts = np.zeros_like(removed[:, :1]), np.zeros_like(removed[:, :1])
            early = np.linspace(0, max(number - _SINGLY, 0), _SINGLY).astype(int)
            for first, last in pairwise([*dict.fromkeys([*early.tolist(), *range(early[-1], number + 2)])]):
                lasting = float(edges[last] - edges[first])
                came, between = session if first else 0.0, session * (last - first - 1) / max(lasting, _SHORTEST_DAYS)
                start = parts[0] + came, parts[1] + came
                taken_out = removed[:, [last]] - removed[:, [first]]
                parts = _later(start, taken_out, lasting, dust + between, still)
        haze = replace(tub, water_life_days=number * gap).haze_at_end_per_m
        return parts, haze + parts[1][:, 0].sum(axis=-1)

    fresh = np.minimum(gap, trail.days)
    _, before = held(fresh, gap)
    start, _ = held(fresh, 0.0)
    _, after = held(trail.days, 0.0)
    later = gap * np.concatenate([[0.0], np.geomspace(1e-3, 1.0, 60)])
    removed = trail.removed(fresh[:, None] + later) - trail.removed(fresh[:, None])
    _, seen = _later(start, removed, later[:, None], dust, still)
    hours = _hours_to_clear(24.0 * later, seen.sum(axis=-1))
    return Views(clean_m=see_through_m(before), worst_m=see_through_m(after), hours_to_clear=hours)


def _still_of(lives: Sequence[Life]) -> StillWater | None:
    """Return the water that lags in a tub, (r, 1, 1) for r options in it; None where it is well mixed."""
    each = [still for life in lives if (still := life.tables.case.still) is not None]
    if not each:
        return None
    one = side_by_side(each, [1] * len(each))
    return StillWater(share=one.share[:, None, None], exchange_per_day=one.exchange_per_day[:, None, None])


def _later(start: _Parts, removed: Array, days: Array | float, dust: Array, still: StillWater | None) -> _Parts:
    """Return the dirt (r, n, c) of both parts days (n, 1) after a start, dust falling, the filter steady meanwhile."""
    rate = removed / np.maximum(days, _SHORTEST_DAYS)
    left = in_both_parts(lambda each: np.exp(-each * days), rate, still, start)
    fell = in_both_parts(lambda each: days * _left_of_dust(each * days), rate, still)
    loop, lagging = (kept + dust * new for kept, new in zip(left, fell, strict=True))
    return loop, lagging


def _left_of_dust(removed: Array) -> Array:
    """Return the share left of what fell evenly while ``removed`` (...) was taken out [-]."""
    x = np.maximum(removed, 1e-9)
    return np.asarray(-np.expm1(-x) / x)


def _hours_to_clear(hours: Array, seen: Array) -> Array:
    """Return when (r,) the attenuation ``seen`` (r, n) [1/m] at ``hours`` (n,) is most of the way to its last [h]."""
    target = seen[:, 0] - _CLEARED * (seen[:, 0] - seen[:, -1])
    rows = zip(target, seen, strict=True)
    return np.array([np.interp(-goal, -one, hours) if one[0] > one[-1] else np.nan for goal, one in rows])
