"""What share of the dirt an element takes out of the water in one pass, by particle size."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import model

_STRAINING_KG_M2 = model("capture.straining_cake")


@dataclass(frozen=True, slots=True, kw_only=True)
class CaptureCurve:
    """Share caught against particle size.

    Parameters
    ----------
    rating_m : float
        Micron rating [m].
    at_rating : float
        Odds x of being caught at the rating, for water that does pass the medium [-].
    slope : float
        Exponent m of particle size over rating [-].
    bypass : float
        Share of the water that passes untreated [-].
    thickness : float
        Thickness of the medium over the one the curve belongs to [-].
    """

    rating_m: float
    at_rating: float
    slope: float
    bypass: float
    thickness: float = 1.0


def nominal_curve(rating_m: float, *, at_rating: float, slope: float, thickness: float = 1.0) -> CaptureCurve:
    """Return the curve of an element that catches a given share at its rating.

    Parameters
    ----------
    rating_m : float
        Micron rating [m].
    at_rating : float
        Share caught in one pass at the rating, bypass included [-].
    slope : float
        Exponent of particle size over rating [-].
    thickness : float, optional
        Thickness over the one the share belongs to [-].

    Returns
    -------
    CaptureCurve
        The curve.

    Examples
    --------
    >>> curve = nominal_curve(20e-6, at_rating=0.85, slope=3.0)
    >>> round(float(caught_in_one_pass(curve, 20e-6)), 6)
    0.85
    """
    bypass = model("capture.bypass")
    inside = at_rating / (1.0 - bypass)
    odds = inside / (1.0 - inside)
    return CaptureCurve(rating_m=rating_m, at_rating=odds, slope=slope, bypass=bypass, thickness=thickness)


def caught_inside(curve: CaptureCurve, diameter_m: float | Array) -> Array:
    """Return the share caught of the water that does pass the clean medium.

    Parameters
    ----------
    curve : CaptureCurve
        The element's curve.
    diameter_m : float or (...) array
        Particle diameter [m].

    Returns
    -------
    (...) array
        Share caught [-], bypass not counted.

    Examples
    --------
    >>> half = CaptureCurve(rating_m=20e-6, at_rating=1.0, slope=3.0, bypass=0.0)
    >>> float(caught_inside(half, 20e-6))
    0.5
    """
    odds = curve.at_rating * (np.asarray(diameter_m) / curve.rating_m) ** curve.slope
    return np.asarray(1.0 - (1.0 + odds) ** -curve.thickness)


def strained(
    inside: Array, cake_kg_m2: float | Array, diameter_m: Array, straining_kg_m2: float | Array = _STRAINING_KG_M2
) -> Array:
    """Return the share caught inside once a cake on the sheet strains finer dirt.

    Parameters
    ----------
    inside : (...) array
        Share caught by the clean sheet [-].
    cake_kg_m2 : float or (...) array
        Dry cake per area of sheet [kg/m2].
    diameter_m : (...) array
        Particle diameter [m].
    straining_kg_m2 : float or (...) array, optional
        Cake w0 that lets 1/e of the coarse dirt pass [kg/m2].

    Returns
    -------
    (...) array
        Share caught [-].

    Notes
    -----
    Assumption: what passes falls as exp(-(w/w0) min(1, d/5 um)^2), w0 = 200 g/m2.

    Examples
    --------
    >>> round(float(strained(np.array(0.0), 0.2, np.array(10e-6))), 3)
    0.632
    """
    reach = np.minimum(1.0, diameter_m / model("capture.straining_diameter")) ** 2
    return np.asarray(1.0 - (1.0 - inside) * np.exp(-cake_kg_m2 / straining_kg_m2 * reach))


def caught_in_one_pass(curve: CaptureCurve, diameter_m: float | Array) -> Array:
    """Return the share a clean element takes out of the water in one pass, bypass counted.

    Parameters
    ----------
    curve : CaptureCurve
        The element's curve.
    diameter_m : float or (...) array
        Particle diameter [m].

    Returns
    -------
    (...) array
        Share caught [-].

    Examples
    --------
    >>> half = CaptureCurve(rating_m=20e-6, at_rating=1.0, slope=3.0, bypass=0.1)
    >>> float(caught_in_one_pass(half, 20e-6))
    0.45
    """
    return np.asarray((1.0 - curve.bypass) * caught_inside(curve, diameter_m))


def layer_shares(inside: Array, layers: int) -> Array:
    """Return how a catch is spread over equally thick layers that each let the same share pass.

    Parameters
    ----------
    inside : (c,) array
        Share caught inside of each size class [-], below 1.
    layers : int
        Number of layers n.

    Returns
    -------
    (n, c) array
        Share of each class's catch that falls to each layer, outermost first [-]; sums to 1 over layers.

    Examples
    --------
    >>> layer_shares(np.array([0.75]), 2).ravel().round(3).tolist()
    [0.667, 0.333]
    """
    reach = -np.log1p(-np.minimum(inside, 1.0 - 1e-15)) / layers
    reach = np.maximum(reach, 1e-300)
    return np.asarray(np.exp(-np.arange(layers)[:, None] * reach) * (np.expm1(-reach) / np.expm1(-layers * reach)))


def beta_ratio(efficiency: float | Array) -> Array:
    """Return the beta ratio, particles upstream over particles downstream.

    Parameters
    ----------
    efficiency : float or (...) array
        Share caught in one pass [-], below 1.

    Returns
    -------
    (...) array
        Beta ratio [-], ISO 16889.

    Examples
    --------
    >>> float(beta_ratio(0.9).round(9))
    10.0
    """
    return np.asarray(1.0 / (1.0 - np.asarray(efficiency)))


def efficiency_of_beta(beta: float | Array) -> Array:
    """Return the share caught in one pass that belongs to a beta ratio.

    Parameters
    ----------
    beta : float or (...) array
        Beta ratio [-], at least 1.

    Returns
    -------
    (...) array
        Share caught [-], ISO 16889.

    Examples
    --------
    >>> float(efficiency_of_beta(75.0).round(4))
    0.9867
    """
    return np.asarray(1.0 - 1.0 / np.asarray(beta))


def curve_through_betas(
    rating_m: float, betas: Sequence[tuple[float, float]], *, slope: float, thickness: float = 1.0
) -> CaptureCurve:
    """Fit a capture curve to measured beta ratios.

    Parameters
    ----------
    rating_m : float
        Micron rating [m], the size the curve is written about.
    betas : sequence of (float, float)
        Particle diameter [m] and beta ratio [-] above 1.
    slope : float
        Exponent expected where the points leave it open [-].
    thickness : float, optional
        Thickness of the medium over the one the curve belongs to [-].

    Returns
    -------
    CaptureCurve
        A curve close to every point; points that fit no curve of this form are met on average.

    Notes
    -----
    Least squares on ln(beta / (beta - 1)) and ln(beta), with weak expectations for slope and bypass, which decide only
    what the points leave open. Definition of beta: ISO 16889.

    Examples
    --------
    >>> curve = curve_through_betas(20e-6, [(10e-6, 5.0), (20e-6, 75.0)], slope=3.0)
    >>> float(beta_ratio(caught_in_one_pass(curve, 20e-6)).round(0))
    75.0
    """
    from scipy.optimize import least_squares

    sizes, measured = np.array(betas).T
    caught = efficiency_of_beta(measured)
    bypass_most = 1.0 - float(caught.max())

    def curve(unknowns: Array) -> CaptureCurve:
        log_odds, log_slope, bypass_logit = unknowns
        return CaptureCurve(
            rating_m=rating_m,
            at_rating=float(np.exp(log_odds)),
            slope=float(np.exp(log_slope)),
            bypass=float(bypass_most / (1.0 + np.exp(-bypass_logit))),
            thickness=thickness,
        )

    def residuals(unknowns: Array) -> Array:
        with np.errstate(over="ignore"):  # a step far off: all is caught
            trial = caught_in_one_pass(curve(unknowns), sizes)
        of_passing = np.log((1.0 - trial) / (1.0 - caught))
        of_caught = np.log(np.maximum(trial, 1e-12) / caught)
        expected = 0.01 * np.array([(unknowns[1] - np.log(slope)) / np.log(1.25), unknowns[2] / 3.0])
        return np.concatenate([of_passing, of_caught, expected])

    start = np.array([np.log(caught[-1] / (1.0 - caught[-1])), np.log(slope), 0.0])
    fit = least_squares(residuals, start, xtol=1e-12, ftol=1e-12)
    return curve(np.asarray(fit.x))
