"""What drives an answer, how its flow may fall, and which reading would narrow it most; d draws, u unknowns."""

from collections.abc import Callable, Sequence

import numpy as np

from filtration.answers.chances import parts_of, run_options
from filtration.answers.draws import WatchedRun
from filtration.answers.figures import L_PER_H
from filtration.answers.results import Driver, FlowBand, Measure
from filtration.base.arrays import Array, Flags
from filtration.base.defaults import UNKNOWNS, model
from filtration.base.draws import factors_at, tenths
from filtration.base.units import PA_PER_M
from filtration.loading.assembly import Entry
from filtration.physics.return_line import return_of
from filtration.study.values import Study

_CASES, _LEAST_CASES = 65, 32
_BAND_DAYS = 25
_WATCHED = (0.0, 0.5, 0.8)  # of the median first run
TWICE = "clear tube with and without element"


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
    Saltelli 2010 by ``scipy.stats.sobol_indices``. Of the cost it is the logarithm whose variance is shared out: a few
    draws with short runs would otherwise be much of it. A draw in which the option fails the needs stands at the middle
    of the others, so that it adds nothing: ranges are of the others too.
    """

    def figures(cube: Array) -> Array:
        (drawn,) = run_options(study, [entry], [most_runs], cube.T)
        factors = factors_at(cube.T, study.spreads, study.belief)
        with np.errstate(invalid="ignore", divide="ignore"):
            cost = np.log(parts_of(study, entry, drawn, factors)["total"])
        known = drawn.meets & np.isfinite(cost)
        both = np.array([drawn.first_days, cost]).round(9)  # days that a limit sets differ in their last digits
        middle = np.median(both[:, known], axis=1) if known.any() else np.zeros(2)
        return np.where(known, both, middle[:, None])

    indices = total_indices(figures, len(UNKNOWNS), points, seed)
    return tuple(
        Driver(unknown=unknown.key, of=of, total_index=float(index))
        for of, row in zip(("days_to_first_service", "cost_per_year"), indices, strict=True)
        for unknown, index in sorted(zip(UNKNOWNS, row, strict=True), key=lambda pair: -pair[1])
    )


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
    from scipy.stats import sobol_indices
    from scipy.stats.qmc import Sobol

    one, other = Sobol(2 * unknowns, rng=seed, bits=64).random(points).T.reshape(2, unknowns, points)
    mixed = np.repeat(one[None], unknowns, axis=0)
    mixed[range(unknowns), range(unknowns)] = other  # at a time one unknown of the others
    at = np.concatenate([one, other, *mixed], axis=1)
    of_one, of_other, *of_mixed = np.split(figures(at), unknowns + 2, axis=1)  # all in one go
    with np.errstate(invalid="ignore", divide="ignore"):
        found = sobol_indices(func={"f_A": of_one, "f_B": of_other, "f_AB": np.array(of_mixed)}, n=points)
    return np.nan_to_num(np.atleast_2d(found.total_order), nan=0.0, posinf=0.0, neginf=0.0)


def flow_band(run: WatchedRun, meets: Flags, answer_id: str, last_day: float) -> FlowBand:
    """Return between which flows an option lies on the days of its first run.

    Parameters
    ----------
    run : WatchedRun
        Its first run, draw by draw.
    meets : (d,) array of bool
        Draws in which it meets the needs; those count.
    answer_id : str
        Which option that is.
    last_day : float
        Day to end with, usually that of the first service in the central case [day].

    Returns
    -------
    FlowBand
        10, 50 and 90 % at even steps of time.

    Notes
    -----
    Every draw counts on every day. One that is due earlier keeps its flow when due: the service that would bring it
    back up belongs to the next run. So no draw's flow rises, and neither does the band.
    """
    days = np.linspace(0.0, last_day, _BAND_DAYS).tolist()
    flows = L_PER_H * run.flows_m3_s(days)[:, meets]
    low, middle, high = (tuple(each) for each in tenths(flows).tolist())
    return FlowBand(option=answer_id, day=tuple(days), low_l_per_h=low, middle_l_per_h=middle, high_l_per_h=high)


def measure_next(study: Study, entry: Entry, run: WatchedRun) -> Measure | None:
    """Return the reading, of some that cost a minute, that would narrow the first run most.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.
    run : WatchedRun
        Its first run, draw by draw.

    Returns
    -------
    Measure or None
        None where no run starts.

    Notes
    -----
    The draws are weighed by how well each explains a reading made in one of them; a bucket is off by its mark
    and level, a clear tube by 5 mm and 2 %. A tube shows what lies after it as well, so it is read without element too.
    """
    days = run.first_days
    if (days > 0.0).sum() < _LEAST_CASES:
        return None
    found: list[Measure] = []
    watched = [share * float(np.median(days[days > 0.0])) for share in _WATCHED]
    for watch, whole in zip(watched, run.flows_m3_s(watched), strict=True):
        runs = days > watch
        if runs.sum() < _LEAST_CASES:
            continue
        flow, loss = whole[runs], run.case.loop.left_pa(whole)[runs]
        readings = [("bucket", np.log(flow), np.full(loss.shape, study.hand.bucket))]
        if study.plumbing is not None:
            back = return_of(study.plumbing, study.tub.water, entry.option.housings_in_series).pressure_pa(flow)
            readings.append((TWICE, np.log(loss), tube_spread(loss + back, back) * (loss + back) / loss))
        found += [narrowed(with_what, watch, days[runs], *each) for with_what, *each in readings]
    return min(found, key=lambda each: each.width_share)


def tube_spread(shown_pa: Array, without_pa: Array | float = 0.0) -> Array:
    """Return the standard error of a clear tube.

    Parameters
    ----------
    shown_pa : (d,) array
        What it shows [Pa].
    without_pa : float or (d,) array, optional
        What of that is known from another reading and taken off, with an error of its own [Pa]; 0 for none.

    Returns
    -------
    (d,) array
        Over what is shown [-].

    Examples
    --------
    >>> quarter_pa = np.array([0.25 * PA_PER_M])
    >>> tube_spread(quarter_pa, quarter_pa).round(6)  # 2 % and 5 mm of 25 cm, twice
    array([0.04])
    """
    share, least_pa = model("readings.column"), model("readings.column_height") * PA_PER_M
    first = np.hypot(share * shown_pa, least_pa)
    second = np.where(without_pa > 0.0, np.hypot(share * without_pa, least_pa), 0.0)
    return np.asarray(np.hypot(first, second) / shown_pa)


def narrowed(with_what: str, day: float, days: Array, reading: Array, spread: Array) -> Measure:
    """Return how much a reading would narrow a number of days.

    Parameters
    ----------
    with_what : str
        What is read.
    day : float
        When [day].
    days : (d,) array
        Days, one a draw.
    reading : (d,) array
        What would be read in each draw.
    spread : (d,) array
        Its standard error there.

    Returns
    -------
    Measure
        10 and 90 % of the days without the reading and, in a typical case, with it; the mean share of the width [-].
    """
    order = np.argsort(days, kind="stable")
    days, reading, spread = days[order], reading[order], spread[order]
    truths = np.linspace(0, len(days) - 1, _CASES).astype(int)
    weights = np.exp(-0.5 * ((reading[None, :] - reading[truths, None]) / spread) ** 2)
    below = np.cumsum(weights, axis=1) / weights.sum(axis=1, keepdims=True)
    low, high = (np.array([np.interp(at, each, days) for each in below]) for at in (0.1, 0.9))
    width, (least, _, most) = high - low, tenths(days).tolist()
    share = float(width.mean() / max(most - least, 1e-9))
    middling = np.arange(_CASES // 3, _CASES - _CASES // 3)
    typical = int(middling[np.argmin(np.abs(width - width.mean())[middling])])
    after = (float(low[typical]), float(high[typical]))
    return Measure(with_what=with_what, day=day, before=(least, most), after=after, width_share=share)
