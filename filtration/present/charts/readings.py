"""Pictures of an owner's readings: the run as it is fitted, its band, and what lies ahead."""

from collections.abc import Sequence
from datetime import datetime, timedelta

import altair as alt

from filtration.base.errors import NoAnswerError
from filtration.present.charts.look import COLOURS, INK, METRIC, Display, Rows, Words, finished, lines_by_name
from filtration.present.words.phrases import number
from filtration.readings.fitted_runs import SeenReading, SeenRun, SeenRuns
from filtration.readings.next_service import Forecast

FITTED, ASSUMED, AHEAD = "fitted", "as assumed", "if not serviced"
BARE, DOUBTED = "no element", "doubted"
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
_MOST_NAMED = 12
_LONG_DAYS = 300.0
_NEAR = 0.03  # of the whole width: nearer, two names run into each other


def flow_readings_chart(seen: SeenRuns, forecast: Forecast, display: Display = METRIC) -> alt.LayerChart:
    """Draw the flow since the option was new, with the readings of it.

    Parameters
    ----------
    seen : SeenRuns
        The runs.
    forecast : Forecast
        What the readings say.
    display : Display, optional
        Units to show.

    Returns
    -------
    altair.LayerChart
        Middle line and band, a point a reading, a rule a service, the flow wanted, and the next service.
    """
    bands = [
        (run, [[display.flow_of(each) for each in line] for line in run.flow_l_per_h.tolist()]) for run in seen.runs
    ]
    readings = [(each, display.flow_of(each.value)) for each in seen.seen if each.what in ("flow", "bare flow")]
    level = display.flow_of(forecast.wanted_l_per_h)
    wanted = f"wanted, {number(level, 3)} {display.flow}"
    words = Words(
        heading=f"Flow of {forecast.option}",
        under="shaded: 8 of 10 cases\nupright: services and today",
        alt=flow_readings_words(seen, forecast, display),
    )
    layers = _layers(bands, readings, forecast, display, (wanted, level))
    return finished([*layers, *_next_service(forecast, level, display)], display, words, height_px=460)


def flow_readings_words(seen: SeenRuns, forecast: Forecast, display: Display = METRIC) -> str:
    """Return what that chart says, for whoever cannot see it."""
    low, middle, high = (number(display.flow_of(flow), 3) for flow in forecast.flow_today_l_per_h)
    first, due = seen.runs[0].flow_l_per_h[1][0], forecast.next_service
    count = sum(each.what not in _LOSSES for each in seen.seen)
    return (
        f"Flow of {forecast.option} since {seen.runs[0].when[0].date()}, {display.flow}, with {count} readings: "
        f"{number(display.flow_of(float(first)), 3)} at first, {middle} today, 8 of 10 cases {low} to {high}. "
        f"Next service {due.p50}, 8 of 10 cases {due.p10} to {due.p90}."
    )


def loss_readings_chart(seen: SeenRuns, forecast: Forecast, display: Display = METRIC) -> alt.LayerChart:
    """Draw the pressure before the housing since the option was new, with the readings of it.

    Parameters
    ----------
    seen : SeenRuns
        The runs.
    forecast : Forecast
        What the readings say.
    display : Display, optional
        Units to show.

    Returns
    -------
    altair.LayerChart
        Middle line and band, a point a reading, a rule a service.

    Raises
    ------
    NoAnswerError
        If no pressure was read.
    """
    readings = [(each, display.pressure_of(each.value)) for each in seen.seen if each.what in _LOSSES]
    if not readings:
        msg = "no pressure was read"
        raise NoAnswerError(msg)
    bands = [
        (run, [[display.pressure_of(each) for each in line] for line in run.tube_kpa.tolist()]) for run in seen.runs
    ]
    words = Words(
        heading=f"Pressure before the housing, {forecast.option}",
        under="hose back to the tub and all; shaded: 8 of 10 cases\nupright: services and today",
        alt=loss_readings_words(seen, forecast, display),
    )
    return finished(_layers(bands, readings, forecast, display, None), display, words, height_px=380)


def loss_readings_words(seen: SeenRuns, forecast: Forecast, display: Display = METRIC) -> str:
    """Return what that chart says, for whoever cannot see it."""
    low, middle, high = (number(display.pressure_of(float(each)), 3) for each in seen.runs[-1].tube_kpa[:, 0])
    count = sum(each.what in _LOSSES for each in seen.seen)
    return (
        f"Pressure before the housing of {forecast.option}, {display.pressure}, hose back to the tub and all, with "
        f"{count} readings: {middle} today, 8 of 10 cases {low} to {high}."
    )


def _layers(
    bands: Bands,
    readings: Readings,
    forecast: Forecast,
    display: Display,
    rule: tuple[str, float] | None,
) -> list[alt.Chart]:
    """Return band, services, middle line, wanted level and readings, hindmost first."""
    fitted = FITTED if forecast.readings_used else ASSUMED
    unit = display.flow if rule is not None else display.pressure
    rows: Rows = []
    for place, (run, (low, middle, high)) in enumerate(bands):
        line = AHEAD if run.begins_with == "today" else fitted
        for when, bottom, value, top in zip(run.when, low, middle, high, strict=True):
            rows.append(
                {"when": when.isoformat(), "run": place, "line": line, "low": bottom, "value": value, "high": top}
            )
    colour = COLOURS[_kind(forecast)]
    first, last = bands[0][0].when[0], bands[-1][0].when[-1]
    day = "%b %Y" if (last - first) / timedelta(days=1) > _LONG_DAYS else "%-d %b"
    x = alt.X("when:T", title=None, axis=alt.Axis(grid=False, format=day, tickCount=6, labelOverlap=True))
    y = alt.Y("value:Q", title=unit, scale=alt.Scale(zero=False))
    tooltip = [
        alt.Tooltip("when:T", title="day", format="%-d %b %Y"),
        alt.Tooltip("value:Q", title=f"middle, {unit}", format=",.3~r"),
        alt.Tooltip("low:Q", title="8 of 10 from", format=",.3~r"),
        alt.Tooltip("high:Q", title="to", format=",.3~r"),
    ]
    curve = alt.Chart(alt.InlineData(values=rows))
    channels = lines_by_name([fitted, AHEAD], [colour, colour], rule)
    layers = [
        curve.mark_area(color=colour, opacity=0.22).encode(
            x=x, y=alt.Y("low:Q", title=unit), y2="high:Q", detail="run:N"
        ),
        *_services([run for run, _ in bands], display.ink or INK, x, at_foot=rule is not None),
        curve.mark_line(strokeWidth=2).encode(x=x, y=y, detail="run:N", tooltip=tooltip, **channels),
    ]
    if rule is not None:
        level = alt.Chart(alt.InlineData(values=[{"line": rule[0], "value": rule[1]}]))
        layers.append(level.mark_rule(color=INK, strokeWidth=1.5).encode(y=y, **channels))
    return [*layers, *_points(readings, forecast, display.ink or INK, x, y)]


def _points(readings: Readings, forecast: Forecast, ink: str, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """Return a point a reading, its shape by how it was read, and whether it counts."""
    doubted = {each.reading for each in forecast.doubted}
    rows: Rows = []
    for each, value in readings:
        how = DOUBTED if each.reading in doubted else BARE if each.reading.without_element else each.reading.kind
        when = each.reading.when.isoformat()
        rows.append({"when": when, "value": value, "how": how, "read": each.reading.value})
    shown = [how for how in _SHAPES if any(row["how"] == how for row in rows)]
    if not shown:
        return []
    shape = alt.Shape(
        "how:N",
        scale=alt.Scale(domain=shown, range=[_SHAPES[how] for how in shown]),
        legend=alt.Legend(symbolFillColor=ink, symbolStrokeColor=ink),
    )
    tooltip = [
        alt.Tooltip("when:T", title="read", format="%-d %b %Y %H:%M"),
        alt.Tooltip("how:N", title="how"),
        alt.Tooltip("read:N", title="as written"),
    ]
    marks = alt.Chart(alt.InlineData(values=rows)).mark_point(filled=True, size=65, opacity=1, color=ink)
    return [marks.encode(x=x, y=y, shape=shape, tooltip=tooltip)]


def _services(runs: Sequence[SeenRun], ink: str, x: alt.X, *, at_foot: bool) -> list[alt.Chart]:
    """Return an upright rule where each run begins, with what was done where there is room for the words."""
    rows: Rows = [{"when": run.when[0].isoformat(), "done": _DONE[run.begins_with]} for run in runs]
    tooltip = [alt.Tooltip("done:N", title="done"), alt.Tooltip("when:T", title="on", format="%-d %b %Y")]
    rules = alt.Chart(alt.InlineData(values=rows)).mark_rule(color=INK, strokeDash=[2, 3], strokeWidth=1.2)
    few = _apart(runs if len(runs) <= _MOST_NAMED else [runs[0], *runs[-2:]], runs[-1].when[-1])
    chart, end = alt.Chart(alt.InlineData(values=few)), alt.value("height" if at_foot else 0)  # where no curve is
    names = chart.mark_text(
        angle=270, align="left" if at_foot else "right", baseline="top", dx=3 if at_foot else -3, dy=3
    )
    return [rules.encode(x=x, tooltip=tooltip), names.encode(x=x, y=end, text="done:N", color=alt.value(ink))]


def _apart(runs: Sequence[SeenRun], end: datetime) -> Rows:
    """Return the names of what was done; those of one place stand behind one another."""
    near, named = (end - runs[0].when[0]) * _NEAR, list[tuple[datetime, list[str]]]()
    for run in runs:
        if named and run.when[0] - named[-1][0] <= near:
            named[-1][1].append(_DONE[run.begins_with])
        else:
            named.append((run.when[0], [_DONE[run.begins_with]]))
    return [{"when": when.isoformat(), "done": ", ".join(done)} for when, done in named]


def _next_service(forecast: Forecast, level: float, display: Display) -> list[alt.Chart]:
    """Return the interval of the next service as a bar with its middle, and its name."""
    low, middle, high = ((forecast.today + timedelta(days=d)).isoformat() for d in forecast.next_service.in_days)
    row = {"when": low, "middle": middle, "until": high, "value": level, "name": "next service"}
    chart = alt.Chart(alt.InlineData(values=[row]))
    y = alt.Y("value:Q", title=display.flow, scale=alt.Scale(zero=False))
    tooltip = [
        alt.Tooltip("middle:T", title="next service", format="%-d %b %Y"),
        alt.Tooltip("when:T", title="8 of 10 from", format="%-d %b %Y"),
        alt.Tooltip("until:T", title="to", format="%-d %b %Y"),
    ]
    name = chart.mark_text(align="right", baseline="top", dx=-8, dy=6, color=display.ink or INK)
    return [
        chart.mark_rule(color=_DUE, strokeWidth=7, opacity=0.8).encode(x="when:T", x2="until:T", y=y, tooltip=tooltip),
        chart.mark_point(filled=True, shape="diamond", size=110, color=_DUE, opacity=1).encode(
            x="middle:T", y=y, tooltip=tooltip
        ),
        name.encode(x="when:T", y=y, text="name:N"),
    ]


def _kind(forecast: Forecast) -> str:
    stages = next(option for option in forecast.study.options if option.name == forecast.option).stages
    return "train" if len(stages) > 1 else stages[0].kind
