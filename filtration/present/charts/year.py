"""Two charts of time and money: flow over the first weeks, and what a year costs."""

from collections.abc import Sequence
from itertools import accumulate, pairwise

import altair as alt

from filtration.answers.results import Comparison, FlowBand, OptionAnswer
from filtration.present.charts import look
from filtration.present.charts.look import Rows, tip
from filtration.present.display import METRIC, Display
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
_UNDER_DAYS = "a few of different kinds, up again at each service"
_BAR_PX, _REST_PX, _LEGEND_ROW_PX, _LETTER_PX = 18, 140, 20, 7


def with_record(comparison: Comparison) -> list[OptionAnswer]:
    """Return the options that run."""
    return [option for option in comparison.options if option.flow_record.day]


def _few_with_record(comparison: Comparison) -> list[OptionAnswer]:
    return [each for each in look.a_few(comparison) if any(map(look.known, each.flow_record.flow_l_per_h))]


def _record_rows(option: OptionAnswer, name: str, display: Display) -> Rows:
    """Return the flow of an option, its runs numbered: a line must not join one to the next."""
    days, flows = option.flow_record.day, option.flow_record.flow_l_per_h
    return [
        {"line": name, "run": run, "day": day, "flow": display.flow_of(flow)}
        for day, flow, run in zip(days, flows, accumulate(int(not look.known(flow)) for flow in flows), strict=True)
        if look.known(flow)
    ]


def days_chart(comparison: Comparison, display: Display = METRIC) -> alt.LayerChart:
    """Draw the flow over the days of the first runs, of the few that charts show; each line breaks at a service.

    Where there are draws, a shade shows between which flows 8 of 10 of the best one's lie over its first run. Raises
    NoAnswerError if no option runs.
    """
    options = look.needed(_few_with_record(comparison), "no option has the flow to run at all")
    names, colours = [title(option, comparison) for option in options], look.line_colours(options)
    rows = [row for option, name in zip(options, names, strict=True) for row in _record_rows(option, name, display)]
    level, banded = look.wanted(comparison.wanted_flow_l_per_h, display), _banded(comparison, options)
    shade = _shade_rows(banded[0], display) if banded else []
    scale = look.flow_scale([*rows, *shade], ("flow", "low", "high"), level)
    x, y = alt.X("day:Q", title="day", axis=look.NO_GRID), alt.Y("flow:Q", title=display.flow, scale=scale)
    tooltip = [tip("line:N", "option"), tip("day:Q", form=".1f"), tip("flow:Q", display.flow, ",.0f")]
    lines = look.layer(rows).mark_line(strokeWidth=2).encode(x=x, y=y, detail="run:N", tooltip=tooltip)
    layers, under = look.with_level(lines, look.lines_by_name(names, colours, level), level), _UNDER_DAYS
    if banded:
        area = look.layer(shade).mark_area(color=colours[options.index(banded[1])], opacity=_SHADE)
        low = alt.Y("low:Q", title=display.flow, scale=scale)
        layers = [area.encode(x=x, y=low, y2="high:Q"), *layers]
        under += f"\nshaded: 8 of 10 cases of {title(banded[1], comparison)}"
    description = days_words(comparison, display)
    return look.finished(layers, display, "Flow over the first weeks", under, description, height_px=_DAYS_PX)


def _banded(comparison: Comparison, drawn: Sequence[OptionAnswer]) -> tuple[FlowBand, OptionAnswer] | None:
    """Return between which flows the best option lies, and that option, where it is among those drawn."""
    band = comparison.odds.flow_band
    return next(((band, option) for option in drawn if band is not None and band.option == option.id), None)


def _shade_rows(band: FlowBand, display: Display) -> Rows:
    return [
        {"id": band.option, "day": day, "low": display.flow_of(low), "high": display.flow_of(high)}
        for day, low, high in zip(band.day, band.low_l_per_h, band.high_l_per_h, strict=True)
    ]


def days_words(comparison: Comparison, display: Display = METRIC) -> str:
    """Return what the chart of days says, for whoever cannot see it."""
    options, parts = _few_with_record(comparison), []
    for option in options:
        rows = _record_rows(option, "", display)
        *_, last = (row for row in rows if row["run"] == rows[0]["run"])
        first, last_flow = (number(float(row["flow"]), 3) for row in (rows[0], last))
        name, day = title(option, comparison), number(float(last["day"]))
        parts.append(f"{name} falls from {first} to {last_flow} in {day} days")
    end, banded = "", _banded(comparison, options)
    if banded:
        band, option = banded
        low, high = (number(display.flow_of(flows[-1]), 3) for flows in (band.low_l_per_h, band.high_l_per_h))
        end = f" In 8 of 10 cases {title(option, comparison)} gives {low} to {high} after {days(band.day[-1])}."
    return f"Flow over the first weeks, {display.flow}, back up after each service. {look.few(parts)}.{end}"


def with_cost(comparison: Comparison) -> list[OptionAnswer]:
    """Return the options that have a cost."""
    return [option for option in comparison.options if look.known(option.cost_per_year.total)]


def _cost_rows(option: OptionAnswer, name: str, parts: Sequence[str]) -> Rows:
    """Return an option's bar as segments end to end, what the choice changes first."""
    total = option.cost_per_year.total or 0.0
    amounts = {PARTS[part]: getattr(option.cost_per_year, part) or 0.0 for part in parts}
    amounts[SAME] = total - sum(amounts.values())
    ends = [0.0, *accumulate(amounts.values())]
    return [
        {"option": name, "part": part, "amount": amount, "from": start, "to": end}
        for (part, amount), (start, end) in zip(amounts.items(), pairwise(ends), strict=True)
        if amount > 1e-9 * total
    ]


def cost_chart(comparison: Comparison, display: Display = METRIC) -> alt.LayerChart:
    """Draw what a year costs, a bar an option, best first; what the choice changes in colour, the rest pale at its end.

    Raises NoAnswerError if no option runs.
    """
    options = look.needed(with_cost(comparison), "no option has the flow to run at all, so none has a cost")
    currency, parts = comparison.study.currency, comparison.choice_parts
    names = [f"{title(o, comparison)}, {money(o.cost_per_year.total or 0.0, currency)}" for o in options]
    rows = [row for option, name in zip(options, names, strict=True) for row in _cost_rows(option, name, parts)]
    most, shown = max(float(row["to"]) for row in rows), {row["part"] for row in rows}
    every = {PARTS[part]: _PART_COLOURS[part] for part in parts} | {SAME: _SAME_COLOUR}
    colours = {part: colour for part, colour in every.items() if part in shown}
    scale = alt.Scale(domain=[0, most], nice=False)
    x = alt.X("from:Q", title=f"{currency} a year", scale=scale, axis=look.NO_GRID)
    y, middle = look.NAMED_ABOVE, alt.X("middle:Q", scale=scale)
    colour = alt.Color("part:N").scale(domain=list(colours), range=list(colours.values()))
    tooltip = ["option:N", "part:N", tip("amount:Q", currency, ",.2f")]
    room = f"(datum.to - datum.from) / {most!r} * width > {_LETTER_PX} * length(datum.part)"
    where_room = alt.condition(f"datum.part != '{SAME}' && {room}", alt.value(1), alt.value(0))
    segments = look.layer(rows)
    bars = segments.mark_bar(height=_BAR_PX, yOffset=look.BAR_DOWN_PX, x2Offset=-1)
    inside = segments.transform_calculate(middle="(datum.from + datum.to) / 2")
    names_inside = inside.mark_text(color="white", fontSize=12, yOffset=look.BAR_DOWN_PX)
    layers = [
        bars.encode(x=x, x2="to:Q", y=y, color=colour, tooltip=tooltip),
        names_inside.encode(x=middle, y=y, text="part:N", opacity=where_room),
    ]
    under = "in colour: the cartridge-related cost" if SAME in shown else ""
    height_px = look.tall_px(look.BAR_ROOM_PX * len(options), _REST_PX + _LEGEND_ROW_PX * len(colours))
    return look.finished(layers, display, "What a year costs", under, cost_words(comparison), height_px=height_px)


def cost_words(comparison: Comparison, _display: Display = METRIC) -> str:
    """Return what the chart of costs says, for whoever cannot see it."""
    currency = comparison.study.currency
    parts = [
        f"{title(option, comparison)}: {money(option.cost_per_year.total or 0.0, currency)}, of which "
        f"{money(option.choice_cost_per_year or 0.0, currency)} cartridge-related"
        for option in with_cost(comparison)
    ]
    return f"What a year costs, best first. {look.few(parts)}."
