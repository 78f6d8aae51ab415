"""An option put before many draws of what is not known exactly: set up, walked, and judged; d draws."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from filtration.assembly import Entry
from filtration.defaults import model
from filtration.draws import Factors
from filtration.ensemble import (
    Duty,
    Stage,
    Upkeep,
    Walker,
    cakes_when_due,
    efficiencies,
    fed_per_day,
    gap_left,
    inside_of,
    lives_of,
    table_of,
)
from filtration.loading import stage_loss_pa
from filtration.media import Medium
from filtration.optics import attenuation_per_kg_m3, see_through_m
from filtration.permeability import permeability_m2
from filtration.plan import rinse_price, soak_price
from filtration.plumbing import loss_coefficient, plumbing_loss_pa, velocity_pressure_pa
from filtration.pump import falling_curve
from filtration.site import root_between
from filtration.soil import CLASS_DIAMETERS_M, Source, load_kg_day
from filtration.study import Option, Study
from filtration.tub import LITRE_M3, SECONDS_PER_DAY, life_mean_share
from filtration.water import GRAVITY_M_S2

Array = npt.NDArray[np.float64]
_POINTS = 1201
_MID_CAKE = 0.4  # of the cake when due, at which the catch of a straining sheet stands for that of the run


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Load:
    """What comes into a tub a day and what it does to the view; (c, 1) each, before any factor.

    Parameters
    ----------
    bathers_kg_day, dust_kg_day : (c, 1) array
        As a deposit feels it [kg/day].
    bathers_per_m, dust_per_m : (c, 1) array
        Attenuation of one session's dirt [1/m].
    """

    bathers_kg_day: Array
    dust_kg_day: Array
    bathers_per_m: Array
    dust_per_m: Array


def load_of(study: Study) -> Load:
    """Return the load of a study's tub, bathers and dust apart.

    Parameters
    ----------
    study : Study
        The study.

    Returns
    -------
    Load
        By size class.
    """
    tub = study.tub
    dust = tuple(source for source in tub.sources if source.name == "dust fall")
    bathers = tuple(source for source in tub.sources if source.name != "dust fall")
    grit = model("soil.mineral_counts_as")
    organic = attenuation_per_kg_m3(CLASS_DIAMETERS_M, model("optics.organic_index"), model("soil.organic_density"))
    mineral = attenuation_per_kg_m3(CLASS_DIAMETERS_M, model("optics.mineral_index"), model("soil.mineral_density"))
    per_session = 1.0 / (tub.sessions_per_day * tub.volume_m3)

    def both(sources: tuple[Source, ...]) -> tuple[Array, Array]:
        soft, hard = load_kg_day(sources, mineral=False), load_kg_day(sources, mineral=True)
        return (soft + grit * hard)[:, None], ((organic * soft + mineral * hard) * per_session)[:, None]

    bathers_kg, bathers_m = both(bathers)
    dust_kg, dust_m = both(dust)
    return Load(bathers_kg_day=bathers_kg, dust_kg_day=dust_kg, bathers_per_m=bathers_m, dust_per_m=dust_m)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnLoop:
    """Pressure that pump and plumbing leave for the filter, by draw.

    Parameters
    ----------
    flow_m3_s, base_pa : (p,) array
        What does not depend on the draw: friction, lift and the head of a pump known by points [m3/s], [Pa].
    per_square : (d,) array
        Loss of fittings over the square of flow [Pa s2/m6].
    box : (float, float) or None
        Shut-off pressure [Pa] and largest flow [m3/s] of a pump known by its box.
    exponent : (d,) array
        Exponent of such a pump [-].
    """

    flow_m3_s: Array
    base_pa: Array
    per_square: Array
    box: tuple[float, float] | None
    exponent: Array

    def left_pa(self, flow_m3_s: Array) -> Array:
        """Pressure left at a flow, both (d,) [Pa], [m3/s]."""
        place = np.minimum(flow_m3_s / self.flow_m3_s[1], len(self.flow_m3_s) - 1.001)
        below = place.astype(np.intp)
        low = self.base_pa[below]
        left = low + (place - below) * (self.base_pa[below + 1] - low) - self.per_square * flow_m3_s * flow_m3_s
        if self.box is not None:
            left += self.box[0] * (1.0 - np.power(flow_m3_s / self.box[1], self.exponent))
        return np.asarray(left)


def drawn_loop(study: Study, entry: Entry, factors: Factors) -> DrawnLoop:
    """Return the loop of an entry whose pump drives it.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.
    factors : Factors
        The draws.

    Returns
    -------
    DrawnLoop
        Left for the filter.
    """
    pump, plumbing, water = entry.pump, study.plumbing, study.tub.water
    weight, further = water.density_kg_m3 * GRAVITY_M_S2, entry.option.housings_in_series - 1
    none = np.zeros_like(factors.uses)
    if study.lift_test:
        points = tuple((flow, lift) for lift, flow in reversed(study.lift_test))
        flow = np.linspace(0.0, 1.5 * points[-1][0], _POINTS)
        square = none
        if plumbing is not None and further:
            one = float(velocity_pressure_pa(1.0, plumbing.bore_m, water))
            square = none + further * model("plumbing.housing_k") * one
        head = weight * falling_curve(points)(flow)
        return DrawnLoop(flow_m3_s=flow, base_pa=head, per_square=square, box=None, exponent=factors.pump_exponent)
    if plumbing is None:
        msg = "a study without a lift test has its plumbing"
        raise ValueError(msg)
    most = pump.points[-1][0] * 1.5 if pump.points else float(pump.max_flow_m3_s or 0.0)
    flow = np.linspace(0.0, most, _POINTS)
    fittings = loss_coefficient(plumbing, further)
    one = float(velocity_pressure_pa(1.0, plumbing.bore_m, water))
    base = (
        -plumbing_loss_pa(flow, plumbing, water, further) + fittings * one * flow**2 - weight * plumbing.static_lift_m
    )
    box = None
    if pump.points:
        base = base + weight * falling_curve(pump.points)(flow)
    else:
        box = (weight * float(pump.shutoff_head_m or 0.0), most)
    return DrawnLoop(
        flow_m3_s=flow,
        base_pa=base,
        per_square=fittings * one * factors.sum_k,
        box=box,
        exponent=factors.pump_exponent,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Case:
    """An option with everything about it that depends on the draws."""

    study: Study
    entry: Entry
    loop: DrawnLoop
    stages: list[Stage]
    dirt_kg_day: Array
    session_per_m: Array
    haze_per_m: Array
    growth_per_day: Array

    @property
    def turned_per_flow(self) -> float:
        """Tub volumes a day for each m3/s of flow [1/day per m3/s]."""
        return SECONDS_PER_DAY * self.entry.pump.share_of_day / self.study.tub.volume_m3

    @property
    def oldest_days(self) -> Array:
        """Age at which each stage is replaced, shape (s,) [day]."""
        needs = self.study.needs
        unrinsed = min(needs.replace_limit_days, needs.discard_days)
        return np.array([needs.discard_days if medium.rinseable else unrinsed for medium in self.entry.media])

    def view_m(self, flow: Array, cakes: Sequence[Array]) -> Array:
        """View just after a session at the end of the water's life (d,) [m]."""
        tub = self.study.tub
        k = np.maximum(flow * self.turned_per_flow * sum(efficiencies(self.stages, cakes)), 1e-9)
        held = np.expm1(-k * tub.water_life_days) / np.expm1(-k / tub.sessions_per_day)
        return see_through_m(self.haze_per_m + (held * self.session_per_m).sum(axis=0))

    def walker(self, clean: Array, due: Array, cakes: Sequence[Array]) -> Walker:
        """Tables of the stages at the catch of mid flow, with cakes that stand for those of the run."""
        tub, housings = self.study.tub, self.entry.option.housings_in_parallel
        left = np.maximum(self.loop.left_pa(due), 1e-3)
        duty = Duty(flow_m3_s=due / housings, loss_pa=left, growth_per_day=self.growth_per_day)
        caught = efficiencies(self.stages, cakes)
        whole = sum(caught)
        life_turns = 0.5 * (clean + due) * self.turned_per_flow * tub.water_life_days * whole
        of_dirt = self.dirt_kg_day * life_mean_share(life_turns) / (np.maximum(whole, 1e-300) * housings)
        tables = []
        for stage, share, oldest in zip(self.stages, caught, self.oldest_days, strict=True):
            by_class = share * of_dirt
            fed = fed_per_day(stage, by_class, stage.inside)
            tables.append(table_of(stage, duty, fed, by_class.sum(axis=0), float(oldest), tub.water))
        return Walker(stages=self.stages, tables=tables, duty=duty)


def _case_of(study: Study, entry: Entry, factors: Factors, load: Load) -> _Case:
    tub, bathers = study.tub, factors.load_per_dip * factors.uses
    dips = tub.uses_per_day * factors.uses * tub.water_life_days / (tub.volume_m3 / (100.0 * LITRE_M3))
    return _Case(
        study=study,
        entry=entry,
        loop=drawn_loop(study, entry, factors),
        stages=[_stage(medium, factors, tub.water.viscosity_pa_s) for medium in entry.media],
        dirt_kg_day=load.bathers_kg_day * bathers + load.dust_kg_day * factors.dust,
        session_per_m=load.bathers_per_m * bathers + load.dust_per_m * factors.dust,
        haze_per_m=model("optics.water") + factors.haze * (model("optics.haze") + model("optics.haze_per_dip") * dips),
        growth_per_day=tub.growth_per_day * factors.growth,
    )


def _clean_and_due(case: _Case) -> tuple[Array, Array]:
    """Return the clean flow and that when due, (d,) each [m3/s]."""
    needs, water, loop = case.study.needs, case.study.tub.water, case.loop
    housings = case.entry.option.housings_in_parallel
    coefficients = [_clean_coefficients(stage, water.viscosity_pa_s, water.density_kg_m3) for stage in case.stages]
    linear = sum(pair[0] for pair in coefficients) / housings
    square = sum(pair[1] for pair in coefficients) / housings**2
    none = np.zeros_like(case.growth_per_day)
    top = none + loop.flow_m3_s[-1]

    def spare(flow: Array) -> Array:
        return loop.left_pa(flow) - (linear + square * flow) * flow

    clean = root_between(spare, none, top, tolerance=1e-6)
    due = clean * needs.share_of_clean_flow if needs.share_of_clean_flow else none + (needs.flow_m3_s or 0.0)
    if np.isfinite(needs.max_pressure_rise_pa):
        limit = loop.left_pa(clean) + needs.max_pressure_rise_pa
        due = np.maximum(due, root_between(lambda flow: loop.left_pa(flow) - limit, none, top, tolerance=1e-6))
    return clean, due


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnOption:
    """One option before many draws; (d,) each, no number where the clean filter lacks the flow.

    Parameters
    ----------
    meets : (d,) array of bool
        The clean filter reaches flow and view, and every run lasts the stated shortest.
    flows : (d,) array of bool
        It has the flow, so that a life and a cost exist.
    clean_flow_m3_s, first_days, worst_view_m : (d,) array
        Clean flow, days to the first service as answered (0 where a need fails), view just after a session when due.
    watched_flow_m3_s, watched_loss_pa : (d,) array
        Flow and the filter's loss on the day it is watched, or when due if that comes first.
    services_per_day : (d,) array
        Services [1/day].
    replaced_per_day, rinsed_per_day, soaked_per_day : (s, d) array
        By stage [1/day].
    """

    meets: npt.NDArray[np.bool_]
    flows: npt.NDArray[np.bool_]
    clean_flow_m3_s: Array
    first_days: Array
    worst_view_m: Array
    watched_flow_m3_s: Array
    watched_loss_pa: Array
    services_per_day: Array
    replaced_per_day: Array
    rinsed_per_day: Array
    soaked_per_day: Array


def joined(blocks: Sequence[DrawnOption]) -> DrawnOption:
    """Join one option's blocks of draws.

    Parameters
    ----------
    blocks : sequence of DrawnOption
        At least one, in order.

    Returns
    -------
    DrawnOption
        All draws.
    """
    if len(blocks) == 1:
        return blocks[0]
    whole = {
        field.name: np.concatenate([getattr(block, field.name) for block in blocks], axis=-1)
        for field in fields(DrawnOption)
    }
    return DrawnOption(**whole)


def upkeep_of(study: Study, option: Option, factors: Factors, most_runs: Sequence[int]) -> Upkeep:
    """Return how an option is looked after.

    Parameters
    ----------
    study : Study
        The study.
    option : Option
        One of its options.
    factors : Factors
        The draws.
    most_runs : sequence of int
        Runs before each stage of a train is replaced.

    Returns
    -------
    Upkeep
        Recoveries, limits and costs; prices of the central case, since a common factor does not change what is best.
    """
    stages, prices, housings = option.stages, study.prices, option.housings_in_parallel
    left = 1.0 - np.array([[element.rinse_recovery] for element in stages])
    return Upkeep(
        rinseable=np.array([element.rinseable for element in stages]),
        rinse_keeps=np.minimum(left * factors.rinse_loss, np.maximum(left, model("service.most_left"))),
        soak_keeps=np.array([1.0 - element.soak_recovery for element in stages]),
        soak_every=np.array([element.soak_every_rinses for element in stages]),
        most_runs=np.array(most_runs),
        rinse_cost=np.array([housings * rinse_price(element, prices) for element in stages]),
        soak_cost=np.array([housings * soak_price(element, prices) for element in stages]),
        replace_cost=np.array([housings * (element.price + prices.disposal_each) for element in stages]),
        rinse_limit_days=study.needs.rinse_limit_days,
        shortest_days=study.needs.shortest_run_days,
    )


def _stage(medium: Medium, factors: Factors, viscosity_pa_s: float) -> Stage:
    per_pascal = model("loading.cake_resistance") / 1e4 ** model("loading.cake_exponent")
    return Stage(
        medium=medium,
        fibre_squared_m2=medium.fibre_diameter_m**2 * medium.permeability_factor * factors.permeability,
        density_kg_m3=medium.deposit_density_kg_m3 * factors.deposit_density,
        onset=medium.onset_solid_fraction + factors.onset,
        drag_per_kg=viscosity_pa_s * per_pascal * factors.cake_resistance / medium.face_m2**2,
        inside=inside_of(medium.capture, factors.capture_size, factors.slope),
        straining_kg_m2=model("capture.straining_cake") * factors.straining_cake,
    )


def _clean_coefficients(stage: Stage, viscosity: float, density: float) -> tuple[Array, Array]:
    """Return the clean stage's coefficients of flow and of its square, (d,) each."""
    medium = stage.medium
    k = permeability_m2(medium.solid_fraction, stage.fibre_squared_m2)
    linear = viscosity * medium.layer_path_per_m.sum() / k
    square = density * (medium.core_inertia_per_m4 + medium.layer_inertia_per_m3.sum() / np.sqrt(k))
    return linear, square


def drawn_option(
    study: Study, entry: Entry, factors: Factors, upkeep: Upkeep, load: Load, watch_days: float = 0.0
) -> DrawnOption:
    """Put an option before the draws.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump; the pump drives the loop in the central case.
    factors : Factors
        The draws.
    upkeep : Upkeep
        How it is looked after.
    load : Load
        What comes into the tub.
    watch_days : float, optional
        Day of the first run on which the flow is watched.

    Returns
    -------
    DrawnOption
        What became of it.

    Notes
    -----
    Clarity ends a run where the view at its end falls short: the run is then walked again to the flow at which that
    end's cakes still leave the view wanted.
    """
    needs, case = study.needs, _case_of(study, entry, factors, load)
    clean, wanted = _clean_and_due(case)
    flows = (clean > wanted) & (clean > 0.0) & (not entry.faults)
    no_cake = [np.zeros_like(clean)] * len(case.stages)
    clear = case.view_m(clean, no_cake) >= needs.see_through_m
    due = np.where(flows, wanted, 0.5 * clean + 1e-12)

    cakes = no_cake
    walk = case.walker(clean, due, cakes)
    if any(medium.strains for medium in entry.media):
        cakes = [_MID_CAKE * cake for cake in cakes_when_due(walk, upkeep, case.oldest_days)]
        walk = case.walker(clean, due, cakes)
    lives = lives_of(walk, upkeep, case.oldest_days)
    flow_then, cakes_then = _flow_after(case.loop, walk, lives.first_days, clean, due)
    view = case.view_m(flow_then, cakes_then)
    clouded = flows & clear & (view < needs.see_through_m)
    if clouded.any():
        least = root_between(lambda flow: needs.see_through_m - case.view_m(flow, cakes_then), flow_then, clean)
        due = np.where(clouded, np.minimum(least, (1.0 - 1e-6) * clean), due)
        walk = case.walker(clean, due, cakes)
        lives = lives_of(walk, upkeep, case.oldest_days)
        view = np.where(clouded, needs.see_through_m, view)
    watched, _ = _flow_after(case.loop, walk, np.minimum(watch_days, lives.first_days), clean, due)
    stated = needs.shortest_run_days
    lasts = lives.shortest_days >= stated if stated is not None else np.ones_like(flows)
    return DrawnOption(
        meets=flows & clear & lasts,
        flows=flows,
        clean_flow_m3_s=clean,
        first_days=np.where(flows & clear, lives.first_days, 0.0),
        watched_flow_m3_s=watched,
        watched_loss_pa=case.loop.left_pa(watched),
        worst_view_m=np.where(flows, view, case.view_m(clean, no_cake)),
        services_per_day=lives.services_per_day,
        replaced_per_day=lives.replaced_per_day,
        rinsed_per_day=lives.rinsed_per_day,
        soaked_per_day=lives.soaked_per_day,
    )


def _flow_after(loop: DrawnLoop, walk: Walker, days: Array, clean: Array, due: Array) -> tuple[Array, list[Array]]:
    """Return the flow so many days into the first run, not below that when due, and the cakes then."""
    duty, draws = walk.duty, np.arange(len(days))
    states = [walk.state(at, days, draws) for at in range(len(walk.stages))]
    housings = due / duty.flow_m3_s

    def spare(flow: Array) -> Array:
        loss = np.zeros_like(flow)
        for stage, (_, cake, rest) in zip(walk.stages, states, strict=True):
            drag = stage.drag_per_kg * cake / gap_left(stage, cake, stage.density_kg_m3)
            loss += stage_loss_pa(flow / housings, rest / duty.flow_m3_s, np.zeros_like(flow), drag)
        return loop.left_pa(flow) - loss

    return root_between(spare, due, clean, tolerance=1e-5), [cake for _, cake, _ in states]
