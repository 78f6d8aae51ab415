"""Pressure drop at one flow against the micron rating, with some dirt held: a curve a kind, own filters as dots."""

import altair as alt

from filtration.answers.results import Comparison, OptionAnswer
from filtration.answers.series import Drops, loss_with
from filtration.present.charts import look
from filtration.present.charts.look import Rows, tip
from filtration.present.display import INK, METRIC, Display
from filtration.present.words.phrases import KINDS, flow, number

_TOP, _HEIGHT_PX, _LEAST_UM, _MOST = 1.5, 460, 0.8, 1.4
_TICKS = [1, 2, 5, 10, 20, 50, 100, 200, 500]
_OWN, _ABOVE = "own", "above"


def drops_chart(found: Drops, comparison: Comparison, held_g: float, display: Display = METRIC) -> alt.LayerChart:
    """Draw the pressure drop of kinds and of own filters against their rating, all with so much dirt held.

    A curve ends where that much dirt chokes its cartridge. The axis is the same for any dirt, so that curves rise.

    Parameters
    ----------
    found : Drops
        The curves.
    comparison : Comparison
        The answer, for what the options are.
    held_g : float
        Dry dirt held [g].
    display : Display, optional
        Units to show.

    Returns
    -------
    altair.LayerChart
        The chart.
    """
    left = display.pressure_of(found.left_kpa)
    lines = _line_rows(found, held_g, display)
    dots = _dot_rows(found, comparison, held_g, display)
    kinds = look.kinds_in([*lines, *dots])
    colour, shape = look.by_kind("kind:N", [KINDS[kind] for kind in kinds], kinds, display)
    most = max(float(row["rating"]) for row in [*lines, *dots])
    x = alt.X("rating:Q", title="micron rating, µm").axis(grid=False, values=_TICKS, format="~g")
    x = x.scale(type="log", domain=[_LEAST_UM, _MOST * most], nice=False)
    scale = alt.Scale(domain=[0.0, _TOP * left], nice=False)
    y = alt.Y("loss:Q", title=display.pressure, scale=scale)
    level: Rows = [{"loss": left, "rating": _MOST * most, "says": f"what the pump leaves, {number(left)}"}]
    on_level = look.layer(level)
    tooltip = [tip("option:N"), tip("rating:Q", "µm", "~g"), tip("loss:Q", display.pressure, ".2~r")]
    on_axis, above = ([dot for dot in dots if dot["where"] == where] for where in (_OWN, _ABOVE))
    marked = look.layer(on_axis).mark_point(filled=True, size=90, opacity=1)
    beyond = look.layer(above).mark_point(filled=True, size=90, opacity=1, shape="triangle-up")
    layers = [
        on_level.mark_rule(color=INK, strokeDash=[4, 4], strokeWidth=1.5).encode(y=y),
        on_level.mark_text(align="right", baseline="bottom", dy=-4, fontSize=12, color=display.letters).encode(
            x=x, y=y, text="says:N"
        ),
        look.layer(lines).mark_line(strokeWidth=2.2, clip=True).encode(x=x, y=y, color=colour),
        marked.encode(x=x, y=y, color=colour, shape=shape, tooltip=tooltip),
        beyond.encode(x=x, y=alt.value(6), color=colour, tooltip=tooltip),
    ]
    drawn = [each for each in layers if each.data.values]
    under = [f"at {flow(found.flow_l_per_h, display)}, with {_grams(held_g, display)} of dry dirt held; dots: your own"]
    choked = [str(row["option"]) for row in _choked(found, comparison, held_g)]
    under += [f"choked by so much: {look.few(choked)}"] if choked else []
    heading, words = "Pressure drop against micron rating", drops_words(found, comparison, held_g, display)
    return look.finished(drawn, display, heading, "\n".join(under), words, height_px=_HEIGHT_PX, columns=2)


def _grams(held_g: float, display: Display) -> str:
    return f"{number(display.mass_of(held_g))} {display.mass}"


def _line_rows(found: Drops, held_g: float, display: Display) -> Rows:
    return [
        {"kind": KINDS[curve.kind], "rating": rating, "loss": display.pressure_of(loss)}
        for curve in found.curves
        for rating, loss in zip(curve.rating_um, curve.losses_kpa(held_g), strict=True)
        if loss is not None
    ]


def _own(found: Drops, comparison: Comparison) -> list[OptionAnswer]:
    return [option for option in comparison.options if option.id in found.own]


def _dot_rows(found: Drops, comparison: Comparison, held_g: float, display: Display) -> Rows:
    rows: Rows = []
    for option in _own(found, comparison):
        loss = loss_with(found.own[option.id], held_g)
        if loss is not None:
            where = _OWN if loss <= _TOP * found.left_kpa else _ABOVE
            told: look.Row = {
                "option": option.name,
                "kind": KINDS[option.kind],
                "rating": option.rating_um,
                "where": where,
            }
            rows.append(told | {"loss": display.pressure_of(loss)})
    return rows


def _choked(found: Drops, comparison: Comparison, held_g: float) -> Rows:
    own = _own(found, comparison)
    return [{"option": option.name} for option in own if loss_with(found.own[option.id], held_g) is None]


def drops_words(found: Drops, comparison: Comparison, held_g: float, display: Display = METRIC) -> str:
    """Return what the chart of pressure drops says, for whoever cannot see it."""
    parts = [
        f"{row['option']}, {float(row['rating']):g} µm: {number(float(row['loss']))}"
        for row in _dot_rows(found, comparison, held_g, display)
    ]
    return (
        f"Pressure drop against micron rating, {display.pressure}, at {flow(found.flow_l_per_h, display)} with "
        f"{_grams(held_g, display)} of dirt held; the pump leaves {number(display.pressure_of(found.left_kpa))}. "
        f"{look.few(parts)}."
    )


def most_held_g(found: Drops) -> float:
    """Return the most dirt that a cartridge of the curves can hold [g]."""
    return max(loading.deposit_g[-1] for curve in found.curves for loading in curve.loadings)
