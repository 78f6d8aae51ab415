"""From where the option in use stands to its next services, by draw; d draws, s stages."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np

from filtration.answers.figures import answer_of, schedule_of
from filtration.answers.odds import most_runs_of
from filtration.base.arrays import Array, Flags, Rows
from filtration.base.draws import factors_of
from filtration.base.roots import root_between
from filtration.loading.assembly import runner_of
from filtration.loading.case import BY_AGE_ALONE
from filtration.loading.drawn_lives import Lives, Upkeep, lives_of
from filtration.loading.run import unstated_shortest_days
from filtration.loading.runs import Walker
from filtration.readings.record import Life, Record
from filtration.readings.state_estimate import InUse, State
from filtration.study.values import Study

Service = Literal["rinse", "soak", "replace"]
_MOST_RUNS = 400
_AGE_TOLERANCE_DAYS = 1e-6


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
        Flow when due.
    lacks : array of bool
        Even the clean filter lacks that.
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


def outlook_of(record: Record, scores: Array, now: datetime, return_factor: Array | float = 1.0) -> Outlook:
    """Walk on from where the option in use stands.

    Parameters
    ----------
    record : Record
        What was done and read.
    scores : (d, u) array
        Draws of what is believed of the unknowns.
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
    life, factors = record.lives[-1], factors_of(scores, record.study.spreads)
    in_use = record.in_use(life, factors, return_factor)
    day = life.day(now)
    start, today = record.state_now(in_use, day)
    flow = in_use.flow_m3_s(today)
    ahead = _Ahead.of(in_use)
    upkeep, every = in_use.case.upkeep, np.arange(len(flow))
    since = life.stretches[-1].day
    longest, by_age = _limits(in_use, since)
    waits = ahead.run(today, longest - day)
    overdue = (ahead.over(today) >= 0.0) | (longest <= day)
    due_day = np.where(overdue, np.minimum(since + ahead.run(start, longest - since), day), day + waits)
    due_day = np.where(ahead.lacks, min(since, day), due_day)
    in_time = due_day >= longest - _AGE_TOLERANCE_DAYS
    state = ahead.after(today, np.maximum(due_day - day, 0.0))
    left = None
    if upkeep.rinseable.any():
        if len(ahead.walker.stages) == 1:
            left = rinses_left(ahead, state, due_day, life.rinses)
        else:
            left = np.full(len(every), float(_train_left(record.study, life)))
        left = np.where(in_time & by_age, 0.0, left)
    return Outlook(
        day=day,
        due_day=due_day,
        what=_what(left, life, upkeep),
        governed_by=ahead.governed_by(state, in_time),
        rinses_left=left,
        flow_m3_s=flow,
        loss_pa=in_use.loss_pa(today, flow),
        tube_pa=in_use.tube_pa(today, flow),
        bare_tube_pa=in_use.return_pa(in_use.bare_flow_m3_s()),
        wanted_m3_s=ahead.due_m3_s,
        lacks=ahead.lacks,
    )


def rinses_left(ahead: "_Ahead", state: State, age: Array, rinses: int) -> Array:
    """Return how many more rinses a single element is worth, (d,).

    Parameters
    ----------
    ahead : _Ahead
        The tables, and what whole lives from new cost.
    state : State
        Where the element stands when due.
    age : (d,) array
        Its age then [day].
    rinses : int
        Rinses it has had.

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
    walker, upkeep, lives = ahead.walker, ahead.in_use.case.upkeep, ahead.lives
    half = unstated_shortest_days(lives.first_days)
    shortest = np.where(np.isnan(upkeep.shortest_days), half, upkeep.shortest_days)
    per_day = (
        upkeep.replace_cost * lives.replaced_per_day
        + upkeep.rinse_cost * lives.rinsed_per_day
        + upkeep.soak_cost * lives.soaked_per_day
    )[0]
    oldest, every, draws = walker.stages[0].oldest_days, int(upkeep.soak_every[0]), _all(age)
    fed, cake = state.fed[0], state.cake_kg[0]
    gain, most, best = np.zeros_like(age), np.zeros_like(age), np.zeros_like(age)
    alive = (age < oldest - _AGE_TOLERANCE_DAYS) & ~ahead.lacks
    for number in range(1, _MOST_RUNS):
        soaks = every > 0 and (rinses + number) % every == 0
        keeps = upkeep.rinse_keeps[0] * (upkeep.soak_keeps[0] if soaks else 1.0)
        used, extra = walker.rinsed(0, keeps, fed, cake, draws)
        longest = np.minimum(upkeep.rinse_limit_days, np.maximum(oldest - age, 0.0))
        days, _ = walker.run_alone(used, extra, longest, draws)
        [(fed, cake, _)] = walker.ends(used[None], extra[None], days, draws)
        age = age + days
        cut = age >= oldest - _AGE_TOLERANCE_DAYS
        alive &= (days >= shortest) | cut
        if not alive.any():
            break
        gain = gain + per_day * days - upkeep.rinse_cost[0] - (upkeep.soak_cost[0] if soaks else 0.0)
        better = alive & (gain > most)
        most, best = np.where(better, gain, most), np.where(better, number, best)
        alive &= ~cut
    return best


def _limits(in_use: InUse, since: float) -> tuple[Array, Flags]:
    """Return the day (d,) by which time limits ask for a service, and where it is the age of an element that does."""
    age = np.min([stage.oldest_days for stage in in_use.case.stages], axis=0)
    upkeep = in_use.case.upkeep
    rinse = since + upkeep.rinse_limit_days if upkeep.rinseable.any() else np.full_like(age, np.inf)
    return np.minimum(age, rinse), age <= rinse


def _what(left: Array | None, life: Life, upkeep: Upkeep) -> Service:
    if left is None or np.median(left) < 1.0:
        return "replace"
    count = life.rinses + 1
    soaks = any(every > 0 and count % every == 0 for every in upkeep.soak_every[upkeep.rinseable])
    return "soak" if soaks else "rinse"


def _train_left(study: Study, life: Life) -> int:
    """Return how many rinses the central plan leaves a train's first stage to be replaced."""
    runner = runner_of(study, [life.entry])
    schedule = schedule_of(study, [life.entry], runner)
    counts = most_runs_of(answer_of(study, life.entry, runner, 0, schedule))
    rinsed = [count for count, element in zip(counts, life.entry.option.stages, strict=True) if element.rinseable]
    return max(0, min(*rinsed, BY_AGE_ALONE) - 1 - life.rinses)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ahead:
    """Tables from the states of an option in use onwards, and its whole lives from new."""

    in_use: InUse
    walker: Walker
    lives: Lives
    due_m3_s: Array
    lacks: Flags
    clarity: Flags

    @classmethod
    def of(cls, in_use: InUse) -> "_Ahead":
        """Tabulate; where a run would end unclear, to the flow that still leaves the view wanted."""
        case, clean, due = in_use.case, in_use.clean_m3_s, in_use.due_m3_s
        lacks = ~(clean > due)
        due = np.where(lacks, 0.9 * clean, due)
        walker = case.walker(clean, due)
        lives = lives_of(walker, case.upkeep)
        nothing = [np.zeros_like(clean)] * len(case.stages)
        cakes = [cake for _, cake, _ in walker.ends(*_fresh(walker), lives.first_days, _all(clean))]
        clear = case.seen_m(clean, nothing) >= case.view_m
        clouded = clear & (case.seen_m(due, cakes) < case.view_m)
        if clouded.any():
            short = root_between(lambda flow: case.view_m - case.seen_m(flow, cakes), due, clean)
            due = np.where(clouded, np.minimum(short, (1.0 - 1e-6) * clean), due)
            walker = case.walker(clean, due)
            lives = lives_of(walker, case.upkeep)
        return cls(in_use=in_use, walker=walker, lives=lives, due_m3_s=due, lacks=lacks, clarity=clouded)

    def _placed(self, state: State) -> tuple[Array, Array]:
        """Return the days of use and the extra cake (s, d) that a state (s, d) stands for in the tables."""
        placed = []
        for at, layers in enumerate(self.in_use.layers_kg_day):
            table = self.walker.tables[at]
            fed = np.minimum(state.fed[at] * layers.sum(axis=0) / table.held_kg, table.fed[-1])
            ones = np.ones_like(fed)
            placed.append(self.walker.rinsed(at, ones, fed, state.cake_kg[at], _all(fed)))
        used, extra = (np.array(part) for part in zip(*placed, strict=True))
        return used, extra

    def run(self, state: State, longest: Array) -> Array:
        """Days (d,) until due from a state (s, d)."""
        used, extra = self._placed(state)
        days = self.walker.run(used, extra, np.maximum(longest, 0.0), _all(longest))
        return np.where(self.lacks, 0.0, days)

    def over(self, state: State) -> Array:
        """How far beyond due a state is (d,): below 0 before."""
        over = self.walker.over(*self._placed(state), _all(self.due_m3_s))
        return over(np.zeros_like(self.due_m3_s))

    def after(self, state: State, days: Array) -> State:
        """State (s, d) so many days (d,) on, its clock that of the tables."""
        used, extra = self._placed(state)
        ends = self.walker.ends(used, extra, days, _all(days))
        held = np.array([layers.sum(axis=0) for layers in self.in_use.layers_kg_day])
        clock = state.fed * held / np.array([table.held_kg for table in self.walker.tables])
        now = days <= 0.0  # an overdue one may lie beyond its table
        return State(
            fed=np.where(now, clock, [fed for fed, _, _ in ends]),
            cake_kg=np.where(now, state.cake_kg, [cake for _, cake, _ in ends]),
        )

    def governed_by(self, state: State, in_time: Flags) -> str:
        """Return what ends the run in most draws, in their states when due."""
        case, draws = self.in_use.case, _all(self.due_m3_s)
        shares = [
            self.walker.fullness(at, fed, cake, draws)
            for at, (fed, cake) in enumerate(zip(state.fed, state.cake_kg, strict=True))
        ]
        full = np.max(shares, axis=0) >= 1.0 - 1e-2
        wanted = np.where(np.isnan(case.wanted_share), case.wanted_m3_s, self.in_use.clean_m3_s * case.wanted_share)
        pressure = self.in_use.due_m3_s > wanted
        which = np.select(
            [in_time, full, self.clarity, pressure], ["time limit", "full", "clarity", "pressure"], "flow"
        )
        names, counts = np.unique(which, return_counts=True)
        return str(names[counts.argmax()])


def _all(values: Array) -> Rows:
    return np.arange(values.shape[-1])


def _fresh(walker: Walker) -> tuple[Array, Array]:
    nothing = np.zeros((len(walker.stages), len(walker.duty.loss_pa)))
    return nothing, nothing
