"""Sentences and figures in the units a person reads."""

import re
from collections.abc import Iterable

from filtration.base.defaults import model
from filtration.base.units import in_unit
from filtration.present.charts.look import METRIC, Display
from filtration.present.words.phrases import number
from filtration.study.values import Study

_US = {
    "L/h": ("L/h", "gph", "gph"),
    "L": ("L", "gal", "gal"),
    "m": ("m", "ft", "ft"),
    "mm": ("mm", "in", "in"),
    "m²": ("m^2", "sq ft", "sq ft"),
    "°C": ("degC", "degF", "°F"),
    "kPa": ("kPa", "inH2O", "in of water"),
    "bar": ("bar", "psi", "psi"),
}

_NUMBER = r"[0-9][0-9,]*(?:\.[0-9]+)?"

_METRIC = re.compile(
    rf"(?<![\w.])((?:{_NUMBER}(?: µm)? (?:to|and|instead of) )?{_NUMBER})(?: |\u00a0)"
    r"(L/h|mm|m²|m|L|°C|kPa|bar)(?![\w/²³^])(?P<psi> \([0-9.]+ psi\))?"
)


def _in_us(match: re.Match[str]) -> str:
    numbers, sign = match[1], match[2]
    unit, other, shown = _US[sign]

    def one(found: re.Match[str]) -> str:
        text = found[0]
        value = float(text.replace(",", ""))
        size = in_unit(1.0, unit) if sign != "°C" else 1.0
        us = in_unit(value, other) if sign == "°C" else value / size * in_unit(1.0, other)
        digits = max(2, len(text.replace(",", "").replace(".", "").lstrip("0")))
        return f"{us:.0f}" if sign == "°C" else number(us, min(digits, 3))

    if re.search(r"µm", numbers):  # the first number has its own unit
        head, _, last = numbers.rpartition(" ")
        return f"{head} {re.sub(_NUMBER, one, last)} {shown}{match['psi'] or ''}"
    return f"{re.sub(_NUMBER, one, numbers)} {shown}{match['psi'] or ''}"


def in_units(text: str, display: Display = METRIC, names: Iterable[str] = ()) -> str:
    """Return a sentence with its quantities in the units shown.

    Parameters
    ----------
    text : str
        A sentence of ours, in metric units.
    display : Display, optional
        Units to show.
    names : iterable of str, optional
        Names in it that are somebody's own and stay as they are.

    Returns
    -------
    str
        The same as it is for metric, else with flows, lengths, areas, volumes, temperatures and pressures in US units,
        as many digits as were known.

    Examples
    --------
    >>> in_units("1,500 L/h at 4.0 °C, 3.6 m to see.", US)
    '396 gph at 39 °F, 12 ft to see.'
    """
    if not display.us:
        return text
    kept = sorted({name for name in names if name}, key=len, reverse=True)
    if not kept:
        return _METRIC.sub(_in_us, text)
    parts = re.split("(" + "|".join(map(re.escape, kept)) + ")", text)
    return "".join(part if place % 2 else _METRIC.sub(_in_us, part) for place, part in enumerate(parts))


US = Display(flow="gph", pressure="in of water", length="ft", mass="oz", volume="gal")


def own_names(study: Study) -> set[str]:
    """Return the names in a study that are its owner's.

    Parameters
    ----------
    study : Study
        The study.

    Returns
    -------
    set of str
        Of options, elements, pumps.
    """
    options = {option.name for option in study.options} | {pump.name for pump in study.pumps}
    return options | {element.name for option in study.options for element in option.stages}


def distance(value_m: float, display: Display = METRIC) -> str:
    """Return a see-through distance, none over 10 m.

    Parameters
    ----------
    value_m : float
        Distance [m].
    display : Display, optional
        Units to show.

    Returns
    -------
    str
        With its unit.

    Examples
    --------
    >>> distance(3.6), distance(40.0, US)
    ('3.6 m', 'more than 33 ft')
    """
    most = model("optics.most_said")
    shown = f"{number(display.length_of(min(value_m, most)))} {display.length}"
    return f"more than {shown}" if value_m > most else shown
