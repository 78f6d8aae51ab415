"""The map of kinds and micron ratings: how long each lasts and what it costs, or what it fails on."""

import altair as alt

from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.errors import NoAnswerError
from filtration.present.charts import look
from filtration.present.charts.look import Rows, tip
from filtration.present.display import METRIC, Display
from filtration.present.words.pages import ENDS, SHORT_REASONS
from filtration.present.words.phrases import KINDS, due, money, title

ADVICE, FAILS, LOOKED_AT = "\N{BLACK RIGHT-POINTING POINTER}", "fails", "looked_at"
_ROW_PX, _REST_PX, _SHADE, _THICK = 52, 90, 0.22, 3.0
_LINES = (("first", -14, 12), ("second", 1, 11), ("third", 15, 11))
_GROUNDS = {"filling": "pleated", "full": "foam", "time limit": "train", "cloudy": "wound"}
"""What ends a run: each on a ground of its own, the colour of some kind."""
_MOST_ROWS = 14


def _cells(comparison: Comparison, looked_at: OptionAnswer | None = None) -> list[list[OptionAnswer]]:
    """Return the options of each kind and rating, best first, the one looked at and the one to take before all."""
    cells: dict[tuple[str, float], list[OptionAnswer]] = {}
    for option in sorted(comparison.options, key=lambda each: (each is not looked_at, each is not comparison.advised)):
        cells.setdefault((option.kind, option.rating_um), []).append(option)
    return list(cells.values())


def first_of_cells(comparison: Comparison) -> list[OptionAnswer]:
    """Return the options that stand behind no other of the same kind and rating."""
    return [cell[0] for cell in _cells(comparison)]


def _told(option: OptionAnswer, comparison: Comparison) -> tuple[str, str, str]:
    """Return the three lines of a cell: the first run, a year, what ends a run; or why it fails."""
    to_first, total = option.days_to_first_service, option.cost_per_year.total
    if option.reasons:
        return (*SHORT_REASONS[option.reasons[0].kind], "")
    if look.known(to_first) and look.known(total) and option.governed_by is not None:
        tick = f"{ADVICE} " if option is comparison.advised else ""
        return tick + due(to_first), money(total, comparison.study.currency), ENDS[option.governed_by]
    return "no figures", "", ""


def _rating(rating_um: float) -> str:
    return f"{rating_um:g} µm"


def _rows(comparison: Comparison, looked_at: OptionAnswer | None = None) -> Rows:
    rows: Rows = []
    looked_at = looked_at or comparison.advised
    for option, *others in _cells(comparison, looked_at):
        first, second, third = _told(option, comparison)
        rows.append(
            {
                "id": option.id,
                "option": title(option, comparison),
                "kind": KINDS[option.kind],
                "rating": _rating(option.rating_um),
                "first": first,
                "second": second,
                "third": " ".join([*filter(None, [third]), *([f"+{len(others)}"] if others else [])]),
                "ends": FAILS if option.reasons else third,
                "frame": _THICK if option is looked_at else 1.0,
                "also": "; ".join(title(other, comparison) for other in others),
            }
        )
    return rows


def map_chart(
    comparison: Comparison, display: Display = METRIC, looked_at: OptionAnswer | None = None
) -> alt.LayerChart:
    """Draw the map of kinds and micron ratings.

    A field for each kind and rating, with the first run and the year's cost of its best option and what ends a run, or
    why it fails, and how many more there are. A click on a field selects the ``id`` of its option, as ``LOOKED_AT``.

    Parameters
    ----------
    comparison : Comparison
        The answer.
    display : Display, optional
        Units to show.
    looked_at : OptionAnswer, optional
        The option in the thick frame; left out, the one to take.

    Returns
    -------
    altair.LayerChart
        The chart.

    Raises
    ------
    NoAnswerError
        If there is no option, or more micron ratings than a map can show.
    """
    ratings = look.needed(sorted({option.rating_um for option in comparison.options}), "no options to map")
    if len(ratings) > _MOST_ROWS:
        raise NoAnswerError(f"{len(ratings)} micron ratings are too many for a map; see the table")
    rows, ink = _rows(comparison, looked_at), display.letters
    x = alt.X("kind:N", title=None).scale(domain=[KINDS[kind] for kind in look.kinds_in(rows)], paddingInner=0.06)
    shorter = "replace(replace(datum.label, ' (melt-blown)', ''), 'string-wound', 'wound')"
    x = x.axis(orient="top", labelAngle=0, domain=False, ticks=False, labelPadding=6, labelExpr=shorter)
    y = alt.Y("rating:N", title=None).scale(domain=[_rating(rating) for rating in ratings], paddingInner=0.1)
    y = y.axis(domain=False, ticks=False, labelPadding=4)
    tooltip = [
        "option:N",
        tip("first:N", "first service, or why not"),
        tip("second:N", "a year"),
        tip("third:N", "limited by"),
        tip("also:N", "also here"),
    ]
    grounds = {end: display.colours[kind] for end, kind in _GROUNDS.items()}
    shown = [end for end in grounds if any(row["ends"] == end for row in rows)]
    fill = alt.Fill("ends:N", legend=None).scale(
        domain=[*shown, FAILS], range=[*(grounds[end] for end in shown), "transparent"]
    )
    cells = (
        look.layer(rows)
        .mark_rect(cornerRadius=4, fillOpacity=_SHADE, stroke=ink, cursor="pointer")
        .encode(
            x=x,
            y=y,
            fill=fill,
            strokeWidth=alt.StrokeWidth("frame:Q", scale=None, legend=None),
            tooltip=tooltip,
        )
        .add_params(alt.selection_point(name=LOOKED_AT, fields=["id"]))
        .properties(name="cells")
    )
    letters = [
        look.layer(rows)
        .mark_text(dy=dy, fontSize=size, color=ink, fontWeight="bold" if field == "first" else "normal")
        .encode(x=x, y=y, text=f"{field}:N")
        for field, dy, size in _LINES
    ]
    height_px = look.tall_px(_ROW_PX * len(ratings), _REST_PX)
    words = map_words(comparison)
    return look.finished([cells, *letters], display, "Kind and micron rating", _under(rows), words, height_px=height_px)


def _under(rows: Rows) -> str:
    """Return how to read the map."""
    lines = ["first service, a year's cost, what ends a run; or why not"]
    if any(str(row["first"]).startswith(ADVICE) for row in rows):
        lines.append(f"{ADVICE} the advice; thick frame: looked at")
    if any(row["also"] for row in rows):
        lines[-1] += "; +1: one more"
    return "\n".join(lines)


def map_words(comparison: Comparison, _display: Display = METRIC) -> str:
    """Return what the map says, for whoever cannot see it."""
    parts = []
    for row in _rows(comparison):
        told = [str(row["first"]).removeprefix(f"{ADVICE} "), row["second"], row["third"]]
        joint = " " if row["ends"] == FAILS else ", "
        parts.append(f"{row['kind']} {row['rating']}: {joint.join(str(each) for each in told if each)}")
    return f"Days to the first service, a year's cost and what ends a run by kind and rating. {look.few(parts)}."
