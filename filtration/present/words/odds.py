"""How sure an answer is, in words."""

from filtration.answers.results import Comparison, Measure, Odds, OptionAnswer
from filtration.base.defaults import UNKNOWNS, model
from filtration.present.words.phrases import days, money, number, title
from filtration.present.words.sentences import single

_HALF_A_CASE = 0.025
_DRIVES = 0.05
_MUCH_SURER = 0.1
WORTH_A_MINUTE = 0.9  # of the width without the reading, above which it is not worth one
READ = single("read")


def of_twenty(chance: float) -> str:
    """Return a chance [-] as cases of twenty; whole ones never claim what rounding alone would.

    Examples
    --------
    >>> of_twenty(0.64), of_twenty(0.01), of_twenty(1.0)
    ('13', 'fewer than 1', '20')
    """
    if 0.0 < chance < _HALF_A_CASE:
        return "fewer than 1"
    if 1.0 - _HALF_A_CASE < chance < 1.0:
        return "more than 19"
    return f"{20.0 * chance:.0f}"


def dearer_by(option: OptionAnswer, other: OptionAnswer) -> float:
    """Return what a year of an option costs more than one of another."""
    return (option.cost_per_year.total or 0.0) - (other.cost_per_year.total or 0.0)


def _first_service(range_days: tuple[float, float, float]) -> str:
    low, middle, high = range_days
    lacks = "even the clean filter lacks the flow or leaves the water too dull"
    if high <= 0.0:
        return f"in at least 9 of 10 cases {lacks}, which counts as 0 days"
    if middle <= 0.0:
        late = f"in at least 1 of 10 it comes after {days(high)} or more"
        return f"in at least half of the cases {lacks}, which counts as 0 days; {late}"
    if low <= 0.0:
        late = f", in at least 1 of 10 after {days(high)} or more" if number(middle) != number(high) else ""
        half = f"in at least half of the cases after {days(middle)} or more"
        return f"{half}{late}; in at least 1 of 10 {lacks}, which counts as 0 days"
    if number(low) == number(high):
        return f"after {days(middle)} in at least 8 of 10 cases"
    return f"8 of 10 cases lie between {number(low)} and {days(high)}, the middle one at {days(middle)}"


def _drivers(odds: Odds) -> list[str]:
    """Return the line about what drives the days."""
    words = {unknown.key: unknown.words for unknown in UNKNOWNS}
    days_drivers = [each for each in odds.drivers if each.of == "days_to_first_service"]
    named = [words[each.unknown] for each in days_drivers if each.total_index >= _DRIVES][:3]
    joined = " and ".join(part for part in (", ".join(named[:-1]), *named[-1:]) if part)
    return [f"What drives the days: {joined}."] if named else []


def sureness(comparison: Comparison) -> list[str]:
    """Return how sure the answer is, what drives it, what to measure next; nothing for the central case alone."""
    if comparison.odds is None or comparison.spoken_of.sureness is None:
        return []
    odds, first, sure = comparison.odds, comparison.spoken_of, comparison.spoken_of.sureness

    def paid(amount: float) -> str:
        return money(amount, comparison.study.currency)

    lines = [
        f"In {of_twenty(sure.chance_of_meeting_needs)} of 20 cases {title(first, comparison)} meets the needs; in "
        f"{of_twenty(sure.chance_of_being_best)} of 20 it is the cheapest that does. In "
        f"{of_twenty(odds.chance_none_meets_needs)} of 20 no option meets them."
    ]
    if "days_to_first_service" in sure.ranges:
        lines.append(f"First service: {_first_service(sure.ranges['days_to_first_service'])}.")
    if "cost_per_year" in sure.ranges:
        low, middle, high = map(paid, sure.ranges["cost_per_year"])
        lines.append(f"A year's cost: 8 of 10 cases between {low} and {high}, the middle one {middle}.")
    if sure.cost_of_choosing_wrong_per_year:
        lines.append(
            "In some of the cases where it does the job something cheaper would have done it too: "
            f"{paid(sure.cost_of_choosing_wrong_per_year)} a year are overpaid on average."
        )
    lines += _drivers(odds)
    if odds.measure is not None and _narrows(odds.measure):
        lines.append(_measure(odds.measure))
    worth = odds.worth_of_measuring_load_per_year
    if worth >= 1.0:
        lines.append(f"Knowing the dirt a bather brings before you choose is worth about {paid(worth)} a year.")
    return lines


def _narrows(measure: Measure) -> bool:
    """Return whether a reading would narrow the first run by enough to be worth a minute."""
    return measure.width_share <= WORTH_A_MINUTE and number(measure.after[0]) != number(measure.after[1])


def _measure(measure: Measure) -> str:
    """Return the line that says what to measure next."""
    at_once = measure.day == 0.0
    when = "with the new element" if at_once else f"after about {days(measure.day)}"
    (low, high), (then_low, then_high) = measure.before, measure.after
    return (
        f"Measure this next: {READ[measure.with_what].lower()} {when}. Of 10 cases that "
        f"{'run at all' if at_once else 'still run then'}, 8 last {number(low)} to {days(high)}; with the reading, "
        f"{number(then_low)} to {days(then_high)} in a typical case."
    )


def surer(comparison: Comparison, taken: OptionAnswer) -> list[str]:
    """Return how often the option to take does the job, the cheapest beside it, and one that does much more often.

    One sentence; none for the central case alone.
    """
    cheapest = comparison.best
    if taken.sureness is None or cheapest is None:
        return []

    def beside(name: str, option: OptionAnswer) -> str:
        apart = money(abs(dearer_by(option, taken)), comparison.study.currency)
        return f"; {name} in {of_twenty(option.chance)}, for {apart} a year"

    text = f"It does the job in {of_twenty(taken.chance)} of 20 cases"
    if cheapest is not taken:
        text += f"{beside(f'the cheapest, {title(cheapest, comparison)},', cheapest)} less"
    meeting = [option for option in comparison.options if option.meets_needs]
    sure = max(option.chance for option in meeting) - model("advice.chance_less")
    surest = next(option for option in meeting if option.chance >= sure)
    if surest.chance >= taken.chance + _MUCH_SURER:
        text += f"{beside(title(surest, comparison), surest)} more"
    return [f"{text}."]
