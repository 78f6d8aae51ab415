"""The central case and draws of one option, walked by the calendar; d draws, s stages.

The central case goes over the tables of ``history``, run by run. Draws take their runs from a row of them since new,
see ``drawn_lives``, which repeats itself once rinses and soaks have settled. The rules are the same.
"""

from dataclasses import replace

import numpy as np

from filtration.base.arrays import Array, Counts, Flags, Rows
from filtration.base.defaults import model
from filtration.base.draws import Factors, central_factors
from filtration.base.roots import root_between
from filtration.loading.assembly import Entry, runner_of
from filtration.loading.case import Case, cases_of, load_of
from filtration.loading.drawn import clean_and_due
from filtration.loading.drawn_lives import Walked, row_alone, row_of_train
from filtration.loading.lifetime import shortest_run_days, spent_stages
from filtration.loading.run import Runner, unstated_shortest_days
from filtration.loading.runs import Walker
from filtration.plan.calendar_walk import Dated, Past, Rules, Varied, walked
from filtration.service.pace import Pace
from filtration.study.values import Study

_AGE_TOLERANCE_DAYS = 1e-6


class Central:
    """The central case, one draw."""

    def __init__(self, runner: Runner) -> None:
        self.runner = runner
        self.used = np.zeros((1, runner.site.trains.present.shape[1]))
        self.extra = np.zeros_like(self.used)
        self.known: dict[bytes, Array] = {}  # lives repeat themselves

    def run(self, longest: Array, on: Rows) -> Array:
        """See ``Deposit``."""
        start = np.concatenate([self.used[0], self.extra[0], longest]).tobytes()
        if start not in self.known:
            self.known[start] = self.runner.runs(on, self.used, self.extra, longest).days
        return self.known[start]

    def spent(self, clock: Array, on: Rows) -> Flags:
        """See ``Deposit``."""
        state = self.runner.state_after(on, self.used, self.extra, clock)
        return spent_stages(self.runner, on, state, model("service.replace_share")).T

    def serviced(self, clock: Array, keeps: Array, on: Rows) -> None:
        """See ``Deposit``."""
        state, history, keeps = self.runner.state_after(on, self.used, self.extra, clock), self.runner.history, keeps.T
        alone = np.isnan(keeps)
        keeps = np.where(alone, 1.0, keeps)
        later = history.days_with(on, keeps * state.layer_kg)
        self.used = np.where(alone, self.used + clock[:, None], later)
        self.extra = keeps * state.cake_kg - history.at(on, self.used).cake_kg


class Drawn:
    """The same before many draws; in a train, a stage's replacement is taken not to lengthen the others' runs."""

    def __init__(self, row: Walked) -> None:
        self.row = row
        self.runs = np.zeros(row.days.shape[1], dtype=np.intp)
        self.age = np.zeros_like(row.spent_per_day)

    def run(self, longest: Array, on: Rows) -> Array:
        """See ``Deposit``."""
        at, known = self.runs[on], len(self.row.days)
        at = np.where(at < known, at, known - self.row.period + (at - known) % self.row.period)
        return np.minimum(self.row.days[at, on], longest)

    def spent(self, clock: Array, on: Rows) -> Flags:
        """See ``Deposit``."""
        lives = (self.age[:, on] + clock + _AGE_TOLERANCE_DAYS) * self.row.spent_per_day[:, on]
        return np.full_like(lives, fill_value=True, dtype=bool) if len(lives) == 1 else lives >= 1.0

    def serviced(self, clock: Array, keeps: Array, on: Rows) -> None:
        """See ``Deposit``."""
        self.age[:, on] = np.where(keeps == 0.0, 0.0, self.age[:, on] + clock)
        self.runs[on] = np.where((keeps == 0.0).all(axis=0), 0, self.runs[on] + 1)


def _longer(study: Study, pace: Pace) -> Study:
    """Return a study whose elements may grow so old by the clock as the busiest stretch of the calendar makes them."""
    needs = study.needs
    limits = {key: getattr(needs, key) + pace.swing_days for key in ("discard_days", "replace_limit_days")}
    return replace(study, needs=replace(needs, **limits))


def _case_of(study: Study, entry: Entry, factors: Factors) -> tuple[Case, Array, Array, Array]:
    """Return an option before draws: its clean flow, that when due, and the bathers' share of what it catches."""
    [[case]] = cases_of(study, [entry], [[1] * len(entry.media)], [factors])
    clean, due = clean_and_due(case)
    caught = np.sum(case.catches(clean, [np.zeros_like(clean)] * len(case.stages)), axis=0)
    dust = load_of(study).dust_kg_day * factors.dust / np.maximum(case.dirt_kg_day, 1e-30)
    return case, clean, due, 1.0 - (caught * dust).sum(axis=0) / np.maximum(caught.sum(axis=0), 1e-30)


def central_walk(study: Study, entry: Entry, rules: Rules, pace: Pace, until: float, past: Past | None = None) -> Dated:
    """Walk the central case of an option whose clean filter has the flow.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.
    rules : Rules
        How it is looked after.
    pace : Pace
        The calendar.
    until : float
        How long to follow [day].
    past : Past, optional
        What was done before today.

    Returns
    -------
    Dated
        Services of one draw.
    """
    runner, on = runner_of(_longer(study, pace), [entry]), np.zeros(1, dtype=np.intp)
    limit = np.array([min(float(rules.oldest_days.min()), rules.between_days)])
    *_, bathers_share = _case_of(study, entry, central_factors())
    varied = Varied(
        rinse_keeps=np.array([[1.0 - element.rinse_recovery] for element in entry.option.stages]),
        growth_per_day=np.array([study.tub.growth_per_day]),
        bathers_share=bathers_share,
        shortest_days=shortest_run_days(runner, Central(runner).run(limit, on)),
    )
    return walked(Central(runner), varied, rules, pace, until=until, past=past)


def drawn_walk(
    study: Study,
    entry: Entry,
    rules: Rules,
    pace: Pace,
    factors: Factors,
    *,
    until: float,
    needed: Counts,
    past: Past | None = None,
) -> tuple[Dated, Flags]:
    """Walk draws of an option.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.
    rules : Rules
        How it is looked after.
    pace : Pace
        The calendar.
    factors : Factors
        The draws.
    until : float
        How long to follow [day].
    needed : (3, s) array of int
        A draw is left sooner once each stage was rinsed, soaked and replaced so many times.
    past : Past, optional
        What was done before today.

    Returns
    -------
    Dated
        Services of the draws.
    (d,) array of bool
        Those in which the clean filter has the flow; the others mean nothing.
    """
    case, clean, due, bathers_share = _case_of(_longer(study, pace), entry, factors)
    flows = (clean > due) & (clean > 0.0)
    walker = _clear_walker(case, clean, np.where(flows, due, 0.9 * clean))
    limit = np.full(len(clean), min(float(rules.oldest_days.min()), rules.between_days))
    upkeep, longest = case.upkeep, limit
    if not pace.even:  # a limit of the calendar is not one of the clock
        longest = np.full(len(clean), np.inf)
        upkeep = replace(upkeep, rinse_limit_days=longest)
    row = (row_alone if len(case.stages) == 1 else row_of_train)(walker, upkeep, longest)
    first = np.minimum(row.days[0], limit)
    stated = study.needs.shortest_run_days
    half = unstated_shortest_days(first)
    varied = Varied(
        rinse_keeps=upkeep.rinse_keeps,
        growth_per_day=case.growth_per_day,
        bathers_share=bathers_share,
        shortest_days=half if stated is None else np.full_like(half, stated),
    )
    return walked(Drawn(row), varied, rules, pace, until=until, needed=needed, past=past), flows


def _clear_walker(case: Case, clean: Array, due: Array) -> Walker:
    """Return the tables down to the flow when due, or to that at which a run's end is still clear enough."""
    walker, on = case.walker(clean, due), np.arange(len(clean))
    nothing = np.zeros((len(case.stages), len(clean)))
    first = walker.run(nothing, nothing, np.full(len(clean), np.inf), on)
    cakes = [cake for _, cake, _ in walker.ends(nothing, nothing, first, on)]
    clear = case.seen_m(clean, list(nothing)) >= case.view_m
    clouded = clear & (case.seen_m(due, cakes) < case.view_m)
    if not clouded.any():
        return walker
    short = root_between(lambda flow: case.view_m - case.seen_m(flow, cakes), due, clean)
    return case.walker(clean, np.where(clouded, np.minimum(short, (1.0 - 1e-6) * clean), due))
