"""Every option on every pump, ranked."""

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, fields, replace
from math import isfinite

import numpy as np

from filtration.answers.figures import L_PER_H, Schedule, answer_of, entry_id, schedule_of, unmoved
from filtration.answers.odds import sure_of
from filtration.answers.remarks import remarks
from filtration.answers.results import Comparison, CostPerYear, LoopCurve, OptionAnswer, WarmthAnswer
from filtration.answers.yearly import water_changes_per_year
from filtration.base.draws import check_draws
from filtration.loading.assembly import Entry, entries_of, loop_for, runner_of
from filtration.loading.lifetime import first_runs
from filtration.physics.tub import LITRE_M3
from filtration.physics.water import water_at
from filtration.study.values import Study

Progress = Callable[[float, str], None]
DRAWS = 1024
_FEWEST_DRAWS, _MOST_DRAWS = 16, 65536
_DRAWN = "drawing what is not known exactly"
_WARM_C = 20.0
_CURVE_POINTS = 81


def compare(
    study: Study,
    *,
    draws: int = 0,
    seed: int = 0,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """Rank every option on every pump.

    Parameters
    ----------
    study : Study
        The study.
    draws : int, optional
        Draws of what is not known exactly, a power of two; 0 for the central case alone.
    seed : int, optional
        Which draws; the same seed gives the same answer, wherever it is worked out.
    executor : concurrent.futures.Executor, optional
        Where to work the draws out; left out, here.
    progress : callable, optional
        Called with the share done [-] and what is being done.

    Returns
    -------
    Comparison
        Options that meet the needs first, by total cost a year and name; then the rest by number of reasons and cost.
        Draws never change the order.

    Raises
    ------
    InputError
        If a maker's figures are impossible, or ``draws`` is not 0 or a power of two up to 65,536.
    """
    check_draws(draws, _FEWEST_DRAWS, _MOST_DRAWS, or_none=True)
    return ranked(central_of(study, progress), draws=draws, seed=seed, executor=executor, progress=progress)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Central:
    """The central case of a study, before anything is drawn.

    Parameters
    ----------
    study : Study
        The study.
    entries : sequence of Entry
        Every option on every pump.
    schedule : Schedule or None
        What becomes of those whose pump drives the loop; None where none does.
    options : sequence of OptionAnswer
        Best first.
    choice_parts : tuple of str
        The parts of the cost that the choice changes.
    warmth : WarmthAnswer or None
        The best option's first run in warmer water.
    """

    study: Study
    entries: Sequence[Entry]
    schedule: Schedule | None
    options: Sequence[OptionAnswer]
    choice_parts: tuple[str, ...]
    warmth: WarmthAnswer | None

    @property
    def driven(self) -> Sequence[Entry]:
        """The entries whose pump drives the loop."""
        return [entry for entry in self.entries if entry.loop is not None]


def central_of(study: Study, progress: Progress | None = None) -> Central:
    """Work out the central case of every option on every pump.

    Parameters
    ----------
    study : Study
        The study.
    progress : callable, optional
        Called with the share done [-] and what is being done.

    Returns
    -------
    Central
        Ready to be ranked, with draws or without.

    Raises
    ------
    InputError
        If a maker's figures are impossible.
    """
    tell = progress or (lambda _share, _what: None)
    tell(0.0, "putting options and pumps together")
    entries = entries_of(study)
    driven = [entry for entry in entries if entry.loop is not None]
    answers: list[OptionAnswer] = []
    warmth = schedule = None
    if driven:
        tell(0.05, "loading the elements")
        runner = runner_of(study, driven)
        tell(0.2, "stringing runs together")
        schedule = schedule_of(study, driven, runner)
        tell(0.3, "adding up")
        answers = [answer_of(study, entry, runner, row, schedule) for row, entry in enumerate(driven)]
    answers += [unmoved(study, entry) for entry in entries if entry.loop is None]
    choice = _choice_parts(answers)
    answers = _ordered([_with_choice_cost(answer, choice) for answer in answers])
    if driven and answers[0].days_to_first_service:
        tell(0.35, "looking at warmer water")
        warmth = _warmth(study, driven, answers[0])
    return Central(study=study, entries=entries, schedule=schedule, options=answers, choice_parts=choice, warmth=warmth)


def ranked(
    central: Central,
    *,
    draws: int = 0,
    seed: int = 0,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """Rank a central case, and say how sure that is.

    Parameters
    ----------
    central : Central
        The central case.
    draws, seed, executor, progress : optional
        As for ``compare``.

    Returns
    -------
    Comparison
        As ``compare`` returns it.

    Raises
    ------
    InputError
        If ``draws`` is not 0 or a power of two up to 65,536.
    """
    check_draws(draws, _FEWEST_DRAWS, _MOST_DRAWS, or_none=True)
    tell = progress or (lambda _share, _what: None)
    study, answers, odds = central.study, list(central.options), None
    if draws:
        answers, odds = sure_of(
            study, central.driven, answers, draws, seed, executor, lambda share: tell(0.4 + 0.5 * share, _DRAWN)
        )
    tell(1.0, "done")
    uses, life = study.tub.uses_per_day, study.tub.water_life_days
    rule = study.water_rule_days
    wanted = study.needs.flow_m3_s
    return Comparison(
        study=study,
        litres_per_dip=study.tub.volume_m3 / LITRE_M3 / (uses * life) if uses > 0.0 else None,
        water_change_days=None if study.water_never_changed else life,
        water_change_rule_days=rule if isfinite(rule) else None,
        water_changes_per_year=water_changes_per_year(study),
        wanted_flow_l_per_h=wanted * L_PER_H if wanted is not None else None,
        options=tuple(answers),
        choice_parts=central.choice_parts,
        loops=_loop_curves(central.driven),
        warmth=central.warmth,
        notes=remarks(study, central.entries, central.schedule, answers, odds),
        odds=odds,
    )


def _choice_parts(answers: Sequence[OptionAnswer]) -> tuple[str, ...]:
    """Return the parts of the cost that differ between options; all of them where there is no choice."""
    costs = [answer.cost_per_year for answer in answers if answer.cost_per_year.total is not None]
    names = [part.name for part in fields(CostPerYear) if part.name != "total"]
    if len(costs) == 1:
        return tuple(names)
    series = {name: [getattr(cost, name) for cost in costs] for name in names}
    return tuple(name for name, values in series.items() if values and max(values) - min(values) > 1e-9 * max(values))


def _with_choice_cost(answer: OptionAnswer, parts: Sequence[str]) -> OptionAnswer:
    """Add up the parts of the cost that the choice changes."""
    if answer.cost_per_year.total is None:
        return answer
    return replace(answer, choice_cost_per_year=sum(getattr(answer.cost_per_year, name) for name in parts))


def _ordered(answers: Sequence[OptionAnswer]) -> list[OptionAnswer]:
    """Best first."""

    def place(answer: OptionAnswer) -> tuple[int, float, str, str]:
        total = answer.cost_per_year.total
        return len(answer.reasons), total if total is not None else float("inf"), answer.name, answer.pump

    return sorted(answers, key=place)


def _warmth(study: Study, entries: Sequence[Entry], best: OptionAnswer) -> WarmthAnswer:
    """Work out the best option's first run in warmer water."""
    entry = next(entry for entry in entries if entry_id(study, entry) == best.id)
    now, known = study.tub.water.temperature_c, best.days_to_first_service
    if known is None or best.governed_by == "time limit":  # which plays no part here
        known = first_days_in(study, entry, water_c=now, growth_c=now)
    return WarmthAnswer(
        temperature_c=_WARM_C,
        days_now=known,
        days_thinner_water=first_days_in(study, entry, water_c=_WARM_C, growth_c=now),
        days_faster_growth=first_days_in(study, entry, water_c=now, growth_c=_WARM_C),
        days_both=first_days_in(study, entry, water_c=_WARM_C, growth_c=_WARM_C),
    )


def _loop_curves(entries: Sequence[Entry]) -> tuple[LoopCurve, ...]:
    """Return one curve a pump, that of a single housing."""
    curves: dict[str, LoopCurve] = {}
    for entry in sorted(entries, key=lambda entry: entry.option.housings_in_series):
        if entry.pump.name not in curves and entry.loop is not None:
            at = np.linspace(0.0, entry.loop.largest_flow_m3_s, _CURVE_POINTS)
            left = entry.loop.left_at(at)
            curves[entry.pump.name] = LoopCurve(
                pump=entry.pump.name,
                flow_l_per_h=tuple((L_PER_H * at).tolist()),
                left_kpa=tuple((1e-3 * left).tolist()),
            )
    return tuple(curves.values())


def first_days_in(study: Study, entry: Entry, *, water_c: float, growth_c: float) -> float:
    """Return the first run of an entry in water of another temperature, without time limits.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        An entry with a loop.
    water_c, growth_c : float
        Temperatures that viscosity and density, and growth, belong to [degC].

    Returns
    -------
    float
        Days; 0 where the clean filter fails.
    """
    tub = replace(study.tub, water=water_at(water_c), growth_at_c=growth_c)
    never = float("inf")
    needs = replace(study.needs, rinse_limit_days=never, replace_limit_days=never)
    there = replace(study, tub=tub, needs=needs)
    loop = loop_for(there, entry.pump, entry.option.housings_in_series)
    runner = runner_of(there, [replace(entry, loop=loop)])
    if not runner.clean.flow_m3_s[0] > runner.clean.due_flow_m3_s[0]:
        return 0.0
    return float(first_runs(runner, np.array([0])).days[0])
