"""From where the option in use stands to its next services, by draw; d draws, s stages."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal, NamedTuple

import numpy as np

from filtration.answers.figures import answer_of, follow
from filtration.answers.odds import most_runs_of
from filtration.base.arrays import Array, Flags
from filtration.base.defaults import model
from filtration.base.draws import Factors
from filtration.loading.case import case_of
from filtration.loading.runs import Tables
from filtration.loading.table import COARSE, FINE, Deposit
from filtration.loading.tabulate import tables_of
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.readings.record import Record, UsedLife, at_end
from filtration.readings.state_estimate import InUse, State
from filtration.readings.state_estimate import Service as Done
from filtration.service.care import AGE_TOLERANCE_DAYS, ENDLESS, Care
from filtration.service.lives import lives_of
from filtration.study.values import Study

Service = Literal["rinse", "soak", "replace"]
Helpless = Literal["flow", "clarity", "short"]
A_WEEK = 7.0
_MOST = 0.5  # of the cases
_LEAST_AGE_DAYS = 0.1  # of water
_MOST_RUNS = 400
_NEARLY_FULL = 1e-2


class Sight(NamedTuple):
    """Flow [m3/s] and how far one sees [m], (d,) each."""

    flow_m3_s: Array
    view_m: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlook:
    """What lies ahead of the option in use; (d,) each unless said otherwise.

    Parameters
    ----------
    day : float
        Today, in days since it was new [day].
    due_day : array
        Day on which it is due [day].
    what : {"rinse", "soak", "replace"}
        What to do then.
    governed_by : {"flow", "pressure", "full", "clarity", "time limit"}
        What asks for it in most draws.
    rinses_left : array or None
        Rinses until a new element is cheaper; None where nothing can be rinsed.
    flow_m3_s, loss_pa, tube_pa, bare_tube_pa : array
        Flow and the housings' loss today; what a tube before them shows, with and without element.
    wanted_m3_s : array
        Flow wanted, whether there is any or not.
    lacks, clear : array of bool
        Even the clean filter lacks that; it leaves the view wanted.
    meets : array of bool
        A new element meets the needs, for a day at least.
    cost_per_day : array
        Of elements and rinses in the long run.
    now, in_a_week, serviced, new : Sight
        Flow and view today, in a week if nothing is done, after the service if it is done today, and of a new element
        at the end of the water's life.
    """

    day: float
    due_day: Array
    what: Service
    governed_by: str
    rinses_left: Array | None
    flow_m3_s: Array
    loss_pa: Array
    tube_pa: Array
    bare_tube_pa: Array
    wanted_m3_s: Array
    lacks: Flags
    clear: Flags
    meets: Flags
    cost_per_day: Array
    now: "Sight"
    in_a_week: "Sight"
    serviced: "Sight"
    new: "Sight"

    @property
    def helpless(self) -> Helpless | None:
        """What even a new element lacks in most cases, or that it is then spent within a day; None where neither is."""
        fails: dict[Helpless, Flags] = {
            "flow": self.lacks,
            "clarity": ~self.clear,
            "short": ~self.lacks & self.clear & ~self.meets,
        }
        return next((why for why, cases in fails.items() if cases.mean() >= _MOST), None)

    def among(self, values: Array) -> Array:
        """Return values (d,) of the draws in which a new element meets the needs; where it does in none, all."""
        return values[self.meets] if self.meets.any() else values


def outlook_of(record: Record, factors: Factors, now: datetime, return_factor: Array | float = 1.0) -> Outlook:
    """Walk on from where the option in use stands.

    Parameters
    ----------
    record : Record
        What was done and read.
    factors : Factors
        Cases of what is believed of the unknowns.
    now : datetime
        Today.
    return_factor : float or (d,) array, optional
        On what lies after a tee before the housing [-].

    Returns
    -------
    Outlook
        By draw.

    Notes
    -----
    Services so far are those written down; from now on each comes when it is due, dips as the study says. How many
    more rinses: that number of further runs whose costs least exceed what their days would cost in the long run with
    new elements, see ``rinses_left``. A train's counts are those of the central case.
    """
    life = record.lives[-1]
    in_use = record.in_use(life, factors, return_factor)
    day = life.day(now)
    start, today = record.state_now(in_use, day)
    flow = in_use.flow_m3_s(today)
    ahead = _Ahead(in_use=in_use, tables=tables_of(in_use.case, FINE if in_use.case.size == 1 else COARSE))
    care, since = in_use.care, life.stretches[-1].day
    age, between = care.oldest_days.min(axis=0), since + care.between_days
    longest, by_age = np.minimum(age, between), age <= between
    waits = ahead.run(today, longest - day)
    overdue = (ahead.over(today) >= 0.0) | (longest <= day)
    due_day = np.where(overdue, np.minimum(since + ahead.run(start, longest - since), day), day + waits)
    due_day = np.where(ahead.tables.lacks, min(since, day), due_day)
    in_time = due_day >= longest - AGE_TOLERANCE_DAYS
    held = ahead.held(today, np.maximum(due_day - day, 0.0))
    per_day, left = _cost_per_day(record, ahead.tables, care), None
    if care.rinseable.any():
        if len(held) == 1:
            left = rinses_left(ahead.tables, care, held[0], due_day, life.rinses, per_day)
        else:
            left = np.full(len(flow), float(_train_left(record.study, life)))
        left = np.where(in_time & by_age, 0.0, left)
    what = _what(left, life, care)
    after = (
        in_use.new if what == "replace" else in_use.serviced(today, Done(day=day, rinsed=True, soaked=what == "soak"))
    )
    in_a_week = at_end(in_use.followed(today, day, [day + A_WEEK], life.dips))
    tub, water = _Tub(record=record, factors=factors), record.water_age_days(now)
    clean, wanted = in_use.case.clean_and_due()
    new = Sight(clean, in_use.case.seen_m(clean, in_use.case.new))
    clear = new.view_m >= in_use.case.view_m
    return Outlook(
        day=day,
        due_day=due_day,
        what=what,
        governed_by=ahead.governed_by(held, in_time),
        rinses_left=left,
        flow_m3_s=flow,
        loss_pa=in_use.loss_pa(today, flow),
        tube_pa=in_use.tube_pa(today, flow),
        bare_tube_pa=in_use.return_pa(in_use.case.loop.bare_m3_s),
        wanted_m3_s=wanted,
        lacks=ahead.tables.lacks,
        clear=clear,
        meets=~ahead.tables.lacks & clear & (ahead.tables.first_days() >= model("service.least_days")),
        cost_per_day=per_day,
        now=tub.sight(ahead, today, water),
        in_a_week=tub.sight(ahead, in_a_week, record.water_age_days(now, A_WEEK)),
        serviced=tub.sight(ahead, after, water),
        new=new,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tub:
    """The tub with its water of some age, to see how clear it is."""

    record: Record
    factors: Factors

    def sight(self, ahead: "_Ahead", state: State, age_days: float) -> Sight:
        """Return the flow, and the view in water so old."""
        study, in_use = self.record.study, ahead.in_use
        aged = replace(study, tub=replace(study.tub, water_life_days=max(age_days, _LEAST_AGE_DAYS)))
        case = case_of(aged, self.record.lives[-1].entry, self.factors, self.record.load)
        flow = in_use.flow_m3_s(state)
        return Sight(flow, case.seen_m(flow, [held.cake_kg for held in ahead.holds(state)]))


def _cost_per_day(record: Record, tables: Tables, care: Care) -> Array:
    """Return what elements and rinses cost a day in the long run (d,); of a train that of the central case."""
    if len(tables.case.stages) == 1:
        return lives_of(tables, care).cost_per_day(care)
    year = answer_of(*follow(record.study, [record.lives[-1].entry])).cost_per_year
    return np.full(tables.case.size, (year.own or 0.0) / DAYS_PER_YEAR)


def rinses_left(tables: Tables, care: Care, held: Deposit, age: Array, rinses: int, per_day: Array) -> Array:
    """Return how many more rinses a single element is worth, (d,).

    Parameters
    ----------
    tables : Tables
        How it loads.
    care : Care
        How it is looked after.
    held : Deposit
        What it holds when due.
    age : (d,) array
        Its age then [day].
    rinses : int
        Rinses it has had.
    per_day : (d,) array
        What new ones cost in the long run [1/day].

    Returns
    -------
    (d,) array
        Rinses; 0 where a new one is cheaper now.

    Notes
    -----
    A further run is worth what its days would cost with new elements in the long run, and costs its rinse, and soak;
    the number that gains most, bounded by the shortest run and the age as everywhere, is best (renewal-reward: the
    relative value of going on, that of a new element being 0).
    """
    shortest = care.shortest_days(tables.first_days())
    oldest, cases = care.oldest_days[0], tables.all
    gain, most, best = np.zeros_like(age), np.zeros_like(age), np.zeros_like(age)
    alive = (age < oldest - AGE_TOLERANCE_DAYS) & ~tables.lacks
    for number in range(1, _MOST_RUNS):
        soaks = (care.soak_every > 0) & ((rinses + number) % np.maximum(care.soak_every, 1) == 0)
        rinsed = np.ones_like(soaks)
        used, extra = tables.kept(0, care.residual(rinsed, soaks, ~rinsed)[0], held, cases)
        days = tables.run(used[None], extra[None], np.minimum(care.between_days, np.maximum(oldest - age, 0.0)), cases)
        [held] = tables.deposits(used[None], extra[None], days, cases)
        age = age + days
        cut = age >= oldest - AGE_TOLERANCE_DAYS
        alive &= (days >= shortest) | cut
        if not alive.any():
            break
        gain = gain + per_day * days - care.rinse_cost[0] - np.where(soaks[0], care.soak_cost[0], 0.0)
        better = alive & (gain > most)
        most, best = np.where(better, gain, most), np.where(better, number, best)
        alive &= ~cut
    return best


def _what(left: Array | None, life: UsedLife, care: Care) -> Service:
    if left is None or np.median(left) < 1.0:
        return "replace"
    every = care.soak_every[care.rinseable[:, 0], 0]
    soaks = any(each > 0 and (life.rinses + 1) % each == 0 for each in every)
    return "soak" if soaks else "rinse"


def _train_left(study: Study, life: UsedLife) -> int:
    """Return how many rinses the central plan leaves a train's first stage to be replaced."""
    counts = most_runs_of(answer_of(*follow(study, [life.entry])))
    rinsed = [count for count, element in zip(counts, life.entry.option.stages, strict=True) if element.rinseable]
    return max(0, min(*rinsed, ENDLESS) - 1 - life.rinses)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ahead:
    """Tables from the states of an option in use onwards."""

    in_use: InUse
    tables: Tables

    def holds(self, state: State) -> list[Deposit]:
        """Return what the stages hold in a state (s, d), as tables have it."""
        found = []
        for at, (stage, kg) in enumerate(zip(self.in_use.case.stages, self.in_use.by_layer_kg(state), strict=True)):
            over = np.maximum(kg - stage.layer_full_kg, 0.0)
            inside, on_face = (kg - over).sum(axis=0), state.cake_kg[at] + over.sum(axis=0)
            found.append(Deposit(inside, on_face, np.zeros_like(inside)))
        return found

    def _placed(self, state: State) -> tuple[Array, Array]:
        """Return the days of use and the extra cake (s, d) that a state (s, d) stands for in the tables."""
        ones, cases = np.ones(self.in_use.case.size), self.tables.all
        pairs = [self.tables.kept(at, ones, held, cases) for at, held in enumerate(self.holds(state))]
        used, extra = (np.array(part) for part in zip(*pairs, strict=True))
        return used, extra

    def run(self, state: State, longest: Array) -> Array:
        """Days (d,) until due from a state (s, d)."""
        days = self.tables.run(*self._placed(state), np.maximum(longest, 0.0), self.tables.all)
        return np.where(self.tables.lacks, 0.0, days)

    def over(self, state: State) -> Array:
        """How far beyond due a state is (d,): below 0 before."""
        beyond = self.tables.beyond(*self._placed(state), self.tables.all)
        return beyond(np.zeros(self.in_use.case.size))

    def held(self, state: State, days: Array) -> list[Deposit]:
        """Return what the stages hold so many days (d,) on from a state (s, d); an overdue one may be off its table."""
        now = days <= 0.0
        later = self.tables.deposits(*self._placed(state), days, self.tables.all)
        return [
            Deposit(*(np.where(now, first, then) for first, then in zip(before, after, strict=True)))
            for before, after in zip(self.holds(state), later, strict=True)
        ]

    def governed_by(self, held: Sequence[Deposit], in_time: Flags) -> str:
        """Return what ends the run in most draws, with what the stages hold when due."""
        tables = self.tables
        full = tables.filled(held, tables.all) >= 1.0 - _NEARLY_FULL
        names, counts = np.unique(tables.governed_by(in_time, full), return_counts=True)
        return str(names[counts.argmax()])
