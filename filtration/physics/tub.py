"""The tub: what it holds of the dirt that comes in, and how clear it is."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import model
from filtration.base.roots import root_by_sections
from filtration.base.units import US_GALLON_M3
from filtration.physics.optics import attenuation_per_kg_m3, see_through_m
from filtration.physics.settling import settling_velocity_m_s
from filtration.physics.soil import CLASS_DIAMETERS_M, Source, load_kg_day
from filtration.physics.still_water import StillWater, in_both_parts, still_water_of
from filtration.physics.water import Water

LITRE_M3 = 1e-3
_ROUNDS = 5  # to a millionth of the time between sessions and finer


@dataclass(frozen=True, kw_only=True, eq=False)
class Tub:
    """A tub with its bathers and its water.

    Parameters
    ----------
    volume_m3, depth_m : float
        Volume [m3] and depth [m] of the water.
    water : Water
        The water at the tub's temperature.
    uses_per_day : float
        Dips a day, all bathers together.
    uses_by_month, uses_by_weekday : tuple of float
        Those of each month, from January, and of each weekday, from Monday, over the year's mean [-]; empty where they
        are all alike. They stretch the calendar of a plan, and nothing else.
    sessions_per_day : float
        Sessions the dips come in.
    water_life_days : float
        Days between water changes.
    sources : tuple of Source
        What brings dirt.
    disinfectant_kept : bool
        The owner states that a disinfectant residual is kept, so that nothing grows in the deposit.
    growth_at_c : float or None
        Temperature the growth belongs to [degC]; None: the water's. To tell the two effects of warmth apart.
    growth_factor : float
        Growth in the deposit over that assumed [-], as readings say.
    dye_even_after_days, still_share : float
        Time until a drop of dye is even everywhere with the pump on [day]; share of the water that lags until then [-].
        Where either is 0 the tub is well mixed.
    """

    volume_m3: float
    depth_m: float
    water: Water
    uses_per_day: float
    sessions_per_day: float
    water_life_days: float
    sources: tuple[Source, ...]
    disinfectant_kept: bool = False
    growth_at_c: float | None = None
    growth_factor: float = 1.0
    uses_by_month: tuple[float, ...] = ()
    uses_by_weekday: tuple[float, ...] = ()
    dye_even_after_days: float = 0.0
    still_share: float = 0.0

    @cached_property
    def organic_kg_day(self) -> Array:
        """Daily organic load by size class, shape (24,) [kg/day]."""
        return load_kg_day(self.sources, mineral=False)

    @cached_property
    def mineral_kg_day(self) -> Array:
        """Daily mineral load by size class, shape (24,) [kg/day]."""
        return load_kg_day(self.sources, mineral=True)

    @cached_property
    def deposit_load_kg_day(self) -> Array:
        """Daily load as a deposit feels it, grit counted at a share, shape (24,) [kg/day]."""
        return self.organic_kg_day + model("soil.mineral_counts_as") * self.mineral_kg_day

    @cached_property
    def session_attenuation_per_m(self) -> Array:
        """Attenuation that one session adds to clear water by size class, shape (24,) [1/m]."""
        organic = attenuation_per_kg_m3(CLASS_DIAMETERS_M, model("optics.organic_index"), model("soil.organic_density"))
        mineral = attenuation_per_kg_m3(CLASS_DIAMETERS_M, model("optics.mineral_index"), model("soil.mineral_density"))
        per_day = organic * self.organic_kg_day + mineral * self.mineral_kg_day
        return np.asarray(per_day / (self.sessions_per_day * self.volume_m3))

    @property
    def growth_per_day(self) -> float:
        """Growth of the deposit [1/day], doubling every 10 degC; none where a residual is kept."""
        if self.disinfectant_kept:
            return 0.0
        temperature = self.water.temperature_c if self.growth_at_c is None else self.growth_at_c
        return float(self.growth_factor * model("loading.growth_per_day") * 2.0 ** ((temperature - 4.0) / 10.0))

    @property
    def haze_at_end_per_m(self) -> float:
        """Attenuation of water and haze that no cartridge catches, at the end of the water's life [1/m]."""
        return float(haze_per_m(self.dips_per_100_litres))

    @property
    def dips_per_100_litres(self) -> float:
        """Dips in a water's life over its volume [1/(100 L)]."""
        return self.uses_per_day * self.water_life_days / (self.volume_m3 / (100.0 * LITRE_M3))

    def still_water(self, share_of_day: float | Array) -> StillWater | None:
        """Return the water that lags where the pump runs for a share (...) of the day [-]; None: well mixed."""
        return still_water_of(self.dye_even_after_days, self.still_share, share_of_day)


def haze_per_m(dips_per_100_litres: float | Array, factor: float | Array = 1.0) -> float | Array:
    """Return the attenuation of water and haze that no cartridge catches, the haze times a factor [1/m].

    Examples
    --------
    >>> haze_per_m(10.0) < haze_per_m(20.0) < haze_per_m(20.0, 3.0)
    True
    """
    haze = model("optics.haze") + model("optics.haze_per_dip") * dips_per_100_litres
    return model("optics.water") + factor * haze


def spa_rule_days(volume_m3: float, uses_per_day: float) -> float:
    """Return the water life of the public-spa rule.

    Parameters
    ----------
    volume_m3 : float
        Volume [m3].
    uses_per_day : float
        Bathers a day.

    Returns
    -------
    float
        Days between water changes, infinite where nobody bathes.

    Notes
    -----
    Maine 10-144 CMR 202 App. B: one third of the US gallons, divided by bathers a day.

    Examples
    --------
    >>> round(spa_rule_days(0.420, 6), 1)
    6.2
    """
    if uses_per_day <= 0.0:
        return float("inf")
    return volume_m3 / US_GALLON_M3 / model("water.spa_rule") / uses_per_day


def removal_per_day(tub: Tub, flow_m3_day: float | Array, caught: Array) -> Array:
    """Return the rate at which the filter takes each size class out of the tub.

    Parameters
    ----------
    tub : Tub
        The tub.
    flow_m3_day : float or (...) array
        Water pumped in a day [m3/day].
    caught : (..., 24) array
        Share caught in one pass by the whole filter [-].

    Returns
    -------
    (..., 24) array
        Rate k [1/day]; 1 - exp(-k t) is the share removed from well-mixed water.

    Notes
    -----
    Well-mixed dilution, Gage & Bidwell 1926.
    """
    return np.asarray(np.asarray(flow_m3_day)[..., None] * caught / tub.volume_m3)


def life_mean_share(removed: float | Array, still: StillWater | None = None, life_days: float | Array = 1.0) -> Array:
    """Return the share of the dirt brought in that the filter catches, meaned over the water's life.

    Parameters
    ----------
    removed : float or (...) array
        Removal rate times water life, x [-], at least 0.
    still : StillWater or None, optional
        Water that lags; None: well mixed.
    life_days : float or (...) array, optional
        That life, over which the still water mixes [day].

    Returns
    -------
    (...) array
        In well-mixed water 1 - (1 - exp(-x)) / x, which tends to x / 2 for small x [-]; with still water x times the
        mean of what the water on the loop holds, over all that came in.

    Examples
    --------
    >>> float(life_mean_share(0.0)), round(float(life_mean_share(1.0)), 4)
    (0.0, 0.3679)
    """
    x = np.asarray(removed)
    if still is None:
        wide = np.maximum(x, 1e-4)
        return np.asarray(np.where(x < 1e-4, x / 2.0 - x * x / 6.0, 1.0 + np.expm1(-wide) / wide))

    def mean_held(rate: Array) -> Array:
        y = np.maximum(rate * life_days, 1e-12)
        return life_mean_share(y) / y

    on_loop, _ = in_both_parts(mean_held, x / life_days, still)
    return np.asarray(x * on_loop, dtype=x.dtype)


def sessions_held(
    removal: Array,
    life_days: Array | float,
    sessions_per_day: Array | float,
    *,
    just_before: bool,
    still: StillWater | None = None,
) -> Array:
    """Return how many sessions' dirt the water holds at the end of its life, where it holds most.

    Parameters
    ----------
    removal : (...) array
        Removal rates [1/day]; none is a legal limit.
    life_days, sessions_per_day : (...) array or float
        Age of the water [day]; sessions [1/day].
    just_before : bool
        Just before a session rather than just after one.
    still : StillWater or None, optional
        Water that lags, which then holds most; None: well mixed.

    Returns
    -------
    (...) array
        Sessions [-].
    """

    def held(rate: Array) -> Array:
        k = np.maximum(rate, rate.dtype.type(1e-9))
        after: Array = np.expm1(-k * life_days) / np.expm1(-k / sessions_per_day)
        return after * np.exp(-k / sessions_per_day) if just_before else after

    # the part that lags, but where the water is changed before a second session: the form then is no sum of sessions
    return np.asarray(np.maximum(*in_both_parts(held, removal, still)), dtype=removal.dtype)


def attenuation_per_m(tub: Tub, removal: Array, *, just_before: bool, still: StillWater | None = None) -> Array:
    """Return the beam attenuation at the end of the water's life, where it is largest.

    Parameters
    ----------
    tub : Tub
        The tub.
    removal : (..., 24) array
        Removal rates [1/day].
    just_before : bool
        Just before a session rather than just after one.
    still : StillWater or None, optional
        Its water that lags, see ``Tub.still_water``; None: well mixed.

    Returns
    -------
    (...) array
        Attenuation [1/m].
    """
    life, sessions = tub.water_life_days, tub.sessions_per_day
    held = sessions_held(removal, life, sessions, just_before=just_before, still=still)
    return np.asarray(tub.haze_at_end_per_m + held @ tub.session_attenuation_per_m)


def see_through_at_end_m(tub: Tub, removal: Array, *, just_before: bool, still: StillWater | None = None) -> Array:
    """Return the see-through distance at the end of the water's life, where it is least.

    Parameters
    ----------
    tub : Tub
        The tub.
    removal : (..., 24) array
        Removal rates [1/day].
    just_before : bool
        Just before a session rather than just after one.
    still : StillWater or None, optional
        Its water that lags; None: well mixed.

    Returns
    -------
    (...) array
        Distance [m].
    """
    return see_through_m(attenuation_per_m(tub, removal, just_before=just_before, still=still))


def hours_to_clear(tub: Tub, removal: Array, still: StillWater | None = None) -> float | None:
    """Return the time after a session until the water is nine tenths of the way back, where it takes longest.

    Parameters
    ----------
    tub : Tub
        The tub.
    removal : (24,) array
        Removal rates [1/day].
    still : StillWater or None, optional
        Its water that lags; None: well mixed.

    Returns
    -------
    float or None
        Hours until the attenuation has fallen 90 % of the way to what it is just before a session; None where nothing
        is removed.
    """
    life, sessions = tub.water_life_days, tub.sessions_per_day

    held = (sessions_held(removal, life, sessions, just_before=before, still=still) for before in (False, True))
    after, before = (float((each * tub.session_attenuation_per_m).sum()) for each in held)
    if not float(removal.max()) > 0.0 or after <= 0.0:
        return None

    target = after - 0.9 * (after - before)

    def above(days: Array) -> Array:
        def left(rate: Array) -> Array:
            at_start = sessions_held(rate, life, sessions, just_before=False) * tub.session_attenuation_per_m
            return np.asarray(at_start * np.exp(-rate * days[..., None]))

        return np.asarray(np.maximum(*in_both_parts(left, removal, still)).sum(axis=-1) - target)

    gap = np.array([1.0 / sessions])
    return 24.0 * float(root_by_sections(above, 0.0 * gap, gap, rounds=_ROUNDS)[0])


def settling_classes(tub: Tub, flow_m3_s: float) -> Array:
    """Return the sizes of grit that sink faster than the water rises.

    Parameters
    ----------
    tub : Tub
        The tub.
    flow_m3_s : float
        Flow through the filter [m3/s].

    Returns
    -------
    (n,) array
        Class diameters [m] that lie on the floor until stirred up or vacuumed.
    """
    rise_m_s = flow_m3_s / (tub.volume_m3 / tub.depth_m)
    speed = settling_velocity_m_s(CLASS_DIAMETERS_M, model("soil.mineral_density"), tub.water)
    return CLASS_DIAMETERS_M[speed > rise_m_s]
