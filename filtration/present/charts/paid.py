"""A picture of money over the years: a filter that is rinsed against one that is thrown away."""

import altair as alt

from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.errors import NoAnswerError
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.plan.spending import Spending, best_of_either_sort, break_even_day, spending_of
from filtration.present.charts.look import COLOURS, INK, METRIC, Display, Rows, Words, finished, known, lines_by_name
from filtration.present.words.phrases import money, title

_MOST_POINTS = 480


def pair_of(comparison: Comparison) -> tuple[OptionAnswer, OptionAnswer] | None:
    """Return the best option whose every stage is rinsed, and the best with one thrown away; None where one lacks.

    Parameters
    ----------
    comparison : Comparison
        The answer.

    Returns
    -------
    (OptionAnswer, OptionAnswer) or None
        Reusable, disposable; those that meet the needs if any does.
    """
    running = [option for option in comparison.options if option.events and known(option.cost_per_year.total)]
    best = best_of_either_sort(running)
    return (best[True], best[False]) if len(best) == 2 else None


def _thinned(spending: Spending) -> list[tuple[int, float]]:
    points = list(zip(spending.day, spending.total, strict=True))
    step = 1 + len(points) // _MOST_POINTS
    return [*points[:-1:step], points[-1]]


def paid_chart(comparison: Comparison, display: Display = METRIC) -> alt.LayerChart:
    """Draw what has been paid by when, rinsing one filter or throwing away another.

    Parameters
    ----------
    comparison : Comparison
        The answer.
    display : Display, optional
        Colour of letters.

    Returns
    -------
    altair.LayerChart
        Two stairs, and an upright where they cross for good.

    Raises
    ------
    NoAnswerError
        If there is none of either.
    """
    pair = pair_of(comparison)
    if pair is None:
        msg = "no filter that is rinsed stands against one that is thrown away"
        raise NoAnswerError(msg)
    spent = [spending_of(option.events) for option in pair]
    names = [title(option, comparison) for option in pair]
    rows: Rows = [
        {"line": name, "years": day / DAYS_PER_YEAR, "paid": paid}
        for name, spending in zip(names, spent, strict=True)
        for day, paid in _thinned(spending)
    ]
    currency, ink = comparison.study.currency, display.ink or INK
    channels = lines_by_name(names, [COLOURS[option.kind] for option in pair], None)
    x = alt.X("years:Q", title="years", axis=alt.Axis(grid=False))
    y = alt.Y("paid:Q", title=f"{currency} paid so far", scale=alt.Scale(domainMin=0))
    tooltip = [
        alt.Tooltip("line:N", title="option"),
        alt.Tooltip("years:Q", format=".1f"),
        alt.Tooltip("paid:Q", title=currency, format=",.0f"),
    ]
    stairs = alt.Chart(alt.InlineData(values=rows)).mark_line(interpolate="step-after", strokeWidth=2)
    layers: list[alt.Chart] = [stairs.encode(x=x, y=y, **channels, tooltip=tooltip)]
    crossing = break_even_day(*spent)
    if crossing:
        at = alt.Chart(alt.InlineData(values=[{"years": crossing / DAYS_PER_YEAR, "says": f"day {crossing:,}"}]))
        layers.append(at.mark_rule(color=ink, opacity=0.6).encode(x=x))
        says = at.mark_text(color=ink, align="left", dx=5, fontSize=12, baseline="top")
        layers.append(says.encode(x=x, y=alt.value(2), text="says:N"))
    words = Words(
        heading="Rinse one, or throw one away",
        under="everything paid, water and electricity too",
        alt=paid_words(comparison),
    )
    return finished(layers, display, words)


def paid_words(comparison: Comparison, display: Display = METRIC) -> str:  # noqa: ARG001 - as all pictures
    """Return what the chart of money says, for whoever cannot see it."""
    pair = pair_of(comparison)
    if pair is None:
        return "Nothing to compare."
    spent = [spending_of(option.events) for option in pair]
    crossing = break_even_day(*spent)
    totals = "; ".join(
        f"{title(option, comparison)}: {money(spending.total[-1], comparison.study.currency)}"
        for option, spending in zip(pair, spent, strict=True)
    )
    day = "never" if crossing is None else f"from day {crossing:,}"
    return f"Paid over the years. {totals}. The first has cost less {day}."


def without_paid(comparison: Comparison) -> list[str]:  # noqa: ARG001 - as all pictures
    """Return the options left out: the picture names the two it shows."""
    return []
