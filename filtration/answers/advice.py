"""Which of the options that meet the needs to take."""

from collections.abc import Sequence

from filtration.base.defaults import model


def to_take(costs: Sequence[float], chances: Sequence[float]) -> int:
    """Return the option to take: the cheapest of those that are about as sure as any that costs little more.

    Parameters
    ----------
    costs : (o,) sequence of float
        Cost a year of options that meet the needs in the central case, at least one.
    chances : (o,) sequence of float
        Chance that each meets them [-]; all alike where nobody knows.

    Returns
    -------
    int
        Its place.

    Notes
    -----
    Little more is up to a tenth of the cheapest's year, about as sure is within one case of twenty; assumptions.

    Examples
    --------
    >>> to_take([230.0, 232.0, 234.0, 400.0], [0.45, 0.64, 0.68, 0.95])
    1
    >>> to_take([230.0, 300.0], [0.45, 0.95])
    0
    """
    most = (1.0 + model("advice.dearer_share")) * min(costs)
    near = [place for place, cost in enumerate(costs) if cost <= most]
    least = max(chances[place] for place in near) - model("advice.chance_less")
    return min((place for place in near if chances[place] >= least), key=lambda place: costs[place])
