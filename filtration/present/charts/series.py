"""Two charts of single options over time: flow from new to replacement, and the loss as options load."""

from collections.abc import Sequence
from itertools import zip_longest

import altair as alt
import numpy as np

from filtration.answers.results import OptionAnswer
from filtration.answers.series import FlowRun, Loading
from filtration.present.charts import look
from filtration.present.charts.look import Rows, tip
from filtration.present.display import INK, METRIC, Display
from filtration.present.words.phrases import due, flow, number

CENTRAL, AFTER = "as assumed", "just after a service"
BAND = "band: 8 of 10 cases of how much dirt is brought in"
_SERVICES = {"rinse": ("rinse", "circle"), "soak": ("rinse and soak", "square"), "replace": ("replace", "diamond")}
_SIGNS = {"circle": "●", "square": "■", "diamond": "◆"}
_BAND_POINTS, _BAND_DAYS, _LEAST_BAND, _MOST_RUNS = 257, 181, 0.02, 16


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
        Its runs as assumed, and where bathers bring more or less dirt: a band lies between the two.
    wanted_l_per_h : float or None
        The least flow wanted [L/h].
    display : Display, optional
        Units to show.

    Raises
    ------
    NoAnswerError
        If it never runs.
    """
    look.needed(runs, f"{option.name} lacks the flow even when clean")
    crowded = len(runs) > _MOST_RUNS
    rows = _ends(runs, display) if crowded else _teeth(runs, display)
    services: Rows = [
        {"day": run.day[-1], "flow": display.flow_of(run.flow_l_per_h[-1]), "service": _SERVICES[run.ends_with][0]}
        for run in runs
    ]
    level, colours = (
        look.wanted(wanted_l_per_h, display),
        [display.colours[option.kind], display.second_colours[option.kind]],
    )
    band = [] if crowded else _band(dirtier, cleaner, display)
    x = alt.X("day:Q", title="day", axis=look.NO_GRID)
    y = alt.Y("flow:Q", title=display.flow, scale=look.flow_scale([*rows, *band], ("flow", "up to"), level))
    tooltip = [tip("day:Q", form=".0f"), tip("flow:Q", display.flow, ",.3~r")]
    line = look.layer(rows).mark_line(strokeWidth=2.2).encode(x=x, y=y, detail="run:N", tooltip=tooltip)
    names = [AFTER, look.DUE] if crowded else [CENTRAL]
    layers = look.with_level(line, look.lines_by_name(names, colours[: len(names)], level), level)
    if band:
        layers.insert(0, look.layer(band).mark_area(opacity=0.2, color=colours[0]).encode(x=x, y=y, y2="up to:Q"))
    done = [_SERVICES[what] for what in _SERVICES if any(run.ends_with == what for run in runs)]
    kinds, shapes = zip(*done, strict=True)
    shape = alt.Shape("service:N", legend=None).scale(domain=kinds, range=shapes)
    marks = look.layer(services).mark_point(filled=True, size=55, opacity=1, color=INK)
    layers.append(marks.encode(x=x, y=y, shape=shape, tooltip=["service:N", *tooltip]))
    signs = "   ".join(f"{_SIGNS[sign]} {name}" for name, sign in done)
    heading, under = f"Flow of {option.name}, new to replaced", f"{signs}\n{BAND}" if band else signs
    high, low = (number(display.flow_of(runs[0].flow_l_per_h[place]), 3) for place in (0, -1))
    description = (
        f"Flow of {option.name} over its life, {display.flow}: from {high} to {low} in {due(runs[0].day[-1])}, "
        f"{len(runs)} runs until it is replaced after {due(runs[-1].day[-1])}."
    )
    return look.finished(layers, display, heading, under, description, height_px=480)


def _teeth(runs: Sequence[FlowRun], display: Display) -> Rows:
    """Return the flow run by run."""
    return [
        {"line": CENTRAL, "run": place, "day": day, "flow": display.flow_of(flow)}
        for place, run in enumerate(runs)
        for day, flow in zip(run.day, run.flow_l_per_h, strict=True)
    ]


def _ends(runs: Sequence[FlowRun], display: Display) -> Rows:
    """Return the flow just after each service and when the next is due: of many runs an eye follows no more."""
    return [
        {"line": name, "run": name, "day": run.day[at], "flow": display.flow_of(run.flow_l_per_h[at])}
        for name, at in ((AFTER, 0), (look.DUE, -1))
        for run in runs
    ]


def _band(dirtier: Sequence[FlowRun], cleaner: Sequence[FlowRun], display: Display) -> Rows:
    """Return the lowest and highest flow by day: dirtier, a run reaches a flow first; none where too near to see."""
    if not dirtier or not cleaner:
        return []
    swept, end = [], min(dirtier[-1].day[-1], cleaner[-1].day[-1])
    for run, other in zip_longest(dirtier, cleaner):
        both = [each for each in (run, other) if each is not None]
        ends = min(each.flow_l_per_h[-1] for each in both), max(each.flow_l_per_h[0] for each in both)
        flow = np.linspace(*ends, _BAND_POINTS)
        reached = [np.interp(flow, each.flow_l_per_h[::-1], each.day[::-1]) for each in both]
        swept.append((flow, reached[0], reached[-1] if other is not None else np.full(flow.shape, end)))
    rows: Rows = []
    for day in np.linspace(0.0, end, _BAND_DAYS).tolist():
        there = np.concatenate([flow[(early <= day) & (day <= late)] for flow, early, late in swept])
        if there.size:
            low, high = display.flow_of(float(there.min())), display.flow_of(float(there.max()))
            rows.append({"day": day, "flow": low, "up to": high})
    widest = max((float(row["up to"]) - float(row["flow"]) for row in rows), default=0.0)
    return rows if widest > _LEAST_BAND * display.flow_of(cleaner[0].flow_l_per_h[0]) else []


def loading_chart(loadings: Sequence[tuple[OptionAnswer, Loading]], display: Display = METRIC) -> alt.LayerChart:
    """Draw how the loss of options on one pump rises with what they hold, at the flow they are due at.

    A line an option, up to what the pump leaves for it. Raises NoAnswerError if none runs.
    """
    running = [(option, loading) for option, loading in loadings if len(loading.deposit_g) > 1]
    first = look.needed(running, "no option runs, so none fills")[0][1]
    rows: Rows = [
        {"line": option.name, "held": display.mass_of(held), "loss": display.pressure_of(loss)}
        for option, loading in running
        for held, loss in zip(loading.deposit_g, loading.loss_kpa, strict=True)
    ]
    at, level, left = "each at its flow at rinse", None, display.pressure_of(first.left_kpa)
    if all(abs(loading.left_kpa - first.left_kpa) <= 1e-6 * first.left_kpa for _, loading in running):
        at = f"at {flow(first.flow_l_per_h, display)}, the flow at rinse"
        level = f"what the pump leaves, {number(left)} {display.pressure}", left
    options = [option for option, _ in running]
    channels = look.lines_by_name([option.name for option in options], look.line_colours(options, display), level)
    x = alt.X("held:Q", title=f"dirt held, dry, {display.mass}", axis=look.NO_GRID)
    y = alt.Y("loss:Q", title=f"pressure drop, {display.pressure}").scale(domainMin=0)
    tooltip = [tip("line:N", "option"), tip("held:Q", display.mass, ".2~r"), tip("loss:Q", display.pressure, ".2~r")]
    lines = look.layer(rows).mark_line(strokeWidth=2).encode(x=x, y=y, tooltip=tooltip)
    layers, heading = look.with_level(lines, channels, level), "Pressure drop as dirt gathers"
    under = f"{at}\nneeds rinsing where the pump leaves no more"
    parts = [
        f"{option.name}: from {number(display.pressure_of(loading.loss_kpa[0]))} to "
        f"{number(display.pressure_of(loading.loss_kpa[-1]))} with {number(display.mass_of(loading.deposit_g[-1]))} "
        f"{display.mass} held"
        for option, loading in running
    ]
    description = f"Pressure drop as dirt gathers, {display.pressure}. {look.few(parts)}."
    return look.finished(layers, display, heading, under, description, height_px=480)
