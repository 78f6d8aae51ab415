"""An answer's figures with how sure they are, and which option that says to take."""

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import replace

import numpy as np

from filtration.answers.chances import Spread, spreads_of, verdict_of
from filtration.answers.decision import CASES, SEED, Decision
from filtration.answers.draws import watched_run
from filtration.answers.drivers import drivers_of, flow_band, measure_next
from filtration.answers.figures import entry_id
from filtration.answers.results import Odds, OptionAnswer, Sureness, decided
from filtration.base.arrays import Flags
from filtration.base.draws import factors_at, sobol_points
from filtration.loading.assembly import Entry
from filtration.physics.optics import see_through_m
from filtration.physics.tub import haze_per_m
from filtration.service.care import ENDLESS
from filtration.study.values import Study

_NEVER = Sureness(
    ranges={},
    outcomes={},
    chance_of_meeting_needs=0.0,
    chance_of_being_best=0.0,
    cost_of_choosing_wrong_per_year=None,
)
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
) -> tuple[list[OptionAnswer], Odds, Decision]:
    """Decide which of some ranked options to take, and say how sure each is.

    Parameters
    ----------
    study : Study
        The study.
    driven : sequence of Entry
        Options whose pump drives the loop.
    answers : sequence of OptionAnswer
        All options, best first.
    draws, seed : int
        How many draws ranges come from, a power of two or 0, and which.
    executor : Executor or None
        Where to work.
    tell : callable
        Called with the share done [-].

    Returns
    -------
    list of OptionAnswer, Odds, Decision
        The same in the same order with their sureness, that of the whole, and what to take. Chances and decision come
        from the same cases whatever ``draws`` and ``seed`` are.
    """
    entries = {entry_id(study, entry): entry for entry in driven}
    ranked = [answer for answer in answers if answer.id in entries]
    in_order, most_runs = [entries[answer.id] for answer in ranked], [most_runs_of(answer) for answer in ranked]

    def put_before(number: int, which: int) -> list[Spread]:
        if not ranked:
            return []
        return spreads_of(study, in_order, most_runs, number, which, executor=executor, tell=tell)

    told = put_before(draws, seed) if draws else []
    same = told and seed == SEED and draws >= CASES
    deciding = [spread.first(CASES) for spread in told] if same else put_before(CASES, SEED)
    verdict = verdict_of(deciding, sobol_points(CASES, SEED))
    sure = {
        answer.id: Sureness(
            ranges=told[place].ranges if told else {},
            outcomes=told[place].dots if told else {},
            chance_of_meeting_needs=float(verdict.meets[place]),
            chance_of_being_best=float(verdict.best[place]),
            cost_of_choosing_wrong_per_year=verdict.wrong[place],
        )
        for place, answer in enumerate(ranked)
    }
    judged = [replace(answer, sureness=sure.get(answer.id, _NEVER)) for answer in answers]
    decision = decided(study, judged, [answer.chance for answer in judged], verdict.none_meets)
    nothing = np.zeros((1, CASES), dtype=bool)
    none = ~np.any([spread.meets for spread in deciding] or nothing, axis=0)
    lacking = ~np.any([spread.flows for spread in deciding] or nothing, axis=0)
    hazy, hazy_still = _too_hazy(study, none & ~lacking)
    odds = Odds(
        draws=draws,
        seed=seed,
        chance_none_meets_needs=verdict.none_meets,
        worth_of_measuring_load_per_year=verdict.worth_of_load,
        chance_all_lack_flow=float(lacking.mean()),
        chance_too_hazy=hazy,
        chance_too_hazy_in_half_the_time=hazy_still,
    )
    if not told:
        return judged, odds, decision
    best = next((place for place, answer in enumerate(ranked) if answer.id == decision.advised), 0)
    entry, last_day, points = in_order[best], ranked[best].days_to_first_service, sobol_points(draws, seed)
    run, meets = watched_run(study, entry, factors_at(points, study.spreads, study.belief)), told[best].meets
    odds = replace(
        odds,
        drivers=drivers_of(study, entry, most_runs[best], max(draws // _INDEX_SHARE, _LEAST_INDEX_POINTS), seed),
        measure=measure_next(study, entry, run),
        flow_band=flow_band(run, meets, ranked[best].id, last_day) if last_day and meets.any() else None,
    )
    return judged, odds, decision


def _too_hazy(study: Study, none_meets: Flags) -> tuple[float, float]:
    """Return the chance that no option meets the needs and haze alone hides what is to be seen.

    As the water is changed now, and changed twice as often [-].
    """
    tub, points = study.tub, sobol_points(CASES, SEED)[none_meets]
    factors = factors_at(points, study.spreads, study.belief)

    def hidden(share_of_life: float) -> float:
        seen = see_through_m(haze_per_m(tub.dips_per_100_litres * factors.uses * share_of_life, factors.haze))
        return float((seen < study.needs.see_through_m).sum()) / CASES

    return hidden(1.0), hidden(0.5)
