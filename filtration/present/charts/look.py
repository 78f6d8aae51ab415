"""The look that all charts share: units shown, layers, colours with a shape or a dash of their own, legends below."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import cycle, islice
from math import isfinite
from typing import Any, TypeGuard, TypeVar

import altair as alt

from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.errors import NoAnswerError
from filtration.present.display import COLOURS, INK, Display
from filtration.present.words.phrases import KINDS, flow

Row = dict[str, float | str]
Rows = list[Row]
Level = tuple[str, float]
"""Name and height of a level line."""
Found = TypeVar("Found")

FONT = "Source Sans, Arial, sans-serif"
NEW, DUE = "new", "at rinse"
_SHAPES = {"pleated": "circle", "spun": "square", "wound": "triangle-down", "foam": "triangle-up", "train": "diamond"}
NO_GRID = alt.Axis(grid=False)
UNHEARD = alt.MarkConfig(aria=False)
"""Marks are not read out one by one, with all their digits: what a chart says stands in its description."""
ABOVE: Mapping[str, Any] = {
    "labelAlign": "left",
    "labelOffset": -11,
    "labelPadding": -2,
    "maxExtent": 0,
    "labelLimit": 500,
    "labelOverlap": False,
    "ticks": False,
    "domain": False,
}
"""An axis whose names stand above their bars."""
NAMED_ABOVE = alt.Y("option:N", sort=None, title=None).axis(**ABOVE)
"""Rows of bars, each below its name."""
BAR_DOWN_PX, BAR_ROOM_PX = 8, 42
LINE_PX2 = 350
_DASHES, _LEVEL_DASH = ([1, 0], [6, 3], [2, 2], [7, 2, 2, 2]), [4, 4]
_HEIGHT_PX, _LEAST_PX, _MOST_TOLD, _LINES = 420, 400, 6, 4


def known(value: float | None, *others: float | None) -> TypeGuard[float]:
    """Return whether all values are there and finite."""
    return all(each is not None and isfinite(each) for each in (value, *others))


def needed(found: Sequence[Found], why_none: str) -> Sequence[Found]:
    """Return what a chart is drawn from, or raise NoAnswerError where there is nothing to draw."""
    if not found:
        raise NoAnswerError(why_none)
    return found


def few(parts: Sequence[str]) -> str:
    """Return the first few parts of a sentence and how many more there are."""
    more = [f"and {len(parts) - _MOST_TOLD} more"] if len(parts) > _MOST_TOLD else []
    return "; ".join([*parts[:_MOST_TOLD], *more])


def a_few(answer: Comparison) -> list[OptionAnswer]:
    """Return the options that charts of a few show, in the answer's order.

    The one to take, the best of each kind and the finest, all on its pump, four at most.
    """
    running = [each for each in answer.options if each.events and each.pump == answer.spoken_of.pump]
    best = {each.kind: each for each in reversed(running)}
    finest = sorted(running, key=lambda each: each.rating_um)[:1]
    taken = [each for each in running if each is answer.spoken_of]
    ids = list(dict.fromkeys(each.id for each in (*taken, *best.values(), *finest)))[:_LINES]
    return [each for each in running if each.id in ids]


def layer(rows: Sequence[Row]) -> alt.Chart:
    """Return a layer on some rows, to be given marks."""
    return alt.Chart(alt.InlineData(values=list(rows)))


def tip(field: str, name: str | None = None, form: str | None = None) -> alt.Tooltip:
    """Return a line of a tooltip: a field, its name where it has another, and how it is written."""
    return alt.Tooltip(field, title=name or alt.Undefined, format=form or alt.Undefined)


def finished(
    layers: Sequence[alt.Chart],
    display: Display,
    heading: str,
    under: str,
    description: str,
    *,
    height_px: int = _HEIGHT_PX,
    columns: int = 1,
) -> alt.LayerChart:
    """Put layers, hindmost first, together in one look, as wide as their place.

    Parameters
    ----------
    layers : sequence of altair.Chart
        The layers, hindmost first.
    display : Display
        Colour of letters.
    heading, under, description : str
        Title, how to read the chart in a line or two, and what it says for whoever cannot see it.
    height_px : int, optional
        Height with title and legend.
    columns : int, optional
        Columns of the legend.
    """
    ink = display.letters
    legend = alt.LegendConfig(
        orient="bottom", symbolOpacity=1, columns=columns, labelLimit=300, title=None, labelColor=ink, aria=False
    )
    axis = alt.AxisConfig(labelColor=ink, titleColor=ink, aria=False)
    config = alt.Config(font=FONT, axis=axis, legend=legend, mark=UNHEARD, view=alt.ViewConfig(stroke=None))
    title = alt.TitleParams(heading, subtitle=under.splitlines(), anchor="start", fontSize=16, color=ink)
    title.subtitleFontSize, title.subtitleColor = 13, ink
    return alt.LayerChart(
        layer=list(layers), title=title, description=description, height=height_px, width="container", config=config
    )


def tall_px(rows_px: float, rest_px: int) -> int:
    """Return the height of a chart whose rows take some room, and title, axis and legend the rest."""
    return max(_LEAST_PX, round(rows_px) + rest_px)


def kinds_in(rows: Sequence[Row]) -> list[str]:
    """Return the kinds of element in some rows, in the order of legends."""
    found = {row["kind"] for row in rows}
    return [kind for kind in COLOURS if KINDS[kind] in found]


def by_kind(field: str, domain: Sequence[str], kinds: Sequence[str], display: Display) -> tuple[alt.Color, alt.Shape]:
    """Return colour and shape of each value of a field, those of the kind that it is of."""
    colours, shapes = ([looks[kind] for kind in kinds] for looks in (display.colours, _SHAPES))
    return (
        alt.Color(field, scale=alt.Scale(domain=domain, range=colours)),
        alt.Shape(field, scale=alt.Scale(domain=domain, range=shapes)),
    )


def new_and_due(rows: Sequence[Row], x: alt.X, y: alt.Y, tooltip: list[Any], display: Display) -> list[alt.Chart]:
    """Return each option's two points, hollow when new and filled when due; kinds differ in colour and in shape."""
    kinds = kinds_in(rows)
    colour, shape = by_kind("kind:N", [KINDS[kind] for kind in kinds], kinds, display)
    return [
        layer([row for row in rows if row["state"] == state])
        .mark_point(filled=state == DUE, size=80, strokeWidth=1.8, opacity=1)
        .encode(x=x, y=y, color=colour, shape=shape, tooltip=tooltip)
        for state in (DUE, NEW)
    ]


def line_colours(options: Sequence[OptionAnswer], display: Display) -> list[str]:
    """Return a colour a line: that of its kind, for a second of a kind another one."""
    kinds, first, second = [option.kind for option in options], display.colours, display.second_colours
    return [(second if kind in kinds[:place] else first)[kind] for place, kind in enumerate(kinds)]


def lines_by_name(names: Sequence[str], colours: Sequence[str], level: Level | None = None) -> dict[str, Any]:
    """Return the channels that tell lines apart, by colour and by dash, that of the level last."""
    domain = [*names, *([level[0]] if level else [])]
    dashes = [*islice(cycle(_DASHES), len(names)), _LEVEL_DASH][: len(domain)]
    legend = alt.Legend(symbolSize=LINE_PX2)
    colour_scale = alt.Scale(domain=domain, range=[*colours, INK][: len(domain)])
    return {
        "color": alt.Color("line:N", scale=colour_scale, legend=legend),
        "strokeDash": alt.StrokeDash("line:N", scale=alt.Scale(domain=domain, range=dashes), legend=legend),
    }


def with_level(lines: alt.Chart, channels: dict[str, Any], level: Level | None) -> list[alt.Chart]:
    """Return lines told apart, and the level line with its name where there is one."""
    told_apart = lines.encode(**channels)
    if level is None:
        return [told_apart]
    y = lines.encoding.y
    rule = layer([{"line": level[0], y.shorthand.removesuffix(":Q"): level[1]}])
    return [told_apart, rule.mark_rule(color=INK, strokeWidth=1.5).encode(y=y, **channels)]


def wanted(flow_l_per_h: float | None, display: Display) -> Level | None:
    """Return the level of the flow wanted [L/h], None where a share is asked instead."""
    if not known(flow_l_per_h):
        return None
    return f"wanted, {flow(flow_l_per_h, display)}", display.flow_of(flow_l_per_h)


def flow_scale(rows: Rows, keys: Iterable[str], level: Level | None) -> alt.Scale:
    """Return a scale of flows from nought: a small fall must look small."""
    flows = [float(row[key]) for row in rows for key in keys if key in row]
    return alt.Scale(domain=[0.0, max([*flows, *([level[1]] if level else [])])], nice=True)


def upright(at: Row, x: alt.X, display: Display) -> list[alt.Chart]:
    """Return an upright rule, and at its head what it ``says``."""
    here = layer([at])
    word = here.mark_text(color=display.letters, align="left", dx=5, fontSize=12, baseline="top")
    return [
        here.mark_rule(color=display.letters, opacity=0.6).encode(x=x),
        word.encode(x=x, y=alt.value(2), text="says:N"),
    ]
