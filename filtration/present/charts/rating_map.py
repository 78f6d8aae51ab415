"""The map of kinds and micron ratings: how long each lasts and what it costs, or what it fails on."""

from typing import Any

import altair as alt

from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.errors import NoAnswerError
from filtration.present.charts import look
from filtration.present.charts.look import Rows, tip
from filtration.present.display import METRIC, Display
from filtration.present.words.pages import SHORT_REASONS
from filtration.present.words.phrases import KINDS, due, money, title

_ROW_PX, _REST_PX = 54, 130
_LETTERS = {
    False: (("first", -8, 12), ("second", 8, 12)),
    True: (("first", -12, 12), ("second", 1, 12), ("more", 13, 10)),
}
_GROUND = look.COLOURS["pleated"]
_MOST_ROWS = 14


def _cells(comparison: Comparison) -> list[list[OptionAnswer]]:
    """Return the options of each kind and rating, best first, the one to take before all."""
    cells: dict[tuple[str, float], list[OptionAnswer]] = {}
    for option in sorted(comparison.options, key=lambda each: each is not comparison.advised):
        cells.setdefault((option.kind, option.rating_um), []).append(option)
    return list(cells.values())


def first_of_cells(comparison: Comparison) -> list[OptionAnswer]:
    """Return the options that stand behind no other of the same kind and rating."""
    return [cell[0] for cell in _cells(comparison)]


def _told(option: OptionAnswer, currency: str) -> tuple[str, str]:
    """Return the two lines of a cell."""
    to_first, total = option.days_to_first_service, option.cost_per_year.total
    if option.reasons:
        return SHORT_REASONS[option.reasons[0].kind]
    if look.known(to_first) and look.known(total):
        return due(to_first), money(total, currency)
    return "no figures", ""


def _rating(rating_um: float) -> str:
    return f"{rating_um:g} µm"


def _rows(comparison: Comparison) -> Rows:
    rows: Rows = []
    for option, *others in _cells(comparison):
        first, second = _told(option, comparison.study.currency)
        rows.append(
            {
                "option": title(option, comparison),
                "kind": KINDS[option.kind],
                "rating": _rating(option.rating_um),
                "first": first,
                "second": second,
                "state": "take" if option is comparison.advised else "fails" if option.reasons else "does",
                "also": "; ".join(title(other, comparison) for other in others),
                "more": f"and {len(others)} more" if others else "",
            }
        )
    return rows


def map_chart(comparison: Comparison, display: Display = METRIC) -> alt.LayerChart:
    """Draw the map of kinds and micron ratings.

    A field for each kind and rating, with the first run and the year's cost of its best option, or what that fails on,
    and how many more there are; the one to take in a thick frame. Raises NoAnswerError if there is no option, or more
    micron ratings than a map can show.
    """
    ratings = look.needed(sorted({option.rating_um for option in comparison.options}), "no options to map")
    if len(ratings) > _MOST_ROWS:
        raise NoAnswerError(f"{len(ratings)} micron ratings are too many for a map; see the table")
    rows, ink = _rows(comparison), display.letters
    x = alt.X("kind:N", title=None).scale(domain=[KINDS[kind] for kind in look.kinds_in(rows)], paddingInner=0.06)
    shorter = "replace(datum.label, ' (melt-blown)', '')"
    x = x.axis(orient="top", labelAngle=0, domain=False, ticks=False, labelPadding=6, labelExpr=shorter)
    y = alt.Y("rating:N", title=None).scale(domain=[_rating(rating) for rating in ratings], paddingInner=0.1)
    y = y.axis(domain=False, ticks=False)
    tooltip = [
        "option:N",
        tip("first:N", "first service, or why not"),
        tip("second:N", "a year"),
        tip("also:N", "also here"),
    ]
    frames: dict[str, dict[str, Any]] = {
        "does": {"fill": _GROUND, "fillOpacity": 0.16, "stroke": _GROUND, "strokeOpacity": 0.6, "strokeWidth": 1},
        "take": {"fill": _GROUND, "fillOpacity": 0.3, "stroke": ink, "strokeWidth": 3},
        "fails": {"fillOpacity": 0.0, "stroke": ink, "strokeOpacity": 0.5, "strokeWidth": 1, "strokeDash": [3, 3]},
    }
    layers = [
        look.layer(found).mark_rect(cornerRadius=4, **frame).encode(x=x, y=y, tooltip=tooltip)
        for state, frame in frames.items()
        if (found := [row for row in rows if row["state"] == state])
    ]
    layers += [
        look.layer(found)
        .mark_text(dy=dy, fontSize=size, color=ink, fontWeight=600 if field == "first" else 400)
        .encode(x=x, y=y, text=f"{field}:N", tooltip=tooltip)
        for more, lines in _LETTERS.items()
        if (found := [row for row in rows if bool(row["more"]) == more])
        for field, dy, size in lines
    ]
    heading, height_px = "Kind and micron rating", look.tall_px(_ROW_PX * len(ratings), _REST_PX)
    return look.finished(layers, display, heading, _under(rows), map_words(comparison), height_px=height_px)


def _under(rows: Rows) -> str:
    """Return how to read the map."""
    lines = ["to the first service, and a year's cost; or why it fails"]
    if any(row["more"] for row in rows):
        lines.append("and … more: others of that kind and rating")
    if any(row["state"] == "take" for row in rows):
        lines.append("thick frame, darker: the one to take")
    return "\n".join(lines)


def map_words(comparison: Comparison, _display: Display = METRIC) -> str:
    """Return what the map says, for whoever cannot see it."""
    parts = [
        f"{row['kind']} {row['rating']}: {row['first']}{' ' if row['state'] == 'fails' else ', '}{row['second']}"
        + (f" {row['more']}" if row["more"] else "")
        for row in _rows(comparison)
    ]
    return f"Days to the first service and a year's cost by kind and micron rating. {look.few(parts)}."
