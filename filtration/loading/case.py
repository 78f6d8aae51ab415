"""An option with everything about it that differs from case to case; cases of one kind stand side by side.

Shapes: d cases, s stages, n layers, c size classes; cases come last.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np

from filtration.base.arrays import Array, Flags, Single, column_sums
from filtration.base.cases import side_by_side
from filtration.base.defaults import model
from filtration.base.draws import Factors, central_factors
from filtration.base.roots import root_between, root_by_sections
from filtration.base.units import SECONDS_PER_DAY
from filtration.loading.assembly import Entry
from filtration.loading.stage import Resistance, Stage, clean_resistance_of, efficiencies, stage_of
from filtration.loading.table import Duty
from filtration.physics.loop import Loop
from filtration.physics.optics import attenuation_per_kg_m3, see_through_m
from filtration.physics.soil import CLASS_DIAMETERS_M, Source, load_kg_day
from filtration.physics.still_water import StillWater
from filtration.physics.tub import haze_per_m, life_mean_share, sessions_held
from filtration.study.values import Study

_FLOW_TOLERANCE = 1e-8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Load:
    """What comes into a tub a day and what it does to the view; (c, 1) each, before any factor, in single precision.

    Parameters
    ----------
    bathers_kg_day, dust_kg_day : (c, 1) array
        As a deposit feels it [kg/day].
    bathers_per_m, dust_per_m : (c, 1) array
        Attenuation of one session's dirt [1/m].
    """

    bathers_kg_day: Single
    dust_kg_day: Single
    bathers_per_m: Single
    dust_per_m: Single


def load_of(study: Study) -> Load:
    """Return the load of a study's tub, bathers and dust apart."""
    tub = study.tub
    dust = tuple(source for source in tub.sources if source.falls_in)
    bathers = tuple(source for source in tub.sources if not source.falls_in)
    grit = model("soil.mineral_counts_as")
    organic = attenuation_per_kg_m3(CLASS_DIAMETERS_M, model("optics.organic_index"), model("soil.organic_density"))
    mineral = attenuation_per_kg_m3(CLASS_DIAMETERS_M, model("optics.mineral_index"), model("soil.mineral_density"))
    per_session = 1.0 / (tub.sessions_per_day * tub.volume_m3)

    def both(sources: tuple[Source, ...]) -> tuple[Single, Single]:
        soft, hard = load_kg_day(sources, mineral=False), load_kg_day(sources, mineral=True)
        felt, seen = soft + grit * hard, (organic * soft + mineral * hard) * per_session
        return felt[:, None].astype(np.float32), seen[:, None].astype(np.float32)

    bathers_kg, bathers_m = both(bathers)
    dust_kg, dust_m = both(dust)
    return Load(bathers_kg_day=bathers_kg, dust_kg_day=dust_kg, bathers_per_m=bathers_m, dust_per_m=dust_m)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """Options of one kind with everything about them that differs from case to case; (d,) unless said otherwise.

    Parameters
    ----------
    loop : Loop
        Pump and plumbing.
    stages : tuple of Stage
        The elements.
    dirt_kg_day, session_per_m : (c, d) array
        Daily load as a deposit feels it [kg/day]; attenuation of one session's dirt [1/m]; both in single precision.
    bathers_share : (c, d) array
        Share of that load that bathers bring [-].
    haze_per_m, growth_per_day : array
        Attenuation no cartridge catches, at the end of the water's life [1/m]; growth [1/day].
    turned_per_flow, life_days, sessions_per_day, housings : array
        Tub volumes a day for each m3/s, water life [day], sessions [1/day], housings in parallel [-].
    wanted_m3_s, wanted_share, rise_pa, view_m, limit_days : array
        Needs; no number where flow or share is not what is asked; the time that ends a first run in any case.
    works : array of bool
        Nothing keeps the option from working at all.
    still : StillWater or None
        Water that lags; None: well mixed.
    """

    loop: Loop
    stages: tuple[Stage, ...]
    dirt_kg_day: Single
    session_per_m: Single
    bathers_share: Single
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
    limit_days: Array
    works: Flags
    still: StillWater | None

    @property
    def size(self) -> int:
        """How many cases there are."""
        return len(self.works)

    @property
    def kind(self) -> tuple[int, ...]:
        """What cases must share to stand side by side: whether water lags, and the layers of each stage."""
        return (self.still is not None, *(len(stage.volume_m3) for stage in self.stages))

    def removal_per_day(self, flow: Array, cakes: Sequence[Array]) -> Single:
        """Rate (c, d) at which each size class is taken out, at a flow and with some cake on each stage [1/day]."""
        turned = (flow * self.turned_per_flow).astype(np.float32)
        return cast("Single", turned * sum(efficiencies(self.stages, cakes)))

    def attenuation_per_m(self, flow: Array, cakes: Sequence[Array], *, just_before: bool = False) -> Array:
        """Attenuation (d,) at the end of the water's life, just after a session or just before one [1/m]."""
        removal = cast("Array", self.removal_per_day(flow, cakes))
        life, sessions = self.life_days.astype(np.float32), self.sessions_per_day.astype(np.float32)
        held = sessions_held(
            removal, cast("Array", life), cast("Array", sessions), just_before=just_before, still=self.still
        )
        total: Array = self.haze_per_m + column_sums(np.float64(1.0) * held * self.session_per_m)
        return total

    def seen_m(self, flow: Array, cakes: Sequence[Array], *, just_before: bool = False) -> Array:
        """View (d,) at the end of the water's life, just after a session or just before one [m]."""
        return see_through_m(self.attenuation_per_m(flow, cakes, just_before=just_before))

    def duty(self, due: Array) -> Duty:
        """Return what one element of each stage has to do when due."""
        left = np.maximum(self.loop.left_pa(due), 1e-3)
        return Duty(flow_m3_s=due / self.housings, loss_pa=left, growth_per_day=self.growth_per_day)

    def catches(self, flow: Array, cakes: Sequence[Array]) -> list[Single]:
        """Catch of one element of each stage (c, d), with some cake on each, meaned over the water's life [kg/day]."""
        caught = efficiencies(self.stages, cakes)
        whole = sum(caught)
        turned = cast("Array", (flow * self.turned_per_flow * self.life_days).astype(np.float32) * whole)
        share = life_mean_share(turned, self.still, self.life_days)
        of_dirt = self.dirt_kg_day * share / (np.maximum(whole, 1e-30) * self.housings.astype(np.float32))
        return [each * of_dirt for each in caught]

    @property
    def new(self) -> list[Array]:
        """No cake on any stage."""
        return [np.zeros(self.size)] * len(self.stages)

    @property
    def clean(self) -> list[Resistance]:
        """What the new stages do to the flow."""
        return [clean_resistance_of(stage) for stage in self.stages]

    def losses_pa(self, stages: Sequence[Resistance], flow: Array) -> list[Array]:
        """Loss (…, d) of each stage at a flow through the option [Pa]."""
        return [stage.loss_pa(flow / self.housings) for stage in stages]

    def flow_m3_s(self, stages: Sequence[Resistance], *, tolerance: float = _FLOW_TOLERANCE, rounds: int = 0) -> Array:
        """Flow left (…, d) for stages that take so much, to a tolerance, or by so many rounds of sections [m3/s]."""

        def spare(flow: Array) -> Array:
            return self.loop.left_pa(flow) - sum(self.losses_pa(stages, flow))

        shape = np.broadcast_shapes(stages[0].linear.shape, self.works.shape)
        none, most = np.zeros(shape), np.broadcast_to(self.loop.end_m3_s, shape)
        if rounds:
            return root_by_sections(spare, none, most, rounds=rounds)
        return root_between(spare, none, most, tolerance=tolerance)

    def clean_and_due(self) -> tuple[Array, Array]:
        """Clean flow and that when due, (d,) each; a pressure rise is a flow in disguise: what is left at it [m3/s]."""
        clean = self.flow_m3_s(self.clean)
        due = np.where(np.isnan(self.wanted_share), self.wanted_m3_s, clean * self.wanted_share)
        limited = np.isfinite(self.rise_pa)
        if limited.any():
            limit = self.loop.left_pa(clean) + np.where(limited, self.rise_pa, 0.0)
            at_rise = root_between(
                lambda flow: self.loop.left_pa(flow) - limit, np.zeros(self.size), self.loop.end_m3_s
            )
            due = np.where(limited, np.maximum(due, at_rise), due)
        return clean, due

    def runs(self, clean: Array, due: Array) -> Flags:
        """Return which cases (d,) work and have more than the flow when due: a first run starts."""
        return (clean > due) & (clean > 0.0) & self.works


def case_of(study: Study, entry: Entry, factors: Factors, load: Load) -> Case:
    """Return an option by case.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump, with a loop.
    factors : Factors
        The cases.
    load : Load
        What comes into the tub.

    Returns
    -------
    Case
        One case for each value of the factors.
    """
    tub, needs = study.tub, study.needs
    if entry.loop is None:
        msg = f"{entry.option.name!r} has no loop"
        raise ValueError(msg)
    bathers, dust = (part.astype(np.float32) for part in (factors.load_per_dip * factors.uses, factors.dust))
    ones = np.ones_like(factors.uses)
    dirt = load.bathers_kg_day * bathers
    all_dirt = dirt + load.dust_kg_day * dust
    oldest = needs.oldest_days([medium.rinseable for medium in entry.media])
    return Case(
        loop=entry.loop.by_case(ones if study.lift_test else factors.sum_k, factors.pump_exponent, factors.box_flow),
        stages=tuple(
            stage_of(medium, factors, tub.water, days) for medium, days in zip(entry.media, oldest, strict=True)
        ),
        dirt_kg_day=all_dirt,
        session_per_m=load.bathers_per_m * bathers + load.dust_per_m * dust,
        bathers_share=(dirt / np.maximum(all_dirt, 1e-30)).astype(np.float32),
        haze_per_m=cast("Array", haze_per_m(tub.dips_per_100_litres * factors.uses, factors.haze)),
        growth_per_day=tub.growth_per_day * factors.growth,
        turned_per_flow=SECONDS_PER_DAY * entry.pump.share_of_day / tub.volume_m3 * ones,
        life_days=tub.water_life_days * ones,
        sessions_per_day=tub.sessions_per_day * ones,
        housings=entry.option.housings_in_parallel * ones,
        wanted_m3_s=(np.nan if needs.flow_m3_s is None else needs.flow_m3_s) * ones,
        wanted_share=(np.nan if needs.share_of_clean_flow is None else needs.share_of_clean_flow) * ones,
        rise_pa=needs.max_pressure_rise_pa * ones,
        view_m=needs.see_through_m * ones,
        limit_days=min(*oldest, needs.between_days(any(medium.rinseable for medium in entry.media))) * ones,
        works=np.full(len(ones), not entry.faults),
        still=tub.still_water(entry.pump.share_of_day * ones),
    )


def central_case(study: Study, entry: Entry, load: Load) -> Case:
    """Return an option with every unknown where the study has it, one case."""
    return case_of(study, entry, central_factors(), load)


def beside(cases: Sequence[Case]) -> Case:
    """Return cases of one kind side by side, in order."""
    return side_by_side(cases, [case.size for case in cases])
