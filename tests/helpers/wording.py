"""What the program says, with each figure blanked out: named by the field that has it, or else a #.

A text is held with the figures' names, never with the figures: which field stands where, in which unit, is what a
reader can judge. A figure is named where just one unit follows it and a field of that unit reads so when rounded.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from math import isfinite
from typing import Any

from looking import raw_numbers

from filtration.study.values import Study

_NUMBER = re.compile(
    r"(?<![\w.#])(?<!holds )(?P<money>(?:EUR|USD) )?(?P<number>\d+(?:,\d{3})*(?:\.\d+)?)"
    r"(?P<unit> ?[^\W\d_]+(?:/h|/min|[²³])?)?"
)
_DATE = re.compile(
    r"(?:(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) )?\d{1,2} (?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\w* \d{4}"
    r"|\d{4}-\d\d(?:-\d\d)?"
)
_UNITS = {
    "L/h": re.compile("l_per_h"),
    "days": (_DAYS := re.compile(r"(?<!per_)days?(?!s?_per)|in_days")),
    "day": _DAYS,
    "m": re.compile(r"_m(\.\d)?$"),
    "m²": re.compile("_m2"),
    "turnovers": re.compile("turnovers"),
    "kPa": re.compile("kpa"),
    "h": (_HOURS := re.compile("hours")),
    "hours": _HOURS,
    "L": re.compile("litres"),
    "g": re.compile("_g$"),
    "rinses": (_RINSES := re.compile("rinses")),
    "times": _RINSES,
    "soaks": re.compile("soaks"),
    "money": re.compile(
        "cost|price|amount|total$|undiscounted|discounted|save|worth|average|long_run|purchases|seasons|pumping|cooling$"
    ),
}
"""Units that tell, and what the names of fields in that unit have."""
_BARE = re.compile(r"^(?!.*(_m|_pa|_um|_kg|_g|_s|_h|days?|cost|chance|per_|kpa))")
"""Fields without a unit."""
_ASIDE = ("events", "flow_record", "flow_band", "notes", "reasons", "outcomes", "sums", "by_month", "visits", "lines")
"""Fields that hold a row of figures for each day or line, of which one is as good as another."""
_MOST = 3
"""Figures of a row that are named; of more, none."""

Figures = list[tuple[str, float]]


def figures_of(value: Any, path: str = "") -> Iterator[tuple[str, float]]:
    """Yield the figures of an answer, a plan or whatever was worked out, with the fields they stand in."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        yield from [(path, float(value))] if isfinite(value) else []
    for name, each in _parts(value):
        yield from figures_of(each, f"{path}.{name}" if path and name else path or name)


def _parts(value: Any) -> Iterable[tuple[str, Any]]:
    """Return what is in a value, by its field; the entries of a row of others bear no name of their own."""
    if is_dataclass(value):
        names = [field.name for field in fields(value) if field.name not in _ASIDE]
        return [(name, getattr(value, name)) for name in (names if not isinstance(value, Study) else ["needs"])]
    if isinstance(value, Mapping):
        return [(str(key), each) for key, each in value.items()]
    if not isinstance(value, list | tuple):
        return []
    plain = all(isinstance(each, int | float) for each in value)
    return [
        (str(place) if plain else "", each)
        for place, each in enumerate(value if not plain or len(value) <= _MOST else ())
    ]


def _last(path: str) -> str:
    name, _, place = path.rpartition(".")
    return f"{name.rpartition('.')[2]}.{place}" if place.isdigit() else place


def _named(text: str, unit: str, figures: Figures) -> str:
    """Return the field that a number shows, the nearest of those that read so, or both where two do; else a #."""
    whole, _, decimals = text.replace(",", "").partition(".")
    number = float(f"{whole}.{decimals or 0}")
    last = -len(decimals) if decimals else len(whole) - len(whole.rstrip("0")) if int(whole) else 0
    down, half = unit.startswith("day"), 0.501 * 10.0**last
    fields_of = _UNITS.get(unit) or (_BARE if decimals and not unit else None)
    fitting: dict[str, float] = {}
    for path, given in figures:
        name, off = _last(path), given - number
        near = (0.0 <= off < 2.0 * half) if down else abs(off) <= half
        if near and fields_of and given and fields_of.search(path if unit == "money" else name):
            own = 0.0 if down else round(abs(off) / half, 6)
            fitting[name] = min(own, fitting.get(name, own))
    best = [name for name in sorted(fitting) if fitting[name] == min(fitting.values())]
    return f"‹{'/'.join(best[:2])}›" if best else "#"


def blanked(text: str, figures: Figures = ()) -> str:  # type: ignore[assignment]  # none to name
    """Return a text with each figure's field in its place; dates and what no field has become #."""

    def one(found: re.Match[str]) -> str:
        money, number, unit = found["money"] or "", found["number"], found["unit"] or ""
        named = _named(number, "money" if money else unit.strip(), figures)
        long = "long " if raw_numbers(f"{money}{number}") or re.match(r"\d{4}", number) else ""
        return f"{money}{long}{named}{unit}"

    return _NUMBER.sub(one, _DATE.sub("DATE", text))


def lines_of(text: str, figures: Figures = ()) -> list[str]:  # type: ignore[assignment]  # none to name
    """Return the lines of a text, blanked, each once, blanks and rules within it gone."""
    told = (blanked(" ".join(line.split()), figures) for line in text.splitlines())
    return list(dict.fromkeys(line for line in told if line.strip(" ─━-")))


# Charts


def _is_odd(value: float) -> bool:
    """Whether a number has more than two digits, so that nobody chose it."""
    return float(f"{value:.1e}") != value


_TIMES = (1.0, 100.0, 1.0 / 0.0980665)
"""As it stands, in per cent, kPa in cm of water."""
_LOOKS = re.compile(
    "color|colour|Color|width|Width|height|size|Size|opacity|Opacity|dash|Dash|font|Font|padding|Padding"
)


def _bare(node: Any) -> Any:
    """Return a part of a chart without its colours and sizes; of numbers only round ones, which somebody chose."""
    if isinstance(node, dict):
        return {key: _bare(value) for key, value in node.items() if not _LOOKS.search(key)}
    if isinstance(node, list):
        return list(dict.fromkeys(_flat(_bare(each)) for each in node))
    if isinstance(node, bool) or node is None:
        return str(node).lower()
    if isinstance(node, int | float):
        return "#" if _is_odd(node) else f"{node:g}"
    return "colour" if re.fullmatch("#[0-9a-fA-F]{6}", node) else blanked(node)


def _flat(node: Any) -> str:
    if isinstance(node, dict):
        return ", ".join(
            f"{key} {'(' + _flat(value) + ')' if isinstance(value, dict) else _flat(value)}"
            for key, value in node.items()
        )
    return " | ".join(node) if isinstance(node, list) else str(node)


def _channel(name: str, given: Any) -> str:
    if name == "tooltip":
        tips = given if isinstance(given, list) else [given]
        return "tooltip " + "; ".join(
            " ".join(filter(None, [f"{tip.get('title', '')!r}".strip("'"), f"‹{tip['field']}›", tip.get("format", "")]))
            for tip in tips
        )
    given = _bare(given)
    field = f"‹{given.pop('field')}›" if "field" in given else ""
    return " ".join(filter(None, [name, field, _flat(given)]))


def _tables(spec: dict[str, Any]) -> Iterator[tuple[dict[str, Any], list[dict[str, Any]]]]:
    for layer in spec.get("layer", [spec]):
        data = layer.get("data") or spec.get("data") or {}
        yield layer, data["values"] if "values" in data else spec["datasets"][data["name"]]


def chart_lines(spec: dict[str, Any], figures: Figures) -> list[str]:
    """Return what a chart says: heading, what stands under it and beside it, and of each layer what it shows."""
    title = {"text": "", "subtitle": []} | (
        spec["title"] if isinstance(spec["title"], dict) else {"text": spec["title"]}
    )
    lines, known = [f"**{title['text']}**  ", *(f"{blanked(line)}  " for line in title["subtitle"])], set[str]()
    lines.append(f"\n{blanked(spec['description'])}\n")
    for layer, rows in _tables(spec):
        shown = _bare({"type": layer["mark"]} if isinstance(layer["mark"], str) else layer["mark"])
        parts = {name: _channel(name, given) for name, given in layer["encoding"].items()}
        parts |= {"transform": f"transform {_flat(_bare(layer['transform']))}"} if "transform" in layer else {}
        parts |= {"words": f"words {said}"} if (said := texts_of(rows)) else {}
        parts |= {"figures": f"figures {shown_by}"} if (shown_by := fields_in(rows, figures)) else {}
        again = [name for name, part in parts.items() if part in known]
        lines.append(
            f"- **{shown.pop('type')}** {_flat(shown)}".rstrip() + (f"; as above: {', '.join(again)}" if again else "")
        )
        lines += [f"  - {part}" for name, part in parts.items() if name not in again]
        known |= set(parts.values())
    return lines


def fields_in(rows: Iterable[Mapping[str, Any]], figures: Figures) -> str:
    """Return which fields the figures in rows of a chart are, number by number the same but for their unit."""
    named = {
        float(f"{value * times:.9g}"): _last(path)
        for path, value in reversed(figures)
        for times in _TIMES
        if _is_odd(value)
    }
    found: dict[str, dict[str, None]] = {}
    for row in rows:
        for key, value in row.items():
            if isinstance(value, int | float) and not isinstance(value, bool):
                name = named.get(float(f"{value:.9g}"))
                found.setdefault(key, {}).update({name: None} if name else {})
    return "; ".join(f"{key} {' | '.join(list(names)[:6]) or '#'}" for key, names in found.items())


def texts_of(rows: Iterable[Mapping[str, Any]]) -> str:
    """Return the words in rows of a chart, field by field, each once."""
    found: dict[str, dict[str, None]] = {}
    for row in rows:
        for key, value in row.items():
            if isinstance(value, str) and not re.match(r"\d{4}-\d\d-", value):
                found.setdefault(key, {})[blanked(value)] = None
    return "; ".join(f"{key}: {' | '.join(list(values)[:8])}" for key, values in found.items())
