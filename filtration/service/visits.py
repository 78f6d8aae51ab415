"""Services as they are walked: what is done, when, and what was done before today.

Shapes: d cases, e some of them, s stages, k services; cases come last.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from filtration.base.arrays import Array, Counts, Flags, Rows
from filtration.base.draws import ONE_IN_TEN

KINDS = ("rinse", "soak", "replace")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Services:
    """Services in the order they come; k of them. Where a case is not followed further, nothing is done.

    Parameters
    ----------
    day, length_days : (k, d) array
        When, since new, and length of the run before [day].
    done : (k, 3, s, d) array of bool
        Whether each stage is rinsed, soaked, replaced.
    counted, cut : (k, d) array of bool
        The service was walked; the age of a stage that cannot be rinsed cut the run before it, so that its length says
        nothing of the others.
    used_days, extra_cake_kg : (k, s, d) array
        The state the run before each service starts in, see ``Tables``; none where they were not asked for [day], [kg].
    renewed : (d,) array of bool
        The last service made every stage new, so that all repeats itself.
    shortest_days : (d,) array
        Shortest run the owner puts up with [day].
    """

    day: Array
    length_days: Array
    done: Flags
    counted: Flags
    cut: Flags
    used_days: Array
    extra_cake_kg: Array
    renewed: Flags
    shortest_days: Array

    @classmethod
    def of_one(cls, day: Array, done: Flags) -> "Services":
        """Return services of one case on given days (k,), what is done (k, 3, s); no more is known of them."""
        one, nothing = np.ones((len(day), 1), dtype=bool), np.zeros((0, done.shape[2], 1))
        return cls(
            day=day[:, None],
            length_days=np.diff(day, prepend=0.0)[:, None],
            done=done[..., None],
            counted=one,
            cut=~one,
            used_days=nothing,
            extra_cake_kg=nothing,
            renewed=np.zeros(1, dtype=bool),
            shortest_days=np.zeros(1),
        )

    def days_of(self, kind: int, stages: Sequence[int], number: int) -> Array:
        """Return the days (number, d) on which something is done to any of some stages for the first, second … time.

        Infinite where a case is not followed so far.
        """
        size = self.day.shape[1]
        found, counted = np.full((number, size), np.inf), np.zeros(size, dtype=np.intp)
        for day, done in zip(self.day, self.done[:, kind], strict=True):
            for stage in stages:
                now = np.flatnonzero(done[stage] & (counted < number))
                found[counted[now], now] = day[now]
                counted[now] += 1
        return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Past:
    """What was done before today, and what is known of the next service.

    Parameters
    ----------
    now : float
        Today, since the option was new [day].
    number : int
        Services so far.
    services : Services or None
        What was done then; None for rinses and soaks spread evenly.
    next_days : (float, float, float) or None
        10, 50 and 90 % of the day of the next service [day]; None for what the cases say.
    next_what : {"rinse", "soak", "replace"} or None
        What is done then to whatever can be rinsed; None for what the care says.
    left : int or None
        Rinses from today on until it is replaced; None for as many as the care says in all.
    """

    now: float
    number: int
    services: Services | None = None
    next_days: tuple[float, float, float] | None = None
    next_what: str | None = None
    left: int | None = None

    def length(self, number: int, days: Array, day: Array) -> Array:
        """Return the length (d,) of the run before a service, from a day (d,) on, that would last so many days (d,)."""
        from scipy.special import ndtri

        if number < self.number:
            even = self.now / (self.number + 1)
            return np.full_like(days, even if self.services is None else self.services.length_days[number, 0])
        if self.next_days is None:
            return np.maximum(days, self.now - day)
        early, middle, late = self.next_days  # the sooner, the shorter the run
        way = ndtri((np.argsort(np.argsort(days, kind="stable")) + 0.5) / len(days)) / ONE_IN_TEN
        return np.maximum(middle + way * np.where(way > 0.0, late - middle, middle - early), self.now) - day

    def done(self, number: int, replaced: Flags, soaks: Flags) -> tuple[Flags, Flags]:
        """Return which stages (s, d) that can be rinsed are replaced at a service, and which of the others soaked."""
        if number < self.number:
            if self.services is None:
                return np.zeros_like(replaced), soaks
            _, soaked, new = self.services.done[number, :, :, :1]
            return np.broadcast_to(new, replaced.shape), np.broadcast_to(soaked, soaks.shape)
        if self.next_what is None:
            return replaced, soaks
        return np.full_like(replaced, self.next_what == "replace"), np.full_like(soaks, self.next_what == "soak")


class Visit(NamedTuple):
    """One service of some cases ``on`` (e,): length of the run before (e,) [day], what is done (3, s, e), cuts (e,)."""

    on: Rows
    days: Array
    done: Flags
    cut: Flags

    def only(self, cases: Rows) -> "Visit":
        """Return it for some of its cases."""
        return Visit(self.on[cases], self.days[cases], self.done.take(cases, axis=-1), self.cut[cases])


class Skip(NamedTuple):
    """Whole cycles of a single stage, left out as they repeat what came before; of some cases ``on`` (e,) each.

    How many, and of one cycle its days, its services, and how many of them soak.
    """

    on: Rows
    cycles: Counts
    days: Array
    services: Counts
    soaks: Counts


@dataclass(slots=True, kw_only=True, eq=False)
class Visits:
    """Services as they were walked, each of the cases that are still followed; see ``Services``.

    Parameters
    ----------
    stages, size : int
        How many stages and cases.
    each : list of Visit
        In order.
    skips : dict of int to Skip
        What was left out before a service, by its place.
    starts : list of ((s, d) array, (s, d) array)
        Days of use and extra cake that each run starts with, where they were asked for.
    renewed : (d,) array of bool
        The last service made every stage new.
    shortest_days : (d,) array
        Shortest run the owner puts up with [day].
    """

    stages: int
    size: int
    each: list[Visit] = field(default_factory=list)
    skips: dict[int, Skip] = field(default_factory=dict)
    starts: list[tuple[Array, Array]] = field(default_factory=list)
    renewed: Flags
    shortest_days: Array

    @classmethod
    def none(cls, stages: int, size: int) -> "Visits":
        """Nothing done yet."""
        return cls(stages=stages, size=size, renewed=np.zeros(size, dtype=bool), shortest_days=np.zeros(size))

    @property
    def number(self) -> int:
        """How many services there were."""
        return len(self.each)

    def write(self, visit: Visit) -> None:
        """Add one service."""
        self.each.append(visit)
        self.renewed[visit.on] = visit.done[2].all(axis=0)

    def services(self) -> Services:
        """Return them case by case."""
        shape = self.number, self.size
        length, counted, cut = np.zeros(shape), np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
        done = np.zeros((self.number, 3, self.stages, self.size), dtype=bool)
        for at, visit in enumerate(self.each):
            length[at, visit.on], counted[at, visit.on], cut[at, visit.on] = visit.days, True, visit.cut
            done[at][:, :, visit.on] = visit.done
        used, extra = (np.array([start[at] for start in self.starts]) for at in (0, 1))
        return Services(
            day=np.cumsum(length, axis=0),
            length_days=length,
            done=done,
            counted=counted,
            cut=cut,
            used_days=used,
            extra_cake_kg=extra,
            renewed=self.renewed,
            shortest_days=self.shortest_days,
        )
