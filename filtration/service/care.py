"""How the stages of options are looked after: rinses, soaks, ages, what each costs, and the rules for all."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from filtration.base.arrays import Array, Counts, Flags
from filtration.base.defaults import model
from filtration.base.draws import Factors
from filtration.study.values import Option, Study, rinse_price, soak_price

AGE_TOLERANCE_DAYS = 1e-6
"""So near to an age or a time limit it is reached [day]."""

ENDLESS = 10**6
"""Runs before a stage is replaced, so many that age alone decides."""


def unstated_shortest_days(first_days: Array) -> Array:
    """Return the shortest run an owner puts up with who does not say.

    Parameters
    ----------
    first_days : (...) array
        First run [day].

    Returns
    -------
    (...) array
        As ``shortest_run_words`` says: an element that lasts little is still rinsed rather than thrown away, though
        nobody rinses more than once a day; assumption.

    Examples
    --------
    >>> unstated_shortest_days(np.array([0.5, 2.0, 4.0, 14.0])).tolist()
    [1.0, 1.6, 3.0, 7.0]
    """
    most = np.maximum(model("service.shortest_most_share") * first_days, model("service.least_days"))
    least = np.minimum(model("service.shortest_days"), most)
    shortest: Array = np.maximum(model("service.shortest_share") * first_days, least)
    return shortest


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Care:
    """How the stages of options of one kind are looked after, all housings of a stage together; s stages, d cases.

    Parameters
    ----------
    rinseable : (s, d) array of bool
        Can be rinsed.
    soak_every, most_runs : (s, d) array of int
        Rinses from one soak to the next (0: never); runs after which a stage is replaced instead of rinsed.
    rinse_residual, soak_residual : (s, d) array
        Share of the deposit that stays after a rinse, and of that after a soak [-].
    planned_days, oldest_days : (s, d) array
        Age from which a service replaces a stage, and age at which it is replaced in any case [day].
    rinse_cost, soak_cost, replace_cost : (s, d) array
        Cost of one rinse, of one soak, and of new elements with disposal of the old.
    between_days, stated_shortest_days : (d,) array
        Longest time between services; shortest run as stated, no number where it is not [day].
    replace_share : (d,) array
        Of a train's extra loss when due, from which a stage that cannot be rinsed is replaced [-].
    """

    rinseable: Flags
    soak_every: Counts
    most_runs: Counts
    rinse_residual: Array
    soak_residual: Array
    planned_days: Array
    oldest_days: Array
    rinse_cost: Array
    soak_cost: Array
    replace_cost: Array
    between_days: Array
    stated_shortest_days: Array
    replace_share: Array

    @property
    def limit_days(self) -> Array:
        """Time (d,) that ends a first run in any case [day]."""
        return np.asarray(np.minimum(self.oldest_days.min(axis=0), self.between_days))

    def shortest_days(self, first_days: Array) -> Array:
        """Shortest run (d,) the owner puts up with, for first runs (d,) [day]."""
        unstated = unstated_shortest_days(first_days)
        return np.where(np.isnan(self.stated_shortest_days), unstated, self.stated_shortest_days)

    def soaks(self, unsoaked: Array) -> Flags:
        """Whether a stage (s, d) that had so many rinses since its last soak is soaked with the next."""
        return np.asarray((self.soak_every > 0) & (unsoaked + 1 >= self.soak_every))

    def residual(self, rinsed: Flags, soaked: Flags, replaced: Flags) -> Array:
        """Share (s, d) of its deposit that each stage keeps; no number where it is left alone [-]."""
        residual = np.where(rinsed, self.rinse_residual, np.where(replaced, 0.0, np.nan))
        return np.where(soaked, residual * self.soak_residual, residual)

    def with_counts(self, most_runs: Counts) -> "Care":
        """Return the same with other numbers of runs (s, d) before a stage is replaced."""
        return replace(self, most_runs=np.broadcast_to(most_runs, self.most_runs.shape))


def care_of(study: Study, option: Option, factors: Factors, most_runs: Sequence[int] | None = None) -> Care:
    """Return how an option is looked after.

    Parameters
    ----------
    study : Study
        The study.
    option : Option
        The option.
    factors : Factors
        The cases. Prices are the central ones: a factor common to all does not change what is best.
    most_runs : sequence of int, optional
        Runs after which each stage is replaced instead of rinsed; left out, age alone decides.

    Returns
    -------
    Care
        By case.
    """
    stages, prices, needs, housings = option.stages, study.prices, study.needs, option.housings_in_parallel
    rinseable = [element.rinseable for element in stages]
    ones = np.ones_like(factors.uses)

    def each(values: Sequence[float]) -> Array:
        return np.array(values, dtype=np.float64)[:, None] * ones

    left = each([1.0 - element.rinse_recovery for element in stages])
    soak_every = [element.soak_every_rinses if element.rinseable else 0 for element in stages]
    return Care(
        rinseable=each(rinseable).astype(bool),
        soak_every=each(soak_every).astype(np.int64),
        most_runs=each(most_runs or [ENDLESS] * len(stages)).astype(np.int64),
        rinse_residual=np.minimum(left * factors.rinse_loss, np.maximum(left, model("service.most_left"))),
        soak_residual=each([1.0 - element.soak_recovery for element in stages]),
        planned_days=each([np.inf] * len(stages)),
        oldest_days=each(needs.oldest_days(rinseable)),
        rinse_cost=each([housings * rinse_price(element, prices) for element in stages]),
        soak_cost=each([housings * soak_price(element, prices) for element in stages]),
        replace_cost=each([housings * (element.price + prices.disposal_each) for element in stages]),
        between_days=needs.between_days(any(rinseable)) * ones,
        stated_shortest_days=(np.nan if needs.shortest_run_days is None else needs.shortest_run_days) * ones,
        replace_share=model("service.replace_share") * ones,
    )
