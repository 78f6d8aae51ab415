"""How sure an answer is: every option before the same draws of what is not known exactly; d draws."""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, fields, replace

import numpy as np

from filtration.answers.draws import BLOCK, DrawnOption, drawn_options, kept_options
from filtration.answers.figures import L_PER_H
from filtration.answers.results import CostPerYear
from filtration.answers.yearly import fixed_parts, priced_parts
from filtration.base.arrays import Array, Flags, totals
from filtration.base.defaults import PLACES
from filtration.base.draws import Factors, factors_at, sobol_points, tenths
from filtration.loading.assembly import Entry
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.study.values import Study

FEWEST = 0.05
"""Share of the draws of which nothing is told where fewer meet the needs."""

Tell = Callable[[float], None]

_CHUNK = 65536  # draws of all options of a chunk together
_BINS = 16
_DOTS = 20


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spread:
    """One option over all draws.

    Parameters
    ----------
    ranges : mapping of str to tuple
        10, 50 and 90 % by name; no entry where there is none.
    dots : mapping of str to tuple
        Twenty equally likely outcomes by name.
    meets, flows, cost : (d,) array
        Whether the needs are met; whether the clean filter has the flow; total cost a year, infinite where the needs
        are not met.
    first_price : float
        Elements of the option, bought once.
    """

    ranges: Mapping[str, tuple[float, float, float]]
    dots: Mapping[str, tuple[float, ...]]
    meets: Flags
    flows: Flags
    cost: Array
    first_price: float

    def first(self, draws: int) -> "Spread":
        """Return the same with what was found in so many of the draws, the first."""
        return replace(self, meets=self.meets[:draws], flows=self.flows[:draws], cost=self.cost[:draws])


def parts_of(study: Study, entry: Entry, drawn: DrawnOption, factors: Factors) -> dict[str, Array]:
    """Return the parts of an option's yearly cost, (d,) each.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.
    drawn : DrawnOption
        What became of it.
    factors : Factors
        The draws.

    Returns
    -------
    dict of str to (d,) array
        By part, with ``total``.
    """
    per_year = DAYS_PER_YEAR * entry.option.housings_in_parallel
    found = [(name, np.full(len(factors.prices), amount)) for name, amount in fixed_parts(study, entry).items()]
    rates = (per_year * each for each in (drawn.replaced_per_day, drawn.rinsed_per_day, drawn.soaked_per_day))
    for element, *amounts in zip(entry.option.stages, *rates, strict=True):
        found += priced_parts(element, study.prices, *amounts).items()
    parts = {name: amount * factors.prices for name, amount in totals(found).items()}
    order = [field.name for field in fields(CostPerYear) if field.name in parts]
    return {name: parts[name] for name in order} | {"total": np.sum([parts[name] for name in order], axis=0)}


def figures_of(study: Study, entry: Entry, drawn: DrawnOption, factors: Factors) -> dict[str, Array]:
    """Return everything of an option that is told as a range, (d,) each, by name; see ``parts_of``."""
    count = entry.option.housings_in_parallel * DAYS_PER_YEAR
    parts = parts_of(study, entry, drawn, factors)
    figures = {
        "days_to_first_service": drawn.first_days,
        "cost_per_year": parts["total"],
        "see_through_worst_m": drawn.worst_view_m,
        "clean_flow_l_per_h": L_PER_H * drawn.clean_flow_m3_s,
        "services_per_year": DAYS_PER_YEAR * drawn.services_per_day,
    }
    bought = zip(entry.option.stages, count * drawn.replaced_per_day, strict=True)
    figures |= {f"elements_per_year.{element.name}": amount for element, amount in bought}
    return figures | {f"cost_per_year.{name}": amount for name, amount in parts.items() if name != "total"}


def ranges_of(figures: Mapping[str, Array], meets: Flags) -> dict[str, tuple[float, float, float]]:
    """Return 10, 50 and 90 % of some figures over the draws in which the needs are met; nothing where those are few."""
    if meets.mean() < FEWEST:
        return {}
    rows = tenths(np.array([values[meets] for values in figures.values()])).T.tolist()
    return {name: (low, middle, high) for name, (low, middle, high) in zip(figures, rows, strict=True)}


def run_options(
    study: Study, entries: Sequence[Entry], most_runs: Sequence[Sequence[int]], points: Array
) -> list[DrawnOption]:
    """Put options before points of the unit cube.

    Parameters
    ----------
    study : Study
        The study.
    entries : sequence of Entry
        Options whose pump drives the loop.
    most_runs : sequence of sequence of int
        For each, runs before each stage of a train is replaced.
    points : (d, u) array
        One coordinate for each unknown.

    Returns
    -------
    list of DrawnOption
        What became of them.
    """
    parts = [points[start : start + BLOCK] for start in range(0, len(points), BLOCK)]
    blocks = [factors_at(part, study.spreads, study.belief) for part in parts]
    return drawn_options(kept_options(study, entries, most_runs, blocks))


def _spread(study: Study, entry: Entry, drawn: DrawnOption, factors: Factors) -> Spread:
    """Return ranges, outcomes, and what ranks an option."""
    figures, meets = figures_of(study, entry, drawn, factors), drawn.meets
    ranges, dots = ranges_of(figures, meets), {}
    if ranges:
        middles = (np.arange(_DOTS) + 0.5) * 100.0 / _DOTS
        for name in ("days_to_first_service", "cost_per_year"):
            dots[name] = tuple(np.percentile(figures[name][meets], middles, method="inverted_cdf").tolist())
    cost = np.where(meets, figures["cost_per_year"], np.inf)
    return Spread(
        ranges=ranges, dots=dots, meets=meets, flows=drawn.flows, cost=cost, first_price=entry.option.set_price
    )


def _chunk_of_spreads(packed: tuple[Study, Sequence[Entry], Sequence[Sequence[int]], int, int]) -> list[Spread]:
    """Return some options over all draws, from what travels cheaply to a worker."""
    study, entries, most_runs, draws, seed = packed
    points = sobol_points(draws, seed)
    factors = factors_at(points, study.spreads, study.belief)
    drawn = run_options(study, entries, most_runs, points)
    return [_spread(study, entry, option, factors) for entry, option in zip(entries, drawn, strict=True)]


def spreads_of(
    study: Study,
    entries: Sequence[Entry],
    most_runs: Sequence[Sequence[int]],
    draws: int,
    seed: int,
    *,
    executor: Executor | None = None,
    tell: Tell = lambda _share: None,
) -> list[Spread]:
    """Put every option before the same draws, some options at a time.

    Parameters
    ----------
    study : Study
        The study.
    entries : sequence of Entry
        Options whose pump drives the loop.
    most_runs : sequence of sequence of int
        For each, runs before each stage of a train is replaced.
    draws, seed : int
        How many, a power of two, and which.
    executor : Executor, optional
        Where to work; the answer is the same wherever.
    tell : callable, optional
        Called with the share done [-].

    Returns
    -------
    list of Spread
        In the order of the entries.
    """
    chunk = max(1, _CHUNK // draws)
    starts = range(0, len(entries), chunk)
    jobs = [(study, entries[at : at + chunk], most_runs[at : at + chunk], draws, seed) for at in starts]
    spreads: list[Spread] = []
    for done in map(_chunk_of_spreads, jobs) if executor is None else executor.map(_chunk_of_spreads, jobs):
        spreads += done
        tell(len(spreads) / len(entries))
    return spreads


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Verdict:
    """How options compare over all draws; o options.

    Parameters
    ----------
    meets, best : (o,) array
        Chance of meeting the needs, and of being the cheapest that does [-].
    wrong : list of float or None
        Mean cost above the cheapest that meets the needs, where this option meets them; None where it never does.
    none_meets : float
        Chance that no option meets them [-].
    worth_of_load : float
        What knowing the dirt a bather brings, before choosing, would save a year.
    """

    meets: Array
    best: Array
    wrong: list[float | None]
    none_meets: float
    worth_of_load: float


def verdict_of(spreads: Sequence[Spread], points: Array) -> Verdict:
    """Compare options draw by draw.

    Parameters
    ----------
    spreads : sequence of Spread
        The options.
    points : (d, u) array
        The draws, one coordinate for each unknown.

    Returns
    -------
    Verdict
        Chances, cost of choosing wrong, worth of measuring.

    Notes
    -----
    An option that turns out not to meet the needs is taken to be given up for the cheapest that does, its elements
    bought for nothing; with that, the worth of measuring is the expected value of partial perfect information (Raiffa &
    Schlaifer 1961), the load known to a sixteenth of its draws.
    """
    if not spreads:
        return Verdict(meets=np.zeros(0), best=np.zeros(0), wrong=[], none_meets=1.0, worth_of_load=0.0)
    cost = np.array([spread.cost for spread in spreads])
    cheapest = cost.min(axis=0)
    some = np.isfinite(cheapest)
    winner = np.where(some, cost.argmin(axis=0), -1)
    above = np.where(some, cheapest, 0.0)
    wrong = [float((spread.cost - above)[spread.meets].mean()) if spread.meets.any() else None for spread in spreads]
    regret = np.array([np.where(spread.meets, spread.cost - above, spread.first_price)[some] for spread in spreads])
    worth = 0.0
    if some.any():
        order = np.argsort(points[some, PLACES["load_per_dip"]], kind="stable")
        known = sum(regret[:, part].sum(axis=1).min() for part in np.array_split(order, _BINS) if part.size)
        worth = max(float(regret.mean(axis=1).min() - known / some.sum()), 0.0)
    return Verdict(
        meets=np.array([spread.meets.mean() for spread in spreads]),
        best=np.array([(winner == option).mean() for option in range(len(spreads))]),
        wrong=wrong,
        none_meets=float(1.0 - some.mean()),
        worth_of_load=worth,
    )
