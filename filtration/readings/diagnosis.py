"""What else is going on, from what a fit leaves over: which readings count for little, and what may cause it.

Shapes: m readings.
"""

from dataclasses import dataclass

import numpy as np

from filtration.answers.figures import L_PER_H
from filtration.base.remarks import Remark
from filtration.readings.learning import Learnt
from filtration.readings.reading import Reading
from filtration.readings.record import Life, Observation, Record, told_in_unit

_LITTLE = 0.5  # weight below which a reading is named
_FAR = 3.0  # standard errors from what was to be expected
_FALLS = 0.05  # of the flow after a service, from which a fall is told
_EXTRA_DAYS = 3.0  # after a service within which a reading is straight after it


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A reading that counts for little: its weight [-], and why."""

    reading: Reading
    weight: float
    why: Remark


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """An observation in its place: what it was, what came before it, and how it lies to the fit."""

    observation: Observation
    expected: float
    left_over: float
    surprise: float
    weight: float
    life: Life
    since_service: float
    service: str
    before: Observation | None

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
    for number, life in enumerate(record.lives):
        for stretch in life.stretches:
            before: Observation | None = None
            done = "replace" if number else "new"
            if stretch.service is not None:
                done = "soak" if stretch.service.soaked else "rinse"
            for place in stretch.seen:
                observation = record.observations[place]
                found[place] = _Seen(
                    observation=observation,
                    expected=float(learnt.expected[place]),
                    left_over=float(learnt.left_over[place]),
                    surprise=float(learnt.surprise[place]),
                    weight=float(learnt.weights[place]),
                    life=life,
                    since_service=observation.day - stretch.day,
                    service=done,
                    before=before,
                )
                if observation.what == "flow":
                    before = observation
    return [found[place] for place in sorted(found)]


def _rises(seen: _Seen) -> bool:
    """Return whether a flow has risen since the reading before it, nothing being serviced, beyond both errors."""
    before, now = seen.before, seen.observation
    if before is None or now.what != "flow":
        return False
    return bool(np.log(now.value / before.value) > 2.0 * np.hypot(now.spread, before.spread))


def doubts_of(record: Record, learnt: Learnt) -> tuple[Doubt, ...]:
    """Return the readings that count for little, and why.

    Parameters
    ----------
    record : Record
        What was read.
    learnt : Learnt
        The fit.

    Returns
    -------
    tuple of Doubt
        In order of time.
    """
    doubts = []
    for seen in _placed(record, learnt):
        if seen.weight >= _LITTLE:
            continue
        figures, kind = seen.figures, "apart"
        if seen.left_over > 0.0 and _rises(seen) and seen.before is not None:
            kind = "rises"
            figures |= {"before": L_PER_H * seen.before.value, "since": seen.before.reading.when.isoformat()}
        doubts.append(
            Doubt(reading=seen.observation.reading, weight=seen.weight, why=Remark(kind=kind, figures=figures))
        )
    return tuple(doubts)


def findings(record: Record, learnt: Learnt) -> tuple[Remark, ...]:
    """Return what else is going on.

    Parameters
    ----------
    record : Record
        What was read.
    learnt : Learnt
        The fit.

    Returns
    -------
    tuple of Remark
        Kinds "pump", "return", "after service", "sudden drop", "column rises", "rise", "slow fall", the latest of
        each; what only the deposit explains comes last.
    """
    latest: dict[str, Remark] = {}
    for seen in _placed(record, learnt):
        kind = _kind(seen)
        if kind is not None:
            latest[kind] = Remark(kind=kind, figures=seen.figures | {"service": seen.service})
    order = ("pump", "return", "after service", "sudden drop", "column rises", "rise")
    found = [latest[kind] for kind in order if kind in latest]
    falls = _slow_fall(record)
    return tuple(found if falls is None else [*found, falls])


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


def _slow_fall(record: Record) -> Remark | None:
    """Return by how much the flow fell over the last stretch that was watched, if it did."""
    for life in reversed(record.lives):
        for stretch in reversed(life.stretches):
            flows = [each for each in (record.observations[place] for place in stretch.seen) if each.what == "flow"]
            if len(flows) < 2:
                continue
            first, last = flows[0], flows[-1]
            fall = 1.0 - last.value / first.value
            if fall < _FALLS:
                return None
            days = last.day - first.day
            return Remark(kind="slow fall", figures={"fall": fall, "days": days, "value": L_PER_H * last.value})
    return None
