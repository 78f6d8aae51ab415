"""The flow over the runs of lives.

Shapes: s stages, r runs of a life, p points of each run.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from filtration.base.arrays import Array, Flags
from filtration.loading.tabulate import side_by_kind
from filtration.service.lives import Life
from filtration.service.visits import Services


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunFlow:
    """The flow over one run: days since the option was new (p,), flows (p,) [m3/s], and the service at its end."""

    day: Array
    flow_m3_s: Array
    ends_with: str


class _Watched(NamedTuple):
    """Runs of a life: days into each and since the life began (r, p), the state each starts in, point by point (s, rp).

    What is done at the end of each (r, 3).
    """

    at: Array
    day: Array
    used_days: Array
    extra_cake_kg: Array
    done: Flags

    @classmethod
    def of(cls, services: Services, number: int, points: int) -> "_Watched":
        """Return the first so many runs, at so many even points of each."""
        number = min(number, int(services.counted[:, 0].sum()))
        lengths, ends = services.length_days[:number, :1], services.day[:number, :1]
        at = lengths * np.linspace(0.0, 1.0, points)
        used, extra = (
            np.repeat(part[:number, :, 0].T, points, axis=1) for part in (services.used_days, services.extra_cake_kg)
        )
        done = np.asarray(services.done[:number, :, :, 0].any(axis=2))
        return cls(at, ends - lengths + at, used, extra, done)

    def told(self, flow_m3_s: Array) -> list[RunFlow]:
        """Return the runs with the flow at each of their points (rp,)."""
        what = np.where(self.done[:, 2], "replace", np.where(self.done[:, 1], "soak", "rinse")).tolist()
        rows = zip(self.day, flow_m3_s.reshape(self.at.shape), what, strict=True)
        return [RunFlow(day=day, flow_m3_s=flow, ends_with=last) for day, flow, last in rows]


def run_flows(lives: Sequence[Life], numbers: Sequence[int], points: Sequence[int]) -> list[list[RunFlow]]:
    """Return the flow over the first so many runs of each life (one case), at so many even points of each run."""
    found: list[list[RunFlow]] = [[] for _ in lives]
    for places, tables in side_by_kind([life.tables for life in lives]):
        watched = [_Watched.of(lives[place].services, numbers[place], points[place]) for place in places]
        used, extra, days = (
            np.concatenate(parts, axis=-1)
            for parts in zip(*((each.used_days, each.extra_cake_kg, each.at.ravel()) for each in watched), strict=True)
        )
        sizes = [each.at.size for each in watched]
        cases = np.repeat(tables.all, sizes)
        flow = tables.flow_m3_s(tables.deposits(used, extra, days, cases), cases, many=True)
        for place, each, part in zip(places, watched, np.split(flow, np.cumsum(sizes)[:-1]), strict=True):
            found[place] = each.told(part)
    return found
