"""Every printed figure that comes from draws, of the option to take, with one seed at the number of cases used."""

from filtration import Study, compare
from filtration.answers.chances import spreads_of, verdict_of
from filtration.answers.decision import CASES, DRAWS
from filtration.answers.odds import most_runs_of
from filtration.base.draws import sobol_points
from filtration.loading.assembly import entry_by_id

DEMOS = ("freezer", "barrel", "quay")
_TENTHS = ("10 %", "50 %", "90 %")
_RANGES = ("days_to_first_service", "cost_per_year", "see_through_worst_m", "clean_flow_l_per_h")

Figures = dict[str, float]


def figures_of(study: Study, seed: int) -> Figures:
    """Return the figures by name; ranges are those of the option that is advised."""
    answer = compare(study)
    driven = [option for option in answer.options if option.cost_per_year.total is not None]
    entries = [entry_by_id(study, option.id) for option in driven]
    spreads = spreads_of(study, entries, [most_runs_of(option) for option in driven], DRAWS, seed)
    verdict = verdict_of([spread.first(CASES) for spread in spreads], sobol_points(CASES, seed))
    taken = next(place for place, option in enumerate(driven) if option is answer.advised)
    found = {
        f"{name}, {tenth}": value
        for name in _RANGES
        for tenth, value in zip(_TENTHS, spreads[taken].ranges[name], strict=True)
    }
    return found | {
        "chance of meeting the needs": float(verdict.meets[taken]),
        "chance of being the cheapest": float(verdict.best[taken]),
        "none meets the needs": verdict.none_meets,
        "worth of measuring the load": verdict.worth_of_load,
        "choosing wrong": verdict.wrong[taken] or 0.0,
    }
