"""How sure an answer is, in words."""

from collections.abc import Callable
from math import log10

from filtration.answers.results import Comparison, Measure, Odds, OptionAnswer
from filtration.base.defaults import UNKNOWNS
from filtration.base.errors import joined
from filtration.present.words.phrases import distance, due, first_run, money, number, title, whole_days
from filtration.present.words.sentences import single

HALF_A_CASE = 0.025
"""Of all cases: less is fewer than one in twenty."""
_DRIVES = 0.05
_WORTH_SAYING = 0.02  # of a year's cost
_NARROWED = (
    (0.35, "to about a third of their range or less"),
    (0.7, "to about half of their range"),
    (1.0, "a little"),
)
READ = single("read")


def of_twenty(chance: float) -> str:
    """Return a chance [-] as cases of twenty; whole ones never claim what rounding alone would.

    Examples
    --------
    >>> of_twenty(0.64), of_twenty(0.01), of_twenty(1.0)
    ('13', 'fewer than 1', '20')
    """
    if 0.0 < chance < HALF_A_CASE:
        return "fewer than 1"
    if 1.0 - HALF_A_CASE < chance < 1.0:
        return "more than 19"
    return f"{20.0 * chance:.0f}"


def dearer_by(option: OptionAnswer, other: OptionAnswer) -> float:
    """Return what a year of an option costs more than one of another."""
    return (option.cost_per_year.total or 0.0) - (other.cost_per_year.total or 0.0)


def apart(option: OptionAnswer, other: OptionAnswer, comparison: Comparison) -> str:
    """Return how much more or less a year of an option costs than one of another."""
    more = dearer_by(option, other)
    return f"{money(abs(more), comparison.study.currency)} {'less' if more < 0.0 else 'more'}"


def range_of(tenths: tuple[float, float, float], told: Callable[[float], str]) -> str:
    """Return the range that 8 of 10 cases lie in, in brackets; nothing where both ends read alike."""
    low, high = told(tenths[0]), told(tenths[2])
    return "" if low == high else f" (8 of 10 cases: {low} to {high})"


def _ranged(option: OptionAnswer, figure: str, told: Callable[[float], str]) -> str:
    ranges = option.sureness.ranges if option.sureness else {}
    return range_of(ranges[figure], told) if figure in ranges else ""


def range_in_brackets(option: OptionAnswer, figure: str, told: Callable[[float], str]) -> str:
    """Return the range of a figure in short: " (8 of 10: 5 to 26)"; nothing where there is none."""
    return _ranged(option, figure, told).replace(" cases", "")


def how_often(option: OptionAnswer) -> str:
    """Return after how long an option first needs a service, with its range."""
    return first_run(option) + range_of_days(option)


def range_of_days(option: OptionAnswer) -> str:
    """Return the range of the first run in brackets; nothing where nothing was drawn, or it is none."""
    return _ranged(option, "days_to_first_service", whole_days)


def a_year(option: OptionAnswer, currency: str) -> str:
    """Return what a year of an option costs in the long run, with its range."""
    cost = option.cost_per_year.total or 0.0
    return money(cost, currency) + _ranged(option, "cost_per_year", lambda amount: money(amount, currency))


def cases_of(option: OptionAnswer, comparison: Comparison) -> str:
    """Return in how many cases an option meets the needs, out of those where any filter will do."""
    none = comparison.odds.chance_none_meets_needs
    told, some = of_twenty(option.chance), of_twenty(1.0 - none)
    if none < HALF_A_CASE:
        return f"{'all' if option.chance == 1.0 else told} of 20 cases"
    of_those = f"of the {some} of 20 cases where any filter will do"
    return f"all {of_those}" if told == some else f"{'none' if told == '0' else told} {of_those}"


def _in_the_rest(comparison: Comparison) -> dict[str, str]:
    """Return why no option meets the needs in the other cases: in a few words, and at length; the likelier first."""
    odds, half = comparison.odds, due(0.5 * comparison.study.tub.water_life_days)
    still = of_twenty(odds.chance_too_hazy_in_half_the_time)
    haze = f"haze that no filter catches hides the bottom, in {still} with the water changed every {half}"
    why = (
        (odds.chance_too_hazy, f"for haze mostly: change the water every {half}", haze),
        (
            odds.chance_all_lack_flow,
            "for lack of flow: a stronger pump, a wider hose",
            "the pump leaves every filter too little flow",
        ),
    )
    likely = sorted((each for each in why if each[0] >= HALF_A_CASE), key=lambda each: -each[0])
    return {few: f"in {of_twenty(chance)} {at_length}" for chance, few, at_length in likely}


def in_the_rest(comparison: Comparison) -> str:
    """Return in a few words why no option meets the needs in the other cases, and what would help."""
    return next(iter(_in_the_rest(comparison)), "for one need or another")


def _rest(comparison: Comparison) -> list[str]:
    """Return in how many cases no option meets the needs, and why; nothing where those are too few to say."""
    none = comparison.odds.chance_none_meets_needs
    if none < HALF_A_CASE or comparison.advised is None:
        return []
    text, why = f"In the other {of_twenty(none)} of 20 no filter will do", list(_in_the_rest(comparison).values())
    return [f"{text}: {'; '.join(why)}." if why else f"{text}."]


def telling_drivers(odds: Odds) -> list[str]:
    """Return the unknowns that drive the days, the most telling three at most."""
    days_drivers = [each for each in odds.drivers if each.of == "days_to_first_service"]
    return [each.unknown for each in days_drivers if each.total_index >= _DRIVES][:3]


def _drivers(odds: Odds) -> list[str]:
    """Return the line about what drives the days."""
    words = {unknown.key: unknown.words for unknown in UNKNOWNS}
    named = [words[key] for key in telling_drivers(odds)]
    return [f"What drives the days: {joined(named)}."] if named else []


def sureness(comparison: Comparison) -> list[str]:
    """Return how sure the answer is, what drives it, what to measure next; chances alone without draws."""
    odds, taken = comparison.odds, comparison.advised
    if taken is None:
        none = odds.chance_none_meets_needs
        return [f"In {of_twenty(none)} of 20 cases no option meets your needs."] if comparison.options else []
    lines = [
        f"{title(taken, comparison)} meets your needs in {cases_of(taken, comparison)}.",
        *_rest(comparison),
    ]
    seen = _ranged(taken, "see_through_worst_m", distance)
    if seen:
        lines.append(f"Lowest visibility: {distance(taken.worst_view_m)}{seen}.")
    lines += _drivers(odds)
    if odds.measure is not None and narrows(odds.measure):
        lines.append(_measure(odds.measure))
    worth, year = odds.worth_of_measuring_load_per_year, taken.cost_per_year.total or 0.0
    if worth >= _WORTH_SAYING * year:
        order = money(10.0 ** round(log10(worth)), comparison.study.currency)
        lines.append(f"Knowing the dirt a bather brings before you choose is worth something like {order} a year.")
    return lines


def narrows(measure: Measure) -> bool:
    """Return whether a reading would narrow the first run by enough to be worth a minute."""
    return measure.is_worth_a_minute and number(measure.after[0]) != number(measure.after[1])


def _measure(measure: Measure) -> str:
    """Return the line that says what to measure next."""
    when = "with the new cartridge" if measure.day == 0.0 else "in the second half of a run"
    return f"Measure this next: {READ[measure.with_what].lower()} {when}. {narrowing(measure)}"


def narrowing(measure: Measure) -> str:
    """Return how much a reading worth a minute narrows the days: as an order, which is all that stands."""
    return f"It narrows the days {next(told for most, told in _NARROWED if measure.width_share <= most)}."


def beside(comparison: Comparison, taken: OptionAnswer) -> list[str]:
    """Return in how many cases the option to take meets the needs, what is as good, and what is cheaper."""
    lines = [f"It meets your needs in {cases_of(taken, comparison)}."]
    if comparison.equal:
        equal = ((title(option, comparison), apart(option, taken, comparison)) for option in comparison.equal)
        names = ", ".join(f"{name} ({costs} a year)" for name, costs in equal)
        lines.append(f"As good: {names}; take the one you can get.")
    cheapest = comparison.cheapest
    if cheapest is not None and cheapest is not taken and cheapest not in comparison.equal:
        costs, cases = apart(cheapest, taken, comparison), of_twenty(cheapest.chance)
        name = title(cheapest, comparison)
        lines.append(f"{name} costs {costs} a year, but meets your needs in only {cases} of 20.")
    return lines
