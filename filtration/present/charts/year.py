"""Two pictures of time and money: flow over the first weeks, and what a year costs."""

from collections.abc import Sequence

import altair as alt

from filtration.answers.results import Comparison, FlowBand, OptionAnswer
from filtration.base.errors import NoAnswerError
from filtration.present.charts.look import (
    METRIC,
    NAMES_ABOVE,
    Display,
    Row,
    Rows,
    Words,
    a_few,
    few,
    finished,
    flow_scale,
    known,
    line_colours,
    lines_by_name,
    rule_at,
    wanted,
)
from filtration.present.words.phrases import PARTS, days, money, number, title

SAME = "the same for every option"
_SAME_COLOUR = "#8d9ba366"
_PART_COLOURS = {
    "elements": "#2b80bd",
    "rinsing": "#0f8a67",
    "own_time": "#c95a17",
    "pumping": "#7d64b8",
    "cooling": "#b8517f",
    "disposal": "#857000",
    "equipment": "#56707d",
    "water_changes": "#13828e",
    "disinfectant": "#a35a96",
}
_DAYS_PX, _SHADE = 480, 0.2
_BAR_PX, _BAR_DOWN_PX, _BAR_ROOM_PX, _REST_PX, _LEGEND_ROW_PX, _LETTER_PX = 18, 8, 42, 140, 20, 7


def _with_record(comparison: Comparison) -> list[OptionAnswer]:
    """Return the few that charts show, those whose flow is on record."""
    return [option for option in a_few(comparison) if any(known(flow) for flow in option.flow_record.flow_l_per_h)]


def _record_rows(option: OptionAnswer, name: str, display: Display) -> Rows:
    """Return the flow of an option, its runs numbered: a line must not join one to the next."""
    rows: Rows = []
    run = 0
    for day, flow in zip(option.flow_record.day, option.flow_record.flow_l_per_h, strict=True):
        if flow is None or not known(flow):
            run += 1
        else:
            rows.append({"line": name, "run": run, "day": day, "flow": display.flow_of(flow)})
    return rows


def days_chart(comparison: Comparison, display: Display = METRIC) -> alt.LayerChart:
    """Draw the flow over the days of the first runs.

    Parameters
    ----------
    comparison : Comparison
        The answer.
    display : Display, optional
        Units to show.

    Returns
    -------
    altair.LayerChart
        The few that charts show; each line breaks at a service. Where there are
        draws, a shade shows between which flows 8 of 10 of the best one's lie over its first run.

    Raises
    ------
    NoAnswerError
        If no option runs.
    """
    options = _with_record(comparison)
    if not options:
        msg = "no option has the flow to run at all"
        raise NoAnswerError(msg)
    names = [title(option, comparison) for option in options]
    rows = [row for option, name in zip(options, names, strict=True) for row in _record_rows(option, name, display)]
    rule = wanted(comparison, display)
    colours = line_colours(options)
    channels = lines_by_name(names, colours, rule)
    banded = _banded(comparison, options)
    x = alt.X("day:Q", title="day", axis=alt.Axis(grid=False))
    shade = _shade_rows(*banded, display) if banded else []
    levels = [row["flow"] for row in rows] + [row[edge] for row in shade for edge in ("low", "high")]
    scale = flow_scale([float(level) for level in [*levels, *([rule[1]] if rule else [])]])
    y = alt.Y("flow:Q", title=display.flow, scale=scale)
    tooltip = [
        alt.Tooltip("line:N", title="option"),
        alt.Tooltip("day:Q", format=".1f"),
        alt.Tooltip("flow:Q", title=display.flow, format=",.0f"),
    ]
    lines = alt.Chart(alt.InlineData(values=rows)).mark_line(strokeWidth=2)
    layers = (
        [_shade(shade, colours[options.index(banded[1])], x, alt.Y("low:Q", title=display.flow, scale=scale))]
        if banded
        else []
    )
    layers += [lines.encode(x=x, y=y, **channels, detail="run:N", tooltip=tooltip)]
    layers += [rule_at(rule, y, channels)] if rule else []
    shaded = f"\nshaded: 8 of 10 cases of {title(banded[1], comparison)}" if banded else ""
    words = Words(
        heading="Flow over the first weeks",
        under="a few of different kinds, up again at each service" + shaded,
        alt=days_words(comparison, display),
    )
    return finished(layers, display, words, height_px=_DAYS_PX)


def _banded(comparison: Comparison, drawn: Sequence[OptionAnswer]) -> tuple[FlowBand, OptionAnswer] | None:
    """Return between which flows the best option lies, and that option, where it is among those drawn."""
    band = comparison.odds.flow_band if comparison.odds else None
    return next(((band, option) for option in drawn if band is not None and band.option == option.id), None)


def _shade_rows(band: FlowBand, option: OptionAnswer, display: Display) -> Rows:
    """Return between which flows an option lies by day."""
    return [
        {"id": option.id, "day": day, "low": display.flow_of(low), "high": display.flow_of(high)}
        for day, low, high in zip(band.day, band.low_l_per_h, band.high_l_per_h, strict=True)
    ]


def _shade(rows: Rows, colour: str, x: alt.X, y: alt.Y) -> alt.Chart:
    """Return the band of an option's flow as a shade, to lie behind its line."""
    area = alt.Chart(alt.InlineData(values=rows)).mark_area(color=colour, opacity=_SHADE)
    shade: alt.Chart = area.encode(x=x, y=y, y2="high:Q")
    return shade


def days_words(comparison: Comparison, display: Display = METRIC) -> str:
    """Return what the chart of days says, for whoever cannot see it."""
    parts = []
    for option in _with_record(comparison):
        rows = _record_rows(option, "", display)
        last = max((row for row in rows if row["run"] == rows[0]["run"]), key=lambda row: row["day"])
        parts.append(
            f"{title(option, comparison)} falls from {number(float(rows[0]['flow']), 3)} to "
            f"{number(float(last['flow']), 3)} in {number(float(last['day']))} days"
        )
    banded = _banded(comparison, _with_record(comparison))
    end = ""
    if banded:
        band, option = banded
        low, high = display.flow_of(band.low_l_per_h[-1]), display.flow_of(band.high_l_per_h[-1])
        end = (
            f" In 8 of 10 cases {title(option, comparison)} gives {number(low, 3)} to {number(high, 3)} after "
            f"{days(band.day[-1])}."
        )
    return f"Flow over the first weeks, {display.flow}, back up after each service. {few(parts)}.{end}"


def without_record(comparison: Comparison) -> list[str]:
    """Return the options that never run."""
    return [title(option, comparison) for option in comparison.options if not option.flow_record.day]


def _with_cost(comparison: Comparison) -> list[OptionAnswer]:
    return [option for option in comparison.options if known(option.cost_per_year.total)]


def _cost_rows(option: OptionAnswer, name: str, parts: Sequence[str]) -> Rows:
    """Return an option's bar as segments end to end, what the choice changes first."""
    amounts = {PARTS[part]: getattr(option.cost_per_year, part) or 0.0 for part in parts}
    amounts[SAME] = (option.cost_per_year.total or 0.0) - sum(amounts.values())
    rows: Rows = []
    end = 0.0
    for part, amount in amounts.items():
        start, end = end, end + amount
        row: Row = {"option": name, "part": part, "amount": amount, "from": start, "to": end}
        if amount > 1e-9 * (option.cost_per_year.total or 0.0):
            rows.append(row)
    return rows


def cost_chart(comparison: Comparison, display: Display = METRIC) -> alt.LayerChart:
    """Draw what a year costs in parts.

    Parameters
    ----------
    comparison : Comparison
        The answer.
    display : Display, optional
        Units to show; money has only the study's currency.

    Returns
    -------
    altair.LayerChart
        A bar an option, best first; parts that the choice changes in colour, the rest pale at its end.

    Raises
    ------
    NoAnswerError
        If no option runs.
    """
    options = _with_cost(comparison)
    if not options:
        msg = "no option has the flow to run at all, so none has a cost"
        raise NoAnswerError(msg)
    currency, parts = comparison.study.currency, comparison.choice_parts
    names = [f"{title(o, comparison)}, {money(o.cost_per_year.total or 0.0, currency)}" for o in options]
    rows = [row for option, name in zip(options, names, strict=True) for row in _cost_rows(option, name, parts)]
    most = max(float(row["to"]) for row in rows)
    shown = {row["part"] for row in rows}
    domain = [PARTS[part] for part in parts if PARTS[part] in shown]
    colours = [_PART_COLOURS[part] for part in parts if PARTS[part] in shown]
    if SAME in shown:
        domain, colours = [*domain, SAME], [*colours, _SAME_COLOUR]
    data = alt.InlineData(values=rows)
    scale = alt.Scale(domain=[0, most], nice=False)
    x = alt.X("from:Q", title=f"{currency} a year", scale=scale, axis=alt.Axis(grid=False))
    y = alt.Y("option:N", sort=None, title=None, axis=NAMES_ABOVE)
    tooltip = [alt.Tooltip("option:N"), alt.Tooltip("part:N"), alt.Tooltip("amount:Q", title=currency, format=",.2f")]
    bars = (
        alt.Chart(data)
        .mark_bar(height=_BAR_PX, yOffset=_BAR_DOWN_PX, x2Offset=-1)
        .encode(
            x=x,
            x2="to:Q",
            y=y,
            color=alt.Color("part:N", scale=alt.Scale(domain=domain, range=colours)),
            tooltip=tooltip,
        )
    )
    room = f"(datum.to - datum.from) / {most!r} * width > {_LETTER_PX} * length(datum.part)"
    inside = (
        alt.Chart(data)
        .transform_calculate(middle="(datum.from + datum.to) / 2")
        .mark_text(color="white", fontSize=12, yOffset=_BAR_DOWN_PX)
        .encode(
            x=alt.X("middle:Q", scale=scale),
            y=y,
            text="part:N",
            opacity=alt.condition(f"datum.part != '{SAME}' && {room}", alt.value(1), alt.value(0)),
        )
    )
    height_px = max(400, _BAR_ROOM_PX * len(options) + _REST_PX + _LEGEND_ROW_PX * len(domain))
    under = "in colour: what the choice changes" if SAME in shown else ""
    words = Words(heading="What a year costs", under=under, alt=cost_words(comparison))
    return finished([bars, inside], display, words, height_px=height_px)


def cost_words(comparison: Comparison, display: Display = METRIC) -> str:  # noqa: ARG001 - as all pictures
    """Return what the chart of costs says, for whoever cannot see it."""
    currency = comparison.study.currency
    parts = [
        f"{title(option, comparison)}: {money(option.cost_per_year.total or 0.0, currency)}, of which the choice "
        f"changes {money(option.choice_cost_per_year or 0.0, currency)}"
        for option in _with_cost(comparison)
    ]
    return f"What a year costs, best first. {few(parts)}."


def without_cost(comparison: Comparison) -> list[str]:
    """Return the options that have no cost."""
    return [title(option, comparison) for option in comparison.options if not known(option.cost_per_year.total)]
