"""An option in use: how its stages load from new through services on days that are given, before many draws.

The walk over tables asks when a service falls due; here the owner has said when it was, and how many dips there were.
So the clock of each stage, see ``loading.table``, is stepped from day to day, growth and load each by its own time.
Shapes: d draws, s stages, n layers, m moments; draws come last.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import NamedTuple

import numpy as np

from filtration.base.arrays import Array
from filtration.base.draws import Factors
from filtration.base.waiting import look_up
from filtration.loading.case import Case
from filtration.loading.law import FLOOR_PA, POWER
from filtration.loading.stage import Resistance, resistance_of
from filtration.loading.table import Course
from filtration.loading.tabulate import MOST_DUE, guessed_courses
from filtration.physics.return_line import Return
from filtration.service.care import Care
from filtration.study.values import Option

MEANED_DAYS = 7.0
"""Over which counted dips are meaned; when they came matters only to what has grown since."""

_GROWTH_STEP = 0.1  # of a deposit, that grows in one step
_NEARLY = 1.0 - 1e-9  # there, of the way of the outermost layer to its onset
_STRAINING_DAYS = 3.5  # longest step over which the catch of a straining sheet is that at its middle
_FLOW_TOLERANCE = 1e-6
_SHUT = 0.01  # of the clean flow


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


class State(NamedTuple):
    """Where the stages stand; clock (..., s, d) [day] and what is on the face (..., s, d) [kg]."""

    fed: Array
    cake_kg: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InUse:
    """An option before the draws, ready to be followed.

    Parameters
    ----------
    case, care : Case, Care
        The option, and how it is looked after.
    courses : tuple of Course
        What one element of each stage catches on a day as the study says, as tables of its first run have it.
    caught_kg_day, bathers_share : (s, d) array
        That catch without a cake [kg/day], and the share of it that bathers bring [-].
    rise : (2, s, d) array
        What a cake that strains adds to the catch, see ``Course``.
    outer_per_day : (s, d) array
        Share of the way to its onset that the outermost layer is filled in a day at first [1/day].
    most : State
        Where layers and cake, by themselves, leave a hundredth of the clean flow; beyond, nothing is told apart.
    factors : Factors
        The draws.
    housed : tuple of bool
        Which stages sit in housings rather than on the pump's intake.
    back : Return or None
        What lies after a tee before the housing; None where nothing is known of it.
    return_factor : (d,) array
        On its loss [-].
    """

    case: Case
    care: Care
    courses: tuple[Course, ...]
    caught_kg_day: Array
    rise: Array
    bathers_share: Array
    outer_per_day: Array
    most: State
    factors: Factors
    housed: tuple[bool, ...]
    back: Return | None
    return_factor: Array

    @property
    def new(self) -> State:
        """All stages new."""
        return State(*np.zeros((2, *self.caught_kg_day.shape)))

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
            look_up()
            while day < end:
                to = min(end, day + MEANED_DAYS) if dips else end
                state, day = self._stepped(state, to - day, self._load(dips, day, to)), to
            seen.append(state)
        return State(np.array([each.fed for each in seen]), np.array([each.cake_kg for each in seen]))

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
        return 1.0 + self.bathers_share * (dipped / self.factors.uses - counted) / (to - day)

    def _stepped(self, state: State, days: float, load: Array | float) -> State:
        """Return the state after some days of a steady load, over that of a day as the study says (s, d) [-]."""
        growth, (fed, cake), strains = self.case.growth_per_day, state, self.rise[0].any()
        steps = max(1, ceil(days * float(growth.max()) / _GROWTH_STEP))
        if strains:
            steps = max(steps, ceil(days / _STRAINING_DAYS))
        half, brought = np.exp(0.5 * growth * days / steps), load * (days / steps) * np.ones_like(fed)
        for _ in range(steps):  # growth, catch, growth: Strang's splitting
            fed, cake = self._grown(fed, cake, half)
            part = fed * self.outer_per_day
            gained, added = self._caught(part, brought * self._strained(cake))
            if strains:
                gained, added = self._caught(part, brought * self._strained(cake + 0.5 * added))
            fed, cake = self._grown(fed + gained, cake + added, half)
            fed, cake = np.minimum(fed, self.most.fed), np.minimum(cake, self.most.cake_kg)
        return State(fed=fed, cake_kg=cake)

    def _grown(self, fed: Array, cake_kg: Array, times: Array) -> tuple[Array, Array]:
        """Return clock [day] and cake [kg] (s, d) grown so many times; growth goes where the catch goes."""
        in_layers = fed * times ** (1.0 - np.minimum(fed * self.outer_per_day, 1.0) ** 6)
        return in_layers, times * cake_kg + (times * fed - in_layers) * self.caught_kg_day

    def _caught(self, part: Array, days_worth: Array) -> tuple[Array, Array]:
        """Clock [day] and cake [kg] (s, d) that days' worth of catch add to a partly filled outermost layer."""
        gained = (_filled(part, self.outer_per_day * days_worth) - part) / self.outer_per_day
        return gained, (days_worth - gained) * self.caught_kg_day

    def _strained(self, cake_kg: Array) -> Array:
        """Catch with some cake (s, d) that strains, over that without [-]."""
        in_the_end, to_half = self.rise
        return np.asarray(1.0 + in_the_end * cake_kg / (to_half + cake_kg))

    def serviced(self, state: State, service: Service) -> State:
        """Return the state (s, d) after a rinse or a soak of every stage that can be rinsed."""
        rinsed = self.care.rinse_residual if service.rinsed else 1.0
        soaked = self.care.soak_residual if service.soaked else 1.0
        residual = np.where(self.care.rinseable, rinsed * soaked, 1.0)
        return State(fed=residual * state.fed, cake_kg=residual * state.cake_kg)

    def flow_m3_s(self, state: State) -> Array:
        """Flow left (..., d) for a state (..., s, d) [m3/s]."""
        return self.case.flow_m3_s(self.resistances(state), tolerance=_FLOW_TOLERANCE)

    def loss_pa(self, state: State, flow_m3_s: Array) -> Array:
        """Loss (..., d) of what is in housings for a state (..., s, d) at a flow [Pa]; foam on the intake is not."""
        losses = self.case.losses_pa(self.resistances(state), flow_m3_s)
        return np.asarray(sum(loss for loss, housed in zip(losses, self.housed, strict=True) if housed))

    def tube_pa(self, state: State, flow_m3_s: Array) -> Array:
        """Pressure (..., d) before the housings for a state (..., s, d) at a flow [Pa], as a tube or gauge shows it."""
        return self.loss_pa(state, flow_m3_s) + self.return_pa(flow_m3_s)

    def return_pa(self, flow_m3_s: Array) -> Array:
        """Pressure before the housings at a flow without any element (..., d) [Pa]."""
        if self.back is None:
            return np.zeros_like(flow_m3_s)
        return self.back.pressure_pa(flow_m3_s, self.factors.sum_k, self.return_factor)

    def by_layer_kg(self, state: State) -> list[Array]:
        """Deposit that fell to each layer of each stage (..., n, d) for a state (..., s, d) [kg]."""
        return [state.fed[..., at, None, :] * course.fed_kg_day for at, course in enumerate(self.courses)]

    def resistances(self, state: State) -> list[Resistance]:
        """Return what the stages do to the flow in a state (..., s, d)."""
        layers = zip(self.case.stages, self.by_layer_kg(state), strict=True)
        return [resistance_of(stage, kg, state.cake_kg[..., at, :]) for at, (stage, kg) in enumerate(layers)]


def _days_worth(part: Array) -> Array:
    """Return the time that filling a part of the way to the onset takes, over that at the first rate [-].

    The integral of 1 / (1 - u^6): the share 1 - u^6 of the catch goes into the layers.
    """
    square = part * part
    inner = np.log1p(2.0 * part / (1.0 - part + square)) / 12.0
    turn = np.arctan2(np.sqrt(3.0) * part, 1.0 - square) / np.sqrt(12.0)
    return np.asarray(np.arctanh(part) / 3.0 + inner + turn)


_PARTS = -np.expm1(-np.linspace(0.0, -np.log(1.0 - _NEARLY), 4001))
_TIMES = _days_worth(_PARTS)


def _filled(part: Array, brought: Array) -> Array:
    """Return how far the outermost layer is on its way to the onset after so many days' worth of catch [-]."""
    time = _days_worth(np.minimum(part, _NEARLY)) + brought
    return np.maximum(part, np.interp(time, _TIMES, _PARTS))


def _most(case: Case, courses: Sequence[Course], clean: Array) -> State:
    """Return the state (s, d) beyond which a filter is as good as shut."""
    flow = _SHUT * clean
    left = np.maximum(case.loop.left_pa(flow), FLOOR_PA)
    fed, cake = [], []
    for stage, course in zip(case.stages, courses, strict=True):
        shut = left ** (1.0 - POWER) * case.housings / np.maximum(stage.drag_per_kg * flow, 1e-300)
        fed.append((stage.layer_full_kg.sum(axis=0) + shut) / course.fed_kg_day.sum(axis=0))
        cake.append(np.minimum(shut, stage.room_kg))
    return State(fed=np.array(fed), cake_kg=np.array(cake))


def in_use_of(
    case: Case, care: Care, option: Option, factors: Factors, back: Return | None, return_factor: Array | float
) -> InUse:
    """Return an option before the draws, ready to be followed.

    Parameters
    ----------
    case, care, option : Case, Care, Option
        The option before the draws, and how it is looked after.
    factors : Factors
        The draws.
    back : Return or None
        What lies after a tee before the housing.
    return_factor : float or (d,) array
        On its loss [-].

    Returns
    -------
    InUse
        With the catch that tables of its first run have.
    """
    clean, due = case.clean_and_due()
    low = np.minimum(due, MOST_DUE * clean)
    mid = 0.5 * (clean + low)
    courses = guessed_courses(case, case.duty(low), mid)
    caught = case.catches(mid, case.new)
    brought = np.array([(by_class * case.bathers_share).sum(axis=0) for by_class in caught])
    ways = [stage.volume_m3[0] * stage.density_kg_m3 * (stage.onset - stage.solid_fraction) for stage in case.stages]
    return InUse(
        case=case,
        care=care,
        courses=courses,
        caught_kg_day=np.array([course.fed_kg_day.sum(axis=0) for course in courses]),
        rise=np.stack([course.rise for course in courses], axis=1),
        bathers_share=brought / np.maximum(np.array([by_class.sum(axis=0) for by_class in caught]), 1e-300),
        outer_per_day=np.maximum([each.fed_kg_day[0] / way for each, way in zip(courses, ways, strict=True)], 1e-30),
        most=_most(case, courses, clean),
        factors=factors,
        housed=option.housed,
        back=back,
        return_factor=return_factor * np.ones_like(clean),
    )
