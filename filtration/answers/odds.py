"""An answer's figures with how sure they are."""

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import replace

from filtration.answers.chances import spreads_of, verdict_of
from filtration.answers.draws import watched_run
from filtration.answers.drivers import drivers_of, flow_band, measure_next
from filtration.answers.figures import entry_id
from filtration.answers.results import Odds, OptionAnswer, Sureness, advised_of
from filtration.base.draws import factors_at, sobol_points
from filtration.loading.assembly import Entry
from filtration.service.care import ENDLESS
from filtration.study.values import Study

_NEVER = Sureness(
    ranges={},
    outcomes={},
    chance_of_meeting_needs=0.0,
    chance_of_being_best=0.0,
    cost_of_choosing_wrong_per_year=None,
)
_BAND_DRAWS = 256  # of the draws, enough for a band
_INDEX_SHARE, _LEAST_INDEX_POINTS = 4, 256  # one base point of the indices for so many draws, but at least so many


def most_runs_of(answer: OptionAnswer) -> list[int]:
    """Return after how many runs each stage is replaced in the central case.

    Parameters
    ----------
    answer : OptionAnswer
        The option's answer.

    Returns
    -------
    list of int
        Runs; many where the central case has no schedule, so that age alone decides.
    """
    return [ENDLESS if n is None else n + 1 for n in (stage.rinses_before_replacing for stage in answer.stages)]


def sure_of(
    study: Study,
    driven: Sequence[Entry],
    answers: Sequence[OptionAnswer],
    draws: int,
    seed: int,
    executor: Executor | None,
    tell: Callable[[float], None],
) -> tuple[list[OptionAnswer], Odds]:
    """Put ranked options before the draws.

    Parameters
    ----------
    study : Study
        The study.
    driven : sequence of Entry
        Options whose pump drives the loop.
    answers : sequence of OptionAnswer
        All options, best first.
    draws, seed : int
        How many, a power of two, and which.
    executor : Executor or None
        Where to work.
    tell : callable
        Called with the share done [-].

    Returns
    -------
    list of OptionAnswer, Odds
        The same in the same order with their sureness, and that of the whole.
    """
    entries = {entry_id(study, entry): entry for entry in driven}
    ranked = [answer for answer in answers if answer.id in entries]
    if not ranked:
        odds = Odds(
            draws=draws,
            seed=seed,
            chance_none_meets_needs=1.0,
            worth_of_measuring_load_per_year=0.0,
            drivers=(),
            measure=None,
            unsettled=0.0,
        )
        return [replace(answer, sureness=_NEVER) for answer in answers], odds
    points = sobol_points(draws, seed)
    in_order = [entries[answer.id] for answer in ranked]
    most_runs = [most_runs_of(answer) for answer in ranked]
    spreads = spreads_of(study, in_order, most_runs, draws, seed, executor=executor, tell=tell)
    verdict = verdict_of(spreads, points)
    sure = {
        answer.id: Sureness(
            ranges=spread.ranges,
            outcomes=spread.dots,
            chance_of_meeting_needs=float(verdict.meets[place]),
            chance_of_being_best=float(verdict.best[place]),
            cost_of_choosing_wrong_per_year=verdict.wrong[place],
        )
        for place, (answer, spread) in enumerate(zip(ranked, spreads, strict=True))
    }
    told = [replace(answer, sureness=sure.get(answer.id, _NEVER)) for answer in answers]
    taken = advised_of(told)
    best = next((place for place, answer in enumerate(ranked) if taken is not None and answer.id == taken.id), 0)
    entry, last_day = in_order[best], ranked[best].days_to_first_service
    run, few = (
        watched_run(study, entry, factors_at(some, study.spreads, study.belief))
        for some in (points, points[:_BAND_DRAWS])
    )
    odds = Odds(
        draws=draws,
        seed=seed,
        chance_none_meets_needs=verdict.none_meets,
        worth_of_measuring_load_per_year=verdict.worth_of_load,
        drivers=drivers_of(study, entry, most_runs[best], max(draws // _INDEX_SHARE, _LEAST_INDEX_POINTS), seed),
        measure=measure_next(study, entry, run),
        unsettled=verdict.unsettled,
        flow_band=flow_band(few, ranked[best].id, last_day) if last_day else None,
    )
    return told, odds
