"""An option in use: how its stages load from new through services on days that are given, before many draws.

The walk over tables asks when a service falls due; here the owner has said when it was, and how many dips there were.
So the clock of each stage, see ``drawn_stage``, is stepped from day to day, growth and load each by its own time.
Shapes: d draws, s stages, n layers, m moments; draws come last.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from filtration.base.arrays import Array
from filtration.base.draws import Factors
from filtration.base.roots import root_between
from filtration.loading.case import Case, Load
from filtration.loading.drawn import clean_and_due
from filtration.loading.law import stage_loss_pa
from filtration.loading.stage import FLOOR_PA, POWER, fed_per_day, open_share, room_kg
from filtration.physics.permeability import permeability_m2
from filtration.physics.return_line import Return
from filtration.study.values import Option

_MEANED_DAYS = 7.0  # over which counted dips are meaned; when they came matters only to what has grown since
_GROWTH_STEP = 0.1  # of a deposit, that grows in one step
_NEARLY = 1.0 - 1e-9  # there, of the way of the outermost layer to its onset
_MID_CAKE = 0.28  # of the cake when due, at which the catch of a straining sheet stands for that of the run
_FLOW_TOLERANCE = 1e-6
_SHUT = 0.01  # of the clean flow
_MOST_DUE = 0.9  # of the clean flow, that mid flow is taken with where the clean filter lacks the flow wanted


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """A rinse, a soak, or both, so many days since the option was new."""

    day: float
    rinsed: bool
    soaked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Dips:
    """Dips counted between two days since new, over those the study says [-]."""

    start: float
    end: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class State:
    """Where the stages stand; clock (..., s, d) [day] and what is on the face (..., s, d) [kg]."""

    fed: Array
    cake_kg: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InUse:
    """An option before the draws, ready to be followed.

    Parameters
    ----------
    case : Case
        The option.
    clean_m3_s, due_m3_s : (d,) array
        Clean flow and that when due [m3/s].
    layers_kg_day : tuple of (n, d) array
        Catch of one element of each stage by layer, on a day as the study says, while all goes into the layers
        [kg/day]; its mix is frozen at mid flow.
    caught_kg_day, bathers_share : (s, d) array
        The sum [kg/day], and the share of it that bathers bring [-].
    outer_per_day : (s, d) array
        Share of the way to its onset that the outermost layer is filled in a day at first [1/day].
    most : State
        Where layers and cake, by themselves, leave a hundredth of the clean flow; beyond, nothing is told apart.
    uses : (d,) array
        Factor on the dips the study says [-].
    housed : tuple of bool
        Which stages sit in housings rather than on the pump's intake.
    back : Return or None
        What lies after a tee before the housing; None where nothing is known of it.
    return_factor, k_factor : (d,) array
        On its loss, and on that of its fittings [-].
    """

    case: Case
    clean_m3_s: Array
    due_m3_s: Array
    layers_kg_day: tuple[Array, ...]
    caught_kg_day: Array
    bathers_share: Array
    outer_per_day: Array
    most: State
    uses: Array
    housed: tuple[bool, ...]
    back: Return | None
    return_factor: Array
    k_factor: Array

    @property
    def new(self) -> State:
        """All stages new."""
        nothing = np.zeros_like(self.caught_kg_day)
        return State(fed=nothing, cake_kg=nothing)

    def followed(self, state: State, day: float, until: Sequence[float], dips: Sequence[Dips]) -> State:
        """Return the states (m, s, d) on the days ``until``, in order, from a state on a day, nothing being serviced.

        Parameters
        ----------
        state : State
            Shape (s, d).
        day : float
            Days since new [day].
        until : (m,) sequence of float
            Days since new, rising [day].
        dips : sequence of Dips
            Days on which dips were counted, in order.

        Returns
        -------
        State
            On each of those days.
        """
        seen = []
        for end in until:
            while day < end:
                to = min(end, day + _MEANED_DAYS) if dips else end
                state, day = self._stepped(state, to - day, self._load(dips, day, to)), to
            seen.append(state)
        return State(fed=np.array([each.fed for each in seen]), cake_kg=np.array([each.cake_kg for each in seen]))

    def _load(self, dips: Sequence[Dips], day: float, to: float) -> Array | float:
        """Return the mean load from a day to another, over that of a day as the study says (s, d) [-]."""
        counted = dipped = 0.0
        for each in dips[bisect_right(dips, day, key=lambda each: each.end) :]:
            if each.start >= to:
                break
            overlap = min(to, each.end) - max(day, each.start)
            counted, dipped = counted + overlap, dipped + overlap * each.share
        if counted == 0.0:
            return 1.0
        return 1.0 + self.bathers_share * (dipped / self.uses - counted) / (to - day)

    def _stepped(self, state: State, days: float, load: Array | float) -> State:
        """Return the state after some days of a steady load, over that of a day as the study says (s, d) [-]."""
        growth, outer = self.case.growth_per_day, np.maximum(self.outer_per_day, 1e-30)
        fed, cake = state.fed, state.cake_kg
        steps = max(1, ceil(days * float(growth.max()) / _GROWTH_STEP))
        half, brought = np.exp(0.5 * growth * days / steps), load * (days / steps)
        for _ in range(steps):  # growth, catch, growth: Strang's splitting
            part = half * fed * outer
            gained = (_filled(part, outer * brought) - part) / outer
            fed = np.minimum(half * (half * fed + gained), self.most.fed)
            cake = half * (half * cake + (brought - gained) * self.caught_kg_day)
            cake = np.minimum(cake, self.most.cake_kg)
        return State(fed=fed, cake_kg=cake)

    def serviced(self, state: State, service: Service) -> State:
        """Return the state (s, d) after a rinse or a soak of every stage that can be rinsed."""
        upkeep = self.case.upkeep
        keeps = np.ones_like(state.fed)
        if service.rinsed:
            keeps = keeps * upkeep.rinse_keeps
        if service.soaked:
            keeps = keeps * upkeep.soak_keeps
        keeps = np.where(upkeep.rinseable[:, None], keeps, 1.0)
        return State(fed=keeps * state.fed, cake_kg=keeps * state.cake_kg)

    def flow_m3_s(self, state: State) -> Array:
        """Flow left (..., d) for a state (..., s, d) [m3/s]."""
        drags = [self._drag(at, state) for at in range(len(self.case.stages))]

        def spare(flow: Array) -> Array:
            return self.case.loop.left_pa(flow) - sum(self._losses(drags, flow))

        none = np.zeros(drags[0][0].shape)
        largest = np.broadcast_to(self.case.loop.largest_m3_s, none.shape)
        return root_between(spare, none, largest, tolerance=_FLOW_TOLERANCE)

    def loss_pa(self, state: State, flow_m3_s: Array) -> Array:
        """Loss (..., d) of what is in housings for a state (..., s, d) at a flow [Pa]; foam on the intake is not."""
        losses = self._losses([self._drag(at, state) for at in range(len(self.case.stages))], flow_m3_s)
        return np.asarray(sum(loss for loss, housed in zip(losses, self.housed, strict=True) if housed))

    def tube_pa(self, state: State, flow_m3_s: Array) -> Array:
        """Pressure (..., d) before the housings for a state (..., s, d) at a flow [Pa], as a tube or gauge shows it."""
        return self.loss_pa(state, flow_m3_s) + self.return_pa(flow_m3_s)

    def return_pa(self, flow_m3_s: Array) -> Array:
        """Pressure before the housings at a flow without any element (..., d) [Pa]."""
        if self.back is None:
            return np.zeros_like(flow_m3_s)
        return self.back.pressure_pa(flow_m3_s, self.k_factor, self.return_factor)

    def bare_flow_m3_s(self) -> Array:
        """Flow without any element (d,) [m3/s]."""
        largest = self.case.loop.largest_m3_s
        return root_between(self.case.loop.left_pa, np.zeros_like(largest), largest)

    def _losses(self, drags: Sequence[tuple[Array, Array, Array]], flow: Array) -> list[Array]:
        each = flow / self.case.housings
        return [stage_loss_pa(each, linear, square, drag) for linear, square, drag in drags]

    def _drag(self, at: int, state: State) -> tuple[Array, Array, Array]:
        """Return what a stage takes of flow, of its square, and by its cake (..., d), see ``stage_loss_pa``."""
        stage, layers_kg_day = self.case.stages[at], self.layers_kg_day[at]
        fed, cake = state.fed[..., at, :], state.cake_kg[..., at, :]
        held = fed[..., None, :] * layers_kg_day
        over = np.maximum(held - stage.layer_full_kg, 0.0)
        solid = stage.solid_fraction + (held - over) / (stage.volume_m3 * stage.density_kg_m3)
        k = permeability_m2(solid, stage.fibre_squared_m2 * solid / stage.solid_fraction)
        linear = stage.viscosity_pa_s * (stage.path_per_m / k).sum(axis=-2)
        inertia = stage.core_per_m4 + (stage.inertia_per_m3 / np.sqrt(k)).sum(axis=-2)
        cake = cake + over.sum(axis=-2)
        return linear, stage.water_kg_m3 * inertia, stage.drag_per_kg * cake / open_share(cake, room_kg(stage))


def _days_worth(part: Array) -> Array:
    """Return the time that filling a part of the way to the onset takes, over that at the first rate [-].

    The integral of 1 / (1 - u^6): the share 1 - u^6 of the catch goes into the layers.
    """
    square = part * part
    inner = np.log1p(2.0 * part / (1.0 - part + square)) / 12.0
    turn = np.arctan2(np.sqrt(3.0) * part, 1.0 - square) / np.sqrt(12.0)
    time: Array = np.arctanh(part) / 3.0 + inner + turn
    return time


_PARTS = -np.expm1(-np.linspace(0.0, -np.log(1.0 - _NEARLY), 4001))
_TIMES = _days_worth(_PARTS)


def _filled(part: Array, brought: Array) -> Array:
    """Return how far the outermost layer is on its way to the onset after so many days' worth of catch [-]."""
    time = _days_worth(np.minimum(part, _NEARLY)) + brought
    return np.maximum(part, np.interp(time, _TIMES, _PARTS))


def _most(case: Case, layers_kg_day: Sequence[Array], clean: Array) -> State:
    """Return the state (s, d) beyond which a filter is as good as shut."""
    flow = _SHUT * clean
    left = np.maximum(case.loop.left_pa(flow), FLOOR_PA)
    fed, cake = [], []
    for stage, layers in zip(case.stages, layers_kg_day, strict=True):
        shut = left ** (1.0 - POWER) * case.housings / np.maximum(stage.drag_per_kg * flow, 1e-300)
        fed.append((stage.layer_full_kg.sum(axis=0) + shut) / layers.sum(axis=0))
        cake.append(np.minimum(shut, room_kg(stage)))
    return State(fed=np.array(fed), cake_kg=np.array(cake))


def in_use_of(
    case: Case,
    option: Option,
    load: Load,
    factors: Factors,
    back: Return | None = None,
    return_factor: Array | float = 1.0,
) -> InUse:
    """Return an option before the draws, ready to be followed.

    Parameters
    ----------
    case : Case
        The option before the draws.
    option : Option
        The option.
    load : Load
        What comes into its tub.
    factors : Factors
        The draws.
    back : Return, optional
        What lies after a tee before the housing.
    return_factor : float or (d,) array, optional
        On its loss [-].

    Returns
    -------
    InUse
        With the catch that the walk over tables has.
    """
    clean, due = clean_and_due(case)
    low, none = np.minimum(due, _MOST_DUE * clean), np.zeros_like(clean)
    mid = 0.5 * (clean + low)
    caught = case.catches(mid, [none] * len(case.stages))
    if any(stage.strains for stage in case.stages):
        caught = case.catches(mid, [_MID_CAKE * most for most in case.most_cakes(case.duty(low), caught)])
    dust = load.dust_kg_day * factors.dust / np.maximum(case.dirt_kg_day, 1e-300)
    whole = np.array([by_class.sum(axis=0) for by_class in caught])
    brought = np.array([(by_class * (1.0 - dust)).sum(axis=0) for by_class in caught])
    layers = tuple(fed_per_day(stage, by_class) for stage, by_class in zip(case.stages, caught, strict=True))
    ways = [stage.volume_m3[0] * stage.density_kg_m3 * (stage.onset - stage.solid_fraction) for stage in case.stages]
    return InUse(
        case=case,
        clean_m3_s=clean,
        due_m3_s=due,
        layers_kg_day=layers,
        caught_kg_day=whole,
        bathers_share=brought / np.maximum(whole, 1e-300),
        outer_per_day=np.array([each[0] / way for each, way in zip(layers, ways, strict=True)]),
        most=_most(case, layers, clean),
        uses=factors.uses,
        housed=option.housed,
        back=back,
        return_factor=return_factor * np.ones_like(clean),
        k_factor=factors.sum_k,
    )
