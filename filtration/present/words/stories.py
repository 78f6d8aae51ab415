"""What a page's figures say, in sentences."""

from collections.abc import Mapping, Sequence

from filtration.answers.clearness import Clearness
from filtration.answers.results import Comparison, OptionAnswer
from filtration.answers.series import FlowRun
from filtration.plan.dated import Purchase
from filtration.present.display import Display
from filtration.present.words.pages import VERDICTS, verdict
from filtration.present.words.phrases import counted, days, distance, due, first_run, flow, money, number, rinses
from filtration.present.words.sentences import single

CLEAR_IS_NOT_CLEAN = single("asides")["clear is not clean"]


def flow_story(option: OptionAnswer, runs: Sequence[FlowRun], display: Display) -> str:
    """Return an option's life, its runs until replacement, in a sentence or two."""
    if not runs:
        return f"{option.name} lacks the flow even when clean, so it never runs."
    first, last = runs[0], runs[-1]
    times = sum(run.ends_with != "replace" for run in runs)
    run, start, end = due(first.day[-1]), first.flow_l_per_h[0], first.flow_l_per_h[-1]
    text = f"New it gives {flow(start, display)}; after {run} {flow(end, display)} is left."
    if not times:
        return f"{text} Then it is replaced."
    lasts = f"the first run lasts {run}, the last {due(last.day[-1] - last.day[0])}"
    again = "once" if times == 1 else f"{times} times"
    return f"{text} Rinsed {again} it lasts {due(last.day[-1])}: {lasts}."


def clear_story(clearness: Clearness, depth_m: float, display: Display) -> str:
    """Return what becomes of the view over the water's life, in a sentence or two."""

    def seen(view_m: float) -> str:
        return f"{distance(view_m, display)} ({VERDICTS[verdict(view_m, depth_m)]})"

    return (
        f"Just after the first session you see {seen(clearness.after_m[0])}; after the last, on day "
        f"{number(clearness.day[-1])}, {seen(clearness.after_m[-1])}, and just before it "
        f"{seen(clearness.before_m[-1])}."
    )


def water_or_filter(lives: Mapping[str, float], view_m: float, display: Display, most_days: float) -> list[str]:
    """Return for how long the water may stay behind each of some filters, for a view wanted.

    Parameters
    ----------
    lives : mapping of str to float
        Longest water life by option [day].
    view_m : float
        The view wanted [m].
    display : Display
        Units to show.
    most_days : float
        The longest life looked at [day].

    Returns
    -------
    list of str
        A line each, under a heading.
    """
    lines = []
    for name, life in lives.items():
        if life <= 0.0:
            lines.append(f"{name}: not even fresh water stays clear enough.")
        elif life >= most_days:
            lines.append(f"{name}: a year and more.")
        else:
            lines.append(f"{name}: change the water at least every {days(life)}.")
    return [f"To see {distance(view_m, display)} just after a session:", *lines] if lines else []


def public_rule(rule_days: float | None) -> str:
    """Return how often the rule for public spas asks for a change of the water; nothing where nobody bathes."""
    if rule_days is None:
        return ""
    return f"Where guests or the public bathe, the rule for public spas asks for a change every {days(rule_days)}."


def paid_story(
    reusable: str, disposable: str, crossing: int | None, saved: float, currency: str, years: float, rinsed: int = 0
) -> str:
    """Return when a filter that can be rinsed has paid for itself.

    Parameters
    ----------
    reusable, disposable : str
        Names.
    crossing : int or None
        Day from which the reusable one has cost less.
    saved : float
        What it has saved at the end.
    currency : str
        Its name.
    years : float
        How long that is.
    rinsed : int, optional
        How often it is rinsed up to the crossing.

    Returns
    -------
    str
        A sentence.
    """
    over = f"{years:.3g} years" if years != 1.0 else "a year"
    if crossing is None:
        more = money(-saved, currency)
        return f"{reusable} is not cheaper than {disposable} within {over}; it has cost {more} more by then."
    start = "from the first day" if crossing == 0 else f"from day {crossing:,} on"
    start += f", after {counted(rinsed, 'rinse', ',')}" if crossing and rinsed else ""
    less = f"{money(saved, currency)} less after {over}"
    return f"{reusable}, reusable, has cost less than {disposable}, disposable, {start}; {less}."


def heat_story(option: OptionAnswer, comparison: Comparison, display: Display) -> str:
    """Return what the pump's heat does and costs in a sentence or two; nothing where an option has no figures."""
    warming, cost, currency = option.warming_k_per_day, option.cost_per_year, comparison.study.currency
    if warming is None or cost.cooling is None or cost.pumping is None:
        return ""
    degrees = f"{number(1.8 * warming)} °F" if display.us else f"{number(warming)} °C"
    return (
        f"Without a cooler, pump and hoses would warm the water by {degrees} a day. Taking that heat out again costs "
        f"{money(cost.cooling, currency)} a year, beside {money(cost.pumping, currency)} for the pump itself."
    )


def time_story(hours: float, priced: float, currency: str) -> str:
    """Return how much of the owner's own time a year takes, and what that comes to at the price stated."""
    if hours <= 0.0:
        return "Nothing is rinsed, so no time of yours is counted; fitting a new cartridge takes a few minutes."
    worth = f", {money(priced, currency)} at your price" if priced > 0.0 else "; you put no price on it"
    return f"Rinses and soaks take {number(hours)} hours of your time a year{worth}."


def shopping_lines(purchases: Sequence[Purchase], currency: str) -> list[dict[str, str | float]]:
    """Return a year's shopping list as rows; disinfectant, which has no parcel, is left out."""
    return [
        {
            "what": bought.item,
            "how many": bought.count,
            currency: bought.amount,
            "delivery": "" if bought.lead_time_days is None else days(bought.lead_time_days),
            "shops": "" if bought.suppliers is None else str(bought.suppliers),
        }
        for bought in purchases
        if bought.what != "disinfectant"
    ]


def water_moves(was_days: float, then_days: float) -> str:
    """Return what a change does to the assumed life of the water."""
    return (
        f"The water change is not filled in, so it is assumed by use and moves as well: every {days(then_days)} "
        f"instead of {days(was_days)}."
    )


def beside(old: OptionAnswer, new: OptionAnswer, currency: str, display: Display) -> list[tuple[str, str, str]]:
    """Return an option's figures before and after a change: what, as it is, as it would be."""
    before, after = _figures(old, currency, display), _figures(new, currency, display)
    return [(name, before[name], after[name]) for name in before]


def _figures(option: OptionAnswer, currency: str, display: Display) -> dict[str, str]:
    cost, left = option.cost_per_year.total, option.due_flow_l_per_h
    return {
        "meets your needs": "yes" if option.meets_needs else "no",
        "first service": first_run(option),
        "flow when new": flow(option.clean_flow_l_per_h, display),
        "flow at rinse": "–" if left is None else flow(left, display),
        "lowest visibility": distance(option.worst_view_m, display),
        "rinses": rinses(option),
        "a year": "–" if cost is None else money(cost, currency),
    }
