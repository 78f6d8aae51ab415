"""Two charts of time and money: flow over the first weeks, and what a year costs."""

from collections.abc import Sequence
from itertools import accumulate, pairwise
from textwrap import wrap
from typing import Any

import altair as alt

from filtration.answers.figures import RECORD_DAYS
from filtration.answers.results import Comparison, OptionAnswer
from filtration.plan.spending import best_of_either_sort, is_reusable
from filtration.present.charts import look
from filtration.present.charts.look import Rows, tip
from filtration.present.display import INK, METRIC, Display
from filtration.present.words.phrases import PARTS, days, money, number, title

SAME = "the same for every option"
REUSABLE, DISPOSABLE, FAILS = "reusable", "disposable", "does not meet your needs"
_HATCHED = "hatched: does not meet your needs"
_SAME_COLOUR = "#8d9ba366"
_PART_COLOURS = {
    "elements": "#2276ae",
    "rinsing": "#0d8060",
    "own_time": "#c05512",
    "pumping": "#7d64b8",
    "cooling": "#b8517f",
    "disposal": "#857000",
    "equipment": "#56707d",
    "water_changes": "#13828e",
    "disinfectant": "#a35a96",
}
_DAYS_PX, _SHADE, _MOST_RUNS, _LINE = 420, 0.2, 12, 40
_BAR_PX, _REST_PX, _LEGEND_ROW_PX, _LETTER_PX, _STROKES = 18, 140, 20, 7, 90
_PLACES = ("from", "middle", "at")


def with_record(comparison: Comparison) -> list[OptionAnswer]:
    """Return the options that run."""
    return [option for option in comparison.options if any(map(look.known, option.flow_record.flow_l_per_h))]


def _both_with_record(comparison: Comparison, option: OptionAnswer | None) -> list[OptionAnswer]:
    """Return an option, else the one to take, and the best of the other sort: rinsed, or thrown away."""
    running = with_record(comparison)
    looked_at = option or (comparison.spoken_of if running else None)
    if looked_at not in running or looked_at is None:
        return []
    meeting = [each for each in running if each.meets_needs]
    other = best_of_either_sort(meeting).get(not is_reusable(looked_at))
    return [looked_at, *([other] if other else [])]


def _record_rows(option: OptionAnswer, name: str, display: Display) -> Rows:
    """Return the flow of an option, its runs numbered: a line must not join one to the next."""
    days, flows = option.flow_record.day, option.flow_record.flow_l_per_h
    return [
        {"line": name, "run": run, "day": day, "flow": display.flow_of(flow)}
        for day, flow, run in zip(days, flows, accumulate(int(not look.known(flow)) for flow in flows), strict=True)
        if look.known(flow)
    ]


def _is_crowded(option: OptionAnswer) -> bool:
    """Return whether an option is serviced more often than an eye can follow."""
    return option.flow_record.flow_l_per_h.count(None) > _MOST_RUNS


def _between(rows: Rows) -> Rows:
    """Return between which flows a crowd of runs lies, over all the days."""
    flows = [float(row["flow"]) for row in rows]
    return [{"line": rows[0]["line"], "day": day, "low": min(flows), "high": max(flows)} for day in (0.0, RECORD_DAYS)]


def days_chart(comparison: Comparison, display: Display = METRIC, option: OptionAnswer | None = None) -> alt.LayerChart:
    """Draw the flow over the first 60 days, from nought, of an option and the best of the other sort.

    Each line breaks at a service; one that is serviced more often than an eye can follow is a band between new and due.
    Where there are draws, a shade shows between which flows 8 of 10 of the option's cases lie over its first run.

    Parameters
    ----------
    comparison : Comparison
        The answer.
    display : Display, optional
        Units to show.
    option : OptionAnswer, optional
        The option; left out, the one to take.

    Returns
    -------
    altair.LayerChart
        The chart.

    Raises
    ------
    NoAnswerError
        If it does not run.
    """
    options = look.needed(_both_with_record(comparison, option), "no flow to run at all")
    names, colours = [title(each, comparison) for each in options], look.line_colours(options, display)
    drawn = [_record_rows(each, name, display) for each, name in zip(options, names, strict=True)]
    crowds = [_between(rows) for each, rows in zip(options, drawn, strict=True) if _is_crowded(each)]
    rows = [row for each, of in zip(options, drawn, strict=True) if not _is_crowded(each) for row in of]
    level, shade = look.wanted(comparison.wanted_flow_l_per_h, display), _shade_rows(comparison, options[0], display)
    scale = look.flow_scale([*(row for of in drawn for row in of), *shade], ("flow", "low", "high"), level)
    x_scale = alt.Scale(domain=[0.0, RECORD_DAYS], nice=False)
    x = alt.X("day:Q", title="day", axis=look.NO_GRID, scale=x_scale)
    y, low = (alt.Y(f"{key}:Q", title=display.flow, scale=scale) for key in ("flow", "low"))
    channels = look.lines_by_name(names, colours, level)
    tooltip = [tip("line:N", "option"), tip("day:Q", form=".1f"), tip("flow:Q", display.flow, ",.3~r")]
    lines = look.layer(rows).mark_line(strokeWidth=2.2, clip=True)
    layers = look.with_level(lines.encode(x=x, y=y, detail="run:N", tooltip=tooltip), channels, level)
    for crowd in crowds:
        between = look.layer(crowd).encode(x=x, color=channels["color"])
        edges = between.mark_line(strokeWidth=1.5, clip=True).encode(strokeDash=channels["strokeDash"])
        layers += [edges.encode(y=alt.Y(f"{key}:Q", title=display.flow, scale=scale)) for key in ("low", "high")]
        area = look.layer(crowd).mark_area(color=colours[names.index(str(crowd[0]["line"]))], opacity=_SHADE)
        layers.insert(0, area.encode(x=x, y=low, y2="high:Q"))
    if shade:
        area = look.layer(shade).mark_area(color=colours[0], opacity=_SHADE, clip=True)
        layers.insert(0, area.encode(x=x, y=low, y2="high:Q"))
    description = days_words(comparison, display, options[0])
    under = "\n".join(_under(options, names, shaded=bool(shade)))
    return look.finished(layers, display, "Flow over the first 60 days", under, description, height_px=_DAYS_PX)


def _under(options: Sequence[OptionAnswer], names: Sequence[str], *, shaded: bool) -> list[str]:
    """Return how to read the chart of days."""
    often = [
        f"{name}: new again every {days(each.days_to_first_service or 0.0)}, the flow between its two lines"
        for each, name in zip(options, names, strict=True)
        if _is_crowded(each)
    ]
    shade = [f"shaded: 8 of 10 cases of {names[0]}"] if shaded else []
    return [line for each in ("up again at each service", *often, *shade) for line in wrap(each, _LINE)]


def _shade_rows(comparison: Comparison, option: OptionAnswer, display: Display) -> Rows:
    """Return between which flows 8 of 10 cases of an option lie, where that was worked out for it."""
    band = comparison.odds.flow_band
    if band is None or band.option != option.id:
        return []
    return [
        {"id": band.option, "day": day, "low": display.flow_of(low), "high": display.flow_of(high)}
        for day, low, high in zip(band.day, band.low_l_per_h, band.high_l_per_h, strict=True)
    ]


def days_words(comparison: Comparison, display: Display = METRIC, option: OptionAnswer | None = None) -> str:
    """Return what the chart of days says, for whoever cannot see it."""
    options, parts = _both_with_record(comparison, option), []
    for each in options:
        rows = _record_rows(each, "", display)
        *_, last = (row for row in rows if row["run"] == rows[0]["run"])
        first, last_flow = (number(float(row["flow"]), 3) for row in (rows[0], last))
        parts.append(
            f"{title(each, comparison)} falls from {first} to {last_flow} in {number(float(last['day']))} days"
        )
    end, shade = "", _shade_rows(comparison, options[0], display) if options else []
    if shade:
        low, high = (number(float(shade[-1][key]), 3) for key in ("low", "high"))
        name, after = title(options[0], comparison), days(float(shade[-1]["day"]))
        end = f" In 8 of 10 cases {name} gives {low} to {high} after {after}."
    return f"Flow over the first 60 days, {display.flow}, back up after each service. {look.few(parts)}.{end}"


def with_cost(comparison: Comparison) -> list[OptionAnswer]:
    """Return the options that have a cost."""
    return [option for option in comparison.options if look.known(option.cost_per_year.total)]


def _cost_rows(option: OptionAnswer, name: str, parts: Sequence[str]) -> Rows:
    """Return an option's bar as segments end to end, what the choice changes first; whole where it fails a need."""
    total = option.cost_per_year.total or 0.0
    amounts = {PARTS[part]: getattr(option.cost_per_year, part) or 0.0 for part in parts}
    amounts[SAME] = total - sum(amounts.values())
    amounts = amounts if option.meets_needs else {FAILS: total}
    ends = [0.0, *accumulate(amounts.values())]
    return [
        {"option": name, "part": part, "amount": amount, "from": start, "to": end}
        for (part, amount), (start, end) in zip(amounts.items(), pairwise(ends), strict=True)
        if amount > 1e-9 * total
    ]


def _groups(options: Sequence[OptionAnswer]) -> dict[str, list[OptionAnswer]]:
    """Return options by group, in order: reusable, disposable, and last what fails a need."""
    found: dict[str, list[OptionAnswer]] = {REUSABLE: [], DISPOSABLE: [], FAILS: []}
    for option in options:
        found[FAILS if not option.meets_needs else REUSABLE if is_reusable(option) else DISPOSABLE].append(option)
    return {group: of for group, of in found.items() if of}


def _hatches(rows: Rows, most: float) -> Rows:
    """Return where the strokes stand across the bars of what fails a need."""
    return [
        {"option": row["option"], "at": stroke * most / _STROKES}
        for row in rows
        for stroke in range(1, _STROKES)
        if stroke * most / _STROKES < float(row["to"])
    ]


def cost_chart(comparison: Comparison, display: Display = METRIC) -> alt.LayerChart:
    """Draw what a year costs, a bar an option, best first: reusable, disposable, and hatched last what fails a need.

    What the choice changes stands in colour, the rest pale at its end; what fails a need is cut off where it costs more
    than all others. Raises NoAnswerError if no option runs.
    """
    options = look.needed(with_cost(comparison), "no option has the flow to run at all, so none has a cost")
    currency, parts = comparison.study.currency, comparison.choice_parts
    names = {o.id: f"{title(o, comparison)}, {money(o.cost_per_year.total or 0.0, currency)}" for o in options}
    groups = _groups(options)
    domain = [name for group, of in groups.items() for name in (group, *(names[option.id] for option in of))]
    rows = [row for of in groups.values() for option in of for row in _cost_rows(option, names[option.id], parts)]
    shown = {row["part"] for row in rows}
    colours = {PARTS[part]: _PART_COLOURS[part] for part in parts} | {SAME: _SAME_COLOUR}
    colours = {part: colour for part, colour in colours.items() if part in shown}
    paid, failing = ([row for row in rows if (row["part"] == FAILS) == fails] for fails in (False, True))
    most = max(float(row["to"]) for row in paid or failing)
    scale = alt.Scale(domain=[0, most], nice=False)
    x, middle, stroke = (alt.X(f"{at}:Q", title=f"{currency} a year", scale=scale, axis=look.NO_GRID) for at in _PLACES)
    heads = f"indexof({list(groups)!r}, datum.value) >= 0"
    bold: Any = {"condition": {"test": heads, "value": "bold"}, "value": "normal"}
    y = alt.Y("option:N", sort=None, title=None).scale(domain=domain).axis(**look.ABOVE, labelFontWeight=bold)
    colour = alt.Color("part:N").scale(domain=list(colours), range=list(colours.values()))
    tooltip = ["option:N", "part:N", tip("amount:Q", currency, ",.3~r")]
    room = f"(datum.to - datum.from) / {most!r} * width > {_LETTER_PX} * length(datum.part)"
    where_room = alt.condition(f"datum.part != '{SAME}' && {room}", alt.value(1), alt.value(0))
    segments, whole = look.layer(paid), look.layer(failing)
    bar: dict[str, Any] = {"height": _BAR_PX, "yOffset": look.BAR_DOWN_PX}
    inside = segments.transform_calculate(middle="(datum.from + datum.to) / 2")
    names_inside = inside.mark_text(color="white", fontSize=12, yOffset=look.BAR_DOWN_PX)
    strokes = look.layer(_hatches(failing, most)).mark_tick(
        orient="vertical", size=_BAR_PX, yOffset=look.BAR_DOWN_PX, thickness=1, color=INK
    )
    framed = whole.mark_bar(fillOpacity=0.0, stroke=INK, strokeWidth=1.2, clip=True, **bar)
    layers = [
        segments.mark_bar(x2Offset=-1, **bar).encode(x=x, x2="to:Q", y=y, color=colour, tooltip=tooltip),
        names_inside.encode(x=middle, y=y, text="part:N", opacity=where_room),
        framed.encode(x=x, x2="to:Q", y=y, tooltip=tooltip),
        strokes.encode(x=stroke, y=y),
    ]
    drawn = [each for each in layers if each.data.values]
    under = [*(["in colour: the cartridge-related cost"] if SAME in shown else []), *([_HATCHED] if failing else [])]
    under += ["cut off where it costs more than these"] if any(float(row["to"]) > most for row in failing) else []
    height_px = look.tall_px(look.BAR_ROOM_PX * len(domain), _REST_PX + _LEGEND_ROW_PX * len(colours))
    words = cost_words(comparison)
    return look.finished(drawn, display, "What a year costs", "\n".join(under), words, height_px=height_px)


def cost_words(comparison: Comparison, _display: Display = METRIC) -> str:
    """Return what the chart of costs says, for whoever cannot see it."""
    currency = comparison.study.currency
    parts = [
        f"{title(option, comparison)} ({group}): {money(option.cost_per_year.total or 0.0, currency)}; "
        f"{money(option.choice_cost_per_year or 0.0, currency)} cartridge-related"
        for group, of in _groups(with_cost(comparison)).items()
        for option in of
    ]
    return f"What a year costs, best first. {look.few(parts)}."
