"""The chart of money over the years: a filter that is rinsed against one that is disposable."""

import altair as alt

from filtration.answers.results import Comparison, OptionAnswer
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.plan.spending import (
    Spending,
    best_of_either_sort,
    break_even_day,
    is_reusable,
    rinses_until,
    spending_of,
)
from filtration.present.charts import look
from filtration.present.charts.look import Rows, tip
from filtration.present.display import METRIC, Display
from filtration.present.words.phrases import counted, money, title

_MOST_POINTS = 480


def pair_of(comparison: Comparison, option: OptionAnswer) -> tuple[OptionAnswer, OptionAnswer] | None:
    """Return what is rinsed and what is thrown away: an option and the best of the other sort; None without one."""
    running = [each for each in comparison.options if each.events and look.known(each.cost_per_year.total)]
    pair = best_of_either_sort([each for each in running if each.meets_needs])
    if option in running:
        pair[is_reusable(option)] = option
    return (pair[True], pair[False]) if len(pair) == 2 else None


def _thinned(spending: Spending) -> list[tuple[int, float]]:
    points = list(zip(spending.day, spending.total, strict=True))
    step = 1 + len(points) // _MOST_POINTS
    return [*points[:-1:step], points[-1]]


def paid_chart(comparison: Comparison, option: OptionAnswer, display: Display = METRIC) -> alt.LayerChart:
    """Draw what has been paid by when for an option and the best of the other sort, and where they cross for good.

    Raises NoAnswerError if there is none of either.
    """
    why_none = "there is no reusable filter beside a disposable one"
    pair = look.needed(pair_of(comparison, option) or (), why_none)
    spent = [spending_of(option.events) for option in pair]
    names = [title(option, comparison) for option in pair]
    rows: Rows = [
        {"line": name, "years": day / DAYS_PER_YEAR, "paid": paid}
        for name, spending in zip(names, spent, strict=True)
        for day, paid in _thinned(spending)
    ]
    currency = comparison.study.currency
    x = alt.X("years:Q", title="years", axis=look.NO_GRID)
    y = alt.Y("paid:Q", title=f"{currency} paid so far").scale(domainMin=0)
    tooltip = [tip("line:N", "option"), tip("years:Q", form=".1f"), tip("paid:Q", currency, ",.0f")]
    stairs = look.layer(rows).mark_line(interpolate="step-after", strokeWidth=2).encode(x=x, y=y, tooltip=tooltip)
    layers = [stairs.encode(**look.lines_by_name(names, [display.colours[option.kind] for option in pair]))]
    crossing = break_even_day(*spent)
    if crossing:
        layers += look.upright({"years": crossing / DAYS_PER_YEAR, "says": f"day {crossing:,}"}, x, display)
    heading, under = "Reusable or disposable", "everything paid, water and electricity too"
    return look.finished(layers, display, heading, under, paid_words(comparison, option))


def paid_words(comparison: Comparison, option: OptionAnswer) -> str:
    """Return what the chart of money says, for whoever cannot see it."""
    pair = pair_of(comparison, option)
    if pair is None:
        return "Nothing to compare."
    spent = [spending_of(option.events) for option in pair]
    crossing = break_even_day(*spent)
    totals = "; ".join(
        f"{title(option, comparison)}: {money(spending.total[-1], comparison.study.currency)}"
        for option, spending in zip(pair, spent, strict=True)
    )
    rinses = f", after {counted(rinses_until(pair[0].events, crossing), 'rinse', ',')}" if crossing else ""
    day = "never" if crossing is None else f"from day {crossing:,}{rinses}"
    return f"Paid over the years. {totals}. The first has cost less {day}."
