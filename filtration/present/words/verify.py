"""The published checks in words, and as a table."""

from collections.abc import Iterable
from math import floor, isfinite, log10

from filtration.present.words.sentences import single
from filtration.validation.held import ALONE, CONTRADICTED, HELD
from filtration.validation.published import Check, Checks

Row = dict[str, str]

COLUMNS = ("topic", "what", "computed", "published", "difference", "tolerance", "unit", "holds", "memory", "source")
ABOUT = single("asides")["published cases"]
PRESS = "Recompute the published cases"
"""What stands on the button of the page."""

_PARTS = single("parts_of_checks")
_CONTRADICTS = "contradicts"
_PLAIN_FROM, _PLAIN_BELOW = 1e-4, 1e7


def _exponent(value: float) -> int:
    return floor(log10(value))


def _fine(check: Check) -> int:
    """Return the power of ten to which a check's figures are told: two digits of its tolerance, three of its bounds."""
    if check.case.between is not None:
        spans = (check.high - check.low, abs(check.high), abs(check.low))
        return _exponent(next(span for span in spans if span > 0.0)) - 2
    return _exponent(check.tolerance) - 1 if check.tolerance > 0.0 else 0


def _written(value: float, exponent: int) -> str:
    """Return a number rounded to a power of ten; nothing of it left is 0, and never -0."""
    if not isfinite(value):
        return f"{value}"
    if abs(value) < 0.5 * 10.0**exponent:
        return "0"
    if _PLAIN_FROM <= abs(value) < _PLAIN_BELOW:
        return _bare(f"{round(value, -exponent):.{max(-exponent, 0)}f}")
    mantissa, _, power = f"{value:.{max(_exponent(abs(value)) - exponent, 0)}e}".partition("e")
    return f"{_bare(mantissa)}e{int(power)}"


def _bare(decimal: str) -> str:
    return decimal.rstrip("0").rstrip(".") if "." in decimal else decimal


def _as_is(value: float) -> str:
    """Return a published number as it is in print."""
    return _written(value, _exponent(abs(value)) - 11) if value and isfinite(value) else f"{value:g}"


def _published(check: Check) -> str:
    """Return what is in print at a check's point."""
    low, high = _as_is(check.low), _as_is(check.high)
    return low if check.case.between is None else f"{low} to {high}"


def row(check: Check) -> Row:
    """Return a check as the cells of a table, a text for each of ``COLUMNS``."""
    case, fine = check.case, _fine(check)
    difference = _written(check.difference, fine)
    points = len(check.all_computed)
    return {
        "topic": case.topic,
        "what": f"{case.name}, {points} points" if points > 1 else case.name,
        "computed": _written(check.computed, fine),
        "published": _published(check),
        "difference": difference if difference == "0" or check.difference < 0.0 else f"+{difference}",
        "tolerance": _written(check.tolerance, fine) if case.between is None else "bounds",
        "unit": case.unit,
        "holds": "yes" if check.holds else _CONTRADICTS if case.contradicts else "NO",
        "memory": "mem" if case.memory else "",
        "source": f"{case.source}: {case.note}" if case.note else case.source,
    }


def rows(found: Checks) -> list[Row]:
    """Return all checks as the cells of a table."""
    return [row(check) for check in found.checks]


def by_topic(checks: Iterable[Check]) -> dict[str, list[Row]]:
    """Return checks as the cells of a table a topic, in the order topics first come."""
    topics: dict[str, list[Row]] = {}
    for cells in map(row, checks):
        topics.setdefault(cells["topic"], []).append(cells)
    return topics


def parts(found: Checks) -> dict[str, dict[str, list[Row]]]:
    """Return the checks topic by topic under a heading each, with its count: the main job first, arithmetic apart."""
    several = {_PARTS["main"]: found.main_job, _PARTS["arithmetic"]: found.arithmetic}
    return {f"{heading}: {len(checks)}": by_topic(checks) for heading, checks in several.items()}


def line(cells: Row) -> str:
    """Return a check as one sentence, for a narrow terminal.

    Examples
    --------
    >>> line({"what": "pi", "computed": "3.14", "published": "3.1", "difference": "+0.04", "tolerance": "0.05",
    ...       "unit": "", "source": "a book", "memory": "mem", "holds": "yes"})
    'pi: computed 3.14, published 3.1, difference +0.04, tolerance 0.05. a book (mem)'
    """
    unit = f" {cells['unit']}" if cells["unit"] else ""
    figures = (
        f"computed {cells['computed']}{unit}, published {cells['published']}, difference {cells['difference']}, "
        f"tolerance {cells['tolerance']}"
    )
    return f"{_mark(cells)}{cells['what']}: {figures}. {source(cells)}"


def source(cells: Row) -> str:
    """Return where a check's figures come from, marked where they were recalled."""
    return f"{cells['source']} (mem)" if cells["memory"] else cells["source"]


def what(cells: Row) -> str:
    """Return what a check is of, with its unit, marked where it does not hold."""
    unit = f", {cells['unit']}" if cells["unit"] else ""
    return f"{_mark(cells)}{cells['what']}{unit}"


def _mark(cells: Row) -> str:
    return {"yes": "", _CONTRADICTS: "CONTRADICTS A DEFAULT: "}.get(cells["holds"], "DOES NOT HOLD: ")


def summary(found: Checks) -> str:
    """Return in one line how many checks of either part and sources there are, and how many checks do not hold."""
    failed, known = len(found.failed), len(found.contradicting)
    told = "all hold" if not failed else f"{failed} {'does' if failed == 1 else 'do'} not hold"
    but = f", but for {known} that {'contradicts' if known == 1 else 'contradict'} a default" if known else ""
    both = f"{len(found.main_job)} of the main job, {len(found.arithmetic)} of arithmetic and libraries"
    return f"{len(found.checks)} checks of {len(found.sources)} sources, {both}: {told}{but}."


def not_held() -> str:
    """Return in a few sentences how much of the model is held from outside, and what would settle the rest."""
    both = sum(bool(each.less and each.more) for each in HELD)
    held = _PARTS["held"].format(held=len(HELD), both=both)
    contradicted = f"{_PARTS['contradicted']} {'; '.join(CONTRADICTED.values())}."
    alone = "; ".join(f"{each.what} ({each.reading})" for each in ALONE)
    return f"{held} {contradicted} {_PARTS['alone']} {alone}."


def remembered(found: Checks) -> str:
    """Return in one line how many figures were recalled."""
    return f"{found.from_memory} of the checks lean on a figure recalled from memory, marked (mem)."
