"""Open loading runs of a fibre mat in air: the data, the loading law on a run's record, and forecasts of its life.

Source: Mauthe, Bakir, Scheerer & Zeiler, "Prognosis based on Varying Data Quality", v1.0, Hochschule Esslingen 2022
(Hagmeyer, Mauthe & Zeiler, IJPHM 12(2), 2021). The file is no part of the product.
Shapes: k points of the unknowns, u unknowns, n readings of a record, g points of a table, d draws.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import product
from pathlib import Path

import numpy as np
from CoolProp.CoolProp import PropsSI
from scipy.linalg import cho_factor, cho_solve, solve_triangular

from filtration.base.arrays import Array
from filtration.base.draws import central_factors
from filtration.loading.stage import Stage, resistance_of, stage_of
from filtration.loading.table import on_face
from filtration.physics.water import Water
from filtration.readings.fitting import Fit, fit
from filtration.validation.specimens import flat_mat

OPEN_DATA = Path(__file__).resolve().parents[3] / "shared" / "data" / "filter_loading" / "runs.csv"
ABSENT = "the open loading runs are not part of the product; see docs/validation.md"
FULL_PA = 600.0
MAT_M2, MAT_M, MAT_SOLID, FIBRE_M, DUST_KG_M3, LAYERS = 6131e-6, 0.020, 0.015, 23e-6, 1025.0, 24
CUTS = (0.6, 0.7, 0.8)
MOST_SECONDS = 200  # that a forecast looks ahead

# Unknowns of a run: logarithms of deposit density [kg/m3], depth 1/lambda [m], solid fraction that the outermost layer
# takes up before all stays on the face [-] and cake resistance [m/kg]; then the offset of the gauge [Pa]. Before any
# run is seen they are about what model.md, section 8, gives, wide enough for any of them to be twice that or half.
_FIRST_MEAN = np.array([np.log(850.0), np.log(0.035), np.log(0.052 - MAT_SOLID), np.log(1.7e8), 0.0])
_FIRST_SD = np.array([0.5, 0.4, 0.6, 0.5, 15.0])
_STEP = np.array([1e-3, 1e-3, 1e-3, 1e-3, 1e-1])
_ROUNDS = 3
_SHARES = (0.03, 0.05, 0.08, 0.12)
_REACHES_KG_M2 = (0.08, 0.16, 0.32, 0.64)  # at most about a third of a run; what lasts longer is for the unknowns
_LEAST_PA, _ROUNDING_PA = 60.0, 1.0
_CLOCK = 1.0 - np.linspace(1.0, 0.0, 65)[:-1] ** 4  # how far the outermost layer is on its way; dense at the end
_FAR_KG_M2, _GRID_KG_M2 = 10.0, 0.01


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """One run to blocking, a reading a second; arrays are (n,)."""

    number: int
    profile: str
    feed_kg_m2: Array
    reading_pa: Array
    velocity_m_s: float
    life_s: float

    @property
    def fed_kg_m2(self) -> Array:
        """Dust fed by the end of each second."""
        return np.cumsum(self.feed_kg_m2)

    @property
    def middle_kg_m2(self) -> Array:
        """Dust fed by the middle of each second: what the mean reading of that second belongs to."""
        return self.fed_kg_m2 - 0.5 * self.feed_kg_m2

    @property
    def blocked_kg_m2(self) -> float:
        """Dust fed by the end of the run's life."""
        return float(np.interp(self.life_s, np.arange(len(self.feed_kg_m2) + 1), np.append(0.0, self.fed_kg_m2)))

    def cut(self, share: float) -> int:
        """Seconds of record left when the run is cut at a share of its life."""
        return int(share * self.life_s)

    def seconds_to(self, fed_kg_m2: Array | float, cut: int) -> Array:
        """Seconds from a cut until so much is fed, with the feed as set: the last one goes on, a cycle repeats."""
        last = self.feed_kg_m2[-20:] if self.profile == "cycles" else self.feed_kg_m2[-1:]
        ahead = np.concatenate([self.feed_kg_m2, np.resize(last, MOST_SECONDS)])[cut : cut + MOST_SECONDS]
        seconds: Array = np.interp(
            fed_kg_m2 - self.fed_kg_m2[cut - 1], np.append(0.0, np.cumsum(ahead)), np.arange(len(ahead) + 1.0)
        )
        return seconds


@cache
def read_runs() -> tuple[Run, ...]:
    """Read all runs."""
    import pandas as pd

    runs = []
    for number, table in pd.read_csv(OPEN_DATA).groupby("run"):
        feed = table["dust_feed_mm3_per_s"].to_numpy(float) * 1e-9 * DUST_KG_M3 / MAT_M2
        run = Run(
            number=int(str(number)),
            profile=_profile(feed),
            feed_kg_m2=feed,
            reading_pa=table["pressure_drop_pa"].to_numpy(float),
            velocity_m_s=float(table["flow"].median()) * 1e-3 / 60.0 / MAT_M2,
            life_s=float(table["time_s"].iloc[0] + table["remaining_life_s"].iloc[0]),
        )
        runs.append(run)
    return tuple(runs)


def _profile(feed: Array) -> str:
    if np.count_nonzero(np.diff(feed)) > 10:
        return "cycles"
    fast = feed > 0.9 * feed.max()
    if fast[0]:
        return "fast, then slow"
    return "slow, fast, slow" if fast[50] else "slow, then fast"


@dataclass(frozen=True, slots=True, kw_only=True)
class Collapse:
    """How well all runs fall on one curve.

    ``explained``, the share of the variance of all readings that the mean of the other runs explains [-]; ``rms_pa``,
    what is left over; ``alike_pa`` and ``unlike_pa``, rms differences of two runs with the same feed profile and with
    different ones.
    """

    explained: float
    rms_pa: float
    alike_pa: float
    unlike_pa: float


def collapse(runs: Sequence[Run], *, by_time: bool) -> Collapse:
    """Hold each run against the others at equal time or equal mass fed, as far as the shortest of them goes.

    A gauge's offset is the mean of its readings over the first gram of dust, less that of all runs: no later reading
    helps a run onto the curve.
    """
    axes = [np.arange(1.0, len(run.reading_pa) + 1.0) - 0.5 if by_time else run.middle_kg_m2 for run in runs]
    grid = np.linspace(0.05, 1.0, 60) * min(axis[-1] for axis in axes)
    early = np.array([run.reading_pa[run.middle_kg_m2 < 1e-3 / MAT_M2].mean() for run in runs])
    drops = np.array([np.interp(grid, axis, run.reading_pa) for axis, run in zip(axes, runs, strict=True)])
    drops -= (early - early.mean())[:, None]
    off = drops - (drops.sum(axis=0) - drops) / (len(runs) - 1)
    apart = ((drops[:, None] - drops) ** 2).mean(axis=2)
    alike = np.array([[one.profile == other.profile for other in runs] for one in runs])
    return Collapse(
        explained=float(1.0 - (off**2).sum() / ((drops - drops.mean()) ** 2).sum()),
        rms_pa=float(np.sqrt((off**2).mean())),
        alike_pa=float(np.sqrt(apart[alike & ~np.eye(len(runs), dtype=bool)].mean())),
        unlike_pa=float(np.sqrt(apart[~alike].mean())),
    )


# ---- the loading law ---------------------------------------------------------------------------------------------


@cache
def _mat() -> tuple[Stage, float]:
    """Return the mat as the program sees it, in air of 20 degC, and the viscosity of that air."""
    density, viscosity = (float(PropsSI(what, "T", 293.15, "P", 101325.0, "Air")) for what in ("D", "V"))
    air = Water(temperature_c=20.0, density_kg_m3=density, viscosity_pa_s=viscosity)
    medium = flat_mat(solid_fraction=MAT_SOLID, fibre_m=FIBRE_M, thickness_m=MAT_M, area_m2=MAT_M2)
    return stage_of(medium, central_factors(), air, np.inf), viscosity


def loading_curves(unknowns: Array) -> tuple[Array, Array]:
    """Return dust fed [kg/m2] and loss over face velocity [Pa s/m] along each point's clock, shape (g, k) each.

    Layers fill in proportion to one clock, what has been let into them (model.md, section 8); of each gram that comes
    the share that the outermost layer no longer lets in stays on the face; what passes the mat is gone.
    """
    mat, viscosity = _mat()
    density, depth, room, cake = np.exp(unknowns[:, :4]).T
    stage = replace(mat, density_kg_m3=density, onset=MAT_SOLID + room)
    passing = np.exp(-np.linspace(0.0, MAT_M, LAYERS + 1)[:, None] / depth)
    caught = passing[:-1] - passing[1:]
    whole = room * density * (MAT_M / LAYERS) / caught[0]
    let_in = _CLOCK[:, None] * whole
    layers = resistance_of(stage, MAT_M2 * let_in[:, None] * caught, np.zeros_like(let_in)).linear
    middle = 0.5 * (let_in[1:] + let_in[:-1]) * caught[0] * MAT_M2
    fed = np.cumsum(np.diff(let_in, axis=0) / (1.0 - on_face(stage, middle)), axis=0)
    fed = np.concatenate([np.zeros_like(fed[:1]), fed])
    loss = MAT_M2 * layers + viscosity * cake * (fed - let_in)
    beyond = viscosity * cake * _FAR_KG_M2
    return np.concatenate([fed, fed[-1:] + _FAR_KG_M2]), np.concatenate([loss, loss[-1:] + beyond])


def readings_pa(unknowns: Array, fed_kg_m2: Array, velocity_m_s: float) -> Array:
    """Return what the gauge shows at each mass fed, shape (k, n) [Pa]."""
    at, loss = loading_curves(unknowns)
    drop = np.array([np.interp(fed_kg_m2, *curve) for curve in zip(at.T, loss.T, strict=True)])
    return velocity_m_s * drop + unknowns[:, 4:]


# ---- one record --------------------------------------------------------------------------------------------------


def law_off_pa() -> float:
    """Return how far the loading law of model.md, section 8, is off the median of the runs, root mean square [Pa]."""
    runs = read_runs()
    grid = np.linspace(0.1, min(run.fed_kg_m2[-1] for run in runs), 40)
    measured = np.median([np.interp(grid, run.fed_kg_m2, run.reading_pa) for run in runs], axis=0)
    off = readings_pa(_FIRST_MEAN[None], grid, runs[0].velocity_m_s)[0] - measured
    return float(np.sqrt((off**2).mean()))


def scatter_pa(reading_pa: Array) -> float:
    """Return the standard deviation of readings from one second to the next, by their second differences [Pa]."""
    return float(np.sqrt((np.diff(reading_pa, 2) ** 2).mean() / 6.0))


def smoothed(reading_pa: Array, width: int = 7) -> Array:
    """Return a running mean, shorter at the ends."""
    ones = np.ones(width)
    mean: Array = np.convolve(reading_pa, ones, "same") / np.convolve(np.ones(len(reading_pa)), ones, "same")
    return mean


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Belief:
    """What training runs say of a run not seen.

    ``mean`` (u,) and ``covariance`` (u, u) of the unknowns; ``share``, how far the law is off over the drop (with 60 Pa
    added), and ``reach_kg_m2``, over what mass it stays so; ``early_pa`` (2,), how far below 600 Pa the law stands when
    a reading first passes it, as a line over the scatter of the readings, and ``early_sd_pa`` about that line.
    """

    mean: Array
    covariance: Array
    share: float
    reach_kg_m2: float
    early_pa: Array
    early_sd_pa: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Record:
    """A run's record up to a cut, with the law fitted to it."""

    run: Run
    belief: Belief
    cut: int
    fitted: Fit
    point: Array
    off_pa: Array
    root: Array

    @property
    def fed_kg_m2(self) -> Array:
        """Mass that each reading belongs to."""
        return self.run.middle_kg_m2[: self.cut]

    @property
    def scatter_pa(self) -> float:
        """Scatter of the readings."""
        return scatter_pa(self.run.reading_pa[: self.cut])

    def error_ahead(self, fed_kg_m2: Array, drop_pa: Array) -> tuple[Array, Array]:
        """Return mean and standard deviation of the law's error at masses ahead, given what it was so far [Pa]."""
        seen = _law_error_pa(self.belief.share, smoothed(self.run.reading_pa[: self.cut]))
        ahead = _law_error_pa(self.belief.share, drop_pa)
        apart = np.abs(fed_kg_m2[:, None] - self.fed_kg_m2) / self.belief.reach_kg_m2
        shared = solve_triangular(self.root, (ahead[:, None] * np.exp(-apart) * seen).T, lower=True)
        mean = shared.T @ solve_triangular(self.root, self.off_pa, lower=True)
        return mean, np.sqrt(np.maximum(ahead**2 - (shared**2).sum(axis=0), 0.0))


def _law_error_pa(share: float, drop_pa: Array) -> Array:
    error: Array = share * (np.clip(drop_pa, 0.0, FULL_PA) + _LEAST_PA)
    return error


def _covariance(run: Run, cut: int, share: float, reach_kg_m2: float) -> Array:
    """Return the covariance (n, n) of readings about the law: its own error, shared by neighbours, and scatter."""
    reading, fed = run.reading_pa[:cut], run.middle_kg_m2[:cut]
    error = _law_error_pa(share, smoothed(reading))
    shared = np.outer(error, error) * np.exp(-np.abs(fed[:, None] - fed) / reach_kg_m2)
    whole: Array = shared + np.diag(np.full(cut, scatter_pa(reading) ** 2 + _ROUNDING_PA**2))
    return whole


def fit_record(run: Run, cut: int, belief: Belief, start: Array | None = None) -> Record:
    """Fit the law to the first readings of a run; neighbours share the law's error, the belief stands as rows."""
    root: Array = np.linalg.cholesky(_covariance(run, cut, belief.share, belief.reach_kg_m2)).astype(np.float64)
    whiten = np.linalg.inv(root)
    prior = np.linalg.inv(np.linalg.cholesky(belief.covariance))
    fed, reading = run.middle_kg_m2[:cut], run.reading_pa[:cut]

    def rows(points: Array) -> Array:
        off = readings_pa(points, fed, run.velocity_m_s) - reading
        return np.hstack([off @ whiten.T, (points - belief.mean) @ prior.T])

    fitted = fit(rows, belief.mean if start is None else start, _STEP)
    point = fitted.values  # noqa: PD011 - no pandas here
    off = reading - readings_pa(point[None], fed, run.velocity_m_s)[0]
    return Record(run=run, belief=belief, cut=cut, fitted=fitted, point=point, off_pa=off, root=root)


# ---- what training runs teach ------------------------------------------------------------------------------------

_FIRST = Belief(
    mean=_FIRST_MEAN,
    covariance=np.diag(_FIRST_SD**2),
    share=0.05,
    reach_kg_m2=0.16,
    early_pa=np.zeros(2),
    early_sd_pa=0.0,
)


@cache
def _first_record(place: int) -> Record:
    """Fit a run under the belief before any is seen: the same whichever runs it is learnt with."""
    run = read_runs()[place]
    return fit_record(run, len(run.reading_pa) - 2, _FIRST)


def learn(runs: Sequence[Run]) -> Belief:
    """Return the belief that training runs teach: mean and spread of their unknowns, by a few rounds of fits.

    Each round fits every run under the belief so far, chooses the law's error by its likelihood, and takes the new
    belief from the fits (their spread and their own uncertainty: expectation and maximisation).
    """
    belief = _FIRST
    records = [_first_record(read_runs().index(run)) for run in runs]
    for further in range(_ROUNDS):
        if further:
            records = [
                fit_record(record.run, len(record.run.reading_pa) - 2, belief, record.point) for record in records
            ]
        values = np.array([record.point for record in records])
        share, reach = _likeliest_error(records)
        own = np.mean([record.fitted.covariance for record in records], axis=0)
        belief = replace(
            belief, mean=values.mean(axis=0), covariance=np.cov(values.T) + own, share=share, reach_kg_m2=reach
        )
    scatter, early = [], []
    for record in records:
        run = record.run
        at = np.array([run.blocked_kg_m2])
        drop = readings_pa(record.point[None], at, run.velocity_m_s)[0]
        early += [float(FULL_PA - drop[0] - record.error_ahead(at, drop)[0][0])] * len(CUTS)
        scatter += [scatter_pa(run.reading_pa[: run.cut(share)]) for share in CUTS]
    slope, level = np.polyfit(scatter, early, 1)
    about = np.std(np.array(early) - level - slope * np.array(scatter), ddof=2)
    return replace(belief, early_pa=np.array([level, slope]), early_sd_pa=float(about))


def _likeliest_error(records: Sequence[Record]) -> tuple[float, float]:
    """Return share and reach of the law's error that make the records likeliest, unknowns integrated out (linear)."""
    linear = []
    for record in records:
        point, run = record.point, record.run
        aside = np.diag(_STEP)
        both = readings_pa(np.concatenate([point + aside, point - aside]), record.fed_kg_m2, run.velocity_m_s)
        slopes = (both[: len(point)] - both[len(point) :]).T / (2.0 * _STEP)
        linear.append((slopes, record.off_pa + slopes @ (point - record.belief.mean)))

    def log_likelihood(share: float, reach: float) -> float:
        total = 0.0
        for record, (slopes, off) in zip(records, linear, strict=True):
            covariance = _covariance(record.run, record.cut, share, reach)
            factor = cho_factor(covariance + slopes @ record.belief.covariance @ slopes.T, lower=True)
            total -= np.log(np.diag(factor[0])).sum() + 0.5 * float(off @ cho_solve(factor, off))
        return total

    return max(product(_SHARES, _REACHES_KG_M2), key=lambda pair: log_likelihood(*pair))


def life_left_s(run: Run, cut: int, belief: Belief, draws: int = 256, seed: int = 0) -> Array:
    """Return draws (d,) of the seconds left until a reading passes 600 Pa, from the record up to a cut."""
    record, rng = fit_record(run, cut, belief), np.random.default_rng(seed)
    root = np.linalg.cholesky(record.fitted.covariance)
    points = record.point + rng.standard_normal((draws, len(root))) @ root.T
    ahead = run.fed_kg_m2[cut - 1] + np.arange(0.0, 2.0, _GRID_KG_M2)
    drop = readings_pa(points, ahead, run.velocity_m_s)
    mean, sd = record.error_ahead(ahead, np.median(drop, axis=0))
    shown = drop + mean + sd * rng.standard_normal((draws, 1))
    early = belief.early_pa @ np.array([1.0, record.scatter_pa]) + belief.early_sd_pa * rng.standard_normal(draws)
    passed = shown >= FULL_PA - early[:, None]
    first = np.where(passed.any(axis=1), passed.argmax(axis=1), len(ahead) - 1)
    return run.seconds_to(ahead[first], cut)
