"""Simulated owners: a tub whose truth is drawn from the prior, read by an owner with a bucket.

The truth is the slow solver's: every layer and class, at the flow of the moment. The program shares nothing with it.
"""

import random
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import slow_solver
from fluids.fittings import exit_normal
from fluids.friction import friction_factor
from scipy.optimize import brentq
from slow_solver_cases import as_slow, cases_of
from studies import Given, demo_data

from filtration import Forecast, Study, forecast
from filtration.base.defaults import UNKNOWNS
from filtration.base.draws import factors_of
from filtration.readings.learning import nothing_known
from filtration.readings.reading import Reading, reading_of
from filtration.readings.record import RETURN, Record
from filtration.readings.sorting import record_of
from filtration.study.file import study_from_dict

START = datetime(2026, 1, 1, tzinfo=UTC)
SINGLE = ("pleated-20", "pleated-10", "pleated-5", "pleated-50", "pleated-20-long", "foam-20-ppi")
CENTRAL = dict.fromkeys((unknown.key for unknown in UNKNOWNS), 0.0)
_NEEDS: dict[str, object] = {"turnovers_per_hour": 2.0}  # few tubs lack it: those left out are not the prior's
_SHORTEST, _LONGEST = 3.0, 300.0  # days of a first run of an owner
_NOTHING_ENDS = slow_solver.Limits(-np.inf, np.inf, -np.inf, np.inf, full=False)


def data_in_use(option: str | None = "pleated-20", **changes: dict[str, object]) -> Given:
    """Return the freezer tub on a narrower hose, an option in use since the start, nothing due by the calendar."""
    data = demo_data("freezer")
    data["plumbing"]["bore"] = "19 mm"
    data["needs"] |= {"rinse_at_least_every": "never", "see_through": "0.3 m"}
    if option is not None:
        data["in_use"] = {"option": option, "since": START.date().isoformat()}
    for table, keys in changes.items():
        data[table] = data.get(table, {}) | keys
    return data


def study_in_use(option: str | None = "pleated-20", **changes: dict[str, object]) -> Study:
    """Return the study of ``data_in_use``."""
    return study_from_dict(data_in_use(option, **changes))


def scores_of(seed: int) -> dict[str, float]:
    """Draw every unknown from the prior, in standard deviations."""
    draw = np.random.default_rng(seed)
    return {unknown.key: float(draw.standard_normal()) for unknown in UNKNOWNS}


@dataclass
class Tub:
    """A tub as it really is, as the owner goes from day to day.

    ``limits.days`` is the age at which its element is discarded; ``seen`` are its states by day since the last service,
    that service's first.
    """

    plant: slow_solver.Plant
    limits: slow_solver.Limits
    housed: tuple[bool, ...]
    back_pa: Callable[[float], float]
    seen: list[tuple[float, np.ndarray]]
    rtol: float = 1e-4
    longest_step_days: float = 2.0

    @property
    def since(self) -> float:
        """Day of the last service."""
        return self.seen[0][0]

    def _state(self, day: float) -> np.ndarray:
        place = bisect_right(self.seen, day, key=lambda each: each[0])
        if place == 0:
            raise ValueError(f"day {day} lies before the last service, on day {self.since}")
        before, state = self.seen[place - 1]
        if day > before:
            _, _, state = self._run(state, replace(_NOTHING_ENDS, days=day - before))
            self.seen.insert(place, (day, state))
        return state

    def _run(self, state: np.ndarray, limits: slow_solver.Limits) -> tuple[float, str, np.ndarray]:
        return slow_solver.run(self.plant, limits, self.rtol, state, self.longest_step_days)

    def _moment(self, day: float) -> slow_solver.Moment:
        return slow_solver.moment(self.plant, self._state(day))

    def flow_m3_s(self, day: float) -> float:
        """Flow on a day."""
        return self._moment(day).flow_m3_s

    def loss_pa(self, day: float) -> float:
        """Loss of the housings on a day; foam ahead of one is no part of it."""
        losses = zip(self._moment(day).losses_pa, self.housed, strict=True)
        return sum(loss for loss, housed in losses if housed)

    def tube_pa(self, day: float) -> float:
        """Pressure on a tee before the housing on a day: of the housings, and of the way back into the tub."""
        return self.loss_pa(day) + self.back_pa(self.flow_m3_s(day))

    def bare_tube_pa(self) -> float:
        """Pressure there without any element."""
        return self.back_pa(brentq(self.plant.head_left, 0.0, 1.0))

    def rinse(self, day: float, *, soak: bool = False) -> None:
        """Rinse, and soak, on a day."""
        self.seen = [(day, slow_solver.rinsed(self.plant, self._state(day), soaked=soak))]

    def next_due(self) -> float:
        """Return the day on which the present run ends by flow, for being full, or for the element's age."""
        since, state = self.seen[0]
        days, _, _ = self._run(state, replace(self.limits, days=self.limits.days - since))
        return since + days


def back_pa(study: Study, option: str, flow_m3_s: float, k_factor: float = 1.0) -> float:
    """Return what the way from the tee back into the tub takes: housings, half of the hose and its fittings, the exit.

    Darcy-Weisbach with the friction factor of the library ``fluids`` (Clamond 2009's Colebrook, laminar below 2040)
    and its exit loss; bends 0.75, barbs 1.5 and housings 2.5 as the table of defaults has them.
    """
    plumbing, water = study.plumbing, study.tub.water
    assert plumbing is not None
    further = next(each for each in study.options if each.id == option).housings_in_series - 1
    bends = 0.5 * (0.75 * plumbing.elbows_90 + 1.5 * plumbing.hose_barbs)
    k = k_factor * (2.5 * (1 + further) + float(exit_normal()) + bends)
    speed = flow_m3_s / (np.pi / 4.0 * plumbing.bore_m**2)
    reynolds = water.density_kg_m3 * speed * plumbing.bore_m / water.viscosity_pa_s
    friction = float(friction_factor(Re=reynolds, eD=plumbing.roughness_m / plumbing.bore_m))
    along = friction * 0.5 * plumbing.length_m / plumbing.bore_m
    return float((k + along) * water.density_kg_m3 * speed**2 / 2.0)


def tub_of(scores: dict[str, float], option: str, return_factor: float = 1.0, **changes: dict[str, object]) -> Tub:
    """Return the tub in use of some scores, and of a factor on what lies after a tee before its housing."""
    data = data_in_use(option, **changes)
    study = study_from_dict(data)
    name = next(each.name for each in study.options if each.id == option)
    drawn = factors_of(np.array([[scores[unknown.key] for unknown in UNKNOWNS]]), {})
    factors = {unknown.key: float(getattr(drawn, unknown.key)[0]) for unknown in UNKNOWNS}
    case = dict(cases_of(data))[name] | {"factors": as_slow(factors)}
    plant = slow_solver.plant_of(case)
    new = slow_solver.new_filter(plant)
    limits = slow_solver.limits_of(case, slow_solver.moment(plant, new))
    foam = [element.kind == "foam" for element in plant.elements]
    return Tub(
        plant=plant,
        limits=replace(limits, see_through_m=-np.inf),  # no water is so cloudy that 0.3 m of it hides a disc
        housed=tuple(all(foam) or not each for each in foam),
        back_pa=lambda flow: return_factor * back_pa(study, option, flow, factors["sum_k"]),
        seen=[(0.0, new)],
    )


@dataclass(frozen=True)
class Owner:
    """What an owner wrote down, and the day on which the next service really falls due."""

    study: Study
    readings: list[Reading]
    today: datetime
    due_in_days: float


def at(day: float) -> datetime:
    """Return the moment so many days after the start."""
    return START + timedelta(days=day)


def row(day: float, kind: str, value: str = "", note: str = "") -> Reading:
    """Return a row so many days after the start."""
    return reading_of(at(day), kind, value, note, where="row")


def timed(litres: float, litres_per_hour: float) -> str:
    """Return how long a bucket takes to fill."""
    return f"{litres:g} L in {3600.0 * litres / litres_per_hour:.3f} s"


def record(rows: Sequence[Reading], day: float = 30.0, study: Study | None = None) -> Record:
    """Sort rows as of a day."""
    return record_of(study or study_in_use(), rows, at(day), nothing_known())


def looked(rows: Sequence[Reading], day: float, study: Study | None = None, draws: int = 128) -> Forecast:
    """Forecast on a day."""
    return forecast(study or study_in_use(), rows, today=at(day), draws=draws)


def read(draw: random.Random, tub: Tub, day: float, litres: float, marks: float) -> Reading:
    """Read the flow with the owner's bucket, or another way, with the errors of each."""
    way = draw.random()
    flow = 6e4 * tub.flow_m3_s(day)  # L/min
    if way < 0.65:
        filled = litres * (1.0 + marks) * (1.0 + draw.gauss(0.0, 0.02))
        return reading_of(
            at(day), "bucket", f"{litres:g} L in {60.0 * filled / flow + draw.gauss(0.0, 0.3):.2f} s", where=""
        )
    if way < 0.8:
        return reading_of(at(day), "flow", f"{flow * (1.0 + draw.gauss(0.0, 0.03)):.3f} L/min", where="")
    return column(draw, day, tub.tube_pa(day))


def column(draw: random.Random, day: float, pressure_pa: float, more: str = "") -> Reading:
    """Read a clear tube with its errors."""
    seen = max(pressure_pa / 9806.65 * (1.0 + draw.gauss(0.0, 0.02)) + draw.gauss(0.0, 0.005), 0.001)
    return reading_of(at(day), "column", f"{100.0 * seen:.1f} cm{more}", where="")


def owner(seed: int, options: Sequence[str] = SINGLE, *, middle: bool = False) -> Owner:
    """Simulate an owner; the few whom no filter would serve, or none need serve within a year, are drawn anew.

    Their unknowns are drawn from the prior, or all stand in the middle of it.
    """
    draw, aside = random.Random(seed), random.Random(f"tee {seed}")
    return_factor = RETURN ** aside.gauss(0.0, 1.0)
    while True:
        option = draw.choice(options)
        study = study_in_use(option, needs=_NEEDS)
        scores = CENTRAL if middle else scores_of(draw.randrange(2**32))
        tub = tub_of(scores, option, 1.0 if middle else return_factor, needs=_NEEDS)
        if not _SHORTEST <= tub.next_due() <= _LONGEST:
            continue
        kept = _kept(draw, study, tub)
        if aside.random() < 0.5:  # every second owner reads his tube once with the element out
            bare = column(aside, 0.01, tub.bare_tube_pa(), " without element")
            kept = replace(kept, readings=[bare, *kept.readings])
        return kept


def _kept(draw: random.Random, study: Study, tub: Tub) -> Owner:
    """Let the owner read and rinse as he sees fit: by the calendar, and by what he has read, not by what is true.

    So a rinse says nothing of the tub that the readings do not, and the belief they lead to should be right as often as
    it says.
    """
    litres, marks = draw.choice((8.0, 10.0, 12.0)), draw.gauss(0.0, 0.03)
    every, patience, until = draw.uniform(2.0, 6.0), draw.uniform(10.0, 40.0), draw.uniform(25.0, 75.0)
    bears = tub.limits.flow_m3_s * draw.uniform(1.0, 1.2)
    rows, day, rinses = [], 0.0, 0
    while (day := day + every * draw.uniform(0.5, 1.5)) < until:
        seen = read(draw, tub, day, litres, marks)
        rows.append(seen)
        low = seen.flow_m3_s is not None and seen.flow_m3_s < bears
        if low or day - tub.since > patience:
            rinses += 1
            tub.rinse(day, soak=rinses % 4 == 0)
            rows.append(row(day, "soak" if rinses % 4 == 0 else "rinse"))
    return Owner(study=study, readings=rows, today=at(until), due_in_days=tub.next_due() - until)


@dataclass(frozen=True)
class Judged:
    """The truth, the 80 % interval and its middle, and the interval without the readings, in days from now."""

    truth: float
    low: float
    middle: float
    high: float
    prior_low: float
    prior_high: float


def judged(kept: Owner, draws: int = 512) -> Judged:
    """Forecast an owner's next service with the readings, and from the services alone."""
    alone = [row for row in kept.readings if row.kind in ("rinse", "soak")]
    after, before = (
        forecast(kept.study, rows, today=kept.today, draws=draws).next_service.in_days
        for rows in (kept.readings, alone)
    )
    return Judged(kept.due_in_days, *after, before[0], before[2])


def a_year() -> tuple[Study, list[Reading], datetime]:
    """Return a year of weekly bucket readings of the central tub, rinsed every other week."""
    study, rows = study_in_use(), []
    tub = tub_of(CENTRAL, "pleated-20")
    for week in range(52):
        rows.append(row(7.0 * week, "bucket", timed(10.0, 3.6e6 * tub.flow_m3_s(7.0 * week))))
        if week % 2:
            tub.rinse(7.0 * week)
            rows.append(row(7.0 * week, "rinse"))
    return study, rows, at(365.0)
