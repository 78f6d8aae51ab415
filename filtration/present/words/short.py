"""The answer in at most eighteen lines: what an owner came for, each line under its name."""

from collections.abc import Iterator, Sequence
from textwrap import fill

from filtration.answers.cheaper import largest_saving
from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.defaults import UNKNOWNS, model
from filtration.plan.spending import best_of_either_sort, is_reusable
from filtration.present.words import answer as words
from filtration.present.words import savings
from filtration.present.words.in_units import as_written
from filtration.present.words.odds import (
    HALF_A_CASE,
    apart,
    cases_of,
    in_the_rest,
    narrows,
    of_twenty,
    range_in_brackets,
    telling_drivers,
)
from filtration.present.words.phrases import (
    KINDS,
    days,
    distance,
    due,
    flow,
    headed,
    is_rinsed,
    money,
    number,
    service,
    title,
    whole_days,
)
from filtration.present.words.sentences import single

Line = tuple[str, str]
SAFETY: Line = ("Safety", single("short")["safety"])
NAME_WIDTH = 13
"""Letters that the names of the lines take."""

_SHORT = single("short")


def heading(comparison: Comparison) -> str:
    """Return whose answer it is: the tub, its water and its dips."""
    study = comparison.study
    tub = study.tub
    dips = f"{tub.uses_per_day:g} dip{'' if tub.uses_per_day == 1.0 else 's'} a day"
    read = ", by your readings" if study.belief is not None else ""
    return f"{study.name}: {number(1e3 * tub.volume_m3, 3)} L, {dips}, {tub.water.temperature_c:.3g} °C{read}"


def lines(comparison: Comparison) -> list[Line]:
    """Return the lines of the short answer, what is said of safety aside: a name and what stands under it."""
    taken = comparison.advised
    found = list(_nothing(comparison) if taken is None else _taken(taken, comparison))
    return [*found, *_measure(comparison)]


def _nothing(comparison: Comparison) -> Iterator[Line]:
    """Yield what is short where no option meets the needs, and what would help."""
    if not comparison.options:
        return
    nearest = comparison.options[0]
    yield "No option", f"meets your needs; the nearest is {title(nearest, comparison)}"
    yield "Why", "; ".join(words.why_not(nearest))
    helps = words.what_helps(comparison)
    if helps:
        yield "What helps", " ".join(helps[:2])


def _taken(taken: OptionAnswer, comparison: Comparison) -> Iterator[Line]:
    """Yield what is to be known of the option to take."""
    yield "Recommended", f"{_called(taken, comparison)}: in {cases_of(taken, comparison)}"
    if comparison.odds.chance_none_meets_needs >= HALF_A_CASE:
        others = of_twenty(comparison.odds.chance_none_meets_needs)
        yield "No filter", f"will do in the other {others}, {in_the_rest(comparison)}"
    yield from _care(taken, comparison)
    least = comparison.wanted_flow_l_per_h
    wanted = "" if least is None else f"; you want {flow(least)}"
    at_service = f", {flow(taken.due_flow_l_per_h)} at the {service(taken)}" if taken.due_flow_l_per_h else ""
    yield "Flow", f"{flow(taken.clean_flow_l_per_h)} new{at_service}{wanted}"
    wanted_m = comparison.study.needs.see_through_m
    yield "Visibility", f"{distance(taken.worst_view_m)} at its lowest; you want {distance(wanted_m)}"
    yield from _money(taken, comparison)


def _called(option: OptionAnswer, comparison: Comparison) -> str:
    """Return an option's name, with its kind and rating where the name does not have them."""
    name, rating = title(option, comparison), f"{option.rating_um:g}"
    known = option.kind == "train" or rating in option.name
    return name if known else f"{name} ({KINDS[option.kind]}, {rating} µm)"


def _care(option: OptionAnswer, comparison: Comparison) -> Iterator[Line]:
    """Yield how often it is rinsed and replaced."""
    if option.days_to_first_service is None or option.governed_by is None:
        yield "Rinse", "never"
        return
    often = f"after {due(option.days_to_first_service)}{range_in_brackets(option, 'days_to_first_service', whole_days)}"
    why = _SHORT[option.governed_by.replace(" ", "_")]
    alone = words.flow_alone(option, comparison).replace("the flow alone would last", "flow alone")
    rinsed = is_rinsed(option)
    yield "Rinse" if rinsed else "Replace", f"{often}, {why}{alone}"
    if rinsed or len(option.stages) > 1:
        yield "Replace", "; ".join(_replaced(option))


def _replaced(option: OptionAnswer) -> Iterator[str]:
    for stage in option.stages:
        if stage.life_days is None or stage.elements_per_year is None:
            continue
        times, of = stage.rinses_before_replacing, "" if len(option.stages) == 1 else f"{stage.element} "
        after = f"after {times} rinse{'' if times == 1 else 's'}, " if times else ""
        yield f"{of}{after}{_often(stage.elements_per_year)}"


def _often(per_year: float) -> str:
    """Return how often something is bought."""
    return "about once a year" if 0.95 <= per_year < 1.05 else f"about {number(per_year)} a year"


def _money(option: OptionAnswer, comparison: Comparison) -> Iterator[Line]:
    """Yield what a year costs, and what of it lies with the choice."""
    currency, year = comparison.study.currency, option.cost_per_year
    ranged = range_in_brackets(option, "cost_per_year", lambda amount: f"{amount:,.0f}")
    yield "A year", f"{money(year.total or 0.0, currency)}{ranged}, cartridge and rinsing {year.own:,.0f} of it"
    water = next((each for each in comparison.study.assumed if each.key == "tub.water_change_every"), None)
    if water is not None and (year.water_changes or 0.0) >= 1.0:
        fresh = money(year.water_changes or 0.0, currency)
        yield (
            "Fresh water",
            f"{fresh} of it, a change every {days(comparison.study.tub.water_life_days)}, which is assumed",
        )

    def costs(other: OptionAnswer) -> str:
        return apart(other, option, comparison)

    saving = largest_saving(comparison)
    if saving is not None and saving.saves_per_year >= 1.0:
        less, then = money(saving.saves_per_year, currency), saving.then
        kept = f"{due(then.days_to_first_service or 0.0)}, {distance(then.worst_view_m)} to see"
        what, mind = savings.what(saving, comparison.study), savings.in_brief(saving, comparison.study)
        yield "Would save", f"{what}: {less} a year, {kept}{mind}"
    if comparison.equal:
        yield "As good", ", ".join(f"{title(each, comparison)} ({costs(each)})" for each in comparison.equal)
    cheapest = comparison.cheapest
    if cheapest is not None and cheapest is not option and cheapest not in comparison.equal:
        yield (
            "Cheaper",
            f"{title(cheapest, comparison)}: {costs(cheapest)}, but in only {of_twenty(cheapest.chance)} of 20",
        )
    surest = max((each.chance for each in comparison.options if each.meets_needs), default=0.0)
    least = surest - model("advice.chance_less")  # about as sure
    if option.chance < least:
        surer = next(each for each in comparison.options if each.meets_needs and each.chance >= least)
        yield "Surer", f"{title(surer, comparison)}: {costs(surer)}, but in {of_twenty(surer.chance)} of 20"
    meeting = [each for each in comparison.options if each.meets_needs]
    other = best_of_either_sort(meeting).get(not is_reusable(option))
    if other is not None:
        pieces = sum(stage.elements_per_year or 0.0 for stage in other.stages)
        sort = "Disposable" if is_reusable(option) else "Reusable"
        yield sort, f"{title(other, comparison)}: {costs(other)}, about {number(pieces)} a year"


def _measure(comparison: Comparison) -> Iterator[Line]:
    """Yield what the answer leans on and the reading to take next."""
    assumed = comparison.study.assumed
    if assumed:
        short = {unknown.key: _SHORT.get(unknown.key, unknown.words) for unknown in UNKNOWNS}
        telling = [short[key] for key in telling_drivers(comparison.odds)]
        most = f"; most telling: {', '.join(telling)}" if telling else ""
        yield "Assumed", f"{len(assumed)} values{most}"
    measure = comparison.odds.measure
    if comparison.advised is not None and measure is not None and narrows(measure):
        about = due(float(max(1, round(measure.day))))
        when = "with the new cartridge" if measure.day == 0.0 else f"after about {about}"
        yield "Measure next", f"{_SHORT[measure.with_what.replace(' ', '_')]}, {when}"


def laid_out(comparison: Comparison, *more: Line, columns: int | None = None, settings: Sequence[str] = ()) -> str:
    """Return the short answer, and more lines, in the units of its study.

    Parameters
    ----------
    comparison : Comparison
        The answer.
    *more : (str, str)
        More lines at the end.
    columns : int, optional
        Letters that stand in a line; what is longer goes on below itself.
    settings : sequence of str, optional
        What was set otherwise, for the first line.
    """
    both = [f"{name:<{NAME_WIDTH}}{told}" for name, told in [*lines(comparison), *more]]
    told = [as_written(line, comparison.study) for line in [headed(heading(comparison), settings), *both]]
    if columns is not None:
        told = [fill(line, width=columns, subsequent_indent=" " * NAME_WIDTH) for line in told]
    return "\n".join(told)
