"""One run of an element from clean to due: the deposit is the clock."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What the owner wants of the filter.

    Parameters
    ----------
    flow_m3_s : float or None
        Least flow [m3/s]; None where a share of the clean flow is asked instead.
    share_of_clean_flow : float or None
        Least flow over the clean one [-].
    see_through_m : float
        Least see-through distance [m].
    max_pressure_rise_pa : float
        Most pressure over the clean filter's [Pa]; infinite where none is stated.
    rinse_limit_days, replace_limit_days, discard_days : float
        Longest times between rinses, and between replacements of what cannot be rinsed, and the age at which any
        element is discarded [day]; infinite for never.
    shortest_run_days : float or None
        Shortest run the owner puts up with [day]; None: half the first run, at least 3 days.
    """

    flow_m3_s: float | None
    share_of_clean_flow: float | None = None
    see_through_m: float
    max_pressure_rise_pa: float = float("inf")
    rinse_limit_days: float = 14.0
    replace_limit_days: float = 60.0
    discard_days: float = 365.0
    shortest_run_days: float | None = None
