"""The map of kinds and micron ratings: how long each lasts and what it costs, or what it fails on."""

from typing import Any

import altair as alt

from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.errors import NoAnswerError
from filtration.present.charts.look import COLOURS, INK, METRIC, Display, Row, Rows, Words, few, finished, known
from filtration.present.words.pages import SHORT_REASONS
from filtration.present.words.phrases import KINDS, days, money, title

_ROW_PX, _REST_PX = 54, 130
_LETTERS = {
    False: (("first", -8, 12), ("second", 8, 12)),
    True: (("first", -12, 12), ("second", 1, 12), ("more", 13, 10)),
}
_GROUND = COLOURS["pleated"]
_MOST_ROWS = 14


def _cells(comparison: Comparison) -> list[list[OptionAnswer]]:
    """Return the options of each kind and rating, best first, the one to take before all."""
    cells: dict[tuple[str, float], list[OptionAnswer]] = {}
    taken = comparison.advised
    for option in sorted(comparison.options, key=lambda each: each is not taken):
        cells.setdefault((option.kind, option.rating_um), []).append(option)
    return list(cells.values())


def _told(option: OptionAnswer, currency: str) -> tuple[str, str]:
    """Return the two lines of a cell."""
    if option.reasons:
        return SHORT_REASONS[option.reasons[0].kind]
    if not known(option.days_to_first_service, option.cost_per_year.total):
        return "no figures", ""
    return days(option.days_to_first_service or 0.0), money(option.cost_per_year.total or 0.0, currency)


def _rating(rating_um: float) -> str:
    return f"{rating_um:g} µm"


def _rows(comparison: Comparison) -> Rows:
    taken, rows = comparison.advised, list[Row]()
    for options in _cells(comparison):
        option = options[0]
        first, second = _told(option, comparison.study.currency)
        others = [title(other, comparison) for other in options[1:]]
        state = "take" if option is taken else "fails" if option.reasons else "does"
        rows.append(
            {
                "option": title(option, comparison),
                "kind": KINDS[option.kind],
                "rating": _rating(option.rating_um),
                "first": first,
                "second": second,
                "state": state,
                "also": "; ".join(others),
                "more": f"and {len(others)} more" if others else "",
            }
        )
    return rows


def map_chart(comparison: Comparison, display: Display = METRIC) -> alt.LayerChart:
    """Draw the map of kinds and micron ratings.

    Parameters
    ----------
    comparison : Comparison
        The answer.
    display : Display, optional
        Colour of letters.

    Returns
    -------
    altair.LayerChart
        A field for each kind and rating, with the first run and the year's cost of its best option, or what that fails
        on, and how many more there are; the one to take in a thick frame.

    Raises
    ------
    NoAnswerError
        If there is no option, or more micron ratings than a map can show.
    """
    ratings = sorted({option.rating_um for option in comparison.options})
    if not ratings:
        msg = "no options to map"
        raise NoAnswerError(msg)
    if len(ratings) > _MOST_ROWS:
        msg = f"{len(ratings)} micron ratings are too many for a map; see the table"
        raise NoAnswerError(msg)
    rows = _rows(comparison)
    kinds = [KINDS[kind] for kind in COLOURS if KINDS[kind] in {row["kind"] for row in rows}]
    x = alt.X(
        "kind:N",
        scale=alt.Scale(domain=kinds, paddingInner=0.06),
        title=None,
        axis=alt.Axis(
            orient="top",
            labelAngle=0,
            domain=False,
            ticks=False,
            labelPadding=6,
            labelExpr="replace(datum.label, 'wound or spun depth', 'wound, spun')",
        ),
    )
    y = alt.Y(
        "rating:N",
        scale=alt.Scale(domain=[_rating(rating) for rating in ratings], paddingInner=0.1),
        title=None,
        axis=alt.Axis(domain=False, ticks=False),
    )
    tooltip = [
        alt.Tooltip("option:N"),
        alt.Tooltip("first:N", title="first service, or why not"),
        alt.Tooltip("second:N", title="a year"),
        alt.Tooltip("also:N", title="also here"),
    ]
    ink = display.ink or INK
    layers = []
    looks: dict[str, dict[str, Any]] = {
        "does": {"fill": _GROUND, "fillOpacity": 0.16, "stroke": _GROUND, "strokeOpacity": 0.6, "strokeWidth": 1},
        "take": {"fill": _GROUND, "fillOpacity": 0.3, "stroke": ink, "strokeWidth": 3},
        "fails": {"fillOpacity": 0.0, "stroke": ink, "strokeOpacity": 0.5, "strokeWidth": 1, "strokeDash": [3, 3]},
    }
    for state, look in looks.items():
        found = [row for row in rows if row["state"] == state]
        if found:
            data = alt.Chart(alt.InlineData(values=found))
            layers.append(data.mark_rect(cornerRadius=4, **look).encode(x=x, y=y, tooltip=tooltip))
    for found, lines in (
        ([row for row in rows if bool(row["more"]) == more], _LETTERS[more]) for more in (False, True)
    ):
        for field, dy, size in lines if found else ():
            letters = alt.Chart(alt.InlineData(values=found)).mark_text(
                dy=dy, fontSize=size, color=ink, fontWeight=600 if field == "first" else 400
            )
            layers.append(letters.encode(x=x, y=y, text=f"{field}:N", tooltip=tooltip))
    words = Words(
        heading="Kind and micron rating",
        under=_under(rows),
        alt=map_words(comparison),
    )
    return finished(layers, display, words, height_px=max(400, _ROW_PX * len(ratings) + _REST_PX))


def _under(rows: Rows) -> str:
    """Return how to read the map."""
    lines = ["to the first service, and a year's cost; or why it fails"]
    if any(row["more"] for row in rows):
        lines.append("and … more: others of that kind and rating")
    if any(row["state"] == "take" for row in rows):
        lines.append("thick frame, darker: the one to take")
    return "\n".join(lines)


def map_words(comparison: Comparison, display: Display = METRIC) -> str:  # noqa: ARG001 - as all pictures
    """Return what the map says, for whoever cannot see it."""
    parts = []
    for row in _rows(comparison):
        lines = f"{row['first']} {row['second']}" if row["state"] == "fails" else f"{row['first']}, {row['second']}"
        parts.append(f"{row['kind']} {row['rating']}: {lines}{' ' if row['more'] else ''}{row['more']}")
    return f"Days to the first service and a year's cost by kind and micron rating. {few(parts)}."


def without_map(comparison: Comparison) -> list[str]:
    """Return the options that stand behind another of the same kind and rating."""
    behind = [option for cell in _cells(comparison) for option in cell[1:]]
    return [title(option, comparison) for option in behind]
