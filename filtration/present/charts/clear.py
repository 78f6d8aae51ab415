"""Charts of clear water: the view over a water's life, what is caught by size, and older water or finer filter."""

from collections.abc import Sequence

import altair as alt

from filtration.answers.clearness import CatchBySize, Clearness
from filtration.answers.results import OptionAnswer
from filtration.base.defaults import model
from filtration.present.charts import look
from filtration.present.charts.look import Rows, tip
from filtration.present.display import METRIC, Display
from filtration.present.words.pages import CRISP_DEPTHS, VERDICTS, verdict
from filtration.present.words.phrases import distance, number

BEFORE, AFTER = "just before a session", "just after a session"
SIZES = (("germs", 0.5, 5.0), ("fine dust", 2.0, 40.0), ("skin flakes", 15.0, 100.0), ("hair", 50.0, 120.0))
"""Common orders of magnitude [µm]: bacteria, settled dust, flakes of skin, the width of a hair."""
_FEWEST = 0.05
_BROWN = "#8a6d3b"
_MOST_SAID_M = model("optics.most_said")
_HEIGHT_PX = 440


def _seen(view_m: float, display: Display) -> float:
    """Return a view in the unit shown, no farther than is ever said."""
    return display.length_of(min(view_m, _MOST_SAID_M))


def _at_most(rows: Rows, display: Display) -> str:
    """Return why lines are flat on top, where they are."""
    far = display.length_of(_MOST_SAID_M)
    flat = any(float(row["seen"]) >= far for row in rows)
    return f"\nflat on top: {number(far)} {display.length} or more" if flat else ""


def view_chart(option: OptionAnswer, clearness: Clearness, depth_m: float, display: Display = METRIC) -> alt.LayerChart:
    """Draw how far you see before and after each session of a water's life, in water of some depth [m].

    Two lines, over fields in which the bottom is gone, soft and crisp.
    """
    rows: Rows = [
        {"line": name, "day": day, "seen": _seen(view, display)}
        for name, views in ((BEFORE, clearness.before_m), (AFTER, clearness.after_m))
        for day, view in zip(clearness.day, views, strict=True)
    ]
    bottom, crisp = display.length_of(depth_m), display.length_of(CRISP_DEPTHS * depth_m)
    top = max(display.length_of(CRISP_DEPTHS * depth_m * 1.25), *(_seen(view, display) for view in clearness.before_m))
    zones: Rows = [
        {"low": 0.0, "high": bottom, "says": VERDICTS["gone"], "shade": 0.22},
        {"low": bottom, "high": crisp, "says": VERDICTS["soft"], "shade": 0.1},
        {"low": crisp, "high": top, "says": VERDICTS["crisp"], "shade": 0.0},
    ]
    scale, ink, on_zones = alt.Scale(domain=[0.0, top], nice=False), display.letters, look.layer(zones)
    x = alt.X("day:Q", title="days since the water was changed", axis=look.NO_GRID).scale(zero=True)
    y, low = alt.Y("seen:Q", title=f"visibility, {display.length}", scale=scale), alt.Y("low:Q", scale=scale)
    tooltip = [tip("line:N", "when"), tip("day:Q", form=".1f"), tip("seen:Q", display.length, ".2~r")]
    channels = look.lines_by_name([BEFORE, AFTER], [display.colours["pleated"], display.colours["spun"]])
    shade = alt.Opacity("shade:Q", scale=None, legend=None)
    verdicts = on_zones.mark_text(align="left", baseline="bottom", dx=4, dy=-3, fontSize=12, color=ink)
    layers = [
        on_zones.mark_rect(color=_BROWN).encode(y=low, y2="high:Q", opacity=shade),
        on_zones.mark_rule(color=ink, opacity=0.4, strokeDash=[2, 3]).encode(y=low),
        look.layer(rows).mark_line(strokeWidth=2.2).encode(x=x, y=y, **channels, tooltip=tooltip),
        verdicts.encode(x=alt.value(0), y=low, text="says:N"),
    ]
    heading = "Visibility, from one water change to the next"
    under = f"with {option.name}, new or due for service, whichever is worse" + _at_most(rows, display)
    first, last = (distance(clearness.after_m[place], display) for place in (0, -1))
    said = VERDICTS[verdict(clearness.after_m[-1], depth_m)]
    description = f"Visibility with {option.name}: {first} after the first session, {last} after the last ({said})."
    return look.finished(layers, display, heading, under, description, height_px=_HEIGHT_PX)


def catch_chart(option: OptionAnswer, caught: CatchBySize, display: Display = METRIC) -> alt.LayerChart:
    """Draw what share of each size of dirt an option catches in one pass, with what is of that size marked."""
    rows: Rows = [
        {"line": name, "size": size, "share": 100.0 * share}
        for name, shares in ((look.NEW, caught.new), (look.DUE, caught.due))
        for size, share in zip(caught.diameter_um, shares, strict=True)
    ]
    marks: Rows = [
        {"says": says, "from": low, "to": high, "middle": (low * high) ** 0.5, "up": 106.0 + 20.0 * (place % 2)}
        for place, (says, low, high) in enumerate(SIZES)
    ]
    x_scale = alt.Scale(type="log", domain=[0.5, 2000.0], nice=False)
    y_scale = alt.Scale(domain=[0.0, 144.0], nice=False)
    x = alt.X("size:Q", title="size, µm (a thousandth of a millimetre)", scale=x_scale)
    x = x.axis(grid=False, values=[1, 10, 100, 1000], format="~g")
    y = alt.Y("share:Q", title="caught in one pass, %", scale=y_scale).axis(values=[0, 25, 50, 75, 100])
    up, ink = alt.Y("up:Q", scale=y_scale), display.letters
    tooltip = [tip("line:N", "cartridge"), tip("size:Q", "µm", ".2~r"), tip("share:Q", "%", ".2~r")]
    channels = look.lines_by_name([look.NEW, look.DUE], [display.colours[option.kind], _BROWN])
    on_marks = look.layer(marks)
    spans = on_marks.mark_rule(color=ink, strokeWidth=5, opacity=0.35)
    names = on_marks.mark_text(color=ink, fontSize=12, baseline="bottom", dy=-4)
    rating = look.layer([{"size": option.rating_um}]).mark_rule(color=ink, strokeDash=[2, 3])
    layers = [
        spans.encode(x=alt.X("from:Q", scale=x_scale), x2="to:Q", y=up),
        names.encode(x=alt.X("middle:Q", scale=x_scale), y=up, text="says:N"),
        rating.encode(x=x, y=alt.datum(0.0, scale=y_scale), y2=alt.datum(100.0)),
        look.layer(rows).mark_line(strokeWidth=2.2).encode(x=x, y=y, **channels, tooltip=tooltip),
    ]
    heading = "What it catches, by size"
    under = f"{option.name}, one pass; upright: its rating\ngerms pass: clear is not clean"
    return look.finished(layers, display, heading, under, _catch_words(option, caught), height_px=_HEIGHT_PX)


def _catch_words(option: OptionAnswer, caught: CatchBySize) -> str:
    """Return what the chart of the catch says, for whoever cannot see it."""
    parts = []
    for says, low, high in SIZES:
        middle = (low * high) ** 0.5
        share = min(zip(caught.diameter_um, caught.new, strict=True), key=lambda each: abs(each[0] - middle))[1]
        text = "fewer than 5 %" if share < _FEWEST else f"about {number(100.0 * share, 2)} %"
        parts.append(f"{says} ({low:g} to {high:g} µm): {text}")
    return f"Share that {option.name} catches in one pass when new. {look.few(parts)}."


def lives_chart(
    options: Sequence[OptionAnswer],
    life_days: Sequence[float],
    views_m: Sequence[Sequence[float]],
    present_days: float,
    wanted_m: float,
    display: Display = METRIC,
) -> alt.LayerChart:
    """Draw how far you see at the end of waters of several lives, behind several filters.

    Parameters
    ----------
    options : sequence of OptionAnswer
        The filters, a line each.
    life_days : sequence of float
        Days between water changes.
    views_m : sequence of sequence of float
        See-through after the last session by option [m].
    present_days : float
        Days between water changes now, marked by an upright.
    wanted_m : float
        The view wanted [m].
    display : Display, optional
        Units to show.
    """
    rows: Rows = [
        {"line": option.name, "days": life, "seen": _seen(view, display)}
        for option, views in zip(options, views_m, strict=True)
        for life, view in zip(life_days, views, strict=True)
    ]
    level = f"wanted, {distance(wanted_m, display)}", display.length_of(wanted_m)
    channels = look.lines_by_name([option.name for option in options], look.line_colours(options, display), level)
    x = alt.X("days:Q", title="days between water changes", axis=look.NO_GRID).scale(zero=True)
    y = alt.Y("seen:Q", title=f"visibility, {display.length}").scale(domainMin=0.0)
    tooltip = [tip("line:N", "option"), tip("days:Q", form=".0f"), tip("seen:Q", display.length, ".2~r")]
    lines = look.layer(rows).mark_line(strokeWidth=2).encode(x=x, y=y, tooltip=tooltip)
    now = look.upright({"days": present_days, "says": "now"}, x, display)
    layers, heading = [*now, *look.with_level(lines, channels, level)], "Change the water more often, or filter finer"
    under = "just after the last session before a change" + _at_most(rows, display)
    parts = [
        f"{option.name}: {distance(views[0], display)} after {number(life_days[0])} days, "
        f"{distance(views[-1], display)} after {number(life_days[-1])}"
        for option, views in zip(options, views_m, strict=True)
    ]
    description = f"Visibility by days between water changes. {look.few(parts)}."
    return look.finished(layers, display, heading, under, description, height_px=_HEIGHT_PX)
