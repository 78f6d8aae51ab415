"""The runs of the option in use since it was new, as its owner's readings have them; d draws, p points.

From service to service, up to today and on to the next service, each with its middle and a band of 8 of 10 cases.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

import numpy as np

from filtration.answers.figures import L_PER_H
from filtration.base.arrays import Array
from filtration.base.draws import PERCENT, factors_of
from filtration.readings.learning import learn
from filtration.readings.next_service import Forecast
from filtration.readings.reading import Reading
from filtration.readings.record import Observation, Record, What
from filtration.readings.sorting import record_of
from filtration.readings.state_estimate import State

Begin = Literal["new", "rinse", "soak", "today"]
_KPA = 1e-3
_DRAWS = 256
_POINTS, _MOST_RUNS = 200, 60
_FEWEST, _MOST_AHEAD_DAYS, _BEYOND = 3, 365.0, 1.1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeenRun:
    """From one service to the next.

    Parameters
    ----------
    begins_with : {"new", "rinse", "soak", "today"}
        What was done at its start; "today" for what lies ahead.
    when : tuple of datetime
        The p moments.
    flow_l_per_h, tube_kpa : (3, p) array
        10, 50 and 90 % of the flow and of the pressure before the housings.
    """

    begins_with: Begin
    when: tuple[datetime, ...]
    flow_l_per_h: Array
    tube_kpa: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenReading:
    """A reading that counts: what it is of, and its value [L/h], that of a loss [kPa]."""

    reading: Reading
    what: What
    value: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeenRuns:
    """What the readings say of the option in use.

    Parameters
    ----------
    runs : tuple of SeenRun
        In order, the last of them ahead; of very many the latest sixty.
    seen : tuple of SeenReading
        The readings that count, from the first of these runs on.
    """

    runs: tuple[SeenRun, ...]
    seen: tuple[SeenReading, ...]


def seen_runs(forecast: Forecast, readings: Sequence[Reading]) -> SeenRuns:
    """Follow the option in use from new, through its services, to today and on to the next service.

    Parameters
    ----------
    forecast : Forecast
        What was made of the readings.
    readings : sequence of Reading
        The same readings.

    Returns
    -------
    SeenRuns
        About 200 points, from at most 256 of the forecast's draws.
    """
    record = record_of(forecast.study, readings, forecast.today, forecast.prior)
    scores, return_factor = learn(record, forecast.prior).drawn(min(forecast.draws, _DRAWS), forecast.seed)
    life = record.lives[-1]
    in_use = record.in_use(life, factors_of(scores, forecast.study.spreads), return_factor)
    state, at = in_use.new, 0.0
    spans = _spans(record, forecast)
    followed: list[tuple[Begin, Array]] = []
    fed, cake = [], []
    first = max(0, len(spans) - _MOST_RUNS)
    points = max(_FEWEST, _POINTS // (len(spans) - first))
    for place, (begins_with, start, end) in enumerate(spans):
        service = life.stretches[place].service if begins_with in ("rinse", "soak") else None
        if service is not None:
            state = in_use.serviced(state, service)
        days = np.linspace(start, end, points)
        states = in_use.followed(state, at, days.tolist() if place >= first else [end], life.dips)
        state, at = State(fed=states.fed[-1], cake_kg=states.cake_kg[-1]), end
        if place >= first and end > start:
            followed.append((begins_with, days))
            fed.append(states.fed)
            cake.append(states.cake_kg)
    every = State(fed=np.concatenate(fed), cake_kg=np.concatenate(cake))
    flow = in_use.flow_m3_s(every)
    bands = [
        scale * np.percentile(values, PERCENT, axis=1)
        for values, scale in ((flow, L_PER_H), (in_use.tube_pa(every, flow), _KPA))
    ]
    runs, begin = [], 0
    for begins_with, days in followed:
        part = slice(begin, begin := begin + len(days))
        when = tuple(life.new + timedelta(days=day) for day in days.tolist())
        runs.append(
            SeenRun(begins_with=begins_with, when=when, flow_l_per_h=bands[0][:, part], tube_kpa=bands[1][:, part])
        )
    seen = (record.observations[place] for stretch in life.stretches for place in stretch.seen)
    return SeenRuns(runs=tuple(runs), seen=tuple(_shown(each) for each in seen if each.day >= spans[first][1]))


def _shown(each: Observation) -> SeenReading:
    return SeenReading(reading=each.reading, what=each.what, value=each.value * (_KPA if each.is_loss else L_PER_H))


def _spans(record: Record, forecast: Forecast) -> list[tuple[Begin, float, float]]:
    """Return what each run begins with, its first and its last day since new; what lies ahead comes last."""
    life = record.lives[-1]
    starts = [stretch.day for stretch in life.stretches]
    today = max(life.day(forecast.today), starts[-1])
    begins: list[Begin] = ["new"]
    begins += ["soak" if each.service and each.service.soaked else "rinse" for each in life.stretches[1:]]
    ahead = float(np.clip(_BEYOND * forecast.next_service.in_days[2], 1.0, _MOST_AHEAD_DAYS))
    ends = [*starts[1:], today]
    return [*zip(begins, starts, ends, strict=True), ("today", today, today + ahead)]
