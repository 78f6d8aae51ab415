"""Pictures of how sure an answer is: twenty cases of the one to take and the best others, and what drives them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt

from filtration.answers.results import Comparison, Driver, OptionAnswer
from filtration.base.defaults import UNKNOWNS
from filtration.base.errors import NoAnswerError
from filtration.present.charts.look import (
    COLOURS,
    INK,
    METRIC,
    NAMES_ABOVE,
    SHAPES,
    Display,
    Row,
    Rows,
    Words,
    finished,
    known,
)
from filtration.present.words.phrases import days, money, number, title

_OPTIONS, _DRIVERS, _LEAST_INDEX = 3, 6, 0.02
_DOT_PX, _DOT_PX2, _ABREAST, _LEAST_REACH = 10, 60, 30, 0.25
_LEAST_PX, _REST_PX = 400, 120
_NAME_DOTS, _GAP_DOTS = 2.2, 0.8
_BAR_PX, _BAR_DOWN_PX, _BAR_ROOM_PX = 14, 8, 42
_HIGHEST, _LEAST_DOTS_HIGH = 1.0, 6
_ONE_CASE = "only the central case was worked out"
_NO_FLOW = "none of the options has the flow to run at all"
_ALIKE = "the figure is the same in all cases"


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
    zero_means : str, optional
        Why there is nothing to draw where all cases are nought.
    """

    key: str
    heading: str
    drives: str
    central: Callable[[OptionAnswer], float | None]
    told: Callable[[float, str], str]
    axis: Callable[[str], str]
    form: str
    from_zero: bool
    zero_means: str = ""


DAYS = Figure(
    key="days_to_first_service",
    heading="Days to the first service",
    drives="What drives the days",
    central=lambda option: option.days_to_first_service,
    told=lambda value, _currency: days(value),
    axis=lambda _currency: "days; 0: even clean it fails a need",
    form=".2~r",
    from_zero=True,
    zero_means="in all 20 cases the best options fail a need even when clean",
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


def _few_with_cases(comparison: Comparison, figure: Figure) -> list[OptionAnswer]:
    """Return the one to take and the best of the others that have cases of a figure."""
    found = _with_cases(comparison, figure)
    return sorted(found, key=lambda option: option is not comparison.spoken_of)[:_OPTIONS]


def _cases(option: OptionAnswer, figure: Figure) -> tuple[float, ...]:
    return option.sureness.outcomes[figure.key] if option.sureness else ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ground:
    """What cases are drawn on: an axis from where to where, and how wide a dot is."""

    least: float
    most: float
    wide: float

    def places(self, cases: Sequence[float]) -> list[tuple[float, int]]:
        """Return where each of rising cases stands, amid those within a dot's width, and how high up."""
        places: list[tuple[float, int]] = []
        rest = [case for case in cases if case <= self.most]
        while rest:
            stack = [case for case in rest if case < rest[0] + self.wide]
            places += [(sum(stack) / len(stack), height) for height in range(len(stack))]
            rest = rest[len(stack) :]
        return places + [(self.most + 2.0 * self.wide, height) for height in range(len(cases) - len(places))]


def _ground(options: Sequence[OptionAnswer], figure: Figure) -> _Ground:
    """Return an axis that tells most cases apart; those further off than most of them span lie beyond it."""
    every = [_cases(option, figure) for option in options]
    reaches = [central for option in options if (central := figure.central(option)) is not None and known(central)]
    starts = [*reaches, *(cases[0] for cases in every)]
    for cases in every:
        low, high = cases[len(cases) // 10], cases[-1 - len(cases) // 10]
        reaches.append(min(cases[-1], high + max(high - low, _LEAST_REACH * high)))
    least, most = 0.0 if figure.from_zero else min(starts), max(reaches)
    if most == least:
        most = max(cases[-1] for cases in every)
    return _Ground(least=least, most=most, wide=(most - least or 1.0) / _ABREAST)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drawn:
    """What stands on a chart of cases: names, rules, dots on the scale and off it, and the dots' room in height."""

    names: Rows
    rules: Rows
    near: Rows
    far: Rows
    tall: float


def _drawn(options: Sequence[OptionAnswer], comparison: Comparison, figure: Figure, ground: _Ground) -> _Drawn:
    """Return the rows of a chart of cases, the first option on top; heights are counted in dots."""
    places = [ground.places(_cases(option, figure)) for option in options]
    highest = max(_LEAST_DOTS_HIGH, *(height + 1 for row in places for _, height in row))
    step = _NAME_DOTS + highest + _GAP_DOTS
    drawn = _Drawn(names=[], rules=[], near=[], far=[], tall=step * len(options))
    for row, (option, placed) in enumerate(zip(options, places, strict=True)):
        cases, foot = _cases(option, figure), step * (len(options) - 1 - row)
        name: Row = {"option": title(option, comparison), "foot": foot, "top": foot + highest}
        drawn.names.append(name)
        central = figure.central(option)
        if central is not None and known(central):
            drawn.rules.append(name | {"central": central})
        for case, (at, height) in zip(cases, placed, strict=True):
            told = figure.told(case, comparison.study.currency) if case == cases[-1] > ground.most else ""
            dot: Row = {"option": name["option"], "value": case, "at": at, "up": foot + height + 0.5, "told": told}
            (drawn.far if case > ground.most else drawn.near).append(dot)
    return drawn


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
        A row an option, the one to take first, with a thin rule at its central case. Cases far off stand at the right
        edge, with what the furthest is.

    Raises
    ------
    NoAnswerError
        If no cases were worked out, no option has the figure in any of them, or none meets the needs even when clean.
    """
    options = _few_with_cases(comparison, figure)
    if not options:
        raise NoAnswerError(f"no cases to show: {_ONE_CASE if comparison.odds is None else _NO_FLOW}")
    if figure.zero_means and not any(case for option in options for case in _cases(option, figure)):
        raise NoAnswerError(f"no {figure.heading[:1].lower()}{figure.heading[1:]}: {figure.zero_means}")
    currency, ink = comparison.study.currency, display.ink or INK
    ground = _ground(options, figure)
    drawn = _drawn(options, comparison, figure, ground)
    far = 3.0 if drawn.far else 1.0
    x_scale = alt.Scale(domain=[ground.least - ground.wide, ground.most + far * ground.wide], nice=False)
    y_scale = alt.Scale(domain=[-0.3, drawn.tall], nice=False)
    axis = alt.Axis(grid=False, tickCount=6, labelExpr=f"datum.value <= {ground.most!r} ? datum.label : ''")
    x = {key: alt.X(f"{key}:Q", title=figure.axis(currency), scale=x_scale, axis=axis) for key in ("at", "central")}
    y = {key: alt.Y(f"{key}:Q", scale=y_scale, axis=None) for key in ("up", "foot", "top")}
    names, kinds = [str(row["option"]) for row in drawn.names], [option.kind for option in options]
    look = {
        "color": alt.Color("option:N", scale=alt.Scale(domain=names, range=[COLOURS[k] for k in kinds]), legend=None),
        "tooltip": [alt.Tooltip("option:N"), alt.Tooltip("value:Q", title=figure.axis(currency), format=figure.form)],
    }
    shape = alt.Shape("option:N", scale=alt.Scale(domain=names, range=[SHAPES[k] for k in kinds]), legend=None)
    on_names, on_rules, on_near, on_far = (
        alt.Chart(alt.InlineData(values=rows)) for rows in (drawn.names, drawn.rules, drawn.near, drawn.far)
    )
    dots: dict[str, Any] = {"filled": True, "size": _DOT_PX2, "opacity": 1}
    small: dict[str, Any] = {"fontSize": 12, "color": ink}
    layers = [
        on_names.mark_rule(color=ink, opacity=0.35).encode(y=y["foot"]),
        on_names.mark_text(align="left", baseline="bottom", dy=-2, limit=500, **small).encode(
            x=alt.value(0), y=y["top"], text="option:N"
        ),
        on_rules.mark_rule(color=ink, strokeWidth=1.5).encode(x=x["central"], y=y["foot"], y2="top:Q"),
        on_near.mark_point(**dots).encode(x=x["at"], y=y["up"], shape=shape, **look),
        on_far.mark_point(shape="triangle-right", **dots).encode(x=x["at"], y=y["up"], **look),
        on_far.mark_text(align="right", baseline="bottom", dx=5, dy=-5, **small).encode(
            x=x["at"], y=y["up"], text="told:N"
        ),
    ]
    under = "dots: 20 equally likely cases; line: the central case"
    words = Words(
        heading=figure.heading,
        under=f"{under}\ntriangle: off the scale" if drawn.far else under,
        alt=cases_words(comparison, figure),
    )
    height_px = max(_LEAST_PX, round(_DOT_PX * drawn.tall) + _REST_PX)
    return finished([layer for layer in layers if layer.data.values], display, words, height_px=height_px)


def cases_words(comparison: Comparison, figure: Figure) -> str:
    """Return what the chart of cases says, for whoever cannot see it."""
    currency = comparison.study.currency
    parts = []
    for option in _few_with_cases(comparison, figure):
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
    return f"{words[driver.unknown]}, {number(driver.total_index, 1)}"


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
        If no cases were worked out, or nothing drives the figure.
    """
    drivers = _driving(comparison, figure)
    if not drivers:
        raise NoAnswerError(f"no drivers to show: {_ONE_CASE if comparison.odds is None else _ALIKE}")
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
    height_px = max(_LEAST_PX, _BAR_ROOM_PX * len(rows) + _REST_PX)
    return finished([bars], display, words, height_px=height_px)


def drivers_words(comparison: Comparison, figure: Figure) -> str:
    """Return what the chart of drivers says, for whoever cannot see it."""
    parts = [_named(driver) for driver in _driving(comparison, figure)]
    return f"{figure.drives}: share of each unknown in the spread of the best option's figure. {'; '.join(parts)}."
