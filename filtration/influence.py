"""What drives an answer, and which reading would narrow it most; d draws, u unknowns."""

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from filtration.answer import Driver, Measure
from filtration.assembly import Entry
from filtration.chances import parts_of, run_options
from filtration.defaults import UNKNOWNS
from filtration.draws import factors_at
from filtration.study import Study

Array = npt.NDArray[np.float64]
_CASES, _LEAST_CASES = 65, 32
_WATCHED = (0.0, 0.5, 0.8)  # of the median first run
_BUCKET_SPREAD, _TUBE_SPREAD, _TUBE_PA = 0.03, 0.02, 50.0


def drivers_of(study: Study, entry: Entry, most_runs: Sequence[int], points: int, seed: int) -> tuple[Driver, ...]:
    """Return which unknowns drive an option's first run and yearly cost.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.
    most_runs : sequence of int
        Runs before each stage of a train is replaced.
    points : int
        Base points, a power of two.
    seed : int
        Which.

    Returns
    -------
    tuple of Driver
        The largest first, figure by figure.

    Notes
    -----
    Saltelli 2010 by ``scipy.stats.sobol_indices``.
    """

    def figures(cube: Array) -> Array:
        (drawn,) = run_options(study, [entry], [most_runs], cube.T)
        factors = factors_at(cube.T, study.spreads)
        total = np.where(drawn.flows, parts_of(study, entry, drawn, factors)["total"], np.nan)
        total = np.where(np.isfinite(total), total, np.nanmax(total) if np.isfinite(total).any() else 0.0)
        return np.array([drawn.first_days, total])

    indices = total_indices(figures, len(UNKNOWNS), points, seed)
    drivers = [
        Driver(unknown=unknown.key, of=of, total_index=float(index))
        for of, row in zip(("days_to_first_service", "cost_per_year"), indices, strict=True)
        for unknown, index in sorted(zip(UNKNOWNS, row, strict=True), key=lambda pair: -pair[1])
    ]
    return tuple(drivers)


def total_indices(figures: Callable[[Array], Array], unknowns: int, points: int, seed: int) -> Array:
    """Return total Sobol indices of functions on the unit cube.

    Parameters
    ----------
    figures : callable
        From (u, m) points to (f, m) figures.
    unknowns : int
        Number of coordinates u.
    points : int
        Base points, a power of two.
    seed : int
        Which.

    Returns
    -------
    (f, u) array
        Indices [-]; 0 for a figure that does not vary.
    """
    from scipy.stats import sobol_indices, uniform

    with np.errstate(invalid="ignore", divide="ignore"):
        found = sobol_indices(func=figures, n=points, dists=[uniform()] * unknowns, rng=seed)  # type: ignore[list-item]  # its stubs and its own distributions disagree
    return np.nan_to_num(np.atleast_2d(found.total_order), nan=0.0, posinf=0.0, neginf=0.0)


def measure_next(study: Study, entry: Entry, most_runs: Sequence[int], points: Array) -> Measure | None:
    """Return the reading, of some that cost a minute, that would narrow the first run most.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.
    most_runs : sequence of int
        Runs before each stage of a train is replaced.
    points : (d, u) array
        One coordinate for each unknown.

    Returns
    -------
    Measure or None
        None where no run starts.

    Notes
    -----
    The draws are weighed by how well each explains a reading made in one of them; a bucket is off by 3 % (marks and
    watch), a clear tube by 5 mm and 2 %.
    """
    days = run_options(study, [entry], [most_runs], points)[0].first_days
    if (days > 0.0).sum() < _LEAST_CASES:
        return None
    found: list[Measure] = []
    for share in _WATCHED:
        watch = share * float(np.median(days[days > 0.0]))
        (drawn,) = run_options(study, [entry], [most_runs], points, watch)
        runs = (drawn.first_days > watch) & (days > 0.0)
        if runs.sum() < _LEAST_CASES:
            continue
        loss = drawn.watched_loss_pa[runs]
        readings = (
            ("bucket", np.log(drawn.watched_flow_m3_s[runs]), np.full(loss.shape, _BUCKET_SPREAD)),
            ("clear tube", np.log(loss), np.hypot(_TUBE_SPREAD, _TUBE_PA / loss)),
        )
        for with_what, reading, spread in readings:
            before, after = _narrowed(days[runs], reading, spread)
            found.append(Measure(with_what=with_what, day=watch, before=before, after=after))
    return min(found, key=lambda each: (each.after[1] - each.after[0]) / (each.before[1] - each.before[0] + 1e-9))


def _narrowed(days: Array, reading: Array, spread: Array) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return 10 and 90 % of the days without and, in a typical case, with a reading."""
    order = np.argsort(days, kind="stable")
    days, reading, spread = days[order], reading[order], spread[order]
    truths = np.linspace(0, len(days) - 1, _CASES).astype(int)
    weights = np.exp(-0.5 * ((reading[None, :] - reading[truths, None]) / spread) ** 2)
    below = np.cumsum(weights, axis=1) / weights.sum(axis=1, keepdims=True)
    low, high = (np.array([np.interp(at, each, days) for each in below]) for at in (0.1, 0.9))
    typical = int(np.argsort(high - low, kind="stable")[_CASES // 2])
    before = np.percentile(days, (10.0, 90.0))
    return (float(before[0]), float(before[1])), (float(low[typical]), float(high[typical]))
