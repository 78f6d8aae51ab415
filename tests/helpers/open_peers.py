"""What simpler rules would forecast of the open loading runs, and how all are held against runs kept back.

Each rule knows what our forecast knows: the record up to the cut, the feed ahead, and the training runs, on which it
chooses whatever it leaves open.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from open_runs import CUTS, FULL_PA, Run, learn, life_left_s, read_runs, scatter_pa

from filtration.base.arrays import Array

FOLDS, SEED = 5, 0
OURS, MASS, LINE, EXPONENTIAL = "loading law", "constant mass to block", "straight line", "exponential"
MASS_SCATTER = "constant mass, less for a noisy gauge"
PEERS = (MASS, LINE, EXPONENTIAL)
_WINDOWS_KG_M2 = (0.05, 0.08, 0.10, 0.15, 0.20, 0.30, 0.45, 0.60, 0.90)
_WINDOWS_S = (6.0, 8.0, 12.0, 16.0, 20.0, 30.0, 45.0, 60.0, 90.0)
_LEVELS_PA = np.arange(400.0, FULL_PA + 1.0, 20.0)
_LEAST_READINGS, _LEAST_PA = 4, 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """What was said of one held-back run at one cut, and what came, in seconds of life left."""

    who: str
    run: Run
    cut: float
    said_s: float
    low_s: float
    high_s: float

    @property
    def left_s(self) -> float:
        """What came."""
        return self.run.life_s - self.run.cut(self.cut)

    @property
    def off_s(self) -> float:
        """Forecast less what came."""
        return self.said_s - self.left_s

    @property
    def covered(self) -> bool:
        """Whether the 80 % interval holds what came."""
        return self.low_s <= self.left_s <= self.high_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A straight line or an exponential through the last part of a record, on time or on mass fed.

    It is drawn to a level at or below 600 Pa, for a noisy reading passes 600 Pa early, and kept between the least and
    the most that any training run took.
    """

    exponential: bool
    by_time: bool
    window: float
    least: float
    most: float

    def left_s(self, run: Run, cut: int, levels_pa: Array) -> Array:
        """Return the seconds left by level."""
        end, axis = run.fed_kg_m2[:cut], run.middle_kg_m2[:cut]
        if self.by_time:
            end = np.arange(1.0, cut + 1.0)
            axis = end - 0.5
        count = max(int((axis > end[-1] - self.window).sum()), _LEAST_READINGS)
        x, y = axis[-count:] - axis[-count:].mean(), run.reading_pa[cut - count : cut]
        level = levels_pa
        if self.exponential:
            y, level = np.log(np.maximum(y, _LEAST_PA)), np.log(levels_pa)
        slope = float(x @ y / (x @ x))
        reached = axis[-count:].mean() + (level - y.mean()) / slope if slope > 0.0 else np.full(len(level), np.inf)
        reached = np.clip(reached, max(self.least, end[-1]), max(self.most, end[-1]))
        return reached - cut if self.by_time else run.seconds_to(reached, cut)


def _blocked(runs: Sequence[Run], *, by_time: bool) -> Array:
    return np.array([run.life_s if by_time else run.blocked_kg_m2 for run in runs])


def _left(runs: Sequence[Run], share: float) -> Array:
    return np.array([run.life_s - run.cut(share) for run in runs])


def _tuned(runs: Sequence[Run], *, exponential: bool) -> tuple[Curve, Array]:
    """Return the curve, and its level, whose mean absolute error over training runs and cuts is least."""
    best: tuple[float, Curve, Array] | None = None
    for by_time, place in product((False, True), range(len(_WINDOWS_S))):
        ends = _blocked(runs, by_time=by_time)
        window = (_WINDOWS_S if by_time else _WINDOWS_KG_M2)[place]
        curve = Curve(
            exponential=exponential, by_time=by_time, window=window, least=float(ends.min()), most=float(ends.max())
        )
        said = np.array([[curve.left_s(run, run.cut(share), _LEVELS_PA) for run in runs] for share in CUTS])
        off = np.abs(said - np.array([_left(runs, share) for share in CUTS])[..., None]).mean(axis=(0, 1))
        if best is None or off.min() < best[0]:
            best = float(off.min()), curve, _LEVELS_PA[[int(off.argmin())]]
    assert best is not None
    return best[1:]


def _peers_say(training: Sequence[Run], runs: Sequence[Run], share: float) -> dict[str, Array]:
    """Return what each rule says at one cut of runs."""
    cuts = [run.cut(share) for run in runs]
    blocked = _blocked(training, by_time=False)
    scatter = [scatter_pa(run.reading_pa[: run.cut(share)]) for run in training]
    slope, level = np.polyfit(scatter, blocked, 1)
    said = {
        MASS: [run.seconds_to(blocked.mean(), cut) for run, cut in zip(runs, cuts, strict=True)],
        MASS_SCATTER: [
            run.seconds_to(level + slope * scatter_pa(run.reading_pa[:cut]), cut)
            for run, cut in zip(runs, cuts, strict=True)
        ],
    }
    return {who: np.array(seconds, dtype=float) for who, seconds in said.items()}


def peer_forecasts(training: Sequence[Run], runs: Sequence[Run]) -> list[Forecast]:
    """Return every rule's forecasts of runs kept back; its interval is that of its own errors on the training runs."""
    tuned = {LINE: _tuned(training, exponential=False), EXPONENTIAL: _tuned(training, exponential=True)}
    found = []
    for share in CUTS:
        seen, said = _peers_say(training, training, share), _peers_say(training, runs, share)
        for who, (curve, level) in tuned.items():
            seen[who], said[who] = (
                np.array([curve.left_s(run, run.cut(share), level)[0] for run in each]) for each in (training, runs)
            )
        for who, each in said.items():
            low, high = np.quantile(_left(training, share) - seen[who], [0.1, 0.9])
            found += [
                Forecast(who=who, run=run, cut=share, said_s=float(s), low_s=float(s + low), high_s=float(s + high))
                for run, s in zip(runs, each, strict=True)
            ]
    return found


def held_back(folds: Sequence[int] = range(FOLDS), seed: int = SEED) -> list[Forecast]:
    """Return all forecasts of the runs of some folds, each learnt from the runs of the other folds alone."""
    runs = read_runs()
    order = np.random.default_rng(seed).permutation(len(runs))
    found = []
    for fold in folds:
        kept = set(order[fold::FOLDS].tolist())
        training = [run for place, run in enumerate(runs) if place not in kept]
        back = [runs[place] for place in sorted(kept)]
        belief = learn(training)
        for run, share in product(back, CUTS):
            low, said, high = np.quantile(life_left_s(run, run.cut(share), belief), [0.1, 0.5, 0.9]).tolist()
            found.append(Forecast(who=OURS, run=run, cut=share, said_s=said, low_s=low, high_s=high))
        found += peer_forecasts(training, back)
    return found


def of(forecasts: Sequence[Forecast], who: str, cut: float | None = None) -> list[Forecast]:
    """Return one forecaster's, at one cut if so asked."""
    return [each for each in forecasts if each.who == who and cut in {None, each.cut}]


def mean_error_s(forecasts: Sequence[Forecast]) -> float:
    """Return the mean absolute error [s]."""
    return float(np.mean([abs(each.off_s) for each in forecasts]))


def coverage(forecasts: Sequence[Forecast]) -> float:
    """Return the share of the intervals that hold what came [-]."""
    return float(np.mean([each.covered for each in forecasts]))
