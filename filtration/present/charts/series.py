"""Pictures of one option's course: its flow from new to replacement, and the loss as options load."""

from collections.abc import Sequence
from itertools import zip_longest

import altair as alt
import numpy as np

from filtration.answers.results import OptionAnswer
from filtration.answers.series import FlowRun, Loading
from filtration.base.errors import NoAnswerError
from filtration.present.charts.look import (
    COLOURS,
    INK,
    METRIC,
    Display,
    Rows,
    Words,
    few,
    finished,
    flow_scale,
    line_colours,
    lines_by_name,
    rule_at,
)
from filtration.present.words.phrases import days, number

CENTRAL, BAND = "as assumed", "band: 8 of 10 cases of how much dirt is brought in"
_SERVICES = {"rinse": ("rinse", "circle"), "soak": ("rinse and soak", "square"), "replace": ("replace", "diamond")}
_SIGNS = {"circle": "●", "square": "■", "diamond": "◆"}
_BAND_POINTS, _BAND_DAYS, _LEAST_BAND = 257, 181, 0.02


def life_chart(
    option: OptionAnswer,
    runs: Sequence[FlowRun],
    dirtier: Sequence[FlowRun],
    cleaner: Sequence[FlowRun],
    wanted_l_per_h: float | None,
    display: Display = METRIC,
) -> alt.LayerChart:
    """Draw an option's flow from new, through its rinses, to its replacement.

    Parameters
    ----------
    option : OptionAnswer
        The option.
    runs, dirtier, cleaner : sequence of FlowRun
        Its runs as assumed, and where bathers bring more or less dirt.
    wanted_l_per_h : float or None
        The least flow wanted.
    display : Display, optional
        Units to show.

    Returns
    -------
    altair.LayerChart
        A line that falls and rises, a mark at each service, and a band between the dirtier and the cleaner case.

    Raises
    ------
    NoAnswerError
        If it never runs.
    """
    if not runs:
        msg = f"{option.name} lacks the flow even when clean"
        raise NoAnswerError(msg)
    rows: Rows = [
        {"line": CENTRAL, "run": place, "day": day, "flow": display.flow_of(flow)}
        for place, run in enumerate(runs)
        for day, flow in zip(run.day, run.flow_l_per_h, strict=True)
    ]
    services: Rows = [
        {"day": run.day[-1], "flow": display.flow_of(run.flow_l_per_h[-1]), "service": _SERVICES[run.ends_with][0]}
        for run in runs
    ]
    rule = None
    if wanted_l_per_h is not None:
        rule = f"wanted, {number(display.flow_of(wanted_l_per_h), 3)} {display.flow}", display.flow_of(wanted_l_per_h)
    channels = lines_by_name([CENTRAL], [COLOURS[option.kind]], rule)
    x = alt.X("day:Q", title="day", axis=alt.Axis(grid=False))
    band = _band(dirtier, cleaner, display)
    levels = [row["flow"] for row in rows] + [row[edge] for row in band for edge in ("flow", "up to")]
    scale = flow_scale([float(level) for level in [*levels, *([rule[1]] if rule else [])]])
    y = alt.Y("flow:Q", title=display.flow, scale=scale)
    tooltip = [alt.Tooltip("day:Q", format=".0f"), alt.Tooltip("flow:Q", title=display.flow, format=",.0f")]
    layers = []
    if band:
        area = alt.Chart(alt.InlineData(values=band)).mark_area(opacity=0.2, color=COLOURS[option.kind])
        layers.append(area.encode(x=x, y=y, y2="up to:Q"))
    line = alt.Chart(alt.InlineData(values=rows)).mark_line(strokeWidth=2.2)
    layers.append(line.encode(x=x, y=y, **channels, detail="run:N", tooltip=tooltip))
    if rule is not None:
        layers.append(rule_at(rule, y, channels))
    done = [_SERVICES[what] for what in _SERVICES if _SERVICES[what][0] in {row["service"] for row in services}]
    signs = "   ".join(f"{_SIGNS[sign]} {name}" for name, sign in done)
    marks = alt.Chart(alt.InlineData(values=services)).mark_point(filled=True, size=55, opacity=1, color=INK)
    scale = alt.Scale(domain=[name for name, _ in done], range=[sign for _, sign in done])
    shape = alt.Shape("service:N", scale=scale, legend=None)
    layers.append(marks.encode(x=x, y=y, shape=shape, tooltip=[alt.Tooltip("service:N"), *tooltip]))
    words = Words(
        heading=f"Flow of {option.name}, new to replaced",
        under="\n".join([signs, *([BAND] if band else [])]),
        alt=life_words(option, runs, display),
    )
    return finished(layers, display, words, height_px=480)


def _band(dirtier: Sequence[FlowRun], cleaner: Sequence[FlowRun], display: Display) -> Rows:
    """Return the lowest and highest flow by day: dirtier, a run reaches a flow first; none where too near to see."""
    if not dirtier or not cleaner:
        return []
    swept, end = [], min(dirtier[-1].day[-1], cleaner[-1].day[-1])
    for run, other in zip_longest(dirtier, cleaner):
        known = [each for each in (run, other) if each is not None]
        flow = np.linspace(
            min(each.flow_l_per_h[-1] for each in known), max(each.flow_l_per_h[0] for each in known), _BAND_POINTS
        )
        reached = [np.interp(flow, each.flow_l_per_h[::-1], each.day[::-1]) for each in known]
        swept.append((flow, reached[0], reached[-1] if other is not None else np.full(flow.shape, end)))
    rows: Rows = []
    for day in np.linspace(0.0, end, _BAND_DAYS).tolist():
        there = np.concatenate([flow[(early <= day) & (day <= late)] for flow, early, late in swept])
        if there.size:
            low, high = display.flow_of(float(there.min())), display.flow_of(float(there.max()))
            rows.append({"day": day, "flow": low, "up to": high})
    widest = max((float(row["up to"]) - float(row["flow"]) for row in rows), default=0.0)
    return rows if widest > _LEAST_BAND * display.flow_of(cleaner[0].flow_l_per_h[0]) else []


def life_words(option: OptionAnswer, runs: Sequence[FlowRun], display: Display = METRIC) -> str:
    """Return what the chart of a life says, for whoever cannot see it."""
    if not runs:
        return f"{option.name} lacks the flow even when clean."
    high, low = (number(display.flow_of(flow), 3) for flow in (runs[0].flow_l_per_h[0], runs[0].flow_l_per_h[-1]))
    return (
        f"Flow of {option.name} over its life, {display.flow}: from {high} to {low} in {days(runs[0].day[-1])}, "
        f"{len(runs)} runs until it is replaced after {days(runs[-1].day[-1])}."
    )


def loading_chart(loadings: Sequence[tuple[OptionAnswer, Loading]], display: Display = METRIC) -> alt.LayerChart:
    """Draw how the loss of some options rises with what they hold, at the flow they are due at.

    Parameters
    ----------
    loadings : sequence of (OptionAnswer, Loading)
        Options on one pump.
    display : Display, optional
        Units to show.

    Returns
    -------
    altair.LayerChart
        A line an option, up to what the pump leaves for it.

    Raises
    ------
    NoAnswerError
        If none runs.
    """
    running = [(option, loading) for option, loading in loadings if len(loading.deposit_g) > 1]
    if not running:
        msg = "no option runs, so none fills"
        raise NoAnswerError(msg)
    rows: Rows = [
        {"line": option.name, "held": display.mass_of(held), "loss": display.pressure_of(loss)}
        for option, loading in running
        for held, loss in zip(loading.deposit_g, loading.loss_kpa, strict=True)
    ]
    names = [option.name for option, _ in running]
    left = running[0][1].left_kpa
    alike = all(abs(loading.left_kpa - left) <= 1e-6 * left for _, loading in running)
    rule = (
        (f"what the pump leaves, {number(display.pressure_of(left))} {display.pressure}", display.pressure_of(left))
        if alike
        else None
    )
    channels = lines_by_name(names, line_colours([option for option, _ in running]), rule)
    x = alt.X("held:Q", title=f"dirt held, dry, {display.mass}", axis=alt.Axis(grid=False))
    y = alt.Y("loss:Q", title=display.pressure, scale=alt.Scale(domainMin=0))
    tooltip = [
        alt.Tooltip("line:N", title="option"),
        alt.Tooltip("held:Q", title=display.mass, format=".2~r"),
        alt.Tooltip("loss:Q", title=display.pressure, format=".2~r"),
    ]
    layers = [
        alt.Chart(alt.InlineData(values=rows)).mark_line(strokeWidth=2).encode(x=x, y=y, **channels, tooltip=tooltip)
    ]
    if rule is not None:
        level = alt.Chart(alt.InlineData(values=[{"line": rule[0], "loss": rule[1]}]))
        layers.append(level.mark_rule(color=INK, strokeWidth=1.5).encode(y=y, **channels))
    flow = f"{number(display.flow_of(running[0][1].flow_l_per_h), 3)} {display.flow}"
    at = f"at {flow}, the flow when due" if alike else "each at its flow when due"
    words = Words(
        heading="Pressure taken as dirt gathers",
        under=f"{at}\ndue where the pump leaves no more",
        alt=loading_words(running, display),
    )
    return finished(layers, display, words)


def loading_words(loadings: Sequence[tuple[OptionAnswer, Loading]], display: Display = METRIC) -> str:
    """Return what the chart of loading says, for whoever cannot see it."""
    parts = [
        f"{option.name}: from {number(display.pressure_of(loading.loss_kpa[0]))} to "
        f"{number(display.pressure_of(loading.loss_kpa[-1]))} with {number(display.mass_of(loading.deposit_g[-1]))} "
        f"{display.mass} held"
        for option, loading in loadings
    ]
    return f"Pressure taken as dirt gathers, {display.pressure}. {few(parts)}."
