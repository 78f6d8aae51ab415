"""The service walk of one planned option by the calendar, in the central case and before draws; d cases, s stages."""

from dataclasses import replace

import numpy as np

from filtration.answers.draws import drawn_options, kept_options
from filtration.answers.odds import most_runs_of
from filtration.answers.results import OptionAnswer
from filtration.base.arrays import Array, Counts, Flags, Rows
from filtration.base.cases import taken
from filtration.base.draws import Factors, central_factors
from filtration.loading.assembly import Entry
from filtration.loading.case import Case, case_of, central_case, load_of
from filtration.loading.table import FINE
from filtration.loading.tabulate import tables_of
from filtration.service.care import ENDLESS, Care, care_of
from filtration.service.pace import Pace
from filtration.service.visits import Past, Services
from filtration.service.walk import walk_services
from filtration.study.values import Study

_BY_AGE = 0.9  # of the age at which an element is replaced in any case: a life that ends then ends by age


def planned_care(study: Study, entry: Entry, answer: OptionAnswer, factors: Factors) -> Care:
    """Return how an option is looked after in a plan.

    Parameters
    ----------
    study, entry : Study, Entry
        The study, and the option on its pump.
    answer : OptionAnswer
        What the central case makes of it.
    factors : Factors
        The cases.

    Returns
    -------
    Care
        As many rinses as in the central case; where its life ends about when the element is too old anyway, not a
        number of rinses but that age decides.
    """
    lives, runs = [stage.life_days or 0.0 for stage in answer.stages], most_runs_of(answer)
    by_age = [most > 1 and life >= _BY_AGE * study.needs.discard_days for life, most in zip(lives, runs, strict=True)]
    counts = [ENDLESS if each else run for each, run in zip(by_age, runs, strict=True)]
    care = care_of(study, entry.option, factors, counts)
    planned = np.where(by_age, lives, np.inf)[:, None] * np.ones_like(care.planned_days)
    return replace(care, planned_days=planned)


def _longer(study: Study, pace: Pace) -> Study:
    """Return a study whose elements may grow so old by the clock as the busiest stretch of the calendar makes them."""
    needs = study.needs
    limits = {key: getattr(needs, key) + pace.swing_days for key in ("discard_days", "replace_limit_days")}
    return replace(study, needs=replace(needs, **limits))


def bathers_share(case: Case) -> Array:
    """Return the bathers' share of what the clean option catches (d,) [-]."""
    caught = np.sum(case.catches(case.clean_and_due()[0], case.new), axis=0)
    return np.asarray((caught * case.bathers_share).sum(axis=0) / np.maximum(caught.sum(axis=0), 1e-30))


def central_services(
    study: Study, entry: Entry, answer: OptionAnswer, pace: Pace, until: float, past: Past | None = None
) -> Services:
    """Walk the central case of a planned option whose clean filter has the flow.

    Parameters
    ----------
    study, entry, answer : Study, Entry, OptionAnswer
        The study, the option on its pump, and its answer.
    pace : Pace
        The calendar.
    until : float
        How long to follow [day].
    past : Past, optional
        What was done before today.

    Returns
    -------
    Services
        Of one case.
    """
    there = _longer(study, pace)
    case, care = central_case(there, entry, load_of(there)), planned_care(study, entry, answer, central_factors())
    share = bathers_share(case)
    return walk_services(tables_of(case, FINE), care, pace=pace, bathers_share=share, until=until, past=past).services()


def drawn_services(
    study: Study,
    entry: Entry,
    answer: OptionAnswer,
    pace: Pace,
    factors: Factors,
    *,
    until: float,
    needed: Counts,
    past: Past | None = None,
) -> tuple[Services | None, Rows, Flags]:
    """Walk draws of a planned option.

    Parameters
    ----------
    study, entry, answer : Study, Entry, OptionAnswer
        The study, the option on its pump, and its answer.
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
    Services or None
        Of the draws in which it meets the needs; where it does in none, of those in which it has the flow.
    (e,) array of int
        Which those are.
    (d,) array of bool
        Those in which it has the flow.
    """
    there = _longer(study, pace)
    case, care = case_of(there, entry, factors, load_of(there)), planned_care(study, entry, answer, factors)
    (drawn,) = drawn_options(kept_options(study, [entry], [most_runs_of(answer)], [factors]))
    flows = drawn.flows
    some = np.flatnonzero(drawn.meets if drawn.meets.any() else flows)
    case, care = taken(case, some, len(flows)), taken(care, some, len(flows))
    if not some.size:
        return None, some, flows
    share = bathers_share(case)
    visits = walk_services(tables_of(case), care, pace=pace, bathers_share=share, until=until, needed=needed, past=past)
    return visits.services(), some, flows
