"""What an owner's rows say: what was fitted when, what was done to it, and what was read, each with its error.

Shapes: d draws, m readings, s stages.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import islice
from math import hypot
from typing import Literal

import numpy as np

from filtration.answers.drivers import tube_spread
from filtration.answers.figures import L_PER_H
from filtration.base.arrays import Array
from filtration.base.defaults import model
from filtration.base.draws import Factors
from filtration.base.remarks import Remark
from filtration.loading.assembly import Entry
from filtration.loading.case import Load, case_of
from filtration.physics.return_line import Return
from filtration.readings.dips import Count
from filtration.readings.reading import Reading, as_written
from filtration.readings.state_estimate import MEANED_DAYS, Dips, InUse, Service, State, in_use_of
from filtration.service.care import care_of
from filtration.study.values import Hand, Study

What = Literal["flow", "bare flow", "loss", "bare loss"]

RETURN, MODEL = model("readings.return_spread"), model("readings.model")
_BLOCK = 1 << 16  # moments by draws


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A reading that counts for little, or not at all: its weight [-], and why."""

    reading: Reading
    why: Remark
    weight: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """One reading that counts.

    Parameters
    ----------
    reading : Reading
        The row.
    day : float
        Days since the element was new.
    what : {"flow", "bare flow", "loss", "bare loss"}
        Flow through the element or without one [m3/s]; loss of all that lies after the tee, with the element or without
        one [Pa].
    value, spread : float
        As read, and its standard deviation over the value [-]; marks of a bucket, and what is not known of the
        plumbing after the tee, aside.
    bucket_m3 : float or None
        The bucket it was read with.
    rows : int
        Rows whose mean it is; ``reading`` is then the one of them nearest to it.
    """

    reading: Reading
    day: float
    what: What
    value: float
    spread: float
    bucket_m3: float | None
    rows: int = 1

    @property
    def is_loss(self) -> bool:
        """Whether it is one of a column or a pressure."""
        return self.what in ("loss", "bare loss")


@dataclass(slots=True, kw_only=True)
class Stretch:
    """From one service to the next; ``seen`` are places of observations."""

    day: float
    service: Service | None = None
    seen: list[int] = field(default_factory=list)


@dataclass(slots=True, kw_only=True)
class UsedLife:
    """An option from new until it is replaced.

    Parameters
    ----------
    entry : Entry
        Option and pump.
    new : datetime
        When it was fitted.
    stretches : list of Stretch
        From service to service; the first from new.
    back : Return or None
        What lies after a tee before its housing; None where neither the study nor a reading without element says.
    dips : list of Dips
        Days on which dips were counted.
    """

    entry: Entry
    back: Return | None
    new: datetime
    stretches: list[Stretch] = field(default_factory=lambda: [Stretch(day=0.0)])
    dips: list[Dips] = field(default_factory=list)

    def day(self, when: datetime) -> float:
        """Days since new."""
        return (when - self.new) / timedelta(days=1)

    @property
    def rinses(self) -> int:
        """Rinses so far."""
        return sum(each.service is not None and each.service.rinsed for each in self.stretches)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Record:
    """Everything the rows say.

    Parameters
    ----------
    study : Study
        The study.
    lives : tuple of UsedLife
        What was fitted, in order; the last is in use now.
    observations : tuple of Observation
        Readings that count, in order of time.
    refused : tuple of Doubt
        Rows that do not.
    notes : tuple of Remark
        What the reader should know besides.
    load : Load
        What comes into the tub.
    counts : tuple of Count
        Dips counted, each day once.
    water_changed : datetime or None
        When the water was last changed; None where no row says so.
    stock : mapping of str to int
        Elements in store, by name: bought and not yet fitted.
    """

    study: Study
    lives: tuple[UsedLife, ...]
    observations: tuple[Observation, ...]
    refused: tuple[Doubt, ...]
    notes: tuple[Remark, ...]
    load: Load
    counts: tuple[Count, ...] = ()
    water_changed: datetime | None = None
    stock: Mapping[str, int] = field(default_factory=dict)

    @property
    def buckets_m3(self) -> list[float]:
        """The buckets read with, each once."""
        return sorted({each.bucket_m3 for each in self.observations if each.bucket_m3 is not None})

    @property
    def steps(self) -> int:
        """How often a walk over all that was read, and to today, has to stop: see ``budget.MOST_STEPS``."""
        lives = [life for life in self.lives if life is self.lives[-1] or any(each.seen for each in life.stretches)]
        weeks = sum((life.dips[-1].end - life.dips[0].start) / MEANED_DAYS for life in lives if life.dips)
        return len(self.observations) + sum(len(life.stretches) for life in lives) + int(weeks)

    def water_age_days(self, now: datetime, later_days: float = 0.0) -> float:
        """Days since the water was changed, now or later; of its life where no row says so, or it ends before then."""
        life = self.study.tub.water_life_days
        if self.water_changed is None:
            return life
        age = (now - self.water_changed) / timedelta(days=1)
        return max(age, min(age + later_days, life)) if later_days else age

    def in_use(self, life: UsedLife, factors: Factors, return_factor: Array | float = 1.0) -> InUse:
        """Return the option of a life before the draws, with the factor on what lies after the tee (d,)."""
        case, option = case_of(self.study, life.entry, factors, self.load), life.entry.option
        return in_use_of(case, care_of(self.study, option, factors), option, factors, life.back, return_factor)

    def predicted(self, factors: Factors, return_factor: Array | float = 1.0) -> Array:
        """Return what each observation should have read (m, d), bucket marks aside: flows [m3/s], losses [Pa]."""
        values = np.empty((len(self.observations), len(factors.uses)))
        by_entry = defaultdict[str, list[UsedLife]](list)
        for life in self.lives:
            if any(each.seen for each in life.stretches):
                by_entry[f"{life.entry.option.id}@{life.entry.pump.name}"].append(life)
        for lives in by_entry.values():
            _predict(self.in_use(lives[0], factors, return_factor), lives, self.observations, values)
        return values

    def state_now(self, in_use: InUse, day: float) -> tuple[State, State]:
        """Return the states (s, d) of the option in use just after its last service, and on a day since new."""
        life = self.lives[-1]
        *_, (start, _) = walked(in_use, life, [()] * len(life.stretches))
        last = life.stretches[-1].day
        return start, at_end(in_use.followed(start, last, [max(day, last)], life.dips))


def walked(in_use: InUse, life: UsedLife, days: Sequence[Sequence[float]]) -> Iterator[tuple[State, State]]:
    """Yield of each stretch of a life the state (s, d) it begins with and those (m, s, d) on some days of it."""
    state, at = in_use.new, 0.0
    for stretch, until in zip(life.stretches, days, strict=True):
        start = at_end(in_use.followed(state, at, [stretch.day], life.dips))
        if stretch.service is not None:
            start = in_use.serviced(start, stretch.service)
        states = in_use.followed(start, stretch.day, until, life.dips)
        yield start, states
        state, at = (at_end(states), until[-1]) if until else (start, stretch.day)


def at_end(state: State) -> State:
    """Return the last (s, d) of some states (m, s, d)."""
    return State(*(part[-1] for part in state))


def joined(states: Sequence[State]) -> State:
    """Return states (m, s, d) one after the other."""
    return State(*map(np.concatenate, zip(*states, strict=True)))


def _predict(in_use: InUse, lives: Sequence[UsedLife], observations: Sequence[Observation], values: Array) -> None:
    """Write what the observations of lives of one option should have read (m, d), a block of states at a time."""
    places = (place for life in lives for stretch in life.stretches for place in stretch.seen)
    every = (states for life in lives for _, states in walked(in_use, life, _days_seen(life, observations)))
    bare = in_use.case.loop.bare_m3_s
    bare_loss, most = in_use.return_pa(bare), max(1, _BLOCK // in_use.case.size)
    for states in in_blocks(every, most):
        flow = in_use.flow_m3_s(states)
        for place, through, over in zip(islice(places, len(flow)), flow, in_use.tube_pa(states, flow), strict=True):
            each = {"flow": through, "loss": over, "bare flow": bare, "bare loss": bare_loss}
            values[place] = each[observations[place].what]


def _days_seen(life: UsedLife, observations: Sequence[Observation]) -> list[list[float]]:
    return [[observations[place].day for place in stretch.seen] for stretch in life.stretches]


def in_blocks(parts: Iterable[State], most: int) -> Iterator[State]:
    """Yield states (m, s, d), one after the other as they come, so many moments together at most."""
    waiting, held = list[State](), 0
    for part in parts:
        for begin in range(0, len(part.fed), most):
            some = State(*(each[begin : begin + most] for each in part))
            if waiting and held + len(some.fed) > most:
                yield joined(waiting)
                waiting, held = [], 0
            waiting.append(some)
            held += len(some.fed)
    if waiting:
        yield joined(waiting)


def told_in_unit(reading: Reading, **values: float) -> dict[str, float | str]:
    """Return figures of a remark on a reading, and their unit: as its owner wrote a pressure, flows in L/h.

    Parameters
    ----------
    reading : Reading
        What it is on.
    **values : float
        Flows [m3/s] or losses [Pa], as the reading is.

    Returns
    -------
    dict
        The values by name, and ``unit``.
    """
    if reading.pressure_pa is None:
        return {name: L_PER_H * value for name, value in values.items()} | {"unit": "L/h"}
    told = {name: as_written(reading, value) for name, value in values.items()}
    return {name: value for name, (value, _) in told.items()} | {"unit": as_written(reading, 0.0)[1]}


def spread_of(reading: Reading, hand: Hand) -> tuple[What, float, float]:
    """Return what a reading is of, its value, and its standard deviation over that.

    Parameters
    ----------
    reading : Reading
        A flow, a bucket, a column or a pressure.
    hand : Hand
        How far off its owner's readings are.

    Returns
    -------
    what, value, spread : str, float, float
        Flow [m3/s] or loss [Pa]; the spread [-] without the mark of a bucket, which its readings share.

    Examples
    --------
    >>> from filtration.readings.reading import reading_of
    >>> bucket, hand = reading_of("2026-03-03", "bucket", "12 L in 60 s", where="row"), Hand(0.3, 0.02, 0.03)
    >>> what, value, spread = spread_of(bucket, hand)
    >>> what, round(value, 7), round((spread**2 - MODEL**2) ** 0.5, 4)
    ('flow', 0.0002, 0.0206)
    """
    if reading.pressure_pa is not None:
        value = reading.pressure_pa
        gauge = max(model("readings.gauge"), model("readings.gauge_least") / value)
        off = float(tube_spread(np.array(value))) if reading.kind == "column" else gauge
        return "bare loss" if reading.without_element else "loss", value, hypot(MODEL, off)
    spread = model("readings.flow")
    if reading.bucket_m3 is not None and reading.seconds is not None:
        spread = hypot(hand.watch_s / reading.seconds, hand.bucket_level)
    return "bare flow" if reading.without_element else "flow", reading.flow_m3_s or 0.0, hypot(MODEL, spread)
