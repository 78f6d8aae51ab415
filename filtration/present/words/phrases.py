"""Fixed phrases, and how numbers are written: rounded to what is known of them."""

from collections.abc import Container, Sequence
from datetime import date, datetime
from math import floor, isfinite, log10

from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.defaults import model
from filtration.present.display import Display
from filtration.present.words.sentences import single
from filtration.study.keys import MONTHS, WEEKDAYS
from filtration.study.values import Study

TERMS, _LIMITS, PARTS, CAUTIONS = (single(table) for table in ("terms", "limits", "parts", "cautions"))
_TEN_DAYS = 10.0
KINDS = {
    "foam": "open foam",
    "spun": "spun (melt-blown)",
    "wound": "string-wound",
    "pleated": "pleated",
    "train": "in series",
}


def number(value: float, digits: int = 2, *, more: int = 0) -> str:
    """Return a number to so many significant digits, and some more, with all of them before the point from 100 on.

    Examples
    --------
    >>> number(13.74), number(0.0123), number(1495.6, 3), number(9.96)
    ('14', '0.012', '1,500', '10')
    """
    if value == 0.0 or not isfinite(value):
        return f"{value:g}"
    digits += more
    rounded = float(f"{value:.{digits - 1}e}")
    return f"{rounded:,.{max(digits - 1 - floor(log10(abs(rounded))), 0)}f}"


def days(value: float, digits: int = 2, *, more: int = 0) -> str:
    """Return a length of time in days.

    Examples
    --------
    >>> days(1.0), days(13.7), days(0.21)
    ('1 day', '14 days', '0.21 days')
    """
    text = number(value, digits, more=more)
    return "1 day" if text in {"1", "1.0", "1.00"} else f"{text} days"


def flow(litres_per_hour: float, display: Display | None = None, *, more: int = 0) -> str:
    """Return a flow [L/h] to three digits, in litres an hour or in the unit shown.

    Examples
    --------
    >>> flow(1495.6)
    '1,500 L/h'
    """
    if display:
        return f"{number(display.flow_of(litres_per_hour), 3)} {display.flow}"
    return f"{number(litres_per_hour, 3, more=more)} L/h"


def distance(value_m: float, display: Display | None = None, *, more: int = 0) -> str:
    """Return a see-through distance [m], none over 10 m, in metres or in the unit shown.

    Examples
    --------
    >>> distance(5.678), distance(40.0)
    ('5.7 m', 'more than 10 m')
    """
    most_m = model("optics.most_said")
    seen_m = min(value_m, most_m)
    shown = f"{number(display.length_of(seen_m))} {display.length}" if display else f"{number(seen_m, more=more)} m"
    return f"more than {shown}" if value_m > most_m else shown


def money(value: float, currency: str) -> str:
    """Return an amount of money, whole from 10 on.

    Examples
    --------
    >>> money(232.4, "EUR"), money(0.5, "USD")
    ('EUR 232', 'USD 0.50')
    """
    return f"{currency} {value:,.0f}" if abs(value) >= 10.0 else cents(value, currency)


def cents(value: float, currency: str) -> str:
    """Return an amount of money to a cent.

    Examples
    --------
    >>> cents(1180.8489, "EUR"), cents(-0.5, "USD")
    ('EUR 1,180.85', 'USD -0.50')
    """
    return f"{currency} {value:,.2f}"


def counted(count: int, what: str, form: str = "") -> str:
    """Return so many things, their number in a form of ``format``.

    Examples
    --------
    >>> counted(1, "row"), counted(1200, "tub", ",")
    ('1 row', '1,200 tubs')
    """
    return f"{count:{form}} {what}" if count == 1 else f"{count:{form}} {what}s"


def capital(text: str) -> str:
    """Return a text with its first letter large."""
    return text[:1].upper() + text[1:]


def first_run(option: OptionAnswer) -> str:
    """Return after how many days an option first needs a service; 0 where it needs one even when new."""
    return due(option.days_to_first_service or 0.0)


def rounded_down(value: float) -> float:
    """Return days to when something falls due, rounded down as a calendar has them; to tenths of a day below ten."""
    return floor(value) if value >= _TEN_DAYS else floor(10.0 * value) / 10.0


def whole_days(value: float | None) -> str:
    """Return days to when something falls due, rounded down; a dash where it never does.

    Examples
    --------
    >>> whole_days(12.9), whole_days(6.78), whole_days(140.2)
    ('12', '6.7', '140')
    """
    return "-" if value is None else f"{rounded_down(value):,.10g}"


def day(value: date) -> str:
    """Return a day as people read it, with its weekday.

    Examples
    --------
    >>> day(date(2028, 2, 29))
    'Tue 29 Feb 2028'
    """
    return f"{WEEKDAYS[value.weekday()][:3]} {value.day} {MONTHS[value.month - 1][:3]} {value.year}"


def moment(value: datetime) -> str:
    """Return a time as people read it, with its offset from UTC.

    Examples
    --------
    >>> moment(datetime.fromisoformat("2026-03-03T18:30+01:00"))
    'Tue 3 Mar 2026 18:30 (+01:00)'
    """
    return f"{day(value)} {value:%H:%M} ({value.isoformat()[-6:]})"


def due(value: float) -> str:
    """Return the same with its word.

    Examples
    --------
    >>> due(12.9), due(1.0)
    ('12 days', '1 day')
    """
    text = whole_days(value)
    return "1 day" if text == "1" else f"{text} days"


def rinses(option: OptionAnswer, none: str = "–", joint: str = " + ") -> str:
    """Return how many rinses there are before each stage of an option is replaced."""
    counts = (stage.rinses_before_replacing for stage in option.stages)
    return joint.join(none if count is None else str(count) for count in counts)


def ended(limit: str, run_days: float) -> str:
    """Return what ends a run of so many days, as a clause.

    Examples
    --------
    >>> ended("time limit", 14.0), ended("full", 9.1)
    ('it has reached your 14-day limit', 'the cartridge is full')
    """
    return _LIMITS[limit].format(days=run_days)


def is_rinsed(option: OptionAnswer) -> bool:
    """Return whether anything of an option is rinsed at a service."""
    return any(stage.rinses_before_replacing for stage in option.stages)


def service(option: OptionAnswer) -> str:
    """Return what a service of an option is called: a rinse, or a replacement where nothing is rinsed."""
    return "rinse" if is_rinsed(option) else "replacement"


def title(option: OptionAnswer, comparison: Comparison) -> str:
    """Return an option's name, with its pump where several are compared."""
    return on_pump(option.name, option.pump, comparison.study)


def on_pump(name: str, pump: str, study: Study) -> str:
    """Return a name with that of its pump, where the study has several."""
    return f"{name} on {pump}" if len(study.pumps) > 1 else name


def headed(first: str, settings: Sequence[str]) -> str:
    """Return a first line with what was set otherwise."""
    return f"{first}; with {', '.join(settings)}" if settings else first


def at_service(whats: Container[str]) -> list[str]:
    """Return the cautions for services of these kinds: "rinse", "soak", "replace"."""
    dirty = "dirty" if "rinse" in whats or "soak" in whats else "spent"
    return [CAUTIONS[key] for key in ("clear", "electricity", dirty, *(["chemicals"] if "soak" in whats else []))]
