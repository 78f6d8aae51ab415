"""From an owner's rows to what was fitted, done and read; rows that cannot be are refused, each with its reason."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import chain

import numpy as np

from filtration.base.defaults import PLACES
from filtration.base.draws import Belief, factors_of
from filtration.base.errors import InputError, NoAnswerError, known_ones, option_of
from filtration.base.remarks import Remark
from filtration.base.units import GRAVITY_M_S2
from filtration.loading.assembly import Entry, entry_of
from filtration.loading.case import Load, case_of, load_of
from filtration.physics.return_line import Return, return_of, return_read
from filtration.readings.dips import Count
from filtration.readings.reading import DONE, Reading, in_order
from filtration.readings.record import Doubt, Observation, Record, Stretch, UsedLife, spread_of, told_in_unit
from filtration.readings.same_day import taken_together
from filtration.readings.state_estimate import Dips, Service
from filtration.readings.stock import element_named, stock_of
from filtration.study.values import Study

_SURE = 3.0  # standard deviations beyond which a reading is impossible
_SLACK = timedelta(hours=1)  # clocks differ
_NOT_FITTED = ("see-through", "note")
FITTED = ("fitted", "replace")
"""Rows that say what is fitted."""
_ELSEWHERE = (*_NOT_FITTED, *FITTED, "water", "bought")


def record_of(study: Study, readings: Sequence[Reading], now: datetime, prior: Belief) -> Record:
    """Sort an owner's rows into lives, services and observations; refuse what cannot be.

    Parameters
    ----------
    study : Study
        The study.
    readings : sequence of Reading
        The rows; of one moment what was read counts before what was done, see ``in_order``.
    now : datetime
        With its offset from UTC.
    prior : Belief
        What is believed before any of them.

    Returns
    -------
    Record
        Nothing is lost: a row is an observation, a service, a count of dips, a change of the water, something bought,
        or refused, or a note says that its kind is not fitted.

    Raises
    ------
    InputError
        If nothing says what is fitted, or a row names an option the study does not have.
    NoAnswerError
        If the pump cannot drive the loop, or the element does not fit.
    """
    sorting = _Sorting(study, in_order(readings), now, prior)
    for reading in sorting.rows:
        sorting.take(reading)
    return sorting.record()


def _new(life: UsedLife) -> datetime:
    return life.new


class _Sorting:
    """Rows on their way into a record."""

    def __init__(self, study: Study, readings: Sequence[Reading], now: datetime, prior: Belief) -> None:
        self.study, self.load = study, load_of(study)
        self.refused: list[Doubt] = []
        self.observations: list[Observation] = []
        self.counts: list[Count] = []
        self.rows = self._possible(readings, now)
        self.lives = _lives(study, self.rows, now)
        most = {id(life.entry): _most(study, life.entry, self.load, prior) for life in self.lives}
        self.limits = [most[id(life.entry)] for life in self.lives]
        self.rinse_days = {row.when.date() for row in self.rows if row.kind == "rinse"}
        self.last_count = {row.when.date(): row for row in self.rows if row.kind == "uses"}

    def _refuse(self, reading: Reading, kind: str, **figures: float | str) -> None:
        self.refused.append(Doubt(reading=reading, why=Remark(kind=kind, figures=figures)))

    def _possible(self, readings: Sequence[Reading], now: datetime) -> list[Reading]:
        """Return the rows that do not lie in the future, as this day does not, each once."""
        rows: dict[Reading, None] = {}
        for reading in readings:
            if reading.when > now + _SLACK and reading.when.date() > now.astimezone(reading.when.tzinfo).date():
                self._refuse(reading, "future", today=now.date().isoformat())
            elif reading in rows:
                self._refuse(reading, "twice")
            else:
                rows[reading] = None
        return list(rows)

    def take(self, reading: Reading) -> None:
        """Put a row in its place."""
        if reading.item is not None and element_named(self.study, reading.item) is None:
            self._refuse(reading, "no such element", item=known_ones(reading.item, self.study.elements))
        if reading.kind in _ELSEWHERE:
            return
        place = self._place(reading)
        if place < 0:
            self._refuse(reading, "before first", first=self.lives[0].new.date().isoformat())
        elif reading.kind in ("rinse", "soak"):
            self._serve(self.lives[place], reading)
        elif reading.kind == "uses":
            self._count(reading)
        else:
            self._observe(self.lives[place], *self.limits[place], reading)

    def _place(self, reading: Reading) -> int:
        """Return which life a row is of, below 0 for none: what was read on the day of the first is of the first."""
        first = self.lives[0].new
        if reading.kind in DONE:
            return bisect_right(self.lives, reading.when, key=_new) - 1
        place = bisect_left(self.lives, reading.when, key=_new) - 1
        return max(0, place) if reading.when.astimezone(first.tzinfo).date() == first.date() else place

    def _serve(self, life: UsedLife, reading: Reading) -> None:
        """Begin a new stretch; a soak brings a rinse along where none is written for its day."""
        if not any(element.rinseable for element in life.entry.option.stages):
            self._refuse(reading, "not rinseable", option=life.entry.option.name)
            return
        soaked = reading.kind == "soak"
        rinsed = not soaked or reading.when.date() not in self.rinse_days
        service = Service(day=life.day(reading.when), rinsed=rinsed, soaked=soaked)
        life.stretches.append(Stretch(day=service.day, service=service))

    def _count(self, reading: Reading) -> None:
        """Count the dips of a day, the last row of that day alone, in the lives that saw some of it."""
        usual = self.study.tub.uses_per_day
        if self.last_count[reading.when.date()] is not reading:
            self._refuse(reading, "counted twice")
        elif usual <= 0.0:
            self._refuse(reading, "nobody bathes")
        else:
            self.counts.append(Count(reading.when.date(), reading.uses or 0.0))
            midnight = reading.when.replace(hour=0, minute=0, second=0, microsecond=0)
            first, last = (
                bisect_right(self.lives, moment, key=_new) for moment in (midnight, midnight + timedelta(days=1))
            )
            for life in self.lives[max(first - 1, 0) : last]:
                start = life.day(midnight)
                life.dips.append(Dips(start=start, end=start + 1.0, share=(reading.uses or 0.0) / usual))

    def _observe(self, life: UsedLife, most_flow: float, most_loss: float, reading: Reading) -> None:
        """Take a reading that pump and pipes allow."""
        what, value, spread = spread_of(reading, self.study.hand)
        is_loss = reading.pressure_pa is not None
        most, kind = (most_loss, "too much pressure") if is_loss else (most_flow, "too much flow")
        if is_loss and life.back is None:
            self._refuse(reading, "no plumbing")
        elif value > most * (1.0 + _SURE * spread):
            self._refuse(reading, kind, **told_in_unit(reading, value=value, most=most))
        else:
            life.stretches[-1].seen.append(len(self.observations))
            day, bucket = max(0.0, life.day(reading.when)), reading.bucket_m3
            seen = Observation(reading=reading, day=day, what=what, value=value, spread=spread, bucket_m3=bucket)
            self.observations.append(seen)

    def record(self) -> Record:
        """Return what came of it."""
        aside = [kind for kind in _NOT_FITTED if any(reading.kind == kind for reading in self.rows)]
        notes = [Remark(kind="not fitted", figures={"kinds": ", ".join(aside)})] if aside else []
        if {each.what for each in self.observations} & {"loss", "bare loss"} == {"loss"}:
            notes.append(Remark(kind="no tube without element", figures={}))
        if len({life.entry.option.id for life in self.lives}) > 1:
            notes.append(Remark(kind="several options", figures={"now": self.lives[-1].entry.option.name}))
        refused = tuple(sorted(self.refused, key=lambda each: each.reading.when))
        study, load, lives, seen = self.study, self.load, tuple(self.lives), self._taken_together()
        if many := [each.rows for each in seen if each.rows > 1]:
            notes.append(Remark(kind="taken together", figures={"rows": sum(many), "means": len(many)}))
        changes = [reading.when for reading in self.rows if reading.kind == "water"]
        return Record(
            study=study,
            lives=lives,
            observations=seen,
            refused=refused,
            notes=tuple(notes),
            load=load,
            counts=tuple(self.counts),
            water_changed=changes[-1] if changes else None,
            stock=stock_of(study, lives, self.rows),
        )

    def _taken_together(self) -> tuple[Observation, ...]:
        """Return what the observations are worth, the many of a day as one, each stretch pointing to its own."""
        stretches = [stretch for life in self.lives for stretch in life.stretches]
        found = taken_together([[self.observations[place] for place in stretch.seen] for stretch in stretches])
        begin = 0
        for stretch, seen in zip(stretches, found, strict=True):
            stretch.seen = list(range(begin, begin := begin + len(seen)))
        return tuple(chain.from_iterable(found))


def _back(study: Study, entry: Entry, rows: Sequence[Reading]) -> Return | None:
    """Return what lies after a tee before an option's housing, by the study, else by a reading without element."""
    water = study.tub.water
    if study.plumbing is not None:
        return return_of(study.plumbing, water, entry.option.housings_in_series)
    bare_pa = next((row.pressure_pa for row in rows if row.without_element and row.pressure_pa is not None), None)
    if bare_pa is None or entry.loop is None:
        return None
    return return_read(bare_pa, float(entry.loop.bare_m3_s[0]), water)


def _lives(study: Study, rows: Sequence[Reading], now: datetime) -> list[UsedLife]:
    """Return what was fitted from when on: by the study, then by each row that replaces it."""
    starts = [(row.when, row.option) for row in rows if row.kind in FITTED]
    fitted = study.in_use.option if study.in_use else None
    if study.in_use:
        zone = rows[0].when.tzinfo if rows else now.tzinfo
        since = datetime.fromisoformat(study.in_use.since).replace(tzinfo=zone)
        if since > now:
            raise InputError(f"[in_use] since: lies in the future, got {study.in_use.since!r} on {now.date()}")
        if all(when.astimezone(zone).date() != since.date() for when, _ in starts):
            starts.append((since, fitted))
    if not starts:
        raise InputError(
            "nothing says what is fitted: give [in_use] option and since in the study, or log a 'fitted' row that "
            "names the option (log add --fitted ID)"
        )
    lives: list[UsedLife] = []
    entries: dict[str, Entry] = {}
    for when, option in sorted(starts, key=lambda start: start[0]):
        fitted = option or fitted
        if fitted is None:
            raise InputError(f"{when.isoformat()}, replace: names no option, and no earlier row or [in_use] does")
        entry = entries[fitted] = entries.get(fitted) or _entry(study, fitted, when)
        lives.append(UsedLife(entry=entry, back=_back(study, entry, rows), new=when))
    return lives


def _entry(study: Study, named: str, when: datetime) -> Entry:
    """Return option and pump of an id, with the pump's name after @ where there are several."""
    name, _, pump_name = named.partition("@")
    options = {each.id: each for each in study.options}
    names = {each.id: each.name for each in study.options}
    option = options[option_of(names, name, f"{when.isoformat()}, replace")]
    pumps = [pump for pump in study.pumps if not pump_name or pump.name == pump_name]
    if len(pumps) != 1:
        ids = ", ".join(f"{name}@{pump.name}" for pump in study.pumps)
        raise InputError(f"[in_use] option: must say which pump runs, as one of {ids}, got {named!r}")
    entry = entry_of(study, option, pumps[0])
    if entry.faults or entry.loop is None:
        fault = next(iter(entry.faults))
        raise NoAnswerError(str(fault.figures.get("why", f"the pleats of {option.name} do not fit its size")))
    return entry


def _most(study: Study, entry: Entry, load: Load, prior: Belief) -> tuple[float, float]:
    """Return the most flow without an element, and the most pressure at the tee, that pump and pipes can give."""
    scores = prior.mean.copy()
    for key, way in (("sum_k", -1.0), ("pump_exponent", 1.0), ("box_flow", 1.0)):
        scores[PLACES[key]] += way * _SURE * prior.covariance[PLACES[key], PLACES[key]] ** 0.5
    loop = case_of(study, entry, factors_of(scores[None], study.spreads), load).loop
    lift_m = study.plumbing.static_lift_m if study.plumbing is not None else 0.0
    shut_off = float(loop.left_pa(np.zeros(1))[0]) + study.tub.water.density_kg_m3 * GRAVITY_M_S2 * lift_m
    return float(loop.bare_m3_s[0]), shut_off
