"""What an owner's readings teach: the unknowns fitted to all of them together, and what else is going on.

What the fit leaves over says which readings count for little, and what may be the cause.

Shapes: k points tried at once, u unknowns, d draws, m readings.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from filtration.answers.figures import L_PER_H
from filtration.base.arrays import Array
from filtration.base.defaults import PLACES, UNKNOWNS
from filtration.base.draws import Belief, factors_of, normal_scores, sobol_points, symmetric_root
from filtration.base.remarks import Remark
from filtration.readings.dips import with_counts
from filtration.readings.fitting import Fit, fit
from filtration.readings.record import RETURN, Doubt, Observation, Record, told_in_unit

FITTED = tuple(key for key in PLACES if key not in ("haze", "prices"))  # they touch no flow
_PLACES = np.array([PLACES[key] for key in FITTED])
_STEP = 0.1  # standard deviations of the prior; the valley bends within a few of them
_TOLERANCE = 1e-6  # of the fit; tighter moves no date
_MOST_TRIED = 80  # points; where readings agree with the model some fifteen do
_BLOCK = 1 << 20  # readings by draws
_BENDS, _FURTHEST, _SOFT = 2, 2.0, 0.3  # moves of a draw, the longest one, and how far one stops short of the readings

_LITTLE = 0.5  # weight below which a reading is named
_FAR = 3.0  # standard errors from what was to be expected
_FALLS = 0.05  # of the flow after a service, from which a fall is told
_EXTRA_DAYS = 3.0  # after a service within which a reading is straight after it
_BY_FIT = ("expected", "left_over", "surprise", "weights")
_KINDS = ("pump", "return", "after service", "sudden drop", "column rises", "rise")  # of findings, likeliest first


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Learnt:
    """What the readings say.

    Parameters
    ----------
    belief : Belief
        Of the unknowns after the readings.
    expected : (m,) array
        What each reading should have been by the fit: flow [m3/s] or loss [Pa].
    left_over : (m,) array
        Reading less that, over its standard error; positive for more flow, or more loss, than expected [-].
    surprise : (m,) array
        The same against what the readings before it led to expect, over the error of both [-].
    weights : (m,) array
        How much each counted, 1 in full [-].
    size : int
        Standard normal numbers that make a draw.
    draws_from : callable
        From those (d, size) to scores (d, u) and the factor on what lies after the tee (d,).
    """

    belief: Belief
    expected: Array
    left_over: Array
    surprise: Array
    weights: Array
    size: int
    draws_from: Callable[[Array], tuple[Array, Array]]

    def drawn(self, draws: int, seed: int) -> tuple[Array, Array]:
        """Return draws, each of which leaves of the readings what their errors explain.

        Parameters
        ----------
        draws, seed : int
            How many, a power of two, and which.

        Returns
        -------
        (d, u) array, (d,) array
            Scores, and the factor on what lies after the tee.

        Notes
        -----
        The belief is a normal distribution, but what explains the readings lies along a bend: the same flow from more
        dirt and less cake, from a steeper pump and wider fittings. Draws straight off the belief miss the readings by
        more than their errors, and by day too early. So each is moved, across the readings alone and by as little of
        the prior as it takes, until it leaves over what the straight line said it would (the idea of randomised
        maximum likelihood, Oliver, He & Reynolds 1996).
        """
        return self.draws_from(normal_scores(sobol_points(draws, seed, self.size)))


def _bent(normal: Array, found: Fit, rows: Callable[[Array], Array], readings: int) -> Array:
    """Return points (d, n) of a fit from as many standard normal ones, brought onto its first rows, the readings."""
    slopes, weights = found.slopes[:readings], found.weights[:readings] / _SOFT
    root, onto = symmetric_root(found.covariance), across(slopes, weights)
    return np.concatenate([_moved(some @ root, found, rows, onto) for some in _in_blocks(normal, readings)])


def across(slopes: Array, weights: Array) -> Array:
    """Return what (m, u) moves unknowns of unit prior by rows off: ``inv(S S' + inv(W)) S`` for slopes S and weights W.

    Worked out as ``W S inv(1 + S' W S)``, the same by Woodbury's identity, with a matrix of unknowns, not of readings.
    """
    weighed = weights[:, None] * slopes
    return np.asarray(np.linalg.solve(np.eye(slopes.shape[1]) + slopes.T @ weighed, weighed.T).T)


def _moved(aside: Array, found: Fit, rows: Callable[[Array], Array], onto: Array) -> Array:
    """Return points (d, n) so far aside from those of a fit, moved by ``onto`` until they leave over what is due."""
    readings = len(onto)
    points, wanted = found.values + aside, found.residuals[:readings] + aside @ found.slopes[:readings].T
    for _ in range(_BENDS):
        move = (rows(points)[:, :readings] - wanted) @ onto
        length = np.linalg.norm(move, axis=1, keepdims=True)
        points = points - move * np.minimum(1.0, _FURTHEST / np.maximum(length, 1e-12))
    return points


def _in_blocks(normal: Array, readings: int) -> list[Array]:
    """Return points (d, n) in parts that with so many readings each fit in some ten megabytes."""
    return np.array_split(normal, -(-len(normal) * readings // _BLOCK))


def nothing_known() -> Belief:
    """Return the belief of the default spreads: mean 0, covariance 1."""
    return Belief(mean=np.zeros(len(UNKNOWNS)), covariance=np.eye(len(UNKNOWNS)))


def learn(record: Record, prior: Belief, asked: Callable[[], object] = tuple) -> Learnt:
    """Fit the unknowns to the readings.

    Parameters
    ----------
    record : Record
        What was read.
    prior : Belief
        What is believed before.
    asked : callable, optional
        Called now and then, here and while draws are made; what it raises ends the work.

    Returns
    -------
    Learnt
        The prior itself where nothing was read.

    Notes
    -----
    Nonlinear least squares in standard deviations of the prior, which so is one row an unknown; flows by their
    logarithm, losses as they are. Readings may be wrong, see ``fit``. A bucket's marks are one more unknown, shared by
    all its readings; so is what lies after the tee, shared by all columns and pressures, so that many of them do not
    average it out and one without element settles it. The posterior is Laplace's.
    """
    seen, whole = record.observations, len(UNKNOWNS)
    prior = with_counts(prior, record.study, record.counts)

    def of_prior(normal: Array) -> tuple[Array, Array]:
        return prior.mean + normal[:, :whole] @ prior.root, np.ones(len(normal))

    if not seen:
        return Learnt(belief=prior, size=whole, draws_from=of_prior, **dict.fromkeys(_BY_FIT, np.zeros(0)))
    buckets = record.buckets_m3
    value, spread = np.array([(each.value, each.spread) for each in seen]).T
    is_loss = np.array([each.is_loss for each in seen])
    marks = np.array([[each.bucket_m3 == bucket for bucket in buckets] for each in seen]).reshape(len(seen), -1)
    root = np.linalg.cholesky(prior.covariance[np.ix_(_PLACES, _PLACES)])
    unknowns, back = len(_PLACES), int(is_loss.any())
    shared = len(buckets) + back

    def return_factor(points: Array) -> Array:
        """Return the factor on what lies after the tee (k,) at points: the last of them, where any is of it."""
        return np.asarray(RETURN ** points[:, -1] if back else np.ones(len(points)))

    def expected_at(points: Array) -> Array:
        """Return expected values (k, m) at points of unit prior."""
        scores = np.tile(prior.mean, (len(points), 1))
        scores[:, _PLACES] += points[:, :unknowns] @ root.T
        values = record.predicted(factors_of(scores, record.study.spreads), return_factor(points)).T
        return np.asarray(
            values * np.exp(record.study.hand.bucket_mark * (points[:, unknowns : unknowns + len(buckets)] @ marks.T))
        )

    def rows(points: Array) -> Array:
        asked()
        expected = expected_at(points)
        over = np.where(is_loss, (value - expected) / value, np.log(value / expected)) / spread
        return np.concatenate([over, points], axis=1)

    size = unknowns + shared
    doubtful = np.arange(len(seen) + size) < len(seen)
    found = fit(rows, np.zeros(size), np.full(size, _STEP), doubtful=doubtful, tolerance=_TOLERANCE, most=_MOST_TRIED)
    mean, covariance = prior.mean.copy(), prior.covariance.copy()
    mean[_PLACES] += root @ found.values[:unknowns]
    covariance[_PLACES] = covariance[:, _PLACES] = 0.0
    covariance[np.ix_(_PLACES, _PLACES)] = root @ found.covariance[:unknowns, :unknowns] @ root.T

    def onto_readings(normal: Array) -> tuple[Array, Array]:
        scores, _ = of_prior(normal)
        bent = _bent(np.concatenate([normal[:, _PLACES], normal[:, whole:]], axis=1), found, rows, len(seen))
        scores[:, _PLACES] = prior.mean[_PLACES] + bent[:, :unknowns] @ root.T
        return scores, return_factor(bent)

    left_over, weights = found.residuals[: len(seen)], found.weights[: len(seen)]
    return Learnt(
        belief=Belief(mean=mean, covariance=covariance, return_factor=float(return_factor(found.values[None])[0])),
        expected=expected_at(found.values[None])[0],
        left_over=left_over,
        surprise=_surprises(left_over, found.slopes[: len(seen)], found.values, weights),
        weights=np.minimum(weights, 1.0),
        size=whole + shared,
        draws_from=onto_readings,
    )


def _surprises(left_over: Array, slopes: Array, values: Array, weights: Array) -> Array:
    """Return how far each reading was from what those before it led to expect, the rows taken as straight."""
    at, covariance = np.zeros_like(values), np.eye(len(values))
    surprises = np.empty_like(left_over)
    for place, slope in enumerate(slopes):
        over = left_over[place] + slope @ (at - values)
        shared = covariance @ slope
        surprises[place] = over / np.sqrt(1.0 + slope @ shared)
        gain = shared / (1.0 / weights[place] + slope @ shared)
        at, covariance = at - gain * over, covariance - np.outer(gain, shared)
    return surprises


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """An observation in its place: what was done before it, the flow read since, and how it lies to the fit."""

    observation: Observation
    service: str
    since_service: float
    before: Observation | None
    marks: float
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
            marks = _marks(record, before, observation)
            found[place] = _Seen(
                observation=observation, service=done, since_service=since, before=before, marks=marks, **fit
            )
            before = observation if observation.what == "flow" else before
    return [found[place] for place in sorted(found)]


def _marks(record: Record, before: Observation | None, now: Observation) -> float:
    """Return what the marks of two readings' buckets leave between them [-]: nothing where it is the same bucket."""
    buckets = {each.bucket_m3 for each in (before, now) if each is not None} - {None}
    alike = before is not None and before.bucket_m3 == now.bucket_m3
    return 0.0 if alike else record.study.hand.bucket_mark * len(buckets) ** 0.5


def _rises(seen: _Seen) -> bool:
    """Return whether a flow has risen since the reading before it beyond both errors, nothing being serviced."""
    before, now = seen.before, seen.observation
    if before is None or now.what != "flow":
        return False
    return bool(np.log(now.value / before.value) > 2.0 * np.sqrt(now.spread**2 + before.spread**2 + seen.marks**2))


def doubts_of(record: Record, learnt: Learnt) -> tuple[Doubt, ...]:
    """Return the readings that count for little in a fit, in order of time, and why."""
    doubts = []
    for seen in _placed(record, learnt):
        figures, kind = seen.figures | {"error": seen.observation.spread}, "apart"
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
        return "rise" if _rises(seen) else None
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
