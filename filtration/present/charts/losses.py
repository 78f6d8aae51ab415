"""Two pictures of pressure and flow: what each filter takes, and what the pump has left."""

from collections.abc import Sequence

import altair as alt

from filtration.answers.results import Comparison, LoopCurve, OptionAnswer
from filtration.base.errors import NoAnswerError
from filtration.present.charts.look import (
    DUE,
    INK,
    LINE_PX2,
    METRIC,
    NEW,
    Display,
    Rows,
    Words,
    few,
    finished,
    known,
    lines_by_name,
    new_and_due,
    rule_at,
    wanted,
)
from filtration.present.words.phrases import KINDS, number, title

_SIDE_BY_SIDE = 1.13
_THOUSAND = 1000.0
_HOLLOW_FILLED = f"hollow: {NEW}; filled: {DUE}"
_FINER = tuple(10.0 ** (-step / 4.0) for step in range(1, 17))


def _with_pressure(comparison: Comparison) -> list[OptionAnswer]:
    """Return the options with pressures on the pump of the best one."""
    return [
        option
        for option in comparison.options
        if option.pump == comparison.spoken_of.pump and known(option.clean_filter_loss_kpa, option.due_filter_loss_kpa)
    ]


def _pressure_rows(options: Sequence[OptionAnswer], display: Display) -> Rows:
    rows: Rows = []
    for option in options:
        alike = [other.id for other in options if other.rating_um == option.rating_um]
        aside = alike.index(option.id) - 0.5 * (len(alike) - 1)
        rows += [
            {
                "id": option.id,
                "option": option.name,
                "kind": KINDS[option.kind],
                "rating_um": option.rating_um,
                "drawn_um": option.rating_um * _SIDE_BY_SIDE**aside,
                "state": state,
                "loss": display.pressure_of(loss or 0.0),
            }
            for state, loss in ((NEW, option.clean_filter_loss_kpa), (DUE, option.due_filter_loss_kpa))
        ]
    return rows


def pressure_chart(comparison: Comparison, display: Display = METRIC) -> alt.LayerChart:
    """Draw the pressure that each filter takes against its micron rating, new and when due.

    Parameters
    ----------
    comparison : Comparison
        The answer.
    display : Display, optional
        Units to show.

    Returns
    -------
    altair.LayerChart
        Options on the pump of the best one; those of one rating stand side by side.

    Raises
    ------
    NoAnswerError
        If no pump moves any water.
    """
    options = _with_pressure(comparison)
    if not options:
        msg = "no pump moves any water, so no filter takes any pressure"
        raise NoAnswerError(msg)
    ratings = sorted({option.rating_um for option in options})
    x = alt.X(
        "drawn_um:Q",
        scale=alt.Scale(type="log", domain=[0.7 * ratings[0], 1.45 * ratings[-1]], nice=False),
        axis=alt.Axis(values=ratings, format="~g", grid=False, labelOverlap="greedy"),
        title="micron rating, µm",
    )
    tooltip = [
        alt.Tooltip("option:N"),
        alt.Tooltip("state:N"),
        alt.Tooltip("rating_um:Q", title="µm", format="~g"),
        alt.Tooltip("loss:Q", title=display.pressure, format=".3~r"),
    ]
    rows, y = _pressure_rows(options, display), alt.Y("loss:Q", title=display.pressure)
    points = new_and_due(rows, options, x, y, tooltip)
    thin = alt.Chart(alt.InlineData(values=rows)).mark_line(strokeWidth=1, opacity=0.6)
    layers = [thin.encode(x=x, y=y, color=points[0].encoding.color, detail="id:N"), *points]
    on = f" on {options[0].pump}" if len(comparison.study.pumps) > 1 else ""
    heading = f"Pressure the filter takes{on}"
    words = Words(heading=heading, under=_HOLLOW_FILLED, alt=pressure_words(comparison, display))
    return finished(layers, display, words, columns=2)


def pressure_words(comparison: Comparison, display: Display = METRIC) -> str:
    """Return what the chart of pressures says, for whoever cannot see it."""
    parts = [
        f"{option.name}, {option.rating_um:g} µm: "
        f"{number(display.pressure_of(option.clean_filter_loss_kpa or 0.0))} new, "
        f"{number(display.pressure_of(option.due_filter_loss_kpa or 0.0))} when due"
        for option in _with_pressure(comparison)
    ]
    return f"Pressure the filter takes against its micron rating, {display.pressure}. {few(parts)}."


def without_pressure(comparison: Comparison) -> list[str]:
    """Return the options that have no pressure to draw."""
    return [
        title(option, comparison)
        for option in comparison.options
        if not known(option.clean_filter_loss_kpa, option.due_filter_loss_kpa)
    ]


def _with_flow(comparison: Comparison) -> list[OptionAnswer]:
    """Return the options whose resistance is a number above zero, new and when due."""
    return [
        option
        for option in comparison.options
        if known(option.clean_filter_loss_kpa, option.due_filter_loss_kpa, option.due_flow_l_per_h)
        and min(option.clean_flow_l_per_h, option.due_flow_l_per_h or 0.0) > 0.0
        and min(option.clean_filter_loss_kpa or 0.0, option.due_filter_loss_kpa or 0.0) > 0.0
    ]


def _resistance(kpa: float, litres_per_hour: float, display: Display) -> float:
    return _THOUSAND * display.pressure_of(kpa) / display.flow_of(litres_per_hour)


def _flow_rows(comparison: Comparison, options: Sequence[OptionAnswer], display: Display) -> Rows:
    return [
        {
            "id": option.id,
            "option": title(option, comparison),
            "kind": KINDS[option.kind],
            "state": state,
            "resistance": _resistance(loss or 0.0, flow or 0.0, display),
            "flow": display.flow_of(flow or 0.0),
        }
        for option in options
        for state, loss, flow in (
            (NEW, option.clean_filter_loss_kpa, option.clean_flow_l_per_h),
            (DUE, option.due_filter_loss_kpa, option.due_flow_l_per_h),
        )
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

    Parameters
    ----------
    comparison : Comparison
        The answer.
    display : Display, optional
        Units to show.

    Returns
    -------
    altair.LayerChart
        A curve a pump, that of one housing; options with more housings lie a little beside it.

    Raises
    ------
    NoAnswerError
        If no pump moves any water.
    """
    options = _with_flow(comparison)
    if not options:
        msg = "no pump moves any water through any filter"
        raise NoAnswerError(msg)
    rows = _flow_rows(comparison, options, display)
    resistances = [float(row["resistance"]) for row in rows]
    least, most = 0.5 * min(resistances), 2.0 * max(resistances)
    curves = [row for loop in comparison.loops for row in _curve_rows(loop, least, most, display)]
    rule = wanted(comparison, display)
    pumps = [loop.pump for loop in comparison.loops]
    in_free_corner = alt.Legend(orient="bottom-left", columns=1, symbolSize=LINE_PX2)
    lines = {"strokeDash": lines_by_name(pumps, [INK] * len(pumps), rule)["strokeDash"].legend(in_free_corner)}
    x = alt.X(
        "resistance:Q",
        scale=alt.Scale(type="log", domain=[least, most], nice=False),
        axis=alt.Axis(format="~g", grid=False, tickCount=5),
        title=f"filter resistance, {display.pressure} for each {_THOUSAND:,.0f} {display.flow}",
    )
    y = alt.Y("flow:Q", title=display.flow, scale=alt.Scale(domainMin=0))
    curve = alt.Chart(alt.InlineData(values=curves)).mark_line(color=INK, strokeWidth=2)
    layers = [curve.encode(x=x, y=y, **lines)]
    layers += [rule_at(rule, y, lines)] if rule else []
    tooltip = [
        alt.Tooltip("option:N"),
        alt.Tooltip("state:N"),
        alt.Tooltip("flow:Q", title=display.flow, format=",.0f"),
    ]
    layers += new_and_due(rows, options, x, y, tooltip)
    words = Words(heading="Flow the pump has left", under=_HOLLOW_FILLED, alt=flow_words(comparison, display))
    return finished(layers, display, words, columns=2)


def flow_words(comparison: Comparison, display: Display = METRIC) -> str:
    """Return what the chart of flows says, for whoever cannot see it."""
    parts = [
        f"{title(option, comparison)}: {number(display.flow_of(option.clean_flow_l_per_h), 3)} new, "
        f"{number(display.flow_of(option.due_flow_l_per_h or 0.0), 3)} when due"
        for option in _with_flow(comparison)
    ]
    rule = wanted(comparison, display)
    end = f" A level line marks the flow {rule[0]}." if rule else ""
    return f"Flow left against the filter's resistance, {display.flow}. {few(parts)}.{end}"


def without_flow(comparison: Comparison) -> list[str]:
    """Return the options that have no resistance to draw."""
    drawn = {option.id for option in _with_flow(comparison)}
    return [title(option, comparison) for option in comparison.options if option.id not in drawn]
