"""How sure an answer is, in words."""

from filtration.answer import Comparison, Measure, Odds, OptionAnswer
from filtration.defaults import UNKNOWNS
from filtration.present.phrases import days, money, number, title

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
    odds, first = comparison.odds, comparison.options[0]
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


def _measure(measure: Measure) -> str:
    """Return the line that says what to measure next."""
    what = {"bucket": "time one bucket", "clear tube": "read a clear tube before the housing"}[measure.with_what]
    when = "with the new element" if measure.day == 0.0 else f"after about {days(measure.day)}"
    (low, high), (then_low, then_high) = measure.before, measure.after
    running = "run at all" if measure.day == 0.0 else "still run then"
    return (
        f"Measure this next: {what} {when}. Of 10 cases that {running}, 8 last {number(low)} to {days(high)}; with the "
        f"reading, {number(then_low)} to {days(then_high)} in a typical case."
    )


def surer(comparison: Comparison, best: OptionAnswer) -> list[str]:
    """Return how often the best option does the job, and which other does it much more often.

    Parameters
    ----------
    comparison : Comparison
        The answer.
    best : OptionAnswer
        Its best option.

    Returns
    -------
    list of str
        One sentence; none for the central case alone.
    """
    if best.sureness is None:
        return []
    chance, currency = best.sureness.chance_of_meeting_needs, comparison.study.currency
    text = f"It does the job in {of_twenty(chance)} of 20 cases"
    surest = max(
        (option for option in comparison.options if option.meets_needs and option.sureness),
        key=lambda option: option.sureness.chance_of_meeting_needs if option.sureness else 0.0,
    )
    surest_chance = surest.sureness.chance_of_meeting_needs if surest.sureness else 0.0
    if surest_chance < chance + _MUCH_SURER:
        return [f"{text}."]
    more = (surest.cost_per_year.total or 0.0) - (best.cost_per_year.total or 0.0)
    name = title(surest, comparison)
    return [f"{text}; {name} does in {of_twenty(surest_chance)} of 20 for {money(more, currency)} a year more."]
