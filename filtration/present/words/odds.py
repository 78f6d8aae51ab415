"""How sure an answer is, in words."""

from filtration.answers.results import Comparison, Measure, Odds, OptionAnswer
from filtration.base.defaults import UNKNOWNS, model
from filtration.present.words.phrases import days, money, number, title

_HALF_A_CASE = 0.025
_DRIVES = 0.05
_MUCH_SURER = 0.1
_LACKS = "even the clean filter lacks the flow or leaves the water too dull"
WORTH_A_MINUTE = 0.9  # of the width without the reading, above which it is not worth one


def of_twenty(chance: float) -> str:
    """Return a chance as cases of twenty.

    Parameters
    ----------
    chance : float
        Chance [-].

    Returns
    -------
    str
        Whole cases; "fewer than 1" and "more than 19" where rounding would claim certainty.

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


def _first_service(range_days: tuple[float, float, float]) -> str:
    """Return the line about the first service."""
    low, middle, high = range_days
    if high <= 0.0:
        return f"First service: in at least 9 of 10 cases {_LACKS}, which counts as 0 days."
    if low <= 0.0:
        if middle <= 0.0:
            return (
                f"First service: in at least half of the cases {_LACKS}, which counts as 0 days; in at least 1 of 10 "
                f"it comes after {days(high)} or more."
            )
        late = f", in at least 1 of 10 after {days(high)} or more" if number(middle) != number(high) else ""
        return (
            f"First service: in at least half of the cases after {days(middle)} or more{late}; in at least 1 of 10 "
            f"{_LACKS}, which counts as 0 days."
        )
    if number(low) == number(high):
        return f"First service: after {days(middle)} in at least 8 of 10 cases."
    middling = f"the middle one at {days(middle)}"
    return f"First service: 8 of 10 cases lie between {number(low)} and {days(high)}, {middling}."


def _drivers(odds: Odds) -> list[str]:
    """Return the line about what drives the days."""
    words = {unknown.key: unknown.words for unknown in UNKNOWNS}
    drivers = [d for d in odds.drivers if d.of == "days_to_first_service" and d.total_index >= _DRIVES][:3]
    if not drivers:
        return []
    named = [words[driver.unknown] for driver in drivers]
    joined = ", ".join(named[:-1]) + (" and " if len(named) > 1 else "") + named[-1]
    return [f"What drives the days: {joined}."]


def sureness(comparison: Comparison) -> list[str]:
    """Return in plain words how sure the answer is, what drives it, and what to measure next.

    Parameters
    ----------
    comparison : Comparison
        The answer.

    Returns
    -------
    list of str
        Sentences; empty for the central case alone.
    """
    odds, first = comparison.odds, comparison.spoken_of
    if odds is None or first.sureness is None:
        return []
    sure, currency = first.sureness, comparison.study.currency
    lines = [
        f"In {of_twenty(sure.chance_of_meeting_needs)} of 20 cases {title(first, comparison)} meets the needs; in "
        f"{of_twenty(sure.chance_of_being_best)} of 20 it is the cheapest that does. In "
        f"{of_twenty(odds.chance_none_meets_needs)} of 20 no option meets them."
    ]
    if "days_to_first_service" in sure.ranges:
        lines.append(_first_service(sure.ranges["days_to_first_service"]))
    if "cost_per_year" in sure.ranges:
        low, middle, high = sure.ranges["cost_per_year"]
        lines.append(
            f"A year's cost: 8 of 10 cases between {money(low, currency)} and {money(high, currency)}, the middle one "
            f"{money(middle, currency)}."
        )
    if sure.cost_of_choosing_wrong_per_year:
        wrong = money(sure.cost_of_choosing_wrong_per_year, currency)
        lines.append(
            f"In some of the cases where it does the job something cheaper would have done it too: {wrong} a year are "
            "overpaid on average."
        )
    lines += _drivers(odds)
    if odds.measure is not None and _narrows(odds.measure):
        lines.append(_measure(odds.measure))
    worth = odds.worth_of_measuring_load_per_year
    if worth >= 1.0:
        lines.append(
            f"Knowing the dirt a bather brings before you choose is worth about {money(worth, currency)} a year."
        )
    return lines


def _narrows(measure: Measure) -> bool:
    """Return whether a reading would narrow the first run by enough to be worth a minute."""
    return measure.width_share <= WORTH_A_MINUTE and number(measure.after[0]) != number(measure.after[1])


def measured(measure: Measure) -> str:
    """Return what to read.

    Parameters
    ----------
    measure : Measure
        The reading.

    Returns
    -------
    str
        The beginning of a sentence.
    """
    return {
        "bucket": "Time one bucket",
        "clear tube": "Read the clear tube before the housing",
        "clear tube with and without element": "Read a clear tube before the housing, once with the element out too,",
        "clear tube without element": "Read the clear tube before the housing with the element out",
    }[measure.with_what]


def _measure(measure: Measure) -> str:
    """Return the line that says what to measure next."""
    when = "with the new element" if measure.day == 0.0 else f"after about {days(measure.day)}"
    (low, high), (then_low, then_high) = measure.before, measure.after
    running = "run at all" if measure.day == 0.0 else "still run then"
    return (
        f"Measure this next: {measured(measure).lower()} {when}. Of 10 cases that {running}, 8 last "
        f"{number(low)} to {days(high)}; with the reading, {number(then_low)} to {days(then_high)} in a typical case."
    )


def surer(comparison: Comparison, taken: OptionAnswer) -> list[str]:
    """Return how often the option to take does the job, the cheapest beside it, and one that does much more often.

    Parameters
    ----------
    comparison : Comparison
        The answer.
    taken : OptionAnswer
        Its option to take.

    Returns
    -------
    list of str
        One sentence; none for the central case alone.
    """
    cheapest, currency = comparison.best, comparison.study.currency
    if taken.sureness is None or cheapest is None:
        return []

    def cases(option: OptionAnswer) -> str:
        return of_twenty(option.chance)

    def apart(option: OptionAnswer) -> str:
        return money(abs((option.cost_per_year.total or 0.0) - (taken.cost_per_year.total or 0.0)), currency)

    text = f"It does the job in {cases(taken)} of 20 cases"
    if cheapest is not taken:
        text += (
            f"; the cheapest, {title(cheapest, comparison)}, in {cases(cheapest)}, for {apart(cheapest)} a year less"
        )
    meeting = [option for option in comparison.options if option.meets_needs]
    sure = max(option.chance for option in meeting) - model("advice.chance_less")
    surest = next(option for option in meeting if option.chance >= sure)
    if surest.chance >= taken.chance + _MUCH_SURER:
        text += f"; {title(surest, comparison)} in {cases(surest)}, for {apart(surest)} a year more"
    return [f"{text}."]
