"""Charts of an owner's readings: the run as it is fitted, its band, and what lies ahead."""

from collections.abc import Sequence
from datetime import datetime, timedelta

import altair as alt

from filtration.present.charts import look
from filtration.present.charts.look import Rows, tip
from filtration.present.display import INK, METRIC, Display
from filtration.present.words.phrases import day, number
from filtration.readings.fitted_runs import SeenReading, SeenRun, SeenRuns
from filtration.readings.foretold import Forecast

FITTED, ASSUMED, AHEAD = "fitted", "as assumed", "if not serviced"
BARE, DOUBTED = "no cartridge", "doubted"
_SHAPES = {
    "bucket": "circle",
    "flow": "square",
    "column": "circle",
    "pressure": "square",
    BARE: "triangle-up",
    DOUBTED: "cross",
}
Bands = Sequence[tuple[SeenRun, list[list[float]]]]
Readings = Sequence[tuple[SeenReading, float]]
_DONE = {"new": "new", "rinse": "rinsed", "soak": "soaked", "today": "today"}
_LOSSES = ("loss", "bare loss")
_DUE = "#b5649f"
_DAY = "%-d %b %Y"
_UNDER = "shaded: 8 of 10 cases\nupright: services and today"
_MOST_NAMED = 12
_LONG_DAYS = 300.0
_NEAR = 0.03  # of the whole width: nearer, two names run into each other


def flow_readings_chart(seen: SeenRuns, forecast: Forecast, display: Display = METRIC) -> alt.LayerChart:
    """Draw the flow since the option was new, with the readings of it.

    Middle line and band, a point a reading, a rule a service, the flow wanted, and the next service.
    """
    bands = [(run, display.flow_of(run.flow_l_per_h).tolist()) for run in seen.runs]
    readings = [(each, display.flow_of(each.value)) for each in seen.seen if each.what not in _LOSSES]
    level = look.wanted(forecast.wanted_l_per_h, display)
    layers = [*_layers(bands, readings, forecast, display, level), *_next_service(forecast, display)]
    heading, description = f"Flow of {forecast.option}", flow_readings_words(seen, forecast, display)
    return look.finished(layers, display, heading, _UNDER, description, height_px=460)


def flow_readings_words(seen: SeenRuns, forecast: Forecast, display: Display = METRIC) -> str:
    """Return what the chart of flow says, for whoever cannot see it."""
    at_first = float(seen.runs[0].flow_l_per_h[1][0])
    first, low, middle, high = (number(display.flow_of(flow), 3) for flow in (at_first, *forecast.flow_today_l_per_h))
    due, count = forecast.next_service, sum(each.what not in _LOSSES for each in seen.seen)
    return (
        f"Flow of {forecast.option} since {day(seen.runs[0].when[0])}, {display.flow}, with {count} readings: "
        f"{first} at first, {middle} today, 8 of 10 cases {low} to {high}. "
        f"Next service {day(due.p50)}, 8 of 10 cases {day(due.p10)} to {day(due.p90)}."
    )


def loss_readings_chart(seen: SeenRuns, forecast: Forecast, display: Display = METRIC) -> alt.LayerChart:
    """Draw the pressure before the housing since the option was new, with the readings of it.

    Middle line and band, a point a reading, a rule a service. Raises NoAnswerError if no pressure was read.
    """
    bands = [(run, display.pressure_of(run.tube_kpa).tolist()) for run in seen.runs]
    readings = [(each, display.pressure_of(each.value)) for each in seen.seen if each.what in _LOSSES]
    layers = _layers(bands, look.needed(readings, "no pressure was read"), forecast, display, None)
    heading, under = f"Pressure before the housing, {forecast.option}", f"hose back to the tub and all; {_UNDER}"
    return look.finished(layers, display, heading, under, loss_readings_words(seen, forecast, display), height_px=380)


def loss_readings_words(seen: SeenRuns, forecast: Forecast, display: Display = METRIC) -> str:
    """Return what the chart of pressure says, for whoever cannot see it."""
    low, middle, high = (number(display.pressure_of(float(each)), 3) for each in seen.runs[-1].tube_kpa[:, 0])
    count = sum(each.what in _LOSSES for each in seen.seen)
    return (
        f"Pressure before the housing of {forecast.option}, {display.pressure}, hose back to the tub and all, with "
        f"{count} readings: {middle} today, 8 of 10 cases {low} to {high}."
    )


def _layers(
    bands: Bands, readings: Readings, forecast: Forecast, display: Display, level: look.Level | None
) -> list[alt.Chart]:
    """Return band, services, middle line, level and readings, hindmost first; of a flow where there is a level."""
    fitted, unit = FITTED if forecast.readings_used else ASSUMED, display.flow if level else display.pressure
    rows: Rows = [
        {
            "when": when.isoformat(),
            "run": place,
            "line": AHEAD if run.begins_with == "today" else fitted,
            "low": low,
            "value": middle,
            "high": high,
        }
        for place, (run, band) in enumerate(bands)
        for when, low, middle, high in zip(run.when, *band, strict=True)
    ]
    colour = display.colours[_kind(forecast)]
    first, last = bands[0][0].when[0], bands[-1][0].when[-1]
    day = "%b %Y" if (last - first) / timedelta(days=1) > _LONG_DAYS else "%-d %b"
    x = alt.X("when:T", title=None).axis(grid=False, format=day, tickCount=6, labelOverlap=True)
    y = alt.Y("value:Q", title=unit).scale(zero=False)
    tooltip = [
        tip("when:T", "day", _DAY),
        tip("value:Q", f"middle, {unit}", ",.3~r"),
        tip("low:Q", "8 of 10 from", ",.3~r"),
        tip("high:Q", "to", ",.3~r"),
    ]
    course = look.layer(rows)
    shade = course.mark_area(color=colour, opacity=0.22)
    line = course.mark_line(strokeWidth=2).encode(x=x, y=y, detail="run:N", tooltip=tooltip)
    return [
        shade.encode(x=x, y=alt.Y("low:Q", title=unit), y2="high:Q", detail="run:N"),
        *_services([run for run, _ in bands], display.letters, x, at_foot=level is not None),
        *look.with_level(line, look.lines_by_name([fitted, AHEAD], [colour, colour], level), level),
        *_points(readings, forecast, display.letters, x, y),
    ]


def _points(readings: Readings, forecast: Forecast, ink: str, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """Return a point a reading, its shape by how it was read, and whether it counts."""
    doubted = {each.reading for each in forecast.doubted}
    rows: Rows = []
    for each, value in readings:
        how = DOUBTED if each.reading in doubted else BARE if each.reading.without_element else each.reading.kind
        when = each.reading.when.isoformat()
        rows.append({"when": when, "value": value, "how": how, "read": each.reading.value})
    shown = {how: shape for how, shape in _SHAPES.items() if any(row["how"] == how for row in rows)}
    if not shown:
        return []
    shape = alt.Shape("how:N").scale(domain=list(shown), range=list(shown.values()))
    shape = shape.legend(symbolFillColor=ink, symbolStrokeColor=ink)
    tooltip = [tip("when:T", "read", f"{_DAY} %H:%M"), tip("how:N", "how"), tip("read:N", "as written")]
    marks = look.layer(rows).mark_point(filled=True, size=65, opacity=1, color=ink)
    return [marks.encode(x=x, y=y, shape=shape, tooltip=tooltip)]


def _services(runs: Sequence[SeenRun], ink: str, x: alt.X, *, at_foot: bool) -> list[alt.Chart]:
    """Return an upright rule where each run begins, with what was done where there is room for the words."""
    rows: Rows = [{"when": run.when[0].isoformat(), "done": _DONE[run.begins_with]} for run in runs]
    tooltip = [tip("done:N", "done"), tip("when:T", "on", _DAY)]
    rules = look.layer(rows).mark_rule(color=INK, strokeDash=[2, 3], strokeWidth=1.2)
    few = look.layer(_apart(runs if len(runs) <= _MOST_NAMED else [runs[0], *runs[-2:]], runs[-1].when[-1]))
    end = alt.value("height" if at_foot else 0)  # where no curve is
    names = few.mark_text(
        angle=270, align="left" if at_foot else "right", baseline="top", dx=3 if at_foot else -3, dy=3
    )
    words = names.encode(x=x, y=end, text="done:N", color=alt.value(ink))
    return [rules.encode(x=x, tooltip=tooltip), words]


def _apart(runs: Sequence[SeenRun], end: datetime) -> Rows:
    """Return the names of what was done; those of one place stand behind one another."""
    near, named = (end - runs[0].when[0]) * _NEAR, list[tuple[datetime, list[str]]]()
    for run in runs:
        if named and run.when[0] - named[-1][0] <= near:
            named[-1][1].append(_DONE[run.begins_with])
        else:
            named.append((run.when[0], [_DONE[run.begins_with]]))
    return [{"when": when.isoformat(), "done": ", ".join(done)} for when, done in named]


def _next_service(forecast: Forecast, display: Display) -> list[alt.Chart]:
    """Return the interval of the next service as a bar at the flow wanted with its middle, and its name."""
    low, middle, high = ((forecast.today + timedelta(days=d)).isoformat() for d in forecast.next_service.in_days)
    level = display.flow_of(forecast.wanted_l_per_h)
    here = look.layer([{"when": low, "middle": middle, "until": high, "value": level, "name": "next service"}])
    y = alt.Y("value:Q", title=display.flow).scale(zero=False)
    tooltip = [tip("middle:T", "next service", _DAY), tip("when:T", "8 of 10 from", _DAY), tip("until:T", "to", _DAY)]
    bar = here.mark_rule(color=_DUE, strokeWidth=7, opacity=0.8)
    diamond = here.mark_point(filled=True, shape="diamond", size=110, color=_DUE, opacity=1)
    name = here.mark_text(align="right", baseline="top", dx=-8, dy=6, color=display.letters)
    return [
        bar.encode(x="when:T", x2="until:T", y=y, tooltip=tooltip),
        diamond.encode(x="middle:T", y=y, tooltip=tooltip),
        name.encode(x="when:T", y=y, text="name:N"),
    ]


def _kind(forecast: Forecast) -> str:
    stages = next(option for option in forecast.study.options if option.name == forecast.option).stages
    return "train" if len(stages) > 1 else stages[0].kind
