"""Still water: a part of the tub that takes part in the loop only by and by."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from filtration.base.arrays import Array

_EVEN = 3.0  # dye is even within 5 %, which is exp(-3)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StillWater:
    """How a tub's still water mixes with the water on the filter's loop.

    Parameters
    ----------
    share : (...) array
        Share s of the volume that lags [-], more than 0, less than 1.
    exchange_per_day : (...) array
        Rate at which the two parts become even, averaged over the day [1/day].
    """

    share: Array
    exchange_per_day: Array


def still_water_of(dye_even_after_days: float, share: float, share_of_day: float | Array) -> StillWater | None:
    """Return the still water of a tub in which dye spreads so slowly.

    Parameters
    ----------
    dye_even_after_days : float
        Time until a drop of dye is even everywhere within 5 %, the pump on [day].
    share : float
        Share of the volume that lags [-].
    share_of_day : float or (...) array
        Share of the day the pump runs [-].

    Returns
    -------
    StillWater or None
        None where all of the water takes part at once.

    Examples
    --------
    >>> still = still_water_of(0.5, 0.3, 1.0)
    >>> float(still.exchange_per_day)
    6.0
    """
    if dye_even_after_days <= 0.0 or share <= 0.0:
        return None
    exchange = np.asarray(_EVEN * share_of_day / dye_even_after_days)
    return StillWater(share=np.full_like(exchange, share), exchange_per_day=exchange)


def in_both_parts(
    of_rate: Callable[[Array], Array],
    removal_per_day: Array,
    still: StillWater | None,
    start: tuple[Any, Any] = (1.0, 1.0),
) -> tuple[Array, Array]:
    """Return what becomes of the dirt in the water on the filter's loop, and in the water that lags.

    Parameters
    ----------
    of_rate : callable
        What becomes of dirt in well-mixed water, from its removal rate (...) [1/day]: exp(-k t) is what is left.
    removal_per_day : (...) array
        What the filter would take out of well-mixed water, k [1/day]; none is a legal limit.
    still : StillWater or None
        None: the water is well mixed.
    start : tuple of (...) array or float
        Dirt in either part to begin with, per volume.

    Returns
    -------
    (...) array, (...) array
        The same function of both parts together, times their start: on the loop, lagging.

    Notes
    -----
    With k' = k/(1 - s) and an exchange K = κ₁ + κ₂, κ₁ = sK, κ₂ = (1 - s)K, the two follow d(C₁, C₂)/dt = M (C₁, C₂),
    M = [[-(k' + κ₁), κ₁], [κ₂, -κ₂]], whose rates are λ± = (k' + K ± D)/2, D = √((K - k')² + 4k'κ₁). A function g of
    a matrix of two rates is [(λ₊ g(λ₋) - λ₋ g(λ₊)) + (g(λ₋) - g(λ₊)) M]/D.

    Examples
    --------
    >>> loop, lagging = in_both_parts(lambda rate: np.exp(-rate), np.array(2.0), still_water_of(0.5, 0.3, 1.0))
    >>> round(float(loop), 3), round(float(lagging), 3)
    (0.148, 0.245)
    """
    if still is None:
        mixed = of_rate(removal_per_day)
        return mixed * start[0], mixed * start[1]
    loop, lagging = start
    removal, exchange = np.asarray(removal_per_day, dtype=np.float64) / (1.0 - still.share), still.exchange_per_day
    into_loop, into_still = still.share * exchange, (1.0 - still.share) * exchange
    apart = np.sqrt((exchange - removal) ** 2 + 4.0 * removal * into_loop)
    fast = 0.5 * (removal + exchange + apart)
    slow = removal * into_still / fast
    at_slow, at_fast = of_rate(slow), of_rate(fast)
    same, moved = (fast * at_slow - slow * at_fast) / apart, (at_slow - at_fast) / apart
    behind = lagging - loop
    return (
        np.asarray(same * loop + moved * (into_loop * behind - removal * loop)),
        np.asarray(same * lagging - moved * into_still * behind),
    )
