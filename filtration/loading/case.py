"""An option with everything about it that depends on the draws; cases of one kind stand side by side.

Shapes: d draws, s stages, n layers, c size classes, p points of a loop, m loops; draws come last.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, cast

import numpy as np

from filtration.base.arrays import Array, Flags, Rows, Single
from filtration.base.defaults import model
from filtration.base.draws import Factors
from filtration.base.units import SECONDS_PER_DAY
from filtration.loading.assembly import Entry
from filtration.loading.drawn_lives import Upkeep
from filtration.loading.law import CAKE_REFERENCE_PA
from filtration.loading.loops import DrawnLoop, LoopBase, loop_base
from filtration.loading.runs import Walker
from filtration.loading.stage import Stage, efficiencies, fed_per_day, log_past_of, taken
from filtration.loading.table import Duty, cake_at_most, table_of
from filtration.physics.media import Medium
from filtration.physics.optics import attenuation_per_kg_m3, see_through_m
from filtration.physics.soil import CLASS_DIAMETERS_M, Source, load_kg_day
from filtration.physics.tub import LITRE_M3, life_mean_share
from filtration.physics.water import Water
from filtration.study.values import Option, Study, rinse_price, soak_price

BY_AGE_ALONE = 1000  # runs before a stage of a train is replaced, so many that age alone decides


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
    dust = tuple(source for source in tub.sources if source.falls_in)
    bathers = tuple(source for source in tub.sources if not source.falls_in)
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


def _stage_of(medium: Medium, factors: Factors, water: Water, oldest_days: float) -> Stage:
    per_pascal = medium.cake_resistance_m_kg / CAKE_REFERENCE_PA ** model("loading.cake_exponent")
    ones = np.ones_like(factors.uses)
    straining = medium.straining_kg_m2 * factors.straining_cake
    log_past = log_past_of(medium.capture, factors.capture_size, factors.slope)
    return Stage(
        volume_m3=medium.layer_volume_m3[:, None],
        path_per_m=medium.layer_path_per_m[:, None],
        inertia_per_m3=medium.layer_inertia_per_m3[:, None],
        core_per_m4=medium.core_inertia_per_m4 * ones,
        solid_fraction=medium.solid_fraction * ones,
        face_m2=medium.face_m2 * ones,
        gap_m=medium.half_gap_m * ones,
        capacity_kg=medium.capacity_kg * ones,
        bypass=medium.capture.bypass * ones,
        viscosity_pa_s=water.viscosity_pa_s * ones,
        water_kg_m3=water.density_kg_m3 * ones,
        fibre_squared_m2=medium.fibre_diameter_m**2 * medium.permeability_factor * factors.permeability,
        density_kg_m3=medium.deposit_density_kg_m3 * factors.deposit_density,
        onset=medium.onset_solid_fraction + factors.onset,
        drag_per_kg=water.viscosity_pa_s * per_pascal * factors.cake_resistance / medium.face_m2**2,
        log_past=log_past,
        inside=-np.expm1(log_past),
        straining_kg_m2=straining if medium.strains else np.inf * ones,
        oldest_days=oldest_days * ones,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """Options of one kind with everything about them that depends on the draws; (d,) unless said otherwise.

    Parameters
    ----------
    loop : DrawnLoop
        Pump and plumbing.
    stages : tuple of Stage
        The elements.
    upkeep : Upkeep
        How they are looked after.
    dirt_kg_day, session_per_m : (c, d) array
        Daily load as a deposit feels it [kg/day]; attenuation of one session's dirt [1/m]; both in single precision.
    haze_per_m, growth_per_day : array
        Attenuation no cartridge catches, at the end of the water's life [1/m]; growth [1/day].
    turned_per_flow, life_days, sessions_per_day, housings : array
        Tub volumes a day for each m3/s, water life [day], sessions [1/day], housings in parallel [-].
    wanted_m3_s, wanted_share, rise_pa, view_m : array
        Needs; no number where flow or share is not what is asked.
    works : array of bool
        Nothing keeps the option from working at all.
    """

    loop: DrawnLoop
    stages: tuple[Stage, ...]
    upkeep: Upkeep
    dirt_kg_day: Single
    session_per_m: Single
    haze_per_m: Array
    growth_per_day: Array
    turned_per_flow: Array
    life_days: Array
    sessions_per_day: Array
    housings: Array
    wanted_m3_s: Array
    wanted_share: Array
    rise_pa: Array
    view_m: Array
    works: Flags

    @property
    def kind(self) -> tuple[bool, tuple[tuple[int, bool, int], ...]]:
        """What cases must share to stand side by side.

        Whether a rise in pressure ends a run; layers, rinsing and soaking of each stage.
        """
        upkeep = self.upkeep
        each = zip(self.stages, upkeep.rinseable, upkeep.soak_every, strict=True)
        stages = tuple((len(stage.volume_m3), bool(rinseable), int(every)) for stage, rinseable, every in each)
        return bool(np.isfinite(self.rise_pa).any()), stages

    def seen_m(self, flow: Array, cakes: Sequence[Array]) -> Array:
        """Return the view just after a session at the end of the water's life [m]."""
        turned = (flow * self.turned_per_flow).astype(np.float32)
        k = np.maximum(turned * sum(efficiencies(self.stages, cakes)), np.float32(1e-9))
        life, sessions = self.life_days.astype(np.float32), self.sessions_per_day.astype(np.float32)
        held = np.expm1(-k * life) / np.expm1(-k / sessions)
        return see_through_m(self.haze_per_m + (held * self.session_per_m).sum(axis=0))

    def duty(self, due: Array) -> Duty:
        """Return what one element of each stage has to do when due."""
        left = np.maximum(self.loop.left_pa(due), 1e-3)
        return Duty(flow_m3_s=due / self.housings, loss_pa=left, growth_per_day=self.growth_per_day)

    def catches(self, flow: Array, cakes: Sequence[Array]) -> list[Single]:
        """Return the catch of one element of each stage (c, d) [kg/day], with some cake on each (d,) [kg]."""
        caught = efficiencies(self.stages, cakes)
        whole = sum(caught)
        shares = life_mean_share(
            cast("Array", (flow * self.turned_per_flow * self.life_days).astype(np.float32) * whole)
        )
        of_dirt = self.dirt_kg_day * shares / (np.maximum(whole, 1e-30) * self.housings.astype(np.float32))
        return [share * of_dirt for share in caught]

    def most_cakes(self, duty: Duty, caught: Sequence[Single]) -> list[Array]:
        """Return the cake (d,) that each straining stage has when due at a catch (c, d), as if none strained [kg]."""
        return [
            cake_at_most(stage, duty, fed_per_day(stage, by_class), self.upkeep.rinse_limit_days)
            if stage.strains
            else np.zeros_like(duty.loss_pa)
            for stage, by_class in zip(self.stages, caught, strict=True)
        ]

    def walker(self, clean: Array, due: Array) -> Walker:
        """Return the tables of the stages at mid flow; where a sheet strains, its cake adds to what is caught."""
        duty, mid = self.duty(due), 0.5 * (clean + due)
        none = np.zeros_like(clean)
        caught = self.catches(mid, [none] * len(self.stages))
        rises = [np.array([none, none + 1.0])] * len(self.stages)
        if any(stage.strains for stage in self.stages):
            most = self.most_cakes(duty, caught)
            half, full = (self.catches(mid, [share * cake for cake in most]) for share in (0.5, 1.0))
            rises = [_rise(*parts) for parts in zip(most, caught, half, full, strict=True)]
            caught = [
                now if stage.strains else 0.5 * (now + then)
                for stage, now, then in zip(self.stages, caught, half, strict=True)
            ]
        tables = []
        for stage, by_class, rise in zip(self.stages, caught, rises, strict=True):
            tables.append(table_of(stage, duty, fed_per_day(stage, by_class), by_class.sum(axis=0), rise))
        return Walker(stages=self.stages, tables=tables, duty=duty)


def _rise(most: Array, none: Single, half: Single, full: Single) -> Array:
    """Return what a cake that strains adds to a catch in the end, as a share, and the cake that adds half of it (2, d).

    A hyperbola through the catch with none, half and most of the cake: size classes are strained at different cakes, so
    that their sum rises steeply at first and settles slowly.
    """
    at_none, at_half, at_full = (by_class.sum(axis=0, dtype=np.float64) for by_class in (none, half, full))
    gain = at_full - at_none
    strains = (most > 0.0) & (gain > 1e-4 * at_none)
    half_way = np.clip((at_half - at_none) / np.where(strains, gain, 1.0), 0.501, 0.999)
    to_half = most * 0.5 * (1.0 - half_way) / (half_way - 0.5)
    in_the_end = gain / np.maximum(at_none, 1e-30) * (1.0 + to_half / np.maximum(most, 1e-30))
    return np.where(strains, np.array([in_the_end, to_half]), np.array([[0.0], [1.0]]))


def _upkeep_of(study: Study, option: Option, factors: Factors, most_runs: Sequence[int]) -> Upkeep:
    """Return how an option is looked after; central prices, since a common factor does not change what is best."""
    stages, prices, needs, housings = option.stages, study.prices, study.needs, option.housings_in_parallel
    ones = np.ones_like(factors.uses)

    def each(values: Sequence[float]) -> Array:
        return np.array(values)[:, None] * ones

    left = each([1.0 - element.rinse_recovery for element in stages])
    return Upkeep(
        rinseable=np.array([element.rinseable for element in stages]),
        soak_every=np.array([element.soak_every_rinses if element.rinseable else 0 for element in stages]),
        rinse_keeps=np.minimum(left * factors.rinse_loss, np.maximum(left, model("service.most_left"))),
        soak_keeps=each([1.0 - element.soak_recovery for element in stages]),
        most_runs=each(most_runs),
        rinse_cost=each([housings * rinse_price(element, prices) for element in stages]),
        soak_cost=each([housings * soak_price(element, prices) for element in stages]),
        replace_cost=each([housings * (element.price + prices.disposal_each) for element in stages]),
        rinse_limit_days=needs.rinse_limit_days * ones,
        shortest_days=(np.nan if needs.shortest_run_days is None else needs.shortest_run_days) * ones,
    )


def case_of(study: Study, entry: Entry, factors: Factors, most_runs: Sequence[int], load: Load, base: LoopBase) -> Case:
    """Return an option before the draws.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.
    factors : Factors
        The draws.
    most_runs : sequence of int
        Runs before each stage of a train is replaced.
    load : Load
        What comes into the tub.
    base : LoopBase
        Its loop, the draws aside.

    Returns
    -------
    Case
        One case.
    """
    tub, needs = study.tub, study.needs
    bathers, ones = factors.load_per_dip * factors.uses, np.ones_like(factors.uses)
    dips = tub.uses_per_day * factors.uses * tub.water_life_days / (tub.volume_m3 / (100.0 * LITRE_M3))
    unrinsed = min(needs.replace_limit_days, needs.discard_days)
    return Case(
        loop=DrawnLoop(
            base_pa=base.base_pa[:, None],
            which=np.zeros(len(ones), dtype=np.intp),
            step_m3_s=base.step_m3_s * ones,
            per_square=base.k_pa_s2_m6 * (ones if study.lift_test else factors.sum_k),
            box_pa=base.box_pa * ones,
            box_m3_s=base.box_m3_s * ones,
            exponent=factors.pump_exponent,
        ),
        stages=tuple(
            _stage_of(medium, factors, tub.water, needs.discard_days if medium.rinseable else unrinsed)
            for medium in entry.media
        ),
        upkeep=_upkeep_of(study, entry.option, factors, most_runs),
        dirt_kg_day=(load.bathers_kg_day * bathers + load.dust_kg_day * factors.dust).astype(np.float32),
        session_per_m=(load.bathers_per_m * bathers + load.dust_per_m * factors.dust).astype(np.float32),
        haze_per_m=model("optics.water") + factors.haze * (model("optics.haze") + model("optics.haze_per_dip") * dips),
        growth_per_day=tub.growth_per_day * factors.growth,
        turned_per_flow=SECONDS_PER_DAY * entry.pump.share_of_day / tub.volume_m3 * ones,
        life_days=tub.water_life_days * ones,
        sessions_per_day=tub.sessions_per_day * ones,
        housings=entry.option.housings_in_parallel * ones,
        wanted_m3_s=(np.nan if needs.flow_m3_s is None else needs.flow_m3_s) * ones,
        wanted_share=(np.nan if needs.share_of_clean_flow is None else needs.share_of_clean_flow) * ones,
        rise_pa=needs.max_pressure_rise_pa * ones,
        view_m=needs.see_through_m * ones,
        works=np.full(len(ones), not entry.faults),
    )


def cases_of(
    study: Study, entries: Sequence[Entry], most_runs: Sequence[Sequence[int]], blocks: Sequence[Factors]
) -> list[list[Case]]:
    """Return options before the draws, load and loops worked out once.

    Parameters
    ----------
    study : Study
        The study.
    entries : sequence of Entry
        Options whose pump drives the loop.
    most_runs : sequence of sequence of int
        For each, runs before each stage of a train is replaced.
    blocks : sequence of Factors
        The draws, some at a time.

    Returns
    -------
    list of list of Case
        For each option one case a block.
    """
    load = load_of(study)
    bases: dict[tuple[str, int], LoopBase] = {}
    cases = []
    for entry, most in zip(entries, most_runs, strict=True):
        key = (entry.pump.name, entry.option.housings_in_series)
        if key not in bases:
            bases[key] = loop_base(study, entry)
        cases.append([case_of(study, entry, factors, most, load, bases[key]) for factors in blocks])
    return cases


def part_of(case: Case, draws: Rows) -> Case:
    """Return a case for some of its draws.

    Parameters
    ----------
    case : Case
        The case.
    draws : (e,) array of int
        Which draws to keep.

    Returns
    -------
    Case
        The same for them alone.
    """
    size = len(case.works)
    upkeep, loop = case.upkeep, case.loop
    return replace(
        taken(case, draws, size),
        loop=replace(taken(loop, draws, size), base_pa=loop.base_pa),
        stages=tuple(taken(stage, draws, size) for stage in case.stages),
        upkeep=replace(taken(upkeep, draws, size), rinseable=upkeep.rinseable, soak_every=upkeep.soak_every),
    )


def side_by_side(cases: Sequence[Case]) -> Case:
    """Put cases of one kind side by side along their draws.

    Parameters
    ----------
    cases : sequence of Case
        At least one, all of one ``kind``.

    Returns
    -------
    Case
        All draws, in order.
    """
    if len(cases) == 1:
        return cases[0]
    sizes = [len(case.growth_per_day) for case in cases]

    def joined(values: Sequence[object], alike: Sequence[str] = ()) -> dict[str, Any]:
        whole: dict[str, Any] = {name: getattr(values[0], name) for name in alike}
        for field in fields(values[0]):  # type: ignore[arg-type]  # each is one of the dataclasses above
            parts = [getattr(value, field.name) for value in values]
            if isinstance(parts[0], np.ndarray) and field.name not in alike:
                wide = zip(parts, sizes, strict=True)
                parts = [p if p.shape[-1] == size else np.broadcast_to(p, (*p.shape[:-1], size)) for p, size in wide]
                whole[field.name] = np.concatenate(parts, axis=-1)
        return whole

    first = cases[0]
    upkeeps = joined([case.upkeep for case in cases], ("rinseable", "soak_every"))
    loops = joined([case.loop for case in cases], ("base_pa",))
    loops["base_pa"] = np.concatenate([case.loop.base_pa for case in cases], axis=1)
    loops["which"] = np.repeat(np.arange(len(cases)), sizes)
    return Case(
        loop=DrawnLoop(**loops),
        stages=tuple(Stage(**joined([case.stages[at] for case in cases])) for at in range(len(first.stages))),
        upkeep=Upkeep(**upkeeps),
        **joined(cases),
    )
