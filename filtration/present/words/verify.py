"""The published checks in words, as a table, and as the machine-readable document."""

from collections.abc import Mapping
from math import floor, inf, isfinite, log10

from filtration.validation.published import Check, Checks

FORMAT = 1
COLUMNS: Mapping[str, str] = {
    "topic": "topic",
    "what": "what",
    "computed": "computed",
    "published": "published",
    "difference": "difference",
    "tolerance": "tolerance",
    "unit": "unit",
    "holds": "holds",
    "memory": "memory",
    "source": "source",
}
"""Columns of the table in order: by key, the name that stands above each."""

ABOUT = (
    "What this program computes against what is in print. Of a curve, the point is shown that is farthest off for its "
    "tolerance. Of bounds, the difference is how far outside them the figure lies. (mem): the figure in print was "
    "recalled, not looked up again."
)
PRESS = "Recompute the published cases"
"""What stands on the button of the page."""

_PLAIN_FROM, _PLAIN_BELOW = 1e-4, 1e7


def _exponent(value: float) -> int:
    return floor(log10(value))


def _fine(check: Check) -> int:
    """Return the power of ten to which a check's figures are told: two digits of its tolerance, three of its bounds."""
    if check.case.between is not None:
        spans = (check.high - check.low, abs(check.high), abs(check.low))
        return _exponent(next(span for span in spans if 0.0 < span < inf)) - 2
    return _exponent(check.tolerance) - 1 if check.tolerance > 0.0 else 0


def _written(value: float, exponent: int) -> str:
    """Return a number rounded to a power of ten; nothing of it left is 0, and never -0."""
    if not isfinite(value):
        return f"{value}"
    if abs(value) < 0.5 * 10.0**exponent:
        return "0"
    if _PLAIN_FROM <= abs(value) < _PLAIN_BELOW:
        text = f"{round(value, -exponent):.{max(-exponent, 0)}f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    digits = max(_exponent(abs(value)) - exponent, 0)
    mantissa, _, power = f"{value:.{digits}e}".partition("e")
    return f"{mantissa.rstrip('0').rstrip('.') if '.' in mantissa else mantissa}e{int(power)}"


def _as_is(value: float) -> str:
    """Return a published number as it is in print."""
    return _written(value, _exponent(abs(value)) - 11) if value and isfinite(value) else f"{value:g}"


def _published(check: Check) -> str:
    """Return what is in print at a check's point."""
    low, high = _as_is(check.low), _as_is(check.high)
    if check.case.between is None:
        return low
    if check.low == -inf:
        return f"at most {high}"
    return f"at least {low}" if check.high == inf else f"{low} to {high}"


def row(check: Check) -> dict[str, str]:
    """Return a check as the cells of a table.

    Parameters
    ----------
    check : Check
        The check.

    Returns
    -------
    dict of str to str
        A text for each key of ``COLUMNS``.
    """
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
        "holds": "yes" if check.holds else "NO",
        "memory": "mem" if case.memory else "",
        "source": f"{case.source}: {case.note}" if case.note else case.source,
    }


def rows(found: Checks) -> list[dict[str, str]]:
    """Return all checks as the cells of a table.

    Parameters
    ----------
    found : Checks
        The checks.

    Returns
    -------
    list of dict
        A row each, see ``row``.
    """
    return [row(check) for check in found.checks]


def by_topic(found: Checks) -> dict[str, list[dict[str, str]]]:
    """Return all checks, topic by topic.

    Parameters
    ----------
    found : Checks
        The checks.

    Returns
    -------
    dict of str to list of dict
        The rows of each topic, in the order topics first come.
    """
    topics: dict[str, list[dict[str, str]]] = {}
    for each in rows(found):
        topics.setdefault(each["topic"], []).append(each)
    return topics


def line(cells: Mapping[str, str]) -> str:
    """Return a check as one sentence, for a narrow terminal.

    Parameters
    ----------
    cells : mapping
        See ``row``.

    Returns
    -------
    str
        The same figures in a line.

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


def source(cells: Mapping[str, str]) -> str:
    """Return where a check's figures come from, marked where they were recalled.

    Parameters
    ----------
    cells : mapping
        See ``row``.

    Returns
    -------
    str
        The source.
    """
    return f"{cells['source']} (mem)" if cells["memory"] else cells["source"]


def what(cells: Mapping[str, str]) -> str:
    """Return what a check is of, with its unit, marked where it does not hold.

    Parameters
    ----------
    cells : mapping
        See ``row``.

    Returns
    -------
    str
        A few words.
    """
    unit = f", {cells['unit']}" if cells["unit"] else ""
    return f"{_mark(cells)}{cells['what']}{unit}"


def _mark(cells: Mapping[str, str]) -> str:
    return "" if cells["holds"] == "yes" else "DOES NOT HOLD: "


def summary(found: Checks) -> str:
    """Return in one line how it went.

    Parameters
    ----------
    found : Checks
        The checks.

    Returns
    -------
    str
        How many checks and sources there are, and how many checks do not hold.
    """
    failed = len(found.failed)
    told = "all hold" if not failed else f"{failed} {'does' if failed == 1 else 'do'} not hold"
    return f"{len(found.checks)} checks of {len(found.sources)} sources: {told}."


def remembered(found: Checks) -> str:
    """Return in one line how many figures were recalled.

    Parameters
    ----------
    found : Checks
        The checks.

    Returns
    -------
    str
        A sentence.
    """
    return f"{found.from_memory} of the checks lean on a figure recalled from memory, marked (mem)."


def verify_document(found: Checks) -> dict[str, object]:
    """Return the checks as numbers, text, lists and dictionaries.

    Parameters
    ----------
    found : Checks
        The checks.

    Returns
    -------
    dict
        Ready for JSON; ``None`` where there is no bound, and where a figure is no number.
    """
    return {
        "format": FORMAT,
        "checks": len(found.checks),
        "sources": len(found.sources),
        "from_memory": found.from_memory,
        "failed": len(found.failed),
        "cases": [_case_document(check) for check in found.checks],
    }


def _case_document(check: Check) -> dict[str, object]:
    case = check.case
    return {
        "topic": case.topic,
        "quantity": case.quantity,
        "name": case.name,
        "unit": case.unit,
        "computed": _number(check.computed),
        "published_low": _number(check.low),
        "published_high": _number(check.high),
        "difference": _number(check.difference),
        "tolerance": check.tolerance,
        "holds": check.holds,
        "all_computed": [_number(value) for value in check.all_computed],
        "source": case.source,
        "note": case.note,
        "memory": case.memory,
    }


def _number(value: float) -> float | None:
    return value if isfinite(value) else None
