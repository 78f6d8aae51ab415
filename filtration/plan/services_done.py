"""How often each service was done before a plan begins, so that the plan's services keep their numbers."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from filtration.answers.results import Comparison
from filtration.plan.dated import Plan, Planned
from filtration.plan.dated_plan import plan as plan_of
from filtration.readings.reading import Reading

_FEWEST_DRAWS = 16

Done = Mapping[tuple[str, str], int]


def services_done(plan: Plan, compared: Comparison, readings: Sequence[Reading] = ()) -> Done:
    """Count what was done since the option was first fitted and before a plan begins.

    Parameters
    ----------
    plan : Plan
        The plan.
    compared : Comparison
        The comparison it was made from.
    readings : sequence of Reading, optional
        The owner's rows. Rinses, soaks and replacements are counted there; without any, each is taken as done when due.

    Returns
    -------
    mapping of (str, str) to int
        Times, by what is done and to what; a key that is not there was never done.
    """
    since = _since(plan, readings)
    done = _when_due(plan, compared, since)
    services = [row for row in readings if row.kind in ("rinse", "soak", "replace")]
    if services:
        option, _ = plan.study.on_pumps[plan.option]
        days = {
            kind: {row.when.date() for row in services if row.kind == kind and since <= row.when.date()}
            for kind in ("rinse", "soak", "replace")
        }
        replaced = sum(since < on for on in days["replace"])
        for element in option.stages:
            done["replace", element.name] = replaced
            done["buy", element.name] = replaced + 1
            if element.rinseable:
                done["rinse", element.name] = len(days["rinse"] | days["soak"])
                done["soak", element.name] = len(days["soak"])
    return done


def numbered(plan: Plan, done: Done) -> list[tuple[Planned, int]]:
    """Return a plan's events, each with its number among those of its kind since the option was first fitted.

    Parameters
    ----------
    plan : Plan
        The plan.
    done : mapping
        What ``services_done`` counts.

    Returns
    -------
    list of (Planned, int)
        In order; numbers go from 1.
    """
    count = Counter(dict(done))
    rows = []
    for event in plan.events:
        count[event.what, event.item] += 1
        rows.append((event, count[event.what, event.item]))
    return rows


def _since(plan: Plan, readings: Sequence[Reading]) -> date:
    """Return when the option was first fitted, as far back as is known."""
    known = [plan.fitted_on, *(row.when.date() for row in readings if row.kind == "replace")]
    if plan.study.in_use is not None and (readings or plan.fitted_on < plan.first_day):
        known.append(date.fromisoformat(plan.study.in_use.since))
    return min(known)


def _when_due(plan: Plan, compared: Comparison, since: date) -> Counter[tuple[str, str]]:
    """Count what falls due between two days."""
    elapsed = (plan.first_day - since).days
    if elapsed <= 0:
        return Counter()
    study = plan.study
    before = replace(study, in_use=None, prices=replace(study.prices, horizon_days=float(elapsed)))
    told = plan_of(before, option=plan.option, today=since, answer=compared, draws=_FEWEST_DRAWS)
    return Counter((event.what, event.item) for event in told.events if event.date < plan.first_day)
