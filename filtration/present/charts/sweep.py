"""The picture of curves: pressure drop, flow, days, visibility and year against micron rating, or any key."""

from collections.abc import Callable
from textwrap import wrap

import altair as alt

from filtration.answers.curves import Sweep, Swept
from filtration.answers.figures import L_PER_H
from filtration.present.charts import look
from filtration.present.charts.look import Row, Rows, tip
from filtration.present.display import INK, METRIC, Display
from filtration.present.words import sweep as words
from filtration.present.words.phrases import KINDS

_CLEAN, _AT_RINSE = "clean", "at rinse"
_PANEL_PX, _GAP_PX, _HIGH_PX, _HEAD_PX, _LABELS_PX = 335, 60, 150, 210, 40
_LETTERS, _MOST_TOLD, _FAINT = 118, 4, 0.25
_DOTTED = 12  # values of a curve: up to so many each has its dot, as between them nothing was worked out
_WIDTHS = (1.5, 2.5, 3.5, 4.5, 5.5)  # of lines of one kind, size by size
_UNDER = "solid: clean; dashed: at rinse; grey: what you need. Lines end where a need fails."
Figure = Callable[[Swept], float | None]


def sweep_chart(found: Sweep, display: Display = METRIC) -> alt.VConcatChart:
    """Draw curves, a panel a figure: pressure drop on top, below it flow, days, visibility and year.

    Parameters
    ----------
    found : Sweep
        The curves.
    display : Display, optional
        Units to show.

    Returns
    -------
    altair.VConcatChart
        About 800 pixels wide.
    """

    def pressure(kpa: float | None) -> float | None:
        return None if kpa is None else display.pressure_of(kpa)

    currency, needs = found.study.currency, found.study.needs
    wanted = None if needs.flow_m3_s is None else display.flow_of(L_PER_H * needs.flow_m3_s)
    head = _panel(
        found,
        f"Pressure drop (head), {display.pressure}",
        {
            _CLEAN: lambda row: pressure(row.clean_filter_loss_kpa),
            _AT_RINSE: lambda row: pressure(_if_runs(row, row.due_filter_loss_kpa)),
        },
        display,
    )
    flow = _panel(
        found,
        f"Clean flow, {display.flow}",
        {_CLEAN: lambda row: display.flow_of(row.clean_flow_l_per_h)},
        display,
        wanted,
    )
    days = _panel(
        found, "Days to the first service", {_CLEAN: lambda row: _if_runs(row, row.days_to_first_service)}, display
    )
    seen = _panel(
        found,
        f"Lowest visibility, {display.length}",
        {_CLEAN: lambda row: display.length_of(row.worst_view_m)},
        display,
        display.length_of(needs.see_through_m),
    )
    year = _panel(
        found, f"A year, {currency}", {_CLEAN: lambda row: row.cost_per_year if row.meets_needs else None}, display
    )
    wide = head.properties(width=2 * _PANEL_PX + _GAP_PX, height=_HEAD_PX)
    pairs = [alt.hconcat(*pair, spacing=_GAP_PX, bounds="flush") for pair in ((flow, days), (seen, year))]
    ink = display.letters
    plain = alt.AxisConfig(
        labelColor=ink, titleColor=ink, titleFontWeight="normal", aria=False, gridColor=INK, gridOpacity=_FAINT
    )
    upright = alt.AxisConfig(minExtent=_LABELS_PX, maxExtent=_LABELS_PX)
    legend = alt.LegendConfig(
        orient="bottom",
        symbolType="stroke",
        symbolOpacity=1,
        symbolSize=look.LINE_PX2,
        labelLimit=300,
        title=None,
        labelColor=ink,
        aria=False,
    )
    no_frame = alt.ViewConfig(stroke=None)
    titles = alt.TitleConfig(color=ink, subtitleColor=display.letters, anchor="start")
    sizes = list(dict.fromkeys(curve.size or "" for curve in found.curves))
    told = [f"thin to thick: {', '.join(sizes)}"] if len(sizes) > 1 else []
    under = [_UNDER, *told, *(wrap(words.shown_by(found), _LETTERS) if len(found.curves) <= _MOST_TOLD else [])]
    return alt.vconcat(
        wide,
        *pairs,
        spacing=20,
        title=alt.TitleParams(words.heading(found), subtitle=under, fontSize=16, subtitleFontSize=13, offset=18),
        description=f"{words.heading(found)} {words.shown_by(found)}",
        config=alt.Config(
            font=look.FONT, axis=plain, axisY=upright, legend=legend, title=titles, view=no_frame, mark=look.UNHEARD
        ),
    )


def _panel(
    found: Sweep, title: str, figures: dict[str, Figure], display: Display, level: float | None = None
) -> alt.LayerChart:
    """Return one figure's lines, at rinse dashed; with a level where the owner wants at least so much."""
    rows: Rows = []
    for curve in found.curves:
        line: Row = {"line": words.line_name(found, curve), "kind": KINDS[curve.kind], "size": curve.size or ""}
        for state, figure in figures.items():
            rows += [line | {"state": state, "at": _at(row)} | _drawn(figure(row)) for row in curve.rows]
    kinds, sizes = look.kinds_in(rows), list(dict.fromkeys(row["size"] for row in rows))
    colours = alt.Scale(domain=[KINDS[kind] for kind in kinds], range=[display.colours[kind] for kind in kinds])
    dashes = alt.Scale(domain=[_CLEAN, _AT_RINSE], range=[[1, 0], [6, 3]])
    y = alt.Y("figure:Q", title=None).scale(domainMin=0, nice=True)
    tooltip = [
        tip("line:N", "of"),
        tip("at:N", words.axis_name(found)),
        tip("figure:Q", title, ",.3~r"),
    ]
    few = max(len(curve.rows) for curve in found.curves) <= _DOTTED
    lines = (
        look.layer(rows)
        .mark_line(strokeWidth=2, point=few)
        .encode(
            x=_x(found),
            y=y,
            color=alt.Color("kind:N", scale=colours, legend=alt.Undefined if found.curves[1:] else None),
            detail="line:N",
            strokeDash=alt.StrokeDash("state:N", legend=None, scale=dashes),
            tooltip=tooltip,
        )
    )
    if len(sizes) > 1:
        widths = alt.Scale(domain=sizes, range=list(_WIDTHS[: len(sizes)]))
        lines = lines.encode(size=alt.Size("size:N", scale=widths, legend=None))
    layers = [lines]
    if level is not None:
        layers.insert(0, look.layer([{"figure": level}]).mark_rule(color=INK, strokeDash=[4, 4]).encode(y=y))
    return alt.LayerChart(layer=layers, title=alt.TitleParams(title, fontSize=13), width=_PANEL_PX, height=_HIGH_PX)


def _if_runs(row: Swept, figure: float | None) -> float | None:
    return figure if row.days_to_first_service else None


def _at(row: Swept) -> float | str:
    return str(row.value).lower() if isinstance(row.value, str | bool) else row.value


def _drawn(figure: float | None) -> Row:
    """Return a figure as the cell of a row; a line breaks where it is not there."""
    return {"figure": figure} if look.known(figure) else {}


def _x(found: Sweep) -> alt.X:
    values = [row.value for curve in found.curves for row in curve.rows]
    name = words.axis_name(found)
    if any(isinstance(value, str | bool) for value in values):
        return alt.X("at:O", title=name, sort=None).axis(grid=False, labelAngle=0)
    x = alt.X("at:Q", title=name)
    if not found.by_rating:
        return x.scale(zero=False, nice=False).axis(grid=False)
    return x.scale(type="log", nice=False).axis(grid=False, values=[1, 2, 5, 10, 20, 50, 100, 200, 500], format="~g")
