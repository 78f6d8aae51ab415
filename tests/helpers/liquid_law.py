"""The loading law fitted to open runs of a small filter in a liquid, and the lives it foretells.

The filter's area, thickness and fibres are not known, so that a mat of 1 m2 by 1 m stands for it: what is fitted is
then what the runs fix, density times area times thickness for one. Table, loss and fit are the program's own.
Shapes: k points of the unknowns, u unknowns, m bins, g points of a table.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from liquid_runs import END_PA, READ_PA, WATER, Run, binned
from scipy.special import expit, logit
from scipy.stats import t as student

from filtration.base.arrays import Array
from filtration.base.draws import ONE_IN_TEN, central_factors
from filtration.base.errors import InputError
from filtration.loading.law import CAKE_REFERENCE_PA, POWER
from filtration.loading.stage import Resistance, Stage, drag_of, fed_per_day, stage_of
from filtration.loading.table import FINE, Course, Duty, table_of
from filtration.physics.permeability import permeability_m2
from filtration.readings.fitting import fit
from filtration.validation.specimens import flat_mat

BINS = 40  # of a life, in equal masses: a reading of a second scatters by a third of the clean loss

# Unknowns: logarithms of clean loss [Pa], density x area x thickness [kg], thickness over depth [-]; the share of the
# clean void that the outermost layer fills before all stays on the face, as log odds; logarithms of cake resistance
# over area squared [1/(kg m3)] and of density x area x free half-gap [kg]. Fixed is what share of the mat is solid.
_PRIOR_SD = np.array([0.3, 1.0, 1.0, 1.0, 1.5, 0.7])
_STEP = np.full(len(_PRIOR_SD), 1e-2)
_SOLID = 0.20
_LAW_ERROR, _LIFE_ERROR, _FACTOR_SD = 0.1, 0.002, 0.1  # of a pressure, of the mean life, of one run's masses [-]
_FAR_SD = 5.0
_SMOOTH = replace(FINE, step=0.08)  # by longer steps the slopes of a fit are rough
_FAR_PA = 3.0 * END_PA
_MAT = flat_mat(solid_fraction=_SOLID, fibre_m=1.0, thickness_m=1.0, area_m2=1.0)


# ---- the loading law ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curves:
    """The law along the mass fed, point by point: mass (g, k) [kg] and what the filter does to the flow (g, k)."""

    fed_kg: Array
    resistance: Resistance

    def loss_pa(self, flow_m3_s: float) -> Array:
        """Return the losses (g, k) at a steady flow."""
        return self.resistance.loss_pa(np.full(self.fed_kg.shape, flow_m3_s))

    def log_pa(self, fed_kg: Array, flow_m3_s: Array) -> Array:
        """Return logarithms of the losses (k, m) at masses fed and flows (m,)."""
        found = [
            Resistance(*(np.interp(fed_kg, self.fed_kg[:, point], part[:, point]) for part in self.resistance)).loss_pa(
                flow_m3_s
            )
            for point in range(self.fed_kg.shape[1])
        ]
        return np.log(found)

    def life_kg(self, flow_m3_s: float) -> Array:
        """Return the masses (k,) at which a steady flow takes 137.9 kPa, or the filter is full."""
        losses = np.log(self.loss_pa(flow_m3_s))
        both = zip(losses.T, self.fed_kg.T, strict=True)
        return np.array([np.interp(np.log(END_PA), *each) for each in both])


def stage_at(unknowns: Array, flow_m3_s: float) -> Stage:
    """Return the mat at points (k, u), whose clean loss is at a flow."""
    clean, layers, depth, onset, cake, gap = unknowns.T
    log_past = -np.exp(depth)[None].astype(np.float32)
    permeability = WATER.viscosity_pa_s * flow_m3_s / np.exp(clean)
    return replace(
        stage_of(_MAT, central_factors(len(unknowns)), WATER, np.inf),
        fibre_squared_m2=permeability / permeability_m2(_SOLID, 1.0),
        density_kg_m3=np.exp(layers),
        onset=_onset(onset),
        drag_per_kg=WATER.viscosity_pa_s * np.exp(cake) / CAKE_REFERENCE_PA**POWER,
        room_kg=np.exp(gap),
        log_past=log_past,
        inside=-np.expm1(log_past),
    )


def _onset(log_odds: Array) -> Array:
    """Return the solid fraction at which all stays on the face."""
    onset: Array = _SOLID + (1.0 - _SOLID) * expit(log_odds)
    return onset


def curves_of(unknowns: Array, flow_m3_s: float) -> Curves:
    """Return the program's table of the mat at points (k, u), a kilogram of solids fed a day."""
    stage, ones = stage_at(unknowns, flow_m3_s), np.ones(len(unknowns))
    course = Course(
        fed_kg_day=fed_per_day(stage, stage.inside),
        rise=np.zeros((2, len(ones))),
        days=ones,
        shares=ones[None],
        outer_shares=ones[None],
    )
    duty = Duty(flow_m3_s=flow_m3_s * ones, loss_pa=_FAR_PA * ones, growth_per_day=0.0 * ones)
    table = table_of(stage, duty, course, _SMOOTH)
    linear = table.rest_pa.astype(float) / flow_m3_s
    drag = drag_of(stage, table.cake_kg.astype(float))
    return Curves(fed_kg=table.days.astype(float), resistance=Resistance(linear, np.zeros_like(linear), drag))


# ---- what runs teach, and what is foretold -----------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, eq=False)
class Learned:
    """What the runs of one particle size teach: the law fitted to them, and their plain means.

    ``unknowns`` (u,) and ``covariance`` (u, u) are those at ``flow_m3_s``, what the pumps are set to.
    """

    runs: tuple[Run, ...]
    flow_m3_s: float
    unknowns: Array
    covariance: Array

    @cached_property
    def curves(self) -> Curves:
        """The law as fitted."""
        return curves_of(self.unknowns[None], self.flow_m3_s)

    @cached_property
    def end_share(self) -> float:
        """What is left of the pump's flow at the end [-]."""
        return _mean(run.end_share for run in self.runs)

    @cached_property
    def mean_s(self) -> float:
        """Mean of the lives."""
        return _mean(run.life[0] for run in self.runs)

    @cached_property
    def mean_kg(self) -> float:
        """Mean of the masses to the end."""
        return _mean(run.life[1] for run in self.runs)

    @cached_property
    def mean_ratio(self) -> float:
        """Mean of the masses to the end over those to 34 kPa."""
        return _mean(run.life[1] / run.first_at(READ_PA)[1] for run in self.runs)

    @cached_property
    def mean_factor(self) -> float:
        """Mean of their factors: what the law's own misfit up to 34 kPa asks for."""
        return _mean(self.factor(run) for run in self.runs)

    @cached_property
    def log_sd(self) -> float:
        """Standard deviation of a further life's logarithm: the spread of those learned from, and the fit's own."""
        off = np.log([run.life[1] / self.life_kg(run) for run in self.runs])
        aside = self.unknowns + np.concatenate([np.diag(_STEP), -np.diag(_STEP)])
        masses = np.log(curves_of(aside, self.flow_m3_s).life_kg(self.end_share * self.flow_m3_s))
        slopes = (masses[: len(_STEP)] - masses[len(_STEP) :]) / (2.0 * _STEP)
        return float(np.sqrt((off**2).sum() / (len(off) - 1) + slopes @ self.covariance @ slopes))

    @property
    def rms_log_pressure(self) -> float:
        """Root mean square of the logarithm of a run's pressure over the law's, each a mean over a bin."""
        return float(np.sqrt(np.mean(np.concatenate([self._off(run) for run in self.runs]) ** 2)))

    def _off(self, run: Run) -> Array:
        seen = binned([run], self.mean_kg / BINS)
        off: Array = np.log(seen.pressure_pa) - self.curves.log_pa(seen.fed_kg, seen.flow_m3_s)[0]
        return off

    def life_kg(self, run: Run) -> float:
        """Return the mass to the end at a run's flow."""
        return float(self.curves.life_kg(self.end_share * run.set_flow_m3_s)[0])

    def interval_kg(self, run: Run) -> tuple[float, float]:
        """Return the 80 % interval of that mass."""
        aside = float(student.ppf(0.9, len(self.runs) - 1)) * self.log_sd
        return self.life_kg(run) * float(np.exp(-aside)), self.life_kg(run) * float(np.exp(aside))

    def factor(self, run: Run) -> float:
        """Return the one factor on all masses that a run's readings up to 34 kPa ask for."""
        seen = binned([run], self.mean_kg / BINS, READ_PA)

        def rows(points: Array) -> Array:
            said = [self.curves.log_pa(seen.fed_kg / factor, seen.flow_m3_s)[0] for factor in np.exp(points[:, 0])]
            return np.hstack([(np.array(said) - np.log(seen.pressure_pa)) / _LAW_ERROR, points / _FACTOR_SD])

        found = fit(rows, np.zeros(1), _STEP[:1]).values
        return float(np.exp(found[0]))

    def products(self) -> dict[str, dict[str, float]]:
        """Return what the runs fix of the filter, each with its 80 % interval."""
        aside = np.array([[0.0], [-ONE_IN_TEN], [ONE_IN_TEN]]) * np.sqrt(np.diag(self.covariance))
        clean, layers, depth, onset, cake, gap = (self.unknowns + aside).T
        found = {
            "clean_loss_kpa": 1e-3 * np.exp(clean),
            "density_area_thickness_g": 1e3 * np.exp(layers),
            "thickness_over_depth": np.exp(depth),
            "onset_solid_fraction": _onset(onset),
            "cake_over_area_squared_per_kg_m3": np.exp(cake),
            "density_area_gap_g": 1e3 * np.exp(gap),
        }
        return {name: dict(zip(("middle", "low", "high"), each.tolist(), strict=True)) for name, each in found.items()}


def learn(runs: Sequence[Run]) -> Learned:
    """Fit the law to runs of one particle size.

    Rows are the mean pressure of the runs in each fortieth of a life, within a tenth, which is the law's own error; the
    mass to the end, within a fifth of a per cent, so that the law ends where the runs do; and a wide prior about round
    figures, by which no unknown runs away.
    """
    flow, share = _mean(run.set_flow_m3_s for run in runs), _mean(run.end_share for run in runs)
    end_kg = _mean(run.life[1] for run in runs)
    seen = binned(runs, end_kg / BINS)
    drag = 1e4 / (0.3 * end_kg * flow * 2e4**POWER)  # three tenths of the solids as a cake that takes 10 of 20 kPa
    about = np.array(
        [
            np.log(seen.pressure_pa[:3].mean()),
            np.log(2.0 * end_kg),
            0.0,
            logit(0.375),
            np.log(drag * CAKE_REFERENCE_PA**POWER / WATER.viscosity_pa_s),
            np.log(0.6 * end_kg),
        ]
    )

    def rows(points: Array) -> Array:
        near = np.clip(points, about - _FAR_SD * _PRIOR_SD, about + _FAR_SD * _PRIOR_SD)  # a search takes wild steps
        curves = curves_of(near, flow)
        off = (curves.log_pa(seen.fed_kg, seen.flow_m3_s) - np.log(seen.pressure_pa)) / _LAW_ERROR
        end = np.log(curves.life_kg(share * flow) / end_kg)[:, None] / _LIFE_ERROR
        return np.hstack([off, end, (points - about) / _PRIOR_SD])

    found = fit(rows, about, _STEP, tolerance=1e-8)
    return Learned(runs=tuple(runs), flow_m3_s=flow, unknowns=found.values, covariance=found.covariance)


def learn_by_size(runs: Sequence[Run]) -> dict[str, Learned]:
    """Learn each particle size on its own.

    Raises
    ------
    InputError
        If there is only one run of a size, which shows no spread.
    """
    sizes = sorted({run.particles_um for run in runs})
    by_size = {size: [run for run in runs if run.particles_um == size] for size in sizes}
    if alone := [size for size, some in by_size.items() if len(some) == 1]:
        raise InputError(*(f"there is only one run of {size} um to learn from; it takes two" for size in alone))
    return {size: learn(some) for size, some in by_size.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Errors:
    """What was foretold of runs held against what came: mean relative errors [-], and counts.

    ``law``, ``constant_mass`` and ``constant_time`` know solids, flow and particle size; ``law_read`` and
    ``ratio_read`` also the readings up to 34 kPa. ``learning`` is that of the lives learned from, of the worse size.
    """

    runs: int
    law: float
    constant_mass: float
    constant_time: float
    law_read: float
    ratio_read: float
    learning: float
    held_80: int


def judge(learned: dict[str, Learned], runs: Sequence[Run]) -> Errors:
    """Foretell the lives of runs, and hold them against what came.

    Raises
    ------
    InputError
        If a size was never learned.
    """
    known = " and ".join(f"{size} um" for size in learned)
    if strange := sorted({run.particles_um for run in runs} - set(learned)):
        raise InputError(*(f"particles of {size} um were never learned: only {known} were" for size in strange))
    pairs = [(learned[run.particles_um], run) for run in runs]
    held = 0
    for each, run in pairs:
        low, high = each.interval_kg(run)
        held += run.seconds_to(low) <= run.life[0] <= run.seconds_to(high)

    def off(foretold: Iterable[tuple[float, Run]]) -> float:
        return _mean(abs(life / run.life[0] - 1.0) for life, run in foretold)

    return Errors(
        runs=len(runs),
        law=off((run.seconds_to(each.life_kg(run)), run) for each, run in pairs),
        constant_mass=off((run.seconds_to(each.mean_kg), run) for each, run in pairs),
        constant_time=off((each.mean_s, run) for each, run in pairs),
        law_read=off(
            (run.seconds_to(each.life_kg(run) * each.factor(run) / each.mean_factor), run) for each, run in pairs
        ),
        ratio_read=off((run.seconds_to(each.mean_ratio * run.first_at(READ_PA)[1]), run) for each, run in pairs),
        learning=max(off((run.seconds_to(each.life_kg(run)), run) for run in each.runs) for each in learned.values()),
        held_80=held,
    )


def _mean(values: Iterable[float]) -> float:
    return float(np.mean(list(values)))
