"""Every option on every pump, ranked."""

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, fields, replace
from math import isfinite

import numpy as np

from filtration.answers.decision import DRAWS
from filtration.answers.figures import L_PER_H, Followed, answers_of, entry_id, follow, unmoved, without_time_limits
from filtration.answers.odds import sure_of
from filtration.answers.remarks import all_remarks, central_remarks
from filtration.answers.results import Comparison, CostPerYear, LoopCurve, OptionAnswer, WarmthAnswer
from filtration.answers.yearly import water_changes_per_year
from filtration.base.budget import MOST_CASES, afford
from filtration.base.draws import check_draws
from filtration.base.remarks import Remark
from filtration.loading.assembly import Entry, entries_of, loop_for
from filtration.loading.case import central_case, load_of
from filtration.loading.table import FINE
from filtration.loading.tabulate import groups_of
from filtration.physics.tub import LITRE_M3
from filtration.physics.water import water_at
from filtration.study.values import Study

Progress = Callable[[float, str], None]
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
        Draws that ranges come from, a power of two; 0 for none. Which option is advised never hangs on them.
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
        If a maker's figures are impossible, ``draws`` is not 0 or a power of two up to
        65,536, or that is more than ``base.budget`` has for so many elements.
    """
    _check(study, draws)
    return ranked(central_of(study, progress), draws=draws, seed=seed, executor=executor, progress=progress)


def _check(study: Study, draws: int) -> None:
    """Refuse a number of draws that is none of ours, and more work than there is a budget for."""
    check_draws(draws, _FEWEST_DRAWS, _MOST_DRAWS, or_none=True)
    afford_draws(study, draws)


def afford_draws(study: Study, draws: int) -> None:
    """Refuse more draws of a study's elements than there is a budget for."""
    cases = max(draws, DRAWS) * study.elements_driven
    afford(cases, MOST_CASES, "draws of elements on all pumps", "name fewer options or pumps, or take fewer draws")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Central:
    """The central case of a study, before anything is drawn.

    Parameters
    ----------
    study : Study
        The study.
    entries : sequence of Entry
        Every option on every pump.
    followed : sequence of Followed
        What becomes of those whose pump drives the loop.
    options : sequence of OptionAnswer
        Best first.
    choice_parts : tuple of str
        The parts of the cost that the choice changes.
    notes : tuple of Remark
        What it says by itself, see ``remarks.central_remarks``.
    """

    study: Study
    entries: Sequence[Entry]
    followed: Sequence[Followed]
    options: Sequence[OptionAnswer]
    choice_parts: tuple[str, ...]
    notes: tuple[Remark, ...]

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
    tell(0.05, "loading the cartridges, and stringing runs together")
    followed = follow(study, driven)
    tell(0.3, "adding up")
    answers = [*answers_of(followed), *(unmoved(study, entry) for entry in entries if entry.loop is None)]
    choice = _choice_parts(answers)
    answers = ordered([_with_choice_cost(answer, choice) for answer in answers])
    return Central(
        study=study,
        entries=entries,
        followed=followed,
        options=answers,
        choice_parts=choice,
        notes=central_remarks(followed, answers),
    )


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
        If ``draws`` is not 0 or a power of two up to 65,536, or too many for so many elements.
    """
    _check(central.study, draws)
    tell = progress or (lambda _share, _what: None)
    study = central.study
    answers, odds, decision = sure_of(
        study, central.driven, central.options, draws, seed, executor, lambda share: tell(0.4 + 0.5 * share, _DRAWN)
    )
    warmth, taken = None, [*(each for each in answers if each.id == decision.advised), *answers][:1]
    if taken and taken[0].days_to_first_service:
        tell(0.95, "looking at warmer water")
        warmth = _warmth(study, central.driven, taken[0])
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
        warmth=warmth,
        notes=all_remarks(study, central.entries, central.followed, answers, decision.advised, central.notes),
        odds=odds,
        decision=decision,
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


def ordered(answers: Sequence[OptionAnswer]) -> list[OptionAnswer]:
    """Return options best first."""

    def place(answer: OptionAnswer) -> tuple[int, float, str, str]:
        total = answer.cost_per_year.total
        return len(answer.reasons), total if total is not None else float("inf"), answer.name, answer.pump

    return sorted(answers, key=place)


def _warmth(study: Study, entries: Sequence[Entry], best: OptionAnswer) -> WarmthAnswer:
    """Work out the best option's first run in warmer water; a time limit plays no part here."""
    entry = next(entry for entry in entries if entry_id(study, entry) == best.id)
    now = study.tub.water.temperature_c
    days = _first_days_in(study, entry, ((now, now), (_WARM_C, now), (now, _WARM_C), (_WARM_C, _WARM_C)))
    return WarmthAnswer(
        temperature_c=_WARM_C,
        days_now=days[0],
        days_thinner_water=days[1],
        days_faster_growth=days[2],
        days_both=days[3],
    )


def _first_days_in(study: Study, entry: Entry, waters_c: Sequence[tuple[float, float]]) -> list[float]:
    """Return the first run of an entry in waters of other temperatures, without time limits [day]; 0 where it has none.

    Of each: the temperature that viscosity and density belong to, and that of growth [degC].
    """
    cases = []
    for water_c, growth_c in waters_c:
        water = replace(study.tub, water=water_at(water_c), growth_at_c=growth_c)
        there = replace(without_time_limits(study), tub=water)
        loop = loop_for(there, entry.pump, entry.option.housings_in_series)
        cases.append(central_case(there, replace(entry, loop=loop), load_of(there)))
    days = [0.0] * len(cases)
    for places, tables in groups_of(cases, FINE):
        for place, first in zip(places, tables.first_days().tolist(), strict=True):
            days[place] = first
    return days


def _loop_curves(entries: Sequence[Entry]) -> tuple[LoopCurve, ...]:
    """Return one curve a pump, that of a single housing."""
    curves: dict[str, LoopCurve] = {}
    for entry in sorted(entries, key=lambda entry: entry.option.housings_in_series):
        if entry.pump.name not in curves and entry.loop is not None:
            at = np.linspace(0.0, float(entry.loop.bare_m3_s[0]), _CURVE_POINTS)
            left = entry.loop.left_pa(at)
            left[-1] = 0.0
            curves[entry.pump.name] = LoopCurve(
                pump=entry.pump.name,
                flow_l_per_h=tuple((L_PER_H * at).tolist()),
                left_kpa=tuple((1e-3 * left).tolist()),
            )
    return tuple(curves.values())
