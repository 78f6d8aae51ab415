"""Charts of how sure an answer is: twenty cases of the one to take and the best others, and what drives them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt

from filtration.answers.results import Comparison, Driver, OptionAnswer
from filtration.base.defaults import UNKNOWNS
from filtration.base.errors import NoAnswerError
from filtration.present.charts import look
from filtration.present.charts.look import Rows, tip
from filtration.present.display import METRIC, Display
from filtration.present.words.phrases import due, money, number, title

_OPTIONS, _DRIVERS, _LEAST_INDEX = 3, 6, 0.02
_DOT_PX, _DOT_PX2, _ABREAST, _LEAST_REACH = 10, 60, 30, 0.25
_REST_PX = 120
_NAME_DOTS, _GAP_DOTS = 2.2, 0.8
_BAR_PX = 14
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
    told=lambda value, _currency: due(value),
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


def _cases(figure: Figure, option: OptionAnswer) -> tuple[float, ...]:
    return option.sureness.outcomes.get(figure.key, ()) if option.sureness else ()


def with_cases(figure: Figure, comparison: Comparison) -> list[OptionAnswer]:
    """Return the options that have cases of a figure, best first."""
    return [option for option in comparison.options if _cases(figure, option)]


def _few_with_cases(figure: Figure, comparison: Comparison) -> list[OptionAnswer]:
    """Return the one to take and the best of the others that have cases of a figure."""
    return sorted(with_cases(figure, comparison), key=lambda option: option is not comparison.spoken_of)[:_OPTIONS]


def _ground(figure: Figure, options: Sequence[OptionAnswer]) -> tuple[float, float, float]:
    """Return from where to where an axis tells most cases apart, and how wide a dot is.

    Cases further off than most of them span lie beyond it.
    """
    every = [_cases(figure, option) for option in options]
    reaches = [central for option in options if look.known(central := figure.central(option))]
    starts = [*reaches, *(cases[0] for cases in every)]
    for cases in every:
        low, high = cases[len(cases) // 10], cases[-1 - len(cases) // 10]
        reaches.append(min(cases[-1], high + max(high - low, _LEAST_REACH * high)))
    least, most = 0.0 if figure.from_zero else min(starts), max(reaches)
    if most == least:
        most = max(cases[-1] for cases in every)
    return least, most, (most - least or 1.0) / _ABREAST


def _places(cases: Sequence[float], most: float, wide: float) -> list[tuple[float, int]]:
    """Return where each of rising cases stands, amid those within a dot's width, and how high up."""
    places: list[tuple[float, int]] = []
    rest = [case for case in cases if case <= most]
    while rest:
        stack = [case for case in rest if case < rest[0] + wide]
        places += [(sum(stack) / len(stack), height) for height in range(len(stack))]
        rest = rest[len(stack) :]
    return places + [(most + 2.0 * wide, height) for height in range(len(cases) - len(places))]


def _rows(
    figure: Figure, comparison: Comparison, options: Sequence[OptionAnswer], most: float, wide: float
) -> tuple[Rows, Rows, float]:
    """Return a row an option, the first on top, a row a dot, and how tall they are; heights are counted in dots."""
    placed = [_places(_cases(figure, option), most, wide) for option in options]
    highest = max(_LEAST_DOTS_HIGH, *(height + 1 for places in placed for _, height in places))
    step = _NAME_DOTS + highest + _GAP_DOTS
    names: Rows = []
    dots: Rows = []
    for row, (option, places) in enumerate(zip(options, placed, strict=True)):
        name, foot, cases = title(option, comparison), step * (len(options) - 1 - row), _cases(figure, option)
        names.append({"option": name, "foot": foot, "top": foot + highest})
        for case, (at, height) in zip(cases, places, strict=True):
            told = figure.told(case, comparison.study.currency) if case == cases[-1] > most else ""
            dots.append({"option": name, "value": case, "at": at, "up": foot + height + 0.5, "told": told})
    return names, dots, step * len(options)


def cases_chart(figure: Figure, comparison: Comparison, display: Display = METRIC) -> alt.LayerChart:
    """Draw twenty equally likely cases of each of the best options as dots, those of a dot's width stacked.

    A row an option, the one to take first, with a thin rule at its central case. Cases far off stand at the right edge,
    with what the furthest is. Raises NoAnswerError if no cases were worked out, no option has the figure in any of
    them, or none meets the needs even when clean.
    """
    why_none = f"no cases to show: {_ONE_CASE if not comparison.odds.draws else _NO_FLOW}"
    options = look.needed(_few_with_cases(figure, comparison), why_none)
    if figure.zero_means and not any(case for option in options for case in _cases(figure, option)):
        raise NoAnswerError(f"no {figure.heading[:1].lower()}{figure.heading[1:]}: {figure.zero_means}")
    unit, ink = figure.axis(comparison.study.currency), display.letters
    least, most, wide = _ground(figure, options)
    names, dots, tall = _rows(figure, comparison, options, most, wide)
    near, far = ([dot for dot in dots if (float(dot["value"]) > most) == off] for off in (False, True))
    rules = [
        name | {"central": central}
        for name, option in zip(names, options, strict=True)
        if look.known(central := figure.central(option))
    ]
    x_scale = alt.Scale(domain=[least - wide, most + (3.0 if far else 1.0) * wide], nice=False)
    axis = alt.Axis(grid=False, tickCount=6, labelExpr=f"datum.value <= {most!r} ? datum.label : ''")
    on_axis, at_rule = (alt.X(f"{key}:Q", title=unit, scale=x_scale, axis=axis) for key in ("at", "central"))
    y_scale = alt.Scale(domain=[-0.3, tall], nice=False)
    up, foot, top = (alt.Y(f"{key}:Q", scale=y_scale, axis=None) for key in ("up", "foot", "top"))
    by_name = "option:N", [str(name["option"]) for name in names], [option.kind for option in options]
    color, shape = (channel.legend(None) for channel in look.by_kind(*by_name, display))
    tooltip = ["option:N", tip("value:Q", unit, figure.form)]
    on_names, on_far = look.layer(names), look.layer(far)
    dot: dict[str, Any] = {"filled": True, "size": _DOT_PX2, "opacity": 1}
    small: dict[str, Any] = {"baseline": "bottom", "fontSize": 12, "color": ink}
    said = on_names.mark_text(align="left", dy=-2, limit=500, **small)
    layers = [
        on_names.mark_rule(color=ink, opacity=0.35).encode(y=foot),
        said.encode(x=alt.value(0), y=top, text="option:N"),
        look.layer(rules).mark_rule(color=ink, strokeWidth=1.5).encode(x=at_rule, y=foot, y2="top:Q"),
        look.layer(near).mark_point(**dot).encode(x=on_axis, y=up, color=color, shape=shape, tooltip=tooltip),
        on_far.mark_point(shape="triangle-right", **dot).encode(x=on_axis, y=up, color=color, tooltip=tooltip),
        on_far.mark_text(align="right", dx=5, dy=-5, **small).encode(x=on_axis, y=up, text="told:N"),
    ]
    drawn, height_px = [each for each in layers if each.data.values], look.tall_px(_DOT_PX * tall, _REST_PX)
    under = "dots: 20 equally likely cases; line: the central case" + ("\ntriangle: off the scale" if far else "")
    description = cases_words(figure, comparison)
    return look.finished(drawn, display, figure.heading, under, description, height_px=height_px)


def cases_words(figure: Figure, comparison: Comparison, _display: Display = METRIC) -> str:
    """Return what the chart of cases says, for whoever cannot see it."""
    currency, parts = comparison.study.currency, []
    for option in _few_with_cases(figure, comparison):
        cases, central = _cases(figure, option), figure.central(option)
        low, high = (figure.told(case, currency) for case in (cases[0], cases[-1]))
        parts.append(f"{title(option, comparison)}: from {low} to {high}")
        if look.known(central):
            less = sum(case < central for case in cases)
            parts[-1] += f", {less} below the central case of {figure.told(central, currency)}"
    return f"{figure.heading}: twenty equally likely cases of each of the best. {'; '.join(parts)}."


def _driving(figure: Figure, comparison: Comparison) -> dict[str, Driver]:
    """Return the unknowns that drive a figure of the best option most, the largest first, by what is said of them."""
    found = comparison.odds.drivers
    large = [driver for driver in found if driver.of == figure.key and driver.total_index >= _LEAST_INDEX]
    words = {unknown.key: unknown.words for unknown in UNKNOWNS}
    first = sorted(large, key=lambda driver: -driver.total_index)[:_DRIVERS]
    return {f"{words[driver.unknown]}, {number(driver.total_index, 1)}": driver for driver in first}


def drivers_chart(figure: Figure, comparison: Comparison, display: Display = METRIC) -> alt.LayerChart:
    """Draw which unknowns drive a figure of the best option: a bar each, the largest first, its total Sobol index.

    Raises NoAnswerError if no cases were worked out, or nothing drives the figure.
    """
    rows: Rows = [
        {"option": name, "unknown": driver.unknown, "index": driver.total_index}
        for name, driver in _driving(figure, comparison).items()
    ]
    look.needed(rows, f"no drivers to show: {_ONE_CASE if not comparison.odds.draws else _ALIKE}")
    most = max(_HIGHEST, *(float(row["index"]) for row in rows))
    x = alt.X("index:Q", title="share in the spread").scale(domain=[0.0, most], nice=False)
    x = x.axis(grid=False, tickCount=5)
    tooltip = [tip("option:N", "unknown"), tip("index:Q", "share", ".2f")]
    bars = look.layer(rows).mark_bar(height=_BAR_PX, yOffset=look.BAR_DOWN_PX, color=display.colours["pleated"])
    layers = [bars.encode(x=x, y=look.NAMED_ABOVE, tooltip=tooltip)]
    under = "of the best one; shares overlap, so do not add them"
    height_px = look.tall_px(look.BAR_ROOM_PX * len(rows), _REST_PX)
    return look.finished(layers, display, figure.drives, under, drivers_words(figure, comparison), height_px=height_px)


def drivers_words(figure: Figure, comparison: Comparison, _display: Display = METRIC) -> str:
    """Return what the chart of drivers says, for whoever cannot see it."""
    parts = "; ".join(_driving(figure, comparison))
    return f"{figure.drives}: share of each unknown in the spread of the best option's figure. {parts}."
