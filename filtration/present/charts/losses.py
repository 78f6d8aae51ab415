"""Two charts of pressure and flow: what each filter takes, and what the pump has left."""

from collections.abc import Sequence

import altair as alt

from filtration.answers.results import Comparison, LoopCurve, OptionAnswer
from filtration.present.charts import look
from filtration.present.charts.look import DUE, NEW, Row, Rows, tip
from filtration.present.display import INK, METRIC, Display
from filtration.present.words.phrases import KINDS, number, title

_THOUSAND = 1000.0
_HOLLOW_FILLED = f"hollow: {NEW}; filled: {DUE}"
_FINER = tuple(10.0 ** (-step / 4.0) for step in range(1, 17))


def with_pressure(comparison: Comparison) -> list[OptionAnswer]:
    """Return the options that have a pressure, new and when due."""
    return [each for each in comparison.options if look.known(each.clean_filter_loss_kpa, each.due_filter_loss_kpa)]


def _on_one_pump(comparison: Comparison) -> list[OptionAnswer]:
    return [option for option in with_pressure(comparison) if option.pump == comparison.spoken_of.pump]


def _states(option: OptionAnswer) -> list[tuple[str, float, float]]:
    """Return name, pressure [kPa] and flow [L/h] of an option that has them, new and when due."""
    return [
        (NEW, option.clean_filter_loss_kpa or 0.0, option.clean_flow_l_per_h),
        (DUE, option.due_filter_loss_kpa or 0.0, option.due_flow_l_per_h or 0.0),
    ]


def _both(values: Sequence[float], digits: int = 2) -> str:
    return ", ".join(f"{number(value, digits)} {state}" for value, state in zip(values, (NEW, DUE), strict=True))


def _pressure_rows(options: Sequence[OptionAnswer], display: Display) -> Rows:
    rows: Rows = []
    for option in options:
        point: Row = {"id": option.id, "option": option.name, "kind": KINDS[option.kind], "rating_um": option.rating_um}
        rows += [point | {"state": state, "loss": display.pressure_of(loss)} for state, loss, _ in _states(option)]
    return rows


def pressure_chart(comparison: Comparison, display: Display = METRIC) -> alt.LayerChart:
    """Draw the pressure that each filter on the best one's pump takes against its micron rating, new and when due.

    Raises NoAnswerError if no pump moves any water.
    """
    options = look.needed(_on_one_pump(comparison), "no pump moves any water, so no filter has a pressure drop")
    ratings = sorted({option.rating_um for option in options})
    x = alt.X("rating_um:Q", title="micron rating, µm")
    x = x.scale(type="log", domain=[0.7 * ratings[0], 1.45 * ratings[-1]], nice=False)
    x = x.axis(values=ratings, format="~g", grid=False, labelOverlap="greedy")
    y = alt.Y("loss:Q", title=f"pressure drop, {display.pressure}")
    tooltip = ["option:N", "state:N", tip("rating_um:Q", "µm", "~g"), tip("loss:Q", display.pressure, ".3~r")]
    rows = _pressure_rows(options, display)
    points = look.new_and_due(rows, x, y, tooltip, display)
    thin = look.layer(rows).mark_line(strokeWidth=1, opacity=0.6)
    layers = [thin.encode(x=x, y=y, color=points[0].encoding.color, detail="id:N"), *points]
    heading = "Pressure drop of the filter (head lost in it)" + (
        f" on {options[0].pump}" if len(comparison.study.pumps) > 1 else ""
    )
    return look.finished(layers, display, heading, _HOLLOW_FILLED, pressure_words(comparison, display), columns=2)


def pressure_words(comparison: Comparison, display: Display = METRIC) -> str:
    """Return what the chart of pressures says, for whoever cannot see it."""
    parts = [
        f"{option.name}, {option.rating_um:g} µm: "
        + _both([display.pressure_of(loss) for _, loss, _ in _states(option)])
        for option in _on_one_pump(comparison)
    ]
    return f"Pressure drop of the filter against its micron rating, {display.pressure}. {look.few(parts)}."


def with_flow(comparison: Comparison) -> list[OptionAnswer]:
    """Return the options whose resistance is a number above zero, new and when due."""
    return [
        option
        for option in with_pressure(comparison)
        if look.known(option.due_flow_l_per_h) and all(loss > 0.0 and flow > 0.0 for _, loss, flow in _states(option))
    ]


def _resistance(kpa: float, litres_per_hour: float, display: Display) -> float:
    return _THOUSAND * display.pressure_of(kpa) / display.flow_of(litres_per_hour)


def _flow_rows(comparison: Comparison, display: Display) -> Rows:
    return [
        {
            "id": option.id,
            "option": title(option, comparison),
            "kind": KINDS[option.kind],
            "state": state,
            "resistance": _resistance(loss, flow, display),
            "flow": display.flow_of(flow),
        }
        for option in with_flow(comparison)
        for state, loss, flow in _states(option)
    ]


def _curve_rows(loop: LoopCurve, least: float, most: float, display: Display) -> Rows:
    """Return a pump's curve; its last stretch is cut finer, as a log scale shows it wide."""
    flows, left = loop.flow_l_per_h, loop.left_kpa
    nodes = list(zip(flows[1:-1], left[1:-1], strict=True))
    nodes += [(flows[-1] - share * (flows[-1] - flows[-2]), share * left[-2]) for share in _FINER]
    return [
        {"line": loop.pump, "resistance": resistance, "flow": display.flow_of(flow)}
        for flow, kpa in nodes
        if flow > 0.0 and least <= (resistance := _resistance(kpa, flow, display)) <= most
    ]


def flow_chart(comparison: Comparison, display: Display = METRIC) -> alt.LayerChart:
    """Draw the flow that each pump has left against the filter's resistance, with the options on it.

    The curve is that of one housing; options with more housings lie a little beside it. Raises NoAnswerError if no
    pump moves any water.
    """
    rows = look.needed(_flow_rows(comparison, display), "no pump moves any water through any filter")
    resistances = [float(row["resistance"]) for row in rows]
    least, most = 0.5 * min(resistances), 2.0 * max(resistances)
    curves = [row for loop in comparison.loops for row in _curve_rows(loop, least, most, display)]
    level, pumps = look.wanted(comparison.wanted_flow_l_per_h, display), [loop.pump for loop in comparison.loops]
    dash = look.lines_by_name(pumps, [INK] * len(pumps), level)["strokeDash"]
    in_free_corner = {"strokeDash": dash.legend(orient="bottom-left", columns=1, symbolSize=look.LINE_PX2)}
    x = alt.X("resistance:Q", title=f"filter resistance, {display.pressure} for each {_THOUSAND:,.0f} {display.flow}")
    x = x.scale(type="log", domain=[least, most], nice=False).axis(format="~g", grid=False, tickCount=5)
    y = alt.Y("flow:Q", title=f"flow, {display.flow}").scale(domainMin=0)
    curve = look.layer(curves).mark_line(color=INK, strokeWidth=2).encode(x=x, y=y)
    points = look.new_and_due(rows, x, y, ["option:N", "state:N", tip("flow:Q", display.flow, ",.0f")], display)
    layers, heading = [*look.with_level(curve, in_free_corner, level), *points], "Flow the pump has left"
    return look.finished(layers, display, heading, _HOLLOW_FILLED, flow_words(comparison, display), columns=2)


def flow_words(comparison: Comparison, display: Display = METRIC) -> str:
    """Return what the chart of flows says, for whoever cannot see it."""
    parts = [
        f"{title(option, comparison)}: {_both([display.flow_of(flow) for _, _, flow in _states(option)], 3)}"
        for option in with_flow(comparison)
    ]
    level = look.wanted(comparison.wanted_flow_l_per_h, display)
    end = f" A level line marks the flow {level[0]}." if level else ""
    return f"Flow left against the filter's resistance, {display.flow}. {look.few(parts)}.{end}"
