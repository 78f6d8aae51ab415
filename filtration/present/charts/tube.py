"""The clear tube before the housing, with a mark for a new cartridge and one for when it is due."""

import altair as alt

from filtration.answers.results import OptionAnswer
from filtration.present.charts import look
from filtration.present.display import INK, METRIC, Display
from filtration.present.words.front import buckets
from filtration.present.words.phrases import number, service

_WATER, _GLASS_PX, _ROOM, _NAME_SHARE = "#4aa3c7", 26, 1.12, 0.07
_HEIGHT_PX, _HUNDRED = 420, 100.0


def marks_of(option: OptionAnswer, display: Display = METRIC) -> dict[str, float]:
    """Return how high the water stands in a clear tube before the housing, by mark, in the unit shown.

    Parameters
    ----------
    option : OptionAnswer
        The option.
    display : Display, optional
        Units to show.

    Returns
    -------
    dict
        "new", and "rinse" or "change"; empty where the study has no hose, or no water moves.
    """
    marks = {"new": option.clean_tube_kpa}
    if option.days_to_first_service:
        marks[service(option)] = option.due_tube_kpa
    return {name: display.pressure_of(kpa) for name, kpa in marks.items() if look.known(kpa)}


def tube_chart(option: OptionAnswer, display: Display = METRIC) -> alt.LayerChart:
    """Draw a clear tube from the tub's water up, with its marks, and how long a bucket takes.

    Parameters
    ----------
    option : OptionAnswer
        The option.
    display : Display, optional
        Units to show.

    Returns
    -------
    altair.LayerChart
        The chart.

    Raises
    ------
    NoAnswerError
        If nothing tells how high the water stands.
    """
    marks = marks_of(option, display)
    look.needed(list(marks), "it needs the hose behind the housing, and a filter that water moves through")
    unit, ink, top = display.pressure.removesuffix(" of water"), display.letters, _ROOM * max(marks.values())
    scale = alt.Scale(domain=[0.0, top], nice=False)
    y = alt.Y("high:Q", scale=scale, axis=None)
    high, left, right = max(marks.values()), 4, 4 + _GLASS_PX
    water = look.layer(
        [{"low": 0.0, "high": min(marks.values()), "shade": 0.75}, {"low": 0.0, "high": high, "shade": 0.3}]
    )
    glass = look.layer([{"low": 0.0, "high": top}])
    names: look.Rows = [
        {"high": value, "named": _apart(value, marks, top), "says": name, "at": _height(value, unit)}
        for name, value in marks.items()
    ]
    on_marks = look.layer(names)
    named = alt.Y("named:Q", scale=scale, axis=None)
    layers = [
        water.mark_rect(color=_WATER).encode(
            x=alt.value(left),
            x2=alt.value(right),
            y=y,
            y2="low:Q",
            opacity=alt.Opacity("shade:Q", scale=None, legend=None),
        ),
        *(
            glass.mark_rule(color=INK, strokeWidth=1.5).encode(x=alt.value(side), y=y, y2="low:Q")
            for side in (left, right)
        ),
        on_marks.mark_rule(color=ink, strokeWidth=2).encode(x=alt.value(left - 4), x2=alt.value(right + 8), y=y),
        on_marks.mark_text(align="left", baseline="bottom", dy=1, fontSize=13, fontWeight=600, color=ink).encode(
            x=alt.value(right + 12), y=named, text="says:N"
        ),
        on_marks.mark_text(align="left", baseline="top", dy=1, fontSize=12, color=ink).encode(
            x=alt.value(right + 12), y=named, text="at:N"
        ),
    ]
    told = ", ".join(f"{_height(value, unit)} {name}" for name, value in marks.items())
    description = f"Clear tube before the housing, above the tub's water: {told}. {buckets(option, display)}."
    under = buckets(option, display).replace(", ", ",\n")
    return look.finished(layers, display, "Clear tube", under, description, height_px=_HEIGHT_PX)


def _height(value: float, unit: str) -> str:
    """Return a height as one reads it off a tape."""
    return f"{number(value, 3 if value >= _HUNDRED else 2)} {unit}"


def _apart(value: float, marks: dict[str, float], top: float) -> float:
    """Return where a mark's name stands: two near each other are held apart."""
    others = [other for other in marks.values() if other != value]
    if not others or abs(value - others[0]) >= 2.0 * _NAME_SHARE * top:
        return value
    middle = 0.5 * (value + others[0])
    return max(_NAME_SHARE * top, middle) + (_NAME_SHARE * top if value > others[0] else -_NAME_SHARE * top)
