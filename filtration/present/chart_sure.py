"""Pictures of how sure an answer is: twenty cases of each of the best options, and what drives them."""

from collections.abc import Callable
from dataclasses import dataclass

import altair as alt

from filtration.answer import Comparison, Driver, OptionAnswer
from filtration.defaults import UNKNOWNS
from filtration.errors import NoAnswerError
from filtration.present.chart_look import (
    COLOURS,
    INK,
    METRIC,
    NAMES_ABOVE,
    SHAPES,
    Display,
    Rows,
    Words,
    finished,
    known,
)
from filtration.present.phrases import days, money, number, title

_OPTIONS, _DRIVERS, _LEAST_INDEX = 3, 6, 0.02
_DOT_PX, _ABREAST, _REST_PX = 10, 30, 120
_NAME_DOTS, _GAP_DOTS = 2.2, 0.8
_BAR_PX, _BAR_DOWN_PX, _BAR_ROOM_PX = 14, 8, 42
_HIGHEST, _LEAST_DOTS_HIGH = 1.0, 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure whose draws can be drawn.

    Parameters
    ----------
    key : str
        Its name in the answer.
    heading, drives : str
        Title over its cases, and over its drivers.
    central : callable
        From an option to the figure in the central case, None where it has none.
    told : callable
        From a value and a currency to its words.
    axis : callable
        From a currency to the title of the axis.
    form : str
        How a value is written beside its dot.
    from_zero : bool
        The axis starts at nought, or else at the least value.
    """

    key: str
    heading: str
    drives: str
    central: Callable[[OptionAnswer], float | None]
    told: Callable[[float, str], str]
    axis: Callable[[str], str]
    form: str
    from_zero: bool


DAYS = Figure(
    key="days_to_first_service",
    heading="Days to the first service",
    drives="What drives the days",
    central=lambda option: option.days_to_first_service,
    told=lambda value, _currency: days(value),
    axis=lambda _currency: "days; 0: even clean it fails a need",
    form=".2~r",
    from_zero=True,
)
COST = Figure(
    key="cost_per_year",
    heading="What a year may cost",
    drives="What drives the cost",
    central=lambda option: option.cost_per_year.total,
    told=money,
    axis=lambda currency: f"{currency} a year",
    form=",.0f",
    from_zero=False,
)


def _with_cases(comparison: Comparison, figure: Figure) -> list[OptionAnswer]:
    """Return the options that have cases of a figure, best first."""
    return [option for option in comparison.options if option.sureness and option.sureness.outcomes.get(figure.key)]


def _cases(option: OptionAnswer, figure: Figure) -> tuple[float, ...]:
    return option.sureness.outcomes[figure.key] if option.sureness else ()


def _stacks(values: tuple[float, ...], wide: float) -> list[tuple[float, int]]:
    """Return where each of rising values stands, at the middle of those within a dot's width, and how high up."""
    places: list[tuple[float, int]] = []
    rest = list(values)
    while rest:
        stack = [value for value in rest if value < rest[0] + wide]
        places += [(sum(stack) / len(stack), height) for height in range(len(stack))]
        rest = rest[len(stack) :]
    return places


def cases_chart(comparison: Comparison, figure: Figure, display: Display = METRIC) -> alt.LayerChart:
    """Draw twenty equally likely cases of each of the best options as dots, those of a dot's width stacked.

    Parameters
    ----------
    comparison : Comparison
        The answer.
    figure : Figure
        Which figure.
    display : Display, optional
        Colour of letters.

    Returns
    -------
    altair.LayerChart
        A row an option, best first, with a thin rule at its central case.

    Raises
    ------
    NoAnswerError
        If nothing was drawn at random, or no option has the figure in any draw.
    """
    options = _with_cases(comparison, figure)[:_OPTIONS]
    if not options:
        msg = "no cases to show: nothing was drawn at random, or no option has the flow to run at all"
        raise NoAnswerError(msg)
    names = [title(option, comparison) for option in options]
    whole = [value for option in options for value in _cases(option, figure)]
    whole += [value for option in options if (value := figure.central(option)) is not None and known(value)]
    least, most = 0.0 if figure.from_zero else min(whole), max(whole)
    wide = (most - least or 1.0) / _ABREAST
    stacked = [_stacks(_cases(option, figure), wide) for option in options]
    highest = max(_LEAST_DOTS_HIGH, *(height + 1 for places in stacked for _, height in places))
    step = _NAME_DOTS + highest + _GAP_DOTS
    feet = [step * (len(options) - 1 - row) for row in range(len(options))]
    dots: Rows = []
    rules: Rows = []
    for option, name, places, foot in zip(options, names, stacked, feet, strict=True):
        dots += [
            {"option": name, "value": value, "told": at, "up": foot + height + 0.5}
            for value, (at, height) in zip(_cases(option, figure), places, strict=True)
        ]
        central = figure.central(option)
        if central is not None and known(central):
            rules.append({"option": name, "central": central, "foot": foot, "top": foot + highest})
    currency = comparison.study.currency
    scale = alt.Scale(domain=[least - wide, most + wide], nice=False)
    x_axis = alt.Axis(grid=False, tickCount=6)
    x = alt.X("told:Q", title=figure.axis(currency), scale=scale, axis=x_axis)
    tall = alt.Scale(domain=[-0.3, step * len(options)], nice=False)
    y = alt.Y("up:Q", scale=tall, axis=None)
    kinds = [option.kind for option in options]
    tooltip = [alt.Tooltip("option:N"), alt.Tooltip("value:Q", title=figure.axis(currency), format=figure.form)]
    marks = alt.Chart(alt.InlineData(values=dots)).mark_point(filled=True, size=60, opacity=1)
    shown = marks.encode(
        x=x,
        y=y,
        color=alt.Color("option:N", scale=alt.Scale(domain=names, range=[COLOURS[k] for k in kinds]), legend=None),
        shape=alt.Shape("option:N", scale=alt.Scale(domain=names, range=[SHAPES[k] for k in kinds]), legend=None),
        tooltip=tooltip,
    )
    ink = display.ink or INK
    floors = alt.Chart(alt.InlineData(values=[{"option": n, "foot": f} for n, f in zip(names, feet, strict=True)]))
    written = alt.InlineData(values=[{"option": n, "name": f + highest} for n, f in zip(names, feet, strict=True)])
    y_of = {key: alt.Y(f"{key}:Q", scale=tall, axis=None) for key in ("foot", "name")}
    layers = [
        floors.mark_rule(color=ink, strokeWidth=1, opacity=0.35).encode(y=y_of["foot"]),
        alt.Chart(written)
        .mark_text(align="left", baseline="bottom", dy=-2, fontSize=12, color=ink, limit=500)
        .encode(x=alt.value(0), y=y_of["name"], text="option:N"),
        shown,
    ]
    if rules:
        thin = alt.Chart(alt.InlineData(values=rules)).mark_rule(color=ink, strokeWidth=1.5)
        layers.append(thin.encode(x=alt.X("central:Q", scale=scale), y=y_of["foot"], y2="top:Q"))
    words = Words(
        heading=figure.heading,
        under="each dot: 1 of 20 likely cases; line: the central one",
        alt=cases_words(comparison, figure),
    )
    height_px = max(400, round(_DOT_PX * step * len(options)) + _REST_PX)
    return finished(layers, display, words, height_px=height_px)


def cases_words(comparison: Comparison, figure: Figure) -> str:
    """Return what the chart of cases says, for whoever cannot see it."""
    currency = comparison.study.currency
    parts = []
    for option in _with_cases(comparison, figure)[:_OPTIONS]:
        cases, central = _cases(option, figure), figure.central(option)
        text = f"{title(option, comparison)}: from {figure.told(cases[0], currency)} to "
        text += figure.told(cases[-1], currency)
        if central is not None and known(central):
            less = sum(case < central for case in cases)
            text += f", {less} below the central case of {figure.told(central, currency)}"
        parts.append(text)
    return f"{figure.heading}: twenty equally likely cases of each of the best. {'; '.join(parts)}."


def without_cases(comparison: Comparison, figure: Figure) -> list[str]:
    """Return the options that have no cases of a figure."""
    drawn = {option.id for option in _with_cases(comparison, figure)}
    return [title(option, comparison) for option in comparison.options if option.id not in drawn]


def _driving(comparison: Comparison, figure: Figure) -> list[Driver]:
    """Return the unknowns that drive a figure of the best option most, the largest first."""
    found = comparison.odds.drivers if comparison.odds else ()
    large = [driver for driver in found if driver.of == figure.key and driver.total_index >= _LEAST_INDEX]
    return sorted(large, key=lambda driver: -driver.total_index)[:_DRIVERS]


def _named(driver: Driver) -> str:
    words = {unknown.key: unknown.words for unknown in UNKNOWNS}
    return f"{words[driver.unknown]}, {number(driver.total_index)}"


def drivers_chart(comparison: Comparison, figure: Figure, display: Display = METRIC) -> alt.LayerChart:
    """Draw which unknowns drive a figure of the best option.

    Parameters
    ----------
    comparison : Comparison
        The answer.
    figure : Figure
        Which figure.
    display : Display, optional
        Colour of letters.

    Returns
    -------
    altair.LayerChart
        A bar an unknown, the largest first: its total Sobol index.

    Raises
    ------
    NoAnswerError
        If nothing was drawn at random, or nothing drives the figure.
    """
    drivers = _driving(comparison, figure)
    if not drivers:
        msg = "no drivers to show: nothing was drawn at random, or the figure is the same in all draws"
        raise NoAnswerError(msg)
    rows: Rows = [
        {"option": _named(driver), "unknown": driver.unknown, "index": driver.total_index} for driver in drivers
    ]
    x = alt.X(
        "index:Q",
        title="share in the spread",
        scale=alt.Scale(domain=[0.0, max(_HIGHEST, *(driver.total_index for driver in drivers))], nice=False),
        axis=alt.Axis(grid=False, tickCount=5),
    )
    bars = (
        alt.Chart(alt.InlineData(values=rows))
        .mark_bar(height=_BAR_PX, yOffset=_BAR_DOWN_PX, color=COLOURS["pleated"])
        .encode(
            x=x,
            y=alt.Y("option:N", sort=None, title=None, axis=NAMES_ABOVE),
            tooltip=[alt.Tooltip("option:N", title="unknown"), alt.Tooltip("index:Q", title="share", format=".2f")],
        )
    )
    words = Words(
        heading=figure.drives,
        under="of the best one; shares overlap, so do not add them",
        alt=drivers_words(comparison, figure),
    )
    height_px = max(400, _BAR_ROOM_PX * len(rows) + _REST_PX)
    return finished([bars], display, words, height_px=height_px)


def drivers_words(comparison: Comparison, figure: Figure) -> str:
    """Return what the chart of drivers says, for whoever cannot see it."""
    parts = [_named(driver) for driver in _driving(comparison, figure)]
    return f"{figure.drives}: share of each unknown in the spread of the best option's figure. {'; '.join(parts)}."
