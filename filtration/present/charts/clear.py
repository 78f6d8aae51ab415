"""Pictures of clear water: the view over a water's life, what is caught by size, and older water or finer filter."""

from collections.abc import Sequence

import altair as alt

from filtration.answers.clearness import CatchBySize, Clearness
from filtration.answers.results import OptionAnswer
from filtration.base.defaults import model
from filtration.present.charts.look import (
    COLOURS,
    INK,
    METRIC,
    Display,
    Rows,
    Words,
    few,
    finished,
    line_colours,
    lines_by_name,
)
from filtration.present.words.pages import CRISP_DEPTHS, VERDICTS, verdict
from filtration.present.words.phrases import distance, number

BEFORE, AFTER = "just before a session", "just after a session"
SIZES = (("germs", 0.5, 5.0), ("fine dust", 2.0, 40.0), ("skin flakes", 15.0, 100.0), ("hair", 50.0, 120.0))
"""Common orders of magnitude [µm]: bacteria, settled dust, flakes of skin, the width of a hair."""
_FEWEST, _ALL = 0.05, 100.0


def view_chart(option: OptionAnswer, clearness: Clearness, depth_m: float, display: Display = METRIC) -> alt.LayerChart:
    """Draw how far one sees before and after each session of a water's life.

    Parameters
    ----------
    option : OptionAnswer
        The option.
    clearness : Clearness
        See-through over the water's life.
    depth_m : float
        Depth of the water [m].
    display : Display, optional
        Units to show.

    Returns
    -------
    altair.LayerChart
        Two lines, over fields in which the bottom is gone, soft and crisp.
    """
    far = model("optics.most_said")
    rows: Rows = [
        {"line": name, "day": day, "seen": display.length_of(min(seen, far))}
        for name, every in ((BEFORE, clearness.before_m), (AFTER, clearness.after_m))
        for day, seen in zip(clearness.day, every, strict=True)
    ]
    top = display.length_of(max(CRISP_DEPTHS * depth_m * 1.25, *(min(seen, far) for seen in clearness.before_m)))
    bottom, crisp = display.length_of(depth_m), display.length_of(CRISP_DEPTHS * depth_m)
    zones: Rows = [
        {"low": 0.0, "high": bottom, "says": VERDICTS["gone"], "shade": 0.22},
        {"low": bottom, "high": crisp, "says": VERDICTS["soft"], "shade": 0.1},
        {"low": crisp, "high": top, "says": VERDICTS["crisp"], "shade": 0.0},
    ]
    ink = display.ink or INK
    y_scale = alt.Scale(domain=[0.0, top], nice=False)
    on_zones = alt.Chart(alt.InlineData(values=zones))
    channels = lines_by_name([BEFORE, AFTER], ["#2b80bd", "#d2601a"], None)
    x = alt.X("day:Q", title="days since the water was changed", axis=alt.Axis(grid=False), scale=alt.Scale(zero=True))
    y = alt.Y("seen:Q", title=f"one sees, {display.length}", scale=y_scale)
    tooltip = [
        alt.Tooltip("line:N", title="when"),
        alt.Tooltip("day:Q", format=".1f"),
        alt.Tooltip("seen:Q", title=display.length, format=".2~r"),
    ]
    lines = alt.Chart(alt.InlineData(values=rows))
    layers = [
        on_zones.mark_rect(color="#8a6d3b").encode(
            y=alt.Y("low:Q", scale=y_scale), y2="high:Q", opacity=alt.Opacity("shade:Q", scale=None, legend=None)
        ),
        on_zones.mark_rule(color=ink, opacity=0.4, strokeDash=[2, 3]).encode(y=alt.Y("low:Q", scale=y_scale)),
        lines.mark_line(strokeWidth=2.2).encode(x=x, y=y, **channels, tooltip=tooltip),
        on_zones.mark_text(align="left", baseline="bottom", dx=4, dy=-3, fontSize=12, color=ink).encode(
            x=alt.value(0), y=alt.Y("low:Q", scale=y_scale), text="says:N"
        ),
    ]
    words = Words(
        heading="How far one sees, from one water to the next",
        under=f"with {option.name}, new or due, whichever is worse" + _at_most(rows, display),
        alt=view_words(option, clearness, depth_m, display),
    )
    return finished(layers, display, words, height_px=440)


def _at_most(rows: Rows, display: Display) -> str:
    """Return why lines are flat on top, where they are."""
    far = display.length_of(model("optics.most_said"))
    if all(float(row["seen"]) < far for row in rows):
        return ""
    return f"\nflat on top: {number(far)} {display.length} or more"


def view_words(option: OptionAnswer, clearness: Clearness, depth_m: float, display: Display = METRIC) -> str:
    """Return what the chart of the view says, for whoever cannot see it."""
    first, last = clearness.after_m[0], clearness.after_m[-1]
    return (
        f"How far one sees with {option.name}: {distance(first, display)} after the first session, "
        f"{distance(last, display)} after the last ({VERDICTS[verdict(last, depth_m)]})."
    )


def catch_chart(option: OptionAnswer, caught: CatchBySize, display: Display = METRIC) -> alt.LayerChart:
    """Draw what share of each size of dirt an option catches in one pass.

    Parameters
    ----------
    option : OptionAnswer
        The option.
    caught : CatchBySize
        Shares by size.
    display : Display, optional
        Colour of letters.

    Returns
    -------
    altair.LayerChart
        Two lines over size, with what is of that size marked.
    """
    rows: Rows = [
        {"line": name, "size": size, "share": 100.0 * share}
        for name, every in (("new", caught.new), ("when due", caught.due))
        for size, share in zip(caught.diameter_um, every, strict=True)
    ]
    ink = display.ink or INK
    marks: Rows = [
        {"says": says, "from": low, "to": high, "middle": (low * high) ** 0.5, "up": 106.0 + 20.0 * (place % 2)}
        for place, (says, low, high) in enumerate(SIZES)
    ]
    x_scale = alt.Scale(type="log", domain=[0.5, 2000.0], nice=False)
    y_scale = alt.Scale(domain=[0.0, 144.0], nice=False)
    axis = alt.Axis(grid=False, values=[1, 10, 100, 1000], format="~g")
    x = alt.X("size:Q", title="size, µm (a thousandth of a millimetre)", scale=x_scale, axis=axis)
    y = alt.Y("share:Q", title="caught in one pass, %", scale=y_scale, axis=alt.Axis(values=[0, 25, 50, 75, 100]))
    tooltip = [
        alt.Tooltip("line:N", title="element"),
        alt.Tooltip("size:Q", title="µm", format=".2~r"),
        alt.Tooltip("share:Q", title="%", format=".2~r"),
    ]
    channels = lines_by_name(["new", "when due"], [COLOURS[option.kind], "#8a6d3b"], None)
    on_marks = alt.Chart(alt.InlineData(values=marks))
    rating = alt.Chart(alt.InlineData(values=[{"size": option.rating_um}]))
    layers = [
        on_marks.mark_rule(color=ink, strokeWidth=5, opacity=0.35).encode(
            x=alt.X("from:Q", scale=x_scale), x2="to:Q", y=alt.Y("up:Q", scale=y_scale)
        ),
        on_marks.mark_text(fontSize=12, color=ink, baseline="bottom", dy=-4).encode(
            x=alt.X("middle:Q", scale=x_scale), y=alt.Y("up:Q", scale=y_scale), text="says:N"
        ),
        rating.mark_rule(color=ink, strokeDash=[2, 3]).encode(x=x, y=alt.datum(0.0, scale=y_scale), y2=alt.datum(_ALL)),
        alt.Chart(alt.InlineData(values=rows)).mark_line(strokeWidth=2.2).encode(x=x, y=y, **channels, tooltip=tooltip),
    ]
    words = Words(
        heading="What it catches, by size",
        under=f"{option.name}, one pass; upright: its rating\ngerms pass: clear is not clean",
        alt=catch_words(option, caught),
    )
    return finished(layers, display, words, height_px=440)


def catch_words(option: OptionAnswer, caught: CatchBySize) -> str:
    """Return what the chart of the catch says, for whoever cannot see it."""
    parts = []
    for says, low, high in SIZES:
        middle = (low * high) ** 0.5
        at = min(range(len(caught.diameter_um)), key=lambda place: abs(caught.diameter_um[place] - middle))
        share = caught.new[at]
        text = "fewer than 5 %" if share < _FEWEST else f"about {number(100.0 * share, 2)} %"
        parts.append(f"{says} ({low:g} to {high:g} µm): {text}")
    return f"Share that {option.name} catches in one pass when new. {few(parts)}."


def lives_chart(
    options: Sequence[OptionAnswer],
    life_days: Sequence[float],
    views_m: Sequence[Sequence[float]],
    present_days: float,
    wanted_m: float,
    display: Display = METRIC,
) -> alt.LayerChart:
    """Draw how far one sees at the end of waters of several lives, behind several filters.

    Parameters
    ----------
    options : sequence of OptionAnswer
        The filters.
    life_days : sequence of float
        Days between water changes.
    views_m : sequence of sequence of float
        See-through after the last session by option [m].
    present_days : float
        Days between water changes now.
    wanted_m : float
        The view wanted [m].
    display : Display, optional
        Units to show.

    Returns
    -------
    altair.LayerChart
        A line a filter, the wanted view level, the present water life upright.
    """
    far = model("optics.most_said")
    rows: Rows = [
        {"line": option.name, "days": life, "seen": display.length_of(min(seen, far))}
        for option, views in zip(options, views_m, strict=True)
        for life, seen in zip(life_days, views, strict=True)
    ]
    names = [option.name for option in options]
    rule = f"wanted, {distance(wanted_m, display)}", display.length_of(wanted_m)
    channels = lines_by_name(names, line_colours(options), rule)
    x = alt.X("days:Q", title="days between water changes", axis=alt.Axis(grid=False), scale=alt.Scale(zero=True))
    y = alt.Y("seen:Q", title=f"one sees, {display.length}", scale=alt.Scale(domainMin=0.0))
    tooltip = [
        alt.Tooltip("line:N", title="option"),
        alt.Tooltip("days:Q", format=".0f"),
        alt.Tooltip("seen:Q", title=display.length, format=".2~r"),
    ]
    ink = display.ink or INK
    now = alt.Chart(alt.InlineData(values=[{"days": present_days, "says": "now"}]))
    level = alt.Chart(alt.InlineData(values=[{"line": rule[0], "seen": rule[1]}]))
    layers = [
        now.mark_rule(color=ink, opacity=0.6).encode(x=x),
        now.mark_text(color=ink, align="left", dx=5, fontSize=12, baseline="top").encode(
            x=x, y=alt.value(2), text="says:N"
        ),
        alt.Chart(alt.InlineData(values=rows)).mark_line(strokeWidth=2).encode(x=x, y=y, **channels, tooltip=tooltip),
        level.mark_rule(color=INK, strokeWidth=1.5).encode(y=y, **channels),
    ]
    words = Words(
        heading="Change the water more often, or filter finer",
        under="just after the last session before a change" + _at_most(rows, display),
        alt=lives_words(options, life_days, views_m, display),
    )
    return finished(layers, display, words, height_px=440)


def lives_words(
    options: Sequence[OptionAnswer],
    life_days: Sequence[float],
    views_m: Sequence[Sequence[float]],
    display: Display = METRIC,
) -> str:
    """Return what the chart of water lives says, for whoever cannot see it."""
    parts = [
        f"{option.name}: {distance(views[0], display)} after {number(life_days[0])} days, "
        f"{distance(views[-1], display)} after {number(life_days[-1])}"
        for option, views in zip(options, views_m, strict=True)
    ]
    return f"How far one sees by days between water changes. {few(parts)}."
