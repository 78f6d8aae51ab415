"""Sentences and figures in the units a person reads."""

import re
from collections.abc import Iterable

from filtration.base.units import in_unit
from filtration.present.display import METRIC, Display
from filtration.present.words.phrases import number
from filtration.study.values import Study

_US = {
    "L/h": ("L/h", "gph", "gph"),
    "L": ("L", "gal", "gal"),
    "m": ("m", "ft", "ft"),
    "mm": ("mm", "in", "in"),
    "cm": ("cm", "in", "in"),
    "m²": ("m^2", "sq ft", "sq ft"),
    "m^2": ("m^2", "sq ft", "sq ft"),
    "°C": ("degC", "degF", "°F"),
    "degC": ("degC", "degF", "degF"),
    "kPa": ("kPa", "inH2O", "in of water"),
    "bar": ("bar", "psi", "psi"),
}

_NUMBER = r"[0-9][0-9,]*(?:\.[0-9]+)?"

_METRIC = re.compile(
    rf"(?<![\w.])((?:{_NUMBER}(?: µm)? (?:to|and|instead of) )?{_NUMBER})(?: |\u00a0)"
    r"(L/h|mm|cm|m²|m\^2|m|L|°C|degC|kPa|bar)(?![\w/²³^])(?P<psi> \([0-9.]+ psi\))?"
)


def _in_us(match: re.Match[str]) -> str:
    numbers, sign = match[1], match[2]
    unit, other, shown = _US[sign]

    def one(found: re.Match[str]) -> str:
        text = found[0].replace(",", "")
        if sign in ("°C", "degC"):
            return f"{in_unit(float(text), other):.0f}"
        digits = max(2, len(text.replace(".", "").lstrip("0")))
        return number(float(text) / in_unit(1.0, unit) * in_unit(1.0, other), min(digits, 3))

    # The first of two numbers may have its own unit, as in "5 µm and 20 m²".
    head, blank, last = numbers.rpartition(" ") if "µm" in numbers else ("", "", numbers)
    return f"{head}{blank}{re.sub(_NUMBER, one, last)} {shown}{match['psi'] or ''}"


def converted(text: str, display: Display = METRIC, names: Iterable[str] = ()) -> str:
    """Return a sentence of ours with its quantities in the units shown.

    Parameters
    ----------
    text : str
        A sentence in metric units.
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
    >>> converted("1,500 L/h at 4.0 °C, 3.6 m to see.", US)
    '396 gph at 39 °F, 12 ft to see.'
    """
    if not display.us:
        return text
    kept = "|".join(map(re.escape, sorted(filter(None, names), key=len, reverse=True)))
    parts = re.split(f"({kept})", text) if kept else [text]
    return "".join(part if place % 2 else _METRIC.sub(_in_us, part) for place, part in enumerate(parts))


US = Display(flow="gph", pressure="in of water", length="ft", mass="oz", volume="gal")


def display_of(study: Study) -> Display:
    """Return the units that a study is written in, and so answered in."""
    return US if study.us else METRIC


def as_written(text: str, study: Study) -> str:
    """Return a sentence of ours in the units that a study is written in."""
    return converted(text, display_of(study), own_names(study)) if study.us else text


def own_names(study: Study) -> set[str]:
    """Return the names in a study that are its owner's: its own, and those of options, elements, pumps."""
    names = {study.name} | {option.name for option in study.options} | {pump.name for pump in study.pumps}
    return names | {element.name for option in study.options for element in option.stages}
