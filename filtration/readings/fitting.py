"""Fit a plain function to what was read: nonlinear least squares with errors, priors, and a covariance.

Shapes: u unknowns, m rows (readings, then priors), k points tried at once.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from filtration.base.arrays import Array, Flags

_TAILS = 4.0  # degrees of freedom of the errors of a reading that may be wrong


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Unknowns fitted to rows.

    Parameters
    ----------
    values : (u,) array
        The likeliest unknowns.
    covariance : (u, u) array
        Of them.
    residuals : (m,) array
        What is left over, over its error [-].
    weights : (m,) array
        How much each row counted, 1 in full [-].
    slopes : (m, u) array
        Of the rows, at the likeliest unknowns.
    evaluations : int
        Points at which the rows were worked out.
    """

    values: Array
    covariance: Array
    residuals: Array
    weights: Array
    slopes: Array
    evaluations: int


def fit(
    rows: Callable[[Array], Array],
    start: Array,
    step: Array,
    *,
    doubtful: Flags | None = None,
    known_errors: bool = True,
    tolerance: float = 1e-12,
) -> Fit:
    """Fit unknowns so that the sum of the squares of the rows is least.

    Parameters
    ----------
    rows : callable
        From points (k, u) to rows (k, m), each a difference over its standard error; those of a prior likewise.
    start : (u,) array
        Where to begin.
    step : (u,) array
        Steps of the central differences that give the slopes; small against the errors of the fit, large against the
        function's own roughness.
    doubtful : (m,) array of bool, optional
        Rows that may be plain wrong: one far off then counts for little, 4 / (4 + z^2) of what it would (the weights of
        Student's t with 4 degrees of freedom, in full for a row that agrees).
    known_errors : bool, optional
        The standard errors are known; else their common scale is taken from what is left over.
    tolerance : float, optional
        Relative change of the sum, of the unknowns, or of the slopes at which to stop [-].

    Returns
    -------
    Fit
        Values and covariance.

    Raises
    ------
    ValueError
        If the rows say nothing of some of the unknowns.

    Notes
    -----
    ``scipy.optimize.least_squares`` (trust region); the covariance is Laplace's, the inverse of the weighted normal
    matrix at the solution. All points of one slope are worked out in one call.

    Examples
    --------
    >>> x = np.arange(4.0)
    >>> line = fit(lambda at: at[:, :1] + at[:, 1:] * x - (3.0 + 2.0 * x), np.zeros(2), np.full(2, 1e-3))
    >>> line.values.round(6).tolist()
    [3.0, 2.0]
    """
    from scipy.optimize import least_squares

    def slopes(point: Array) -> Array:
        aside = np.diag(step)
        both = rows(np.concatenate([point + aside, point - aside]))
        return np.asarray(((both[: len(step)] - both[len(step) :]) / (2.0 * step[:, None])).T)

    def loss(squares: Array) -> Array:
        flags = np.zeros(len(squares), dtype=bool) if doubtful is None else doubtful
        weight = np.where(flags, _TAILS / (_TAILS + squares), 1.0)
        whole = np.where(flags, _TAILS * np.log1p(squares / _TAILS), squares)
        return np.array([whole, weight, np.where(flags, -weight / (_TAILS + squares), 0.0)])

    def at(point: Array) -> Array:
        return np.asarray(rows(point[None])[0])

    stop = dict.fromkeys(("xtol", "ftol", "gtol"), tolerance)
    found = least_squares(at, start, jac=slopes, loss=loss, x_scale="jac", **stop)  # type: ignore[arg-type]  # its stubs want a loss of their own type
    over, weights = found.fun, loss(found.fun**2)[1]
    matrix = slopes(found.x)
    normal = matrix.T @ (weights[:, None] * matrix)
    if np.linalg.matrix_rank(matrix / np.maximum(np.abs(matrix).max(axis=0), 1e-300)) < len(step):
        raise ValueError("the rows say nothing of some of the unknowns")
    covariance = np.linalg.inv(normal)
    if not known_errors:
        covariance = covariance * (weights @ over**2) / (len(over) - len(step))
    count = found.nfev + 2 * len(step) * ((found.njev or 0) + 1)
    return Fit(values=found.x, covariance=covariance, residuals=over, weights=weights, slopes=matrix, evaluations=count)
