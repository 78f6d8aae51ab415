"""A slower tub: water, filter and owner followed event by event, without the mean over the water's life.

The program's answer is quasi-steady: the water is taken as it is on average over its life under the present
filter. Here nothing is averaged. The dirt of every size class in the water is a state of its own; it jumps at
each session, falls as the filter catches it, and is gone at each water change. What is really caught at a time is
what loads the filter then, layer by layer, and the flow follows at once. Rinses, soaks and replacements act on the
layers as they are. It shares media, pump, plumbing, capture, dirt and optics with ``slow_solver`` and nothing with
the program.

Between two events the flow and the capture change little: a step holds them at its middle and takes water, catch
and growth exactly, as exponentials. Steps are so short that no layer and no cake changes much in one; half as long
a step moves days and views by less than 2e-3 of themselves (tests/answers/test_unsteady.py).

Inside, everything is SI except time, which is in days, and the rates that go with it.

Readings chosen where the model leaves room:

- The pump's hours are spread evenly over the day: a class is removed at h Q E/V all day long.
- Bathers' dirt, feet included, comes in sessions, all alike and equally far apart; dust falls all the time.
- Bathers' haze counts the dips of the sessions since the water change.
- Water is changed after its life to the hour, whether or not a session is near.
- "Worst", just after a session, due filter, end of the water's life, is asked as it stands: the water was changed
  one life ago, a session ends now, and the filter went through runs like this one, one after the other, until it is
  due now. "Clean", just before a session, is asked one session after such a run began anew, and the hours to clear of
  the session that follows; a run shorter than that has no such hours. Clarity ends a run when
  that worst view would fall below what is wanted; whether the water is as old as that just then is chance.
- The owner does what the advice says: rinses as often as told, then replaces; ages and time limits as stated.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import slow_solver as slow
from scipy.optimize import brentq

FILL_STEP = 0.004  # of solid share a step, in the layer that fills fastest
CAKE_STEP, CAKE_START_KG_M2 = 0.06, 0.3e-3  # of the cake a step, and what is added to a first one
LONGEST_STEP_DAYS = 1.0
SHORTEST_STEP_DAYS = 1e-5
DUE_TO_DAYS = 1e-4
SHORTEST_RUN_DAYS = 1e-3
REPLACE_SHARE = 0.20
MOST_SERVICES = 4000
FEWEST_DAYS, FEWEST_WATERS = 120.0, 4.0  # a life long enough to have seen water of every age
DAYS_A_YEAR = 365.25
CLEARED_SHARE = 0.90


# ------------------------------------------------------------------------------------------------------------
# Sections 5 and 6: the water


@dataclass(frozen=True, eq=False)
class Inflow:
    """What comes into the water: organic and mineral, by class; arrays (2, 24)."""

    session_kg: np.ndarray
    dust_kg_day: np.ndarray
    sessions_a_day: float
    life_days: float


def inflow_of(tub: dict) -> Inflow:
    """Part the dirt of a day into what sessions bring and what falls in (sections 5 and 6)."""
    dust = slow.DUST_KG_M2_DAY[tub["surroundings"]] * tub["open_surface_m2"] * tub["uncovered_hours_per_day"] / 24.0
    dust_by_class = slow.class_masses(dust, *slow.DUST_SIZE)
    load = slow.load_kg_day(tub)
    bathers = np.array([load["organic"], load["mineral"] - dust_by_class])
    return Inflow(
        session_kg=bathers / tub["sessions_per_day"],
        dust_kg_day=np.array([np.zeros_like(dust_by_class), dust_by_class]),
        sessions_a_day=tub["sessions_per_day"],
        life_days=slow.water_life_days(tub),
    )


def aged(water_kg: np.ndarray, dust_kg_day: np.ndarray, removal_1_day: np.ndarray, days: float) -> np.ndarray:
    """Give the water's dirt after some days without a session, at a steady removal."""
    x = removal_1_day * days
    return water_kg * np.exp(-x) + dust_kg_day * days * slow.rise(x)


def caught_and_grown(
    water_kg: np.ndarray, dust_kg_day: np.ndarray, removal_1_day: np.ndarray, days: float, growth_1_day: float
) -> np.ndarray:
    """Give what is caught in some days at a steady removal, each part grown since it was caught.

    That is the integral of k M(t) exp(g (days - t)), with M(t) as in ``aged``.
    """
    k, g = removal_1_day, growth_1_day
    grown = math.exp(g * days)
    gone = np.exp(-k * days)
    first = k / np.where(k + g > 0.0, k + g, 1.0) * (grown - gone)
    # k/(k+g) (e^gt - e^-kt) integrated against a steady inflow: the part of the dust that has been caught
    steady = math.expm1(g * days) / g if g > 0.0 else days
    x = k * days
    small = x < 1e-6
    safe = np.where(small, 1.0, k + g)
    dust = np.where(small, 0.5 * x * days, steady - (grown - gone) / safe)
    return water_kg * first + dust_kg_day * dust


@dataclass(frozen=True, eq=False)
class Trail:
    """How much each class has been removed since a run began: times (t,), integral of k (t, 24), straight between.

    Times outside the run are those of runs like it, before and after.
    """

    days: np.ndarray
    removed: np.ndarray

    @property
    def end(self) -> float:
        """Give the length of the run."""
        return float(self.days[-1])

    def plus(self, removal_1_day: np.ndarray, days: float) -> Trail:
        """Give the trail after some days more at a steady removal."""
        further = self.removed[-1] + removal_1_day * days
        return Trail(np.append(self.days, self.days[-1] + days), np.vstack([self.removed, further]))

    def at(self, days: np.ndarray) -> np.ndarray:
        """Give the integral of k at times, classes last."""
        runs = np.floor(days / self.end)
        inside = np.clip(days - runs * self.end, 0.0, self.end)
        below = np.clip(np.searchsorted(self.days, inside, side="right") - 1, 0, len(self.days) - 2)
        part = (inside - self.days[below]) / (self.days[below + 1] - self.days[below])
        between = self.removed[below] + part[:, None] * (self.removed[below + 1] - self.removed[below])
        return between + runs[:, None] * self.removed[-1]


NO_TRAIL = Trail(np.zeros(1), np.zeros((1, len(slow.CLASS_M))))


def steady_trail(removal_1_day: np.ndarray) -> Trail:
    """Give the trail of a filter that never changes."""
    return NO_TRAIL.plus(removal_1_day, 1.0)


@dataclass(frozen=True, eq=False)
class Water:
    """What the water holds, organic and mineral by class (2, 24), and how many sessions it has seen."""

    kg: np.ndarray
    sessions: float


def water_on(inflow: Inflow, trail: Trail, day: float, age_days: float, since_session_days: float) -> Water:
    """Give the water on a day of a run: changed so long ago, the last session so long ago (section 6)."""
    gap = 1.0 / inflow.sessions_a_day
    number = max(math.ceil((age_days - since_session_days) / gap - 1e-9), 0)
    sessions = day - since_session_days - gap * np.arange(number)
    edges = np.concatenate([[day - age_days], sessions[::-1], [day]])
    removed = trail.at(edges)
    left = np.exp(removed - removed[-1])
    kg = inflow.session_kg * left[1:-1].sum(axis=0)
    width = np.diff(edges)
    fell = (width[:, None] * slow.rise(np.diff(removed, axis=0)) * left[1:]).sum(axis=0)
    return Water(kg + inflow.dust_kg_day * fell, float(number))


# ------------------------------------------------------------------------------------------------------------
# Section 7: how clear it is


_PER_KG_M3 = np.array(
    [1.5 * slow.extinction(kind) / (slow.DRY_DENSITY_KG_M3[kind] * slow.CLASS_M) for kind in ("organic", "mineral")]
)


def attenuation_1_m(tub: dict, water: Water) -> float:
    """Give the beam attenuation of the water (section 7)."""
    dips = water.sessions * tub["uses_per_day"] / tub["sessions_per_day"]
    haze = slow.HAZE_1_M + slow.HAZE_A_DIP_PER_100_L * dips / (tub["volume_m3"] / 0.1)
    return slow.CLEAR_WATER_1_M + haze + float(np.sum(_PER_KG_M3 * water.kg)) / tub["volume_m3"]


def worst_view_m(tub: dict, inflow: Inflow, trail: Trail) -> float:
    """Give the view just after a session at the end of the water's life, the filter due as a run ends."""
    return slow.BLACK_DISC / attenuation_1_m(tub, water_on(inflow, trail, trail.end, inflow.life_days, 0.0))


def _new_filter_day(inflow: Inflow, trail: Trail) -> float:
    return min(1.0 / inflow.sessions_a_day, trail.end)


def clean_view_m(tub: dict, inflow: Inflow, trail: Trail) -> float:
    """Give the view just before a session at the end of the water's life, one session after a run began."""
    day = _new_filter_day(inflow, trail)
    water = water_on(inflow, trail, day, inflow.life_days, 1.0 / inflow.sessions_a_day)
    return slow.BLACK_DISC / attenuation_1_m(tub, water)


def hours_to_clear(inflow: Inflow, trail: Trail) -> float:
    """Give the hours from a session until the attenuation is 90 % of the way to what it is before the next.

    A run that ends before has no such time, as the filter is not one and the same: not a number.
    """
    day, gap = _new_filter_day(inflow, trail), 1.0 / inflow.sessions_a_day
    if trail.end < 2.0 * gap:
        return math.nan
    start = water_on(inflow, trail, day, inflow.life_days, 0.0)
    after = gap * np.concatenate([[0.0], np.geomspace(1e-4, 1.0, 400)])
    removed = trail.at(day + after) - trail.at(np.array([day]))
    fell = after[:, None] * slow.rise(removed)
    kg = start.kg * np.exp(-removed)[:, None, :] + inflow.dust_kg_day * fell[:, None, :]
    seen = np.sum(_PER_KG_M3 * kg, axis=(1, 2))
    target = seen[0] - CLEARED_SHARE * (seen[0] - seen[-1])
    if seen[0] <= seen[-1]:
        return math.nan
    first = int(np.argmax(seen <= target))
    low, high = seen[first - 1], seen[first]
    return 24.0 * float(after[first - 1] + (after[first] - after[first - 1]) * (low - target) / (low - high))


# ------------------------------------------------------------------------------------------------------------
# Sections 2 to 4 and 8: the filter at a moment


@dataclass(eq=False)
class Stage:
    """What one element of a stage holds."""

    layer_kg: np.ndarray
    cake_kg: float

    def kept(self, share: float) -> Stage:
        """Give what is left after cleaning."""
        return Stage(share * self.layer_kg, share * self.cake_kg)

    @property
    def kg(self) -> float:
        """Give all it holds."""
        return float(np.sum(self.layer_kg)) + self.cake_kg


def new_stage(element: slow.Element) -> Stage:
    """Give an element that holds nothing."""
    return Stage(np.zeros(element.layers), 0.0)


@dataclass(frozen=True, eq=False)
class Look:
    """What the filter does just now."""

    flow_m3_s: float
    losses_pa: list[float]
    removal_1_day: np.ndarray
    shares: list[np.ndarray]  # of what the whole filter catches of each class, by stage, for one element
    inside: list[np.ndarray]  # of what a stage catches, by layer and class
    top: list[float]

    @property
    def loss_pa(self) -> float:
        """Give the filter's loss, all stages."""
        return sum(self.losses_pa)


def _factors(plant: slow.Plant, element: slow.Element, stage: Stage) -> tuple[float, float, float]:
    layers = slow.layers_loss_factors(element, stage.layer_kg, plant.rho)
    return *layers, slow.cake_at_10_kpa_1_m3(element, stage.cake_kg)


def losses_at_pa(plant: slow.Plant, stages: Sequence[Stage], flow_m3_s: float) -> list[float]:
    """Give each stage's loss at a flow (section 8)."""
    each = flow_m3_s / plant.in_parallel
    return [
        slow.stage_loss_pa(each, *_factors(plant, element, stage), plant.mu)
        for element, stage in zip(plant.elements, stages, strict=True)
    ]


def _flow_m3_s(plant: slow.Plant, factors: list[tuple[float, float, float]], near: float) -> float:
    """Find the flow at which the filter takes what pump and plumbing leave, looking near a flow first."""

    def spare(q: float) -> float:
        taken = sum(slow.stage_loss_pa(q / plant.in_parallel, *factor, plant.mu) for factor in factors)
        return plant.head_left(q) - taken / (plant.rho * slow.GRAVITY_M_S2)

    if spare(0.0) <= 0.0:
        return 0.0
    low, high = 0.98 * near, 1.0001 * near
    while spare(high) > 0.0:
        low, high = high, 1.05 * high
    while spare(low) <= 0.0:
        low, high = 0.7 * low, low
    return brentq(spare, low, high, xtol=1e-16, rtol=1e-10)


def look(plant: slow.Plant, stages: Sequence[Stage], near_m3_s: float = 1e-4) -> Look:
    """Work out flow, losses, removal, and where the catch goes (sections 2, 4, 6 and 8)."""
    factors = [_factors(plant, element, stage) for element, stage in zip(plant.elements, stages, strict=True)]
    flow = _flow_m3_s(plant, factors, near_m3_s)
    reaching = np.ones_like(slow.CLASS_M)
    caught, inside, top = [], [], []
    for element, stage in zip(plant.elements, stages, strict=True):
        e = slow.capture(element, stage.cake_kg)
        caught.append((1.0 - slow.BYPASS_SHARE) * e * reaching)
        reaching = reaching - caught[-1]
        inside.append(slow.layer_shares(e, element.layers))
        top.append(slow.share_on_top(element, stage.layer_kg))
    whole = 1.0 - reaching
    parts = plant.in_parallel * np.where(whole > 0.0, whole, 1.0)
    turnovers_a_day = plant.run_share * flow * slow.SECONDS_A_DAY / plant.tub["volume_m3"]
    return Look(
        flow_m3_s=flow,
        losses_pa=[slow.stage_loss_pa(flow / plant.in_parallel, *factor, plant.mu) for factor in factors],
        removal_1_day=turnovers_a_day * whole,
        shares=[one / parts for one in caught],
        inside=inside,
        top=top,
    )


def full(element: slow.Element, stage: Stage) -> float:
    """Give how near an element is to full, 1 when it is (section 8)."""
    room = float(np.sum(element.layer_capacity_kg)) * (1.0 - 1e-9)
    return max(slow.fullness(element, stage.layer_kg, stage.cake_kg), float(np.sum(stage.layer_kg)) / room)


# ------------------------------------------------------------------------------------------------------------
# The tub in use


@dataclass(eq=False)
class Tub:
    """A tub in use: its filter, its water, and the calendar; what came, left and was caught, as organic dirt."""

    plant: slow.Plant
    inflow: Inflow
    stages: list[Stage]
    water: Water
    now: Look
    day: float
    next_session: float
    next_change: float
    fineness: float = 1.0
    came_kg: float = 0.0
    thrown_kg: float = 0.0
    flow_days: float = 0.0


def tub_of(plant: slow.Plant, *, fineness: float = 1.0, session_phase: float = 0.5) -> Tub:
    """Give a tub with a new filter and fresh water, the first session a part of an interval away."""
    inflow = inflow_of(plant.tub)
    stages = [new_stage(element) for element in plant.elements]
    return Tub(
        plant=plant,
        inflow=inflow,
        stages=stages,
        water=Water(np.zeros_like(inflow.session_kg), 0.0),
        now=look(plant, stages),
        day=0.0,
        next_session=session_phase / inflow.sessions_a_day,
        next_change=inflow.life_days,
        fineness=fineness,
    )


def as_organic(kg: np.ndarray) -> np.ndarray:
    """Give what organic and mineral dirt count for in a deposit, by class (section 5)."""
    return kg[0] + slow.MINERAL_AS_ORGANIC * kg[1]


def _loaded(tub: Tub, by: Look, days: float) -> tuple[list[Stage], float]:
    """Give the stages after some days as a look has it, and how large a step that is: 1 is as large as wanted."""
    growth = tub.plant.growth_1_day
    grown = math.exp(growth * days)
    water, dust = as_organic(tub.water.kg), as_organic(tub.inflow.dust_kg_day)
    catch = caught_and_grown(water, dust, by.removal_1_day, days, growth)
    after, size = [], 0.0
    for element, stage, share, inside, top in zip(
        tub.plant.elements, tub.stages, by.shares, by.inside, by.top, strict=True
    ):
        mine = share * catch
        stays, inner = math.exp((1.0 - top) * growth * days), float(stage.layer_kg.sum())
        layers = stage.layer_kg * stays + (1.0 - top) * (inside @ mine)
        cake = stage.cake_kg * grown + top * float(mine.sum()) + inner * (grown - stays)
        refused = np.maximum(layers - element.layer_capacity_kg, 0.0)
        over = float(refused.sum())
        if over > 0.0:
            layers, cake = layers - refused, cake + over
        after.append(Stage(layers, cake))
        filled = (layers - stage.layer_kg) / (element.layer_volume_m3 * element.deposit_density_kg_m3)
        caked = (cake - stage.cake_kg) / (CAKE_STEP * stage.cake_kg + CAKE_START_KG_M2 * element.face_m2)
        size = max(size, float(filled.max()) / FILL_STEP, caked)
    return after, size / tub.fineness


@dataclass(frozen=True, eq=False)
class Ahead:
    """A step that could be taken: the stages and the look after it, and the removal during it."""

    days: float
    stages: list[Stage]
    now: Look
    removal_1_day: np.ndarray


def ahead(tub: Tub, days: float) -> Ahead:
    """Work out a step: with the look of its middle from end to end."""
    half, _ = _loaded(tub, tub.now, 0.5 * days)
    middle = look(tub.plant, half, tub.now.flow_m3_s)
    stages, _ = _loaded(tub, middle, days)
    return Ahead(days, stages, look(tub.plant, stages, middle.flow_m3_s), middle.removal_1_day)


def step_days(tub: Tub, longest: float) -> float:
    """Choose how far to go at once: at most to the next event, and not so far that much changes."""
    days = min(longest, LONGEST_STEP_DAYS * tub.fineness)
    while days > SHORTEST_STEP_DAYS and _loaded(tub, tub.now, days)[1] > 1.0:
        days *= 0.5
    return days


def take(tub: Tub, step: Ahead) -> None:
    """Take a step."""
    dust = tub.inflow.dust_kg_day
    tub.flow_days += 0.5 * (tub.now.flow_m3_s + step.now.flow_m3_s) * step.days
    tub.came_kg += float(np.sum(as_organic(dust))) * step.days
    tub.water = Water(aged(tub.water.kg, dust, step.removal_1_day, step.days), tub.water.sessions)
    tub.stages, tub.now = step.stages, step.now
    tub.day += step.days


def calendar(tub: Tub) -> None:
    """Let happen what falls on this very moment: a water change, then a session."""
    if tub.day >= tub.next_change - 1e-12:
        tub.thrown_kg += float(np.sum(as_organic(tub.water.kg)))
        tub.water = Water(np.zeros_like(tub.water.kg), 0.0)
        tub.next_change += tub.inflow.life_days
    if tub.day >= tub.next_session - 1e-12:
        tub.came_kg += float(np.sum(as_organic(tub.inflow.session_kg)))
        tub.water = Water(tub.water.kg + tub.inflow.session_kg, tub.water.sessions + 1.0)
        tub.next_session += 1.0 / tub.inflow.sessions_a_day


@dataclass(frozen=True, eq=False)
class Run:
    """A run from one service to the next."""

    days: float
    governed_by: str
    trail: Trail


Margin = Callable[[Look, list[Stage], Trail], float]


def margins_of(plant: slow.Plant, limits: slow.Limits, inflow: Inflow, *, clarity: bool) -> dict[str, Margin]:
    """Give what ends a run by name: above 0 while it goes on (section 8)."""
    margins: dict[str, Margin] = {}
    if limits.flow_m3_s > 0.0:
        margins["flow"] = lambda now, _stages, _trail: now.flow_m3_s / limits.flow_m3_s - 1.0
    if math.isfinite(limits.loss_pa):
        margins["pressure"] = lambda now, _stages, _trail: 1.0 - now.loss_pa / limits.loss_pa
    margins["full"] = lambda _now, stages, _trail: 1.0 - max(map(full, plant.elements, stages))
    if clarity:
        margins["clarity"] = lambda _now, _stages, trail: (
            worst_view_m(plant.tub, inflow, trail) / limits.see_through_m - 1.0
        )
    return margins


def run(tub: Tub, margins: dict[str, Margin], longest_days: float) -> Run:
    """Use the tub until service falls due (section 8); the tub is left as it is then."""
    start, trail = tub.day, NO_TRAIL

    def least(now: Look, stages: list[Stage], at: Trail) -> tuple[float, str]:
        return min((margin(now, stages, at), name) for name, margin in margins.items())

    def spare(days: float) -> float:
        step = ahead(tub, days)
        return least(step.now, step.stages, trail.plus(step.removal_1_day, days))[0]

    worst, name = least(tub.now, tub.stages, steady_trail(tub.now.removal_1_day))
    if worst <= 0.0:
        return Run(0.0, name, trail)
    while tub.day - start < longest_days - 1e-9:
        calendar(tub)
        until = min(start + longest_days, tub.next_session, tub.next_change)
        step = ahead(tub, step_days(tub, until - tub.day))
        after = trail.plus(step.removal_1_day, step.days)
        worst, name = least(step.now, step.stages, after)
        if worst < 0.0:
            soonest = 1e-3 * step.days
            due = brentq(spare, soonest, step.days, xtol=DUE_TO_DAYS) if spare(soonest) > 0.0 else soonest
            step = ahead(tub, due)
            after = trail.plus(step.removal_1_day, step.days)
            name = least(step.now, step.stages, after)[1]
        take(tub, step)
        trail = after
        if worst < 0.0:
            return Run(tub.day - start, name, trail)
    return Run(tub.day - start, "time limit", trail)


# ------------------------------------------------------------------------------------------------------------
# Section 9: rinses, soaks and replacements


@dataclass(frozen=True)
class Care:
    """How the elements of a stage are looked after: ``most_runs`` is the advice, runs until it is replaced."""

    rinseable: bool
    rinse_recovery: float
    soak_every: int
    soak_recovery: float
    most_runs: int


@dataclass(eq=False)
class Lives:
    """What was done to an option over years: services, and by stage the last replacement and counts."""

    days: float
    flow_m3_s: float
    run_days: list[float]
    limits: list[str]
    rinsed: np.ndarray
    soaked: np.ndarray
    replaced: np.ndarray
    last_replaced_days: np.ndarray

    @property
    def a_year(self) -> dict[str, np.ndarray]:
        """Give rinses, soaks and replacements a year, by stage, of one element; those of whole lives."""
        years = self.last_replaced_days / DAYS_A_YEAR
        bought = np.where(self.replaced > 0, self.replaced / np.where(years > 0.0, years, 1.0), 0.0)
        whole = self.days / DAYS_A_YEAR
        return {"replaced": bought, "rinsed": self.rinsed / whole, "soaked": self.soaked / whole}


def spent(plant: slow.Plant, stages: Sequence[Stage], now: Look) -> list[bool]:
    """Say which stages are full or carry much of the loop's extra loss when due."""
    new = losses_at_pa(plant, [new_stage(element) for element in plant.elements], now.flow_m3_s)
    extra = [loss - clean for loss, clean in zip(now.losses_pa, new, strict=True)]
    return [
        (one > 0.0 and one >= REPLACE_SHARE * sum(extra)) or full(element, stage) >= 1.0 - 1e-4
        for one, element, stage in zip(extra, plant.elements, stages, strict=True)
    ]


def live(tub: Tub, case: dict, cares: Sequence[Care], margins: dict[str, Margin], until_days: float) -> Lives:
    """Use a tub: run, service, run; until all stages are new at once after a good while, or the time is up."""
    needs, plant = case["needs"], tub.plant
    number = len(cares)
    oldest = np.array(
        [
            needs["discard_days"] if care.rinseable else min(needs["replace_limit_days"], needs["discard_days"])
            for care in cares
        ]
    )
    between = needs["rinse_limit_days"] if any(care.rinseable for care in cares) else math.inf
    enough_days = max(FEWEST_DAYS, FEWEST_WATERS * tub.inflow.life_days)
    age, count = np.zeros(number), np.zeros(number, dtype=int)
    lives = Lives(0.0, 0.0, [], [], *(np.zeros(number) for _ in range(4)))
    while len(lives.run_days) < MOST_SERVICES:
        done = run(tub, margins, min(between, float(np.min(oldest - age))))
        lives.run_days.append(done.days)
        lives.limits.append(done.governed_by)
        age += done.days
        stuck = done.days < SHORTEST_RUN_DAYS
        for stage, (care, worn) in enumerate(zip(cares, spent(plant, tub.stages, tub.now), strict=True)):
            enough = count[stage] + 1 >= care.most_runs or stuck if care.rinseable else number == 1 or worn
            if enough or age[stage] >= oldest[stage] - 1e-6:
                tub.stages[stage] = new_stage(plant.elements[stage])
                lives.replaced[stage] += 1
                lives.last_replaced_days[stage] = tub.day
                age[stage], count[stage] = 0.0, 0
            elif care.rinseable:
                count[stage] += 1
                soak = care.soak_every > 0 and count[stage] % care.soak_every == 0
                kept = (1.0 - care.rinse_recovery) * (1.0 - care.soak_recovery if soak else 1.0)
                tub.stages[stage] = tub.stages[stage].kept(kept)
                lives.rinsed[stage] += 1
                lives.soaked[stage] += soak
        tub.now = look(plant, tub.stages, tub.now.flow_m3_s)
        if tub.day >= until_days or (tub.day >= enough_days and not age.any()):
            break
    lives.days, lives.flow_m3_s = tub.day, tub.flow_days / tub.day
    return lives


# ------------------------------------------------------------------------------------------------------------
# The answer


@dataclass(frozen=True, eq=False)
class Answer:
    """What the slower tub says.

    ``days`` is the first run of a new filter in fresh water, the first session half an interval away; ``days_by_phase``
    the same begun at other ages of the water and times since the last session, evenly spread over both. ``lives``
    starts like ``days``. ``clear`` says whether the clean filter is clear enough, ``moves`` whether it has the flow.
    """

    moves: bool
    clear: bool
    clean_worst_m: float
    days: float = 0.0
    governed_by: str = ""
    days_by_phase: tuple[float, ...] = ()
    see_through_clean_m: float = math.nan
    see_through_worst_m: float = math.nan
    hours_to_clear: float = math.nan
    lives: Lives | None = None

    @property
    def by_phase_mean(self) -> float | None:
        """Give the mean first run over the other beginnings."""
        return sum(self.days_by_phase) / len(self.days_by_phase) if self.days_by_phase else None


def time_limit_days(case: dict) -> float:
    """Give the time limit of a first run (section 8)."""
    return slow.time_limit_days(case["needs"], [stage["kind"] for stage in case["stages"]])


def begun_at(tub: Tub, trail: Trail, age_days: float, session_phase: float) -> Tub:
    """Set a tub's water and calendar to a time in the water's life, left by runs like the trail's."""
    gap = 1.0 / tub.inflow.sessions_a_day
    tub.water = water_on(tub.inflow, trail, 0.0, age_days, (1.0 - session_phase) * gap)
    tub.next_change, tub.next_session = tub.inflow.life_days - age_days, session_phase * gap
    return tub


def solve(
    case: dict,
    cares: Sequence[Care],
    *,
    until_days: float = 0.0,
    phases: int = 0,
    fineness: float = 1.0,
) -> Answer:
    """Follow one case.

    Parameters
    ----------
    case
        As for ``slow_solver.solve``.
    cares
        How each stage is looked after.
    until_days
        How long to live with it at most; 0 for the first run alone.
    phases
        How many other beginnings to try.
    fineness
        Factor on the steps.

    Returns
    -------
    Answer
        First run, views and services.
    """
    plant = slow.plant_of(case)
    first = tub_of(plant, fineness=fineness)
    inflow = first.inflow
    clean = first.now
    limits = slow.limits_of(case, slow.Moment(clean.flow_m3_s, clean.losses_pa, [], clean.removal_1_day))
    if clean.flow_m3_s <= 0.0 or clean.flow_m3_s <= limits.flow_m3_s:
        return Answer(False, False, math.nan)
    clean_worst = worst_view_m(plant.tub, inflow, steady_trail(clean.removal_1_day))
    clear = clean_worst >= limits.see_through_m
    margins = margins_of(plant, limits, inflow, clarity=clear and limits.see_through_m > 0.0)
    longest = time_limit_days(case)
    done = run(first, margins, longest)
    days = [
        run(
            begun_at(tub_of(plant, fineness=fineness), done.trail, inflow.life_days * (i + 0.5) / phases, _spread(i)),
            margins,
            longest,
        ).days
        for i in range(phases)
    ]
    lives = None
    if until_days > 0.0:
        lives = live(tub_of(plant, fineness=2.0 * fineness), case, cares, margins, until_days)
    return Answer(
        moves=True,
        clear=clear,
        clean_worst_m=clean_worst,
        days=done.days,
        governed_by=done.governed_by,
        days_by_phase=tuple(days),
        see_through_clean_m=clean_view_m(plant.tub, inflow, done.trail),
        see_through_worst_m=worst_view_m(plant.tub, inflow, done.trail),
        hours_to_clear=hours_to_clear(inflow, done.trail),
        lives=lives,
    )


def _spread(i: int) -> float:
    """Spread whole numbers over 0 to 1, each run of them evenly (radical inverse to base 2, shifted off 0)."""
    return (int(f"{i:016b}"[::-1], 2) / 65536.0 + 1.0 / 65536.0 * 0.5) % 1.0
