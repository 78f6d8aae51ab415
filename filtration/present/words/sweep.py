"""Curves against a micron rating, or any key, in words and as cells of a table."""

from collections.abc import Sequence

from filtration.answers.curves import Curve, Sweep, Swept
from filtration.present.display import Display
from filtration.present.words.phrases import KINDS, distance, number, whole_days

_SHOP_UM = (1.0, 5.0, 10.0, 20.0, 50.0, 100.0)
_MOST_LINES, _FEWEST = 24, len(_SHOP_UM)
_FAILS = {"flow": "lacks flow", "clarity": "is cloudy", "full": "does not fit"}


def line_name(found: Sweep, curve: Curve) -> str:
    """Return what a curve is called: its kind, with its size where there are several; the option that is moved."""
    if not found.by_rating:
        return found.name
    several = len({each.size for each in found.curves}) > 1
    return f"{KINDS[curve.kind]}, {curve.size}" if several else KINDS[curve.kind]


def axis_name(found: Sweep) -> str:
    """Return what is moved, with its unit."""
    if found.by_rating:
        return "micron rating, µm"
    return f"{found.over}, {found.unit}" if found.unit else found.over


def heading(found: Sweep) -> str:
    """Return what the curves are of."""
    if not found.by_rating:
        return f"{found.name} on {found.pump}, against {axis_name(found)}."
    sizes = " or ".join(dict.fromkeys(curve.size or "" for curve in found.curves))
    return f"Cartridges of {sizes}, each alone in one housing on {found.pump}."


def shown_by(found: Sweep) -> str:
    """Return in one sentence which values meet the needs, and what fails beyond them."""
    meets = f"Meets your needs: {'; '.join(_meets(found, curve) for curve in found.curves)}."
    helps = any(row.meets_needs for curve in found.curves for row in curve.rows)
    return meets if helps else f"{meets} `filtration compare` says what would help."


def _meets(found: Sweep, curve: Curve) -> str:
    name, by_rating = line_name(found, curve), found.by_rating
    good = [at for at, row in enumerate(curve.rows) if row.meets_needs]
    if not good:
        why = " or ".join(dict.fromkeys(map(_fails, curve.rows)))
        return f"{name} at no {'rating' if by_rating else 'value'}, as it {why}"
    low, high = good[0], good[-1]
    if isinstance(curve.rows[0].value, str | bool):
        return f"{name} with {found.over} = {', '.join(_value(curve.rows[at]) for at in good)}"
    unit = " µm" if by_rating else f" {found.unit}" if found.unit else ""
    first, last = _value(curve.rows[low]), _value(curve.rows[high])
    span = f"from {first} to {last}" if high > low else f"at {first}"
    span += unit
    span += ", not throughout" if len(good) <= high - low else ""
    words = ("finer", "coarser") if by_rating else ("below, it", "above, it")
    sides = [
        f"{side} {_fails(curve.rows[at])}"
        for side, at in zip(words, (low - 1, high + 1), strict=True)
        if 0 <= at < len(curve.rows)
    ]
    beyond = f" ({', '.join(sides)})" if sides else ""
    return f"{name} {span}{beyond}"


def _fails(row: Swept) -> str:
    """Return what a row that does not meet the needs lacks."""
    return "runs too short" if row.days_to_first_service else _FAILS.get(row.governed_by or "", "does not run")


def _value(row: Swept) -> str:
    return f"{row.value:g}" if isinstance(row.value, float) else str(row.value).lower()


def cells(found: Sweep, display: Display) -> tuple[list[str], list[list[str]]]:
    """Return a table: columns, and a block a curve, of many values a few."""
    unit = "µm" if found.by_rating else found.unit or "value"
    columns = ["", unit, "drop\nclean", "drop\nat\nrinse", f"clean\nflow\n{display.flow}"]
    columns += ["first\nrun\ndays", "limited\nby", f"lowest\nvisibility\n{display.length}"]
    columns += [f"a year\n{found.study.currency}", "meets\nneeds"]
    rows = []
    for curve, few in _few(found):
        names = [line_name(found, curve), *[""] * (len(few) - 1)]
        rows += [[name, *_cells(row, display)] for name, row in zip(names, few, strict=True)]
    return columns, rows


def table_heading(display: Display) -> str:
    """Return what stands above the table."""
    return f"Pressure drop (head lost in the cartridge), {display.pressure}, clean and at rinse"


def lines(found: Sweep, display: Display) -> list[str]:
    """Return the same where there is no room for a table, a line a value."""
    told, unit = [], "µm" if found.by_rating else found.unit or ""
    for curve, few in _few(found):
        for row in few:
            value, clean, at_rinse, _, run, _, seen, cost, _ = _cells(row, display)
            figures = f"drop {clean} to {at_rinse}, {run} days, {seen} {display.length}, {found.study.currency} {cost}"
            here = f"{line_name(found, curve)}, {value} {unit}".rstrip()
            told.append(f"{here}: {figures if row.meets_needs else _fails(row)}")
    return told


def _few(found: Sweep) -> list[tuple[Curve, Sequence[Swept]]]:
    """Return a few rows of each curve, against a rating those of a shop."""
    most, few = max(_FEWEST, _MOST_LINES // len(found.curves)), []
    for curve in found.curves:
        rows: Sequence[Swept] = curve.rows
        if len(rows) > most:
            rows = [row for row in rows if found.by_rating and row.value in _SHOP_UM] or rows
            rows = rows[:: -(-len(rows) // most)]
        few.append((curve, rows))
    return few


def _cells(row: Swept, display: Display) -> list[str]:
    runs, seen = bool(row.days_to_first_service), distance(row.worst_view_m, display)
    pressures = (row.clean_filter_loss_kpa, row.due_filter_loss_kpa if runs else None)
    return [
        _value(row),
        *("-" if kpa is None else number(display.pressure_of(kpa)) for kpa in pressures),
        number(display.flow_of(row.clean_flow_l_per_h), 3),
        whole_days(row.days_to_first_service),
        row.governed_by or "-",
        seen.removesuffix(f" {display.length}").replace("more than", ">"),
        "-" if row.cost_per_year is None else f"{row.cost_per_year:,.0f}",
        "yes" if row.meets_needs else "no",
    ]


def notes(found: Sweep) -> list[str]:
    """Return what to know beside the curves."""
    lines, bare = [], dict.fromkeys(line_name(found, curve) for curve in found.curves if not curve.priced)
    if bare:
        lines.append(f"The year lacks the cartridge's price, as the study has none like it: {'; '.join(bare)}.")
    if found.left_aside:
        lines.append(f"Makers' figures are left aside, rating and shape alone count: {', '.join(found.left_aside)}.")
    return lines
