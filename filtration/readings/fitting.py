"""Fit a plain function to what was read: nonlinear least squares with errors, priors, and a covariance.

Shapes: u unknowns, m rows (readings, then priors), k points tried at once.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from filtration.base.arrays import Array, Flags

_FAR = 1e100  # standard errors, whose squares can still be added up
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


def weights_of(off: Array) -> Array:
    """Return how much readings count that are so many standard errors off: Student's t with 4 degrees of freedom."""
    return np.asarray(_TAILS / (_TAILS + off**2))


def fit(
    rows: Callable[[Array], Array],
    start: Array,
    step: Array,
    *,
    doubtful: Flags | None = None,
    known_errors: bool = True,
    tolerance: float = 1e-12,
    most: int | None = None,
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
    most : int, optional
        Points to try, after which it stops wherever it is.

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
    matrix at the solution. A point and all those of its slopes are worked out in one call: what that costs hangs on the
    calls far more than on the points.

    Examples
    --------
    >>> x = np.arange(4.0)
    >>> line = fit(lambda at: at[:, :1] + at[:, 1:] * x - (3.0 + 2.0 * x), np.zeros(2), np.full(2, 1e-3))
    >>> line.values.round(6).tolist()
    [3.0, 2.0]
    """
    from scipy.optimize import least_squares

    asked, aside = 0, np.diag(step)
    last = (np.full_like(start, np.nan), np.empty(0), np.empty((0, 0)))

    def seen(point: Array) -> tuple[Array, Array, Array]:
        """Return a point, the rows there and their slopes."""
        nonlocal asked, last
        if not np.array_equal(point, last[0]):
            with np.errstate(all="ignore"):
                every = rows(np.concatenate([point[None], point + aside, point - aside]))
                if not (np.abs(every) < _FAR).all():  # a step too far, which the solver takes back
                    every[:] = np.inf
                above, below = every[1 : 1 + len(step)], every[1 + len(step) :]
                last = (point.copy(), every[0], ((above - below) / (2.0 * step[:, None])).T)
            asked += len(every)
        return last

    def loss(squares: Array) -> Array:
        flags = np.zeros(len(squares), dtype=bool) if doubtful is None else doubtful
        weight = np.where(flags, weights_of(np.sqrt(squares)), 1.0)
        whole = np.where(flags, _TAILS * np.log1p(squares / _TAILS), squares)
        return np.array([whole, weight, np.where(flags, -weight / (_TAILS + squares), 0.0)])

    def at(point: Array) -> Array:
        return seen(point)[1]

    def slopes(point: Array) -> Array:
        return seen(point)[2]

    stop = dict.fromkeys(("xtol", "ftol", "gtol"), tolerance) | {"max_nfev": most}
    found = least_squares(at, start, jac=slopes, loss=loss, x_scale="jac", **stop)  # type: ignore[arg-type]  # its stubs want a loss of their own type
    _, over, matrix = seen(found.x)
    weights = loss(over**2)[1]
    normal = matrix.T @ (weights[:, None] * matrix)
    if np.linalg.matrix_rank(matrix / np.maximum(np.abs(matrix).max(axis=0), 1e-300)) < len(step):
        raise ValueError("the rows say nothing of some of the unknowns")
    covariance = np.linalg.inv(normal)
    if not known_errors:
        covariance = covariance * (weights @ over**2) / (len(over) - len(step))
    return Fit(values=found.x, covariance=covariance, residuals=over, weights=weights, slopes=matrix, evaluations=asked)
