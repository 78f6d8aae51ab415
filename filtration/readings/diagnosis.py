"""What else is going on, from what a fit leaves over: which readings count for little, and what may cause it.

Shapes: m readings.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from filtration.answers.figures import L_PER_H
from filtration.base.remarks import Remark
from filtration.readings.learning import Learnt
from filtration.readings.record import Doubt, Observation, Record, told_in_unit

_LITTLE = 0.5  # weight below which a reading is named
_FAR = 3.0  # standard errors from what was to be expected
_FALLS = 0.05  # of the flow after a service, from which a fall is told
_EXTRA_DAYS = 3.0  # after a service within which a reading is straight after it
_BY_FIT = ("expected", "left_over", "surprise", "weights")
_KINDS = ("pump", "return", "after service", "sudden drop", "column rises", "rise")  # of findings, likeliest first


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """An observation in its place: what was done before it, the flow read since, and how it lies to the fit."""

    observation: Observation
    service: str
    since_service: float
    before: Observation | None
    expected: float
    left_over: float
    surprise: float
    weights: float

    @property
    def far(self) -> float:
        """How far from what was to be expected, by the fit or by what came before, whichever says more [-]."""
        return max(self.left_over, self.surprise, key=abs)

    @property
    def figures(self) -> dict[str, float | str]:
        """The reading and what was to be expected."""
        reading = self.observation.reading
        told = told_in_unit(reading, value=self.observation.value, expected=self.expected)
        return {"when": reading.when.isoformat(), "kind": reading.kind, "what": self.observation.what} | told


def _placed(record: Record, learnt: Learnt) -> list[_Seen]:
    """Return every observation in its place, in order of time."""
    found: dict[int, _Seen] = {}
    for number, stretch in ((number, each) for number, life in enumerate(record.lives) for each in life.stretches):
        before: Observation | None = None
        done = ("soak" if stretch.service.soaked else "rinse") if stretch.service else "replace" if number else "new"
        for place in stretch.seen:
            observation, since = record.observations[place], record.observations[place].day - stretch.day
            fit = {name: float(getattr(learnt, name)[place]) for name in _BY_FIT}
            found[place] = _Seen(observation=observation, service=done, since_service=since, before=before, **fit)
            before = observation if observation.what == "flow" else before
    return [found[place] for place in sorted(found)]


def _rises(seen: _Seen) -> bool:
    """Return whether a flow has risen since the reading before it, nothing being serviced, beyond both errors."""
    before, now = seen.before, seen.observation
    if before is None or now.what != "flow":
        return False
    return bool(np.log(now.value / before.value) > 2.0 * np.hypot(now.spread, before.spread))


def doubts_of(record: Record, learnt: Learnt) -> tuple[Doubt, ...]:
    """Return the readings that count for little in a fit, in order of time, and why."""
    doubts = []
    for seen in _placed(record, learnt):
        figures, kind = seen.figures, "apart"
        if seen.left_over > 0.0 and _rises(seen) and seen.before is not None:
            kind = "rises"
            figures |= {"before": L_PER_H * seen.before.value, "since": seen.before.reading.when.isoformat()}
        if seen.weights < _LITTLE:
            why = Remark(kind=kind, figures=figures)
            doubts.append(Doubt(reading=seen.observation.reading, weight=seen.weights, why=why))
    return tuple(doubts)


def findings(record: Record, learnt: Learnt) -> tuple[Remark, ...]:
    """Return what else is going on: the latest finding of each kind; what only the deposit explains comes last."""
    latest = {_kind(seen): seen for seen in _placed(record, learnt)}
    kinds = [kind for kind in _KINDS if kind in latest]
    found = [Remark(kind=kind, figures=latest[kind].figures | {"service": latest[kind].service}) for kind in kinds]
    return (*found, *_slow_fall(record))


def _kind(seen: _Seen) -> str | None:
    """Return what a reading points to; None where it is as expected."""
    is_loss = seen.observation.is_loss
    far = -seen.far if is_loss else seen.far
    if abs(far) < _FAR:
        return None
    if seen.observation.what in ("bare flow", "bare loss"):
        return ("return" if is_loss else "pump") if far < 0.0 else None
    if far > 0.0:
        return "rise" if seen.before is not None and _rises(seen) else None
    straight = seen.before is None and seen.since_service <= _EXTRA_DAYS
    if straight and seen.service != "new":
        return "after service"
    return "column rises" if is_loss else "sudden drop"


def _slow_fall(record: Record) -> Iterator[Remark]:
    """Yield by how much the flow fell over the last stretch that was watched, if it did."""
    for stretch in reversed([stretch for life in record.lives for stretch in life.stretches]):
        flows = [record.observations[place] for place in stretch.seen if record.observations[place].what == "flow"]
        if len(flows) > 1:
            fall, days = 1.0 - flows[-1].value / flows[0].value, flows[-1].day - flows[0].day
            if fall >= _FALLS:
                figures = {"fall": fall, "days": days, "value": L_PER_H * flows[-1].value}
                yield Remark(kind="slow fall", figures=figures)
            return
