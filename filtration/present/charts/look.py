"""The look that all pictures share: units shown, colours with a shape or a dash of their own, legends below."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import isfinite

import altair as alt

from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.units import in_unit
from filtration.present.words.phrases import KINDS, number

Row = dict[str, float | str]
Rows = list[Row]

FONT = "Source Sans, Arial, sans-serif"
INK = "#6b7b85"
COLOURS = {"pleated": "#2b80bd", "depth": "#d2601a", "foam": "#0f9670", "train": "#b5649f"}
NEW, DUE = "new", "when due"
_DARKER = {"pleated": "#123f66", "depth": "#7a3206", "foam": "#06543a", "train": "#6b2f5a"}
SHAPES = {"pleated": "circle", "depth": "square", "foam": "triangle-up", "train": "diamond"}
NAMES_ABOVE = alt.Axis(
    labelAlign="left",
    labelOffset=-11,
    labelPadding=-2,
    maxExtent=0,
    labelLimit=500,
    labelOverlap=False,
    ticks=False,
    domain=False,
)
_DASHES = ([1, 0], [6, 3], [2, 2], [7, 2, 2, 2])
_WANTED_DASH = [4, 4]
LINE_PX2 = 350
_HEIGHT_PX, _MOST_TOLD, _LINES = 420, 6, 4
_LEAST_SPAN = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Display:
    """Units to show, and the colour of letters.

    Parameters
    ----------
    flow, pressure, length, mass, volume : str
        Units as a study file takes them.
    ink : str or None
        Colour of letters; None leaves it to the place where the chart is shown.
    """

    flow: str = "L/h"
    pressure: str = "cm of water"
    length: str = "m"
    mass: str = "g"
    volume: str = "L"
    ink: str | None = None

    @property
    def us(self) -> bool:
        """Whether these are US units."""
        return self.flow == "gph"

    def flow_of(self, litres_per_hour: float) -> float:
        """Return a flow [L/h] in the unit shown."""
        return litres_per_hour * _factor("L/h", self.flow)

    def pressure_of(self, kpa: float) -> float:
        """Return a pressure [kPa] in the unit shown."""
        return kpa * _factor("kPa", self.pressure)

    def length_of(self, metres: float) -> float:
        """Return a length [m] in the unit shown."""
        return metres * _factor("m", self.length)

    def mass_of(self, grams: float) -> float:
        """Return a mass [g] in the unit shown."""
        return grams * _factor("g", self.mass)


@cache
def _factor(unit: str, other: str) -> float:
    return in_unit(1.0, other) / in_unit(1.0, unit)


METRIC = Display()


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """Title of a chart, how to read it in a line or two, and what it says for whoever cannot see it."""

    heading: str
    under: str
    alt: str


def known(*values: float | None) -> bool:
    """Return whether all values are there and finite."""
    return all(value is not None and isfinite(value) for value in values)


def few(parts: Sequence[str]) -> str:
    """Return the first few parts of a sentence and how many more there are."""
    more = [f"and {len(parts) - _MOST_TOLD} more"] if len(parts) > _MOST_TOLD else []
    return "; ".join([*parts[:_MOST_TOLD], *more])


def finished(
    layers: Sequence[alt.Chart], display: Display, words: Words, *, height_px: int = _HEIGHT_PX, columns: int = 1
) -> alt.LayerChart:
    """Put layers together in one look.

    Parameters
    ----------
    layers : sequence of altair.Chart
        The layers, hindmost first.
    display : Display
        Colour of letters.
    words : Words
        Title, how to read it, and what the chart says.
    height_px : int, optional
        Height with title and legend.
    columns : int, optional
        Columns of the legend.

    Returns
    -------
    altair.LayerChart
        As wide as its place.
    """
    ink = display.ink or alt.Undefined
    look = alt.Config(
        font=FONT,
        axis=alt.AxisConfig(labelColor=ink, titleColor=ink),
        legend=alt.LegendConfig(
            orient="bottom", symbolOpacity=1, columns=columns, labelLimit=300, title=None, labelColor=ink
        ),
    )
    title = alt.TitleParams(
        words.heading,
        subtitle=words.under.splitlines(),
        anchor="start",
        fontSize=16,
        subtitleFontSize=13,
        subtitleColor=display.ink or INK,
    )
    return alt.LayerChart(
        layer=list(layers), title=title, description=words.alt, height=height_px, width="container", config=look
    )


def new_and_due(
    rows: Rows, options: Iterable[OptionAnswer], x: alt.X, y: alt.Y, tooltip: Sequence[alt.Tooltip]
) -> list[alt.Chart]:
    """Return each option's two points, hollow when new and filled when due; kinds differ in colour and in shape."""
    present = {option.kind for option in options}
    kinds = [kind for kind in COLOURS if kind in present]
    domain = [KINDS[kind] for kind in kinds]
    colour = alt.Color("kind:N", scale=alt.Scale(domain=domain, range=[COLOURS[kind] for kind in kinds]))
    shape = alt.Shape("kind:N", scale=alt.Scale(domain=domain, range=[SHAPES[kind] for kind in kinds]))
    layers = []
    for state in (DUE, NEW):
        points = alt.Chart(alt.InlineData(values=[row for row in rows if row["state"] == state]))
        marks = points.mark_point(filled=state == DUE, size=80, strokeWidth=1.8, opacity=1)
        layers.append(marks.encode(x=x, y=y, color=colour, shape=shape, tooltip=list(tooltip)))
    return layers


def wanted(comparison: Comparison, display: Display) -> tuple[str, float] | None:
    """Return the name and the height of the rule at the wanted flow, None where a share is asked instead."""
    flow = comparison.wanted_flow_l_per_h
    if flow is None or not isfinite(flow):
        return None
    shown = display.flow_of(flow)
    return f"wanted, {number(shown, 3)} {display.flow}", shown


def a_few(answer: Comparison) -> list[OptionAnswer]:
    """Return the options that charts of a few show.

    Parameters
    ----------
    answer : Comparison
        The answer.

    Returns
    -------
    list of OptionAnswer
        The one to take, the best of each kind and the finest, all on its pump, four at most; in the answer's order.
    """
    running = [each for each in answer.options if each.events and each.pump == answer.spoken_of.pump]
    best = {each.kind: each for each in reversed(running)}
    finest = sorted(running, key=lambda each: each.rating_um)[:1]
    taken = [each for each in running if each is answer.spoken_of]
    ids = list(dict.fromkeys(each.id for each in (*taken, *best.values(), *finest)))[:_LINES]
    return [each for each in running if each.id in ids]


def line_colours(options: Sequence[OptionAnswer]) -> list[str]:
    """Return a colour a line: that of its kind, for a second of a kind a darker one."""
    kinds = [option.kind for option in options]
    return [(_DARKER if kind in kinds[:place] else COLOURS)[kind] for place, kind in enumerate(kinds)]


def flow_scale(flows: Iterable[float]) -> alt.Scale:
    """Return a scale that holds flows, and spans at least a tenth of the largest: a small fall must look small."""
    every = list(flows)
    low, high = min(every), max(every)
    return alt.Scale(domain=[min(low, (1.0 - _LEAST_SPAN) * high), high], nice=True)


def lines_by_name(
    names: Sequence[str], colours: Sequence[str], rule: tuple[str, float] | None
) -> dict[str, alt.Color | alt.StrokeDash]:
    """Return the channels that tell lines apart, by colour and by dash, that of the rule last."""
    dashes: list[Sequence[int]] = [_DASHES[place % len(_DASHES)] for place in range(len(names))]
    domain, colours = list(names), list(colours)
    if rule is not None:
        domain, dashes, colours = [*domain, rule[0]], [*dashes, _WANTED_DASH], [*colours, INK]
    legend = alt.Legend(symbolSize=LINE_PX2)
    return {
        "color": alt.Color("line:N", scale=alt.Scale(domain=domain, range=colours), legend=legend),
        "strokeDash": alt.StrokeDash("line:N", scale=alt.Scale(domain=domain, range=dashes), legend=legend),
    }


def rule_at(rule: tuple[str, float], y: alt.Y, channels: Mapping[str, alt.Color | alt.StrokeDash]) -> alt.Chart:
    """Return a level line with its name."""
    data = alt.InlineData(values=[{"line": rule[0], "flow": rule[1]}])
    chart: alt.Chart = alt.Chart(data).mark_rule(color=INK, strokeWidth=1.5).encode(y=y, **channels)
    return chart
