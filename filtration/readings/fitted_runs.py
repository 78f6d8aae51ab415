"""The runs of the option in use since it was new, as its owner's readings have them; d draws, p points.

From service to service, up to today and on to the next service, each with its middle and a band of 8 of 10 cases.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

import numpy as np

from filtration.answers.decision import DRAWS
from filtration.answers.figures import L_PER_H
from filtration.base.arrays import Array
from filtration.base.draws import factors_of, tenths
from filtration.readings.foretold import Forecast
from filtration.readings.reading import Reading
from filtration.readings.record import Observation, Record, What, at_end, in_blocks, walked

Begin = Literal["new", "rinse", "soak", "today"]
_KPA = 1e-3
_POINTS, _MOST_RUNS = 200, 60
_BLOCK = 1 << 16  # moments by draws
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


def seen_runs(forecast: Forecast) -> SeenRuns:
    """Follow the option in use from new, through its services, to today and on to the next service.

    Parameters
    ----------
    forecast : Forecast
        What was made of the readings.

    Returns
    -------
    SeenRuns
        About 200 points, from at most as many draws as a forecast has by default.
    """
    record = forecast.record
    scores, return_factor = forecast.learnt.drawn(min(forecast.draws, DRAWS), forecast.seed)
    life = record.lives[-1]
    in_use = record.in_use(life, factors_of(scores, forecast.study.spreads), return_factor)
    spans = _spans(record, forecast)
    *past, (_, ahead) = spans
    states = [each for _, each in walked(in_use, life, [days.tolist() for _, days in past])]
    states.append(in_use.followed(at_end(states[-1]), ahead[0], ahead.tolist(), life.dips))
    shown = [(*span, each) for span, each in zip(spans, states, strict=True) if span[1][-1] > span[1][0]]
    bands = {"flow_l_per_h": list[Array](), "tube_kpa": list[Array]()}
    for some in in_blocks((each for *_, each in shown), _BLOCK // in_use.case.size):
        flow = in_use.flow_m3_s(some)
        bands["flow_l_per_h"].append(L_PER_H * tenths(flow))
        bands["tube_kpa"].append(_KPA * tenths(in_use.tube_pa(some, flow)))
    told = {name: np.concatenate(parts, axis=1) for name, parts in bands.items()}
    runs, begin = [], 0
    for begins_with, days, _ in shown:
        part = slice(begin, begin := begin + len(days))
        when = tuple(life.new + timedelta(days=day) for day in days.tolist())
        band = {name: values[:, part] for name, values in told.items()}
        runs.append(SeenRun(begins_with=begins_with, when=when, **band))
    first = next(days[0] for _, days in spans if len(days) > 1)
    seen = (record.observations[place] for stretch in life.stretches for place in stretch.seen)
    return SeenRuns(runs=tuple(runs), seen=tuple(_shown(each) for each in seen if each.day >= first))


def _shown(each: Observation) -> SeenReading:
    return SeenReading(reading=each.reading, what=each.what, value=each.value * (_KPA if each.is_loss else L_PER_H))


def _spans(record: Record, forecast: Forecast) -> list[tuple[Begin, Array]]:
    """Return what each run begins with and its days since new, of early ones the last; what lies ahead is last."""
    life = record.lives[-1]
    starts = [stretch.day for stretch in life.stretches]
    today = max(life.day(forecast.today), starts[-1])
    begins: list[Begin] = ["new"]
    begins += ["soak" if each.service and each.service.soaked else "rinse" for each in life.stretches[1:]]
    ahead = float(np.clip(_BEYOND * forecast.next_service.in_days[2], 1.0, _MOST_AHEAD_DAYS))
    spans = [*zip(begins, starts, [*starts[1:], today], strict=True), ("today", today, today + ahead)]
    early = max(0, len(spans) - _MOST_RUNS)
    points = max(_FEWEST, _POINTS // (len(spans) - early))
    return [
        (begin, np.linspace(start, end, points) if place >= early else np.array([end]))
        for place, (begin, start, end) in enumerate(spans)
    ]
