"""A dated plan in words."""

from collections.abc import Callable
from datetime import date

from filtration.base.remarks import Remark
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.plan.dated import Plan, Planned, Purchase
from filtration.present.words.odds import of_twenty
from filtration.present.words.phrases import CAUTIONS, days, number

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_METERS = {"electricity": "kWh of electricity", "disinfectant": "months' disinfectant"}
_NOTES: dict[str, str] = {
    "even": (
        "Dips are taken as spread evenly; say uses_by_month and uses_by_weekday under [tub] in the study file, and the "
        "days move with them."
    ),
    "uneven": (
        "In busy months rinses come sooner, in quiet ones later: dirt is the clock. Time limits, discard ages "
        "and water changes keep to the calendar{growth}."
    ),
    "in use": (
        "The plan goes on from the day the element was fitted, {days} days ago, with every service since done when "
        "due; pump and housing are taken to be as old."
    ),
    "lacks": (
        "In {cases} of 20 cases the flow wanted is not there even with a new element; those have no days and are left "
        "out of the earliest and latest."
    ),
    "fails": "{option} does not meet the needs; see what it fails on in the comparison.",
    "no lead time": "{element}: say its lead_time and suppliers in the study file to be told how many spares to keep.",
}
_GROWS = "; what grows in the filter by itself is dated only roughly"
_GAP = (
    ("long_run", "a year in the long run, as the comparison has it"),
    ("readings", "what the readings change of that"),
    ("first_purchases", "first purchases, spread over the horizon"),
    ("part_used", "part-used elements and equipment: worn, but not yet paid for again"),
    ("interest", "interest on pump and housings, which a plain sum leaves out"),
    ("seasons", "seasons: dips that change with month and weekday"),
    ("average", "a year on average in this plan"),
)


def day(value: date) -> str:
    """Return a day as people read it.

    Parameters
    ----------
    value : date
        The day.

    Returns
    -------
    str
        With its weekday.

    Examples
    --------
    >>> day(date(2028, 2, 29))
    'Tue 29 Feb 2028'
    """
    return f"{_WEEKDAYS[value.weekday()]} {value.day} {_MONTHS[value.month - 1]} {value.year}"


def cents(value: float, currency: str) -> str:
    """Return an amount of money to a cent.

    Parameters
    ----------
    value : float
        Amount.
    currency : str
        Its name.

    Returns
    -------
    str
        Currency and amount.

    Examples
    --------
    >>> cents(1180.8489, "EUR"), cents(-0.5, "USD")
    ('EUR 1,180.85', 'USD -0.50')
    """
    return f"{currency} {value:,.2f}"


def headline(plan: Plan) -> str:
    """Return what the plan is of, what comes first and what it comes to.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    str
        A short paragraph.
    """
    currency, total = plan.study.currency, plan.total
    title = f"{plan.name} on {plan.pump}" if len(plan.study.pumps) > 1 else plan.name
    sentences = [f"{title}, from {day(plan.first_day)} to {day(plan.last_day)}."]
    due = next((event for event in plan.events if event.what in ("rinse", "soak", "replace")), None)
    if due is not None:
        sentences.append(f"The first service is due on {when(due)}: {what(due)}.")
    sentences.append(
        f"In all it comes to {cents(total.undiscounted or 0.0, currency)}, {cents(plan.gap.average, currency)} a year; "
        f"discounted to the first day, {cents(total.discounted or 0.0, currency)}."
    )
    return " ".join(sentences)


def what(event: Planned) -> str:
    """Return what is done.

    Parameters
    ----------
    event : Planned
        The event.

    Returns
    -------
    str
        Words, an element by its name.

    Examples
    --------
    >>> at = {"day": 0, "date": date(2026, 3, 1), "earliest": date(2026, 3, 1), "latest": None, "amount": 0.0}
    >>> what(Planned(what="rinse", item="Pleated 20", count=2, **at))
    'rinse 2 x Pleated 20'
    """
    if event.what == "change water":
        return "change the water"
    if event.what == "buy" and event.item in _METERS and event.day > 0:
        return f"pay {number(event.count, 3)} {_METERS[event.item]}"
    times = f"{event.count:g} x " if event.count != 1 else ""
    return f"{event.what} {times}{event.item}"


def when(event: Planned) -> str:
    """Return on which day, and between which days it is likely to fall.

    Parameters
    ----------
    event : Planned
        The event.

    Returns
    -------
    str
        Words.
    """
    if event.latest == event.earliest:
        return day(event.date)
    if event.latest is None:
        return f"{day(event.date)} ({day(event.earliest)} or later)"
    return f"{day(event.date)} ({day(event.earliest)} to {day(event.latest)})"


def first_year(plan: Plan) -> list[str]:
    """Return the events of the first year.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of str
        One line each.
    """
    currency = plan.study.currency
    year = [event for event in plan.events if event.day < DAYS_PER_YEAR]
    return [f"{when(event)}: {what(event)}, {cents(event.amount, currency)}" for event in year]


def first_year_rows(plan: Plan) -> list[dict[str, object]]:
    """Return the events of the first year as rows of a table.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of dict
        Day, earliest and latest likely day (None where it lies far off), what is done, and the amount.
    """
    return [
        {
            "day": event.date,
            "earliest": event.earliest,
            "latest": event.latest,
            "what": what(event),
            plan.study.currency: event.amount,
        }
        for event in plan.events
        if event.day < DAYS_PER_YEAR
    ]


def years(plan: Plan) -> list[str]:
    """Return what each of the calendar's years comes to, and all of them.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of str
        One line each.
    """
    currency = plan.study.currency
    lines = [f"{year}: {cents(amount, currency)}" for year, amount in plan.by_year.items()]
    return [*lines, f"in all: {cents(plan.total.undiscounted or 0.0, currency)}"]


def shopping(plan: Plan) -> list[str]:
    """Return what to buy in the first year, and what to keep.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of str
        One line an item.
    """
    return [_LINES[line.what](line, plan.study.currency) for line in plan.shopping]


def _element_line(line: Purchase, currency: str) -> str:
    bought = f"{line.count:g} in the year, {cents(line.amount, currency)}" if line.count else "none in the year"
    sentences = [f"{line.item}: {bought}."]
    if line.lead_time_days is not None:
        sentences.append(f"{kept(line)}.")
    if line.swap:
        spare = "spare" if line.swap == 1 else "spares"
        sentences.append(f"Besides, {_count(line.swap)} clean, dry {spare} to swap in while the other dries.")
    if line.stock_amount:
        sentences.append(f"What is kept costs {cents(line.stock_amount, currency)} once, beside the plan's sums.")
    if line.next_needed is not None:
        order = f"; order by {day(line.order_by)}" if line.order_by is not None else ""
        sentences.append(f"The next may be needed on {day(line.next_needed)}{order}.")
    return " ".join(sentences)


def kept(line: Purchase) -> str:
    """Return how many spares to keep, and for what.

    Parameters
    ----------
    line : Purchase
        An element with a lead time.

    Returns
    -------
    str
        Words, without a full stop.

    Examples
    --------
    >>> kept(Purchase(item="P", what="element", count=1, amount=1, spares=2, lead_time_days=10.0, suppliers=1))
    'One supplier, 10 days: keep 2'
    """
    suppliers = ""
    if line.suppliers is not None:
        suppliers = f"{_count(line.suppliers)} supplier{'' if line.suppliers == 1 else 's'}, "
    text = f"{suppliers}{days(line.lead_time_days or 0.0)}: keep {line.spares or 'none for that'}"
    return text[:1].upper() + text[1:]


def _count(value: int) -> str:
    return _NUMBERS[value] if value < len(_NUMBERS) else str(value)


_LINES: dict[str, Callable[[Purchase, str], str]] = {
    "element": _element_line,
    "cleaner": lambda line, currency: (
        f"cleaner for {line.count:g} soaks of {line.item}: {cents(line.amount, currency)}."
    ),
    "disinfectant": lambda line, currency: (
        f"disinfectant for {number(line.count)} months: {cents(line.amount, currency)}."
    ),
    "equipment": lambda line, currency: f"{line.item}: {line.count:g}, {cents(line.amount, currency)}.",
}


def break_even(plan: Plan) -> str:
    """Return from which day what is rinsed costs less than what is thrown away.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    str
        A sentence or two.
    """
    found = plan.break_even
    if found is None:
        return "There is nothing to compare: the needs are not met both by elements that are rinsed and by others."
    currency = plan.study.currency
    reused = f"{found.reusable} ({'cheapest that is rinsed' if found.reusable_is_cheapest else 'rinsed'})"
    thrown = f"{found.disposable} ({'cheapest thrown away' if found.disposable_is_cheapest else 'thrown away'})"
    totals = (
        f"Over {days(found.horizon_days, 4)} they come to {cents(found.reusable_total, currency)} and "
        f"{cents(found.disposable_total, currency)}."
    )
    if found.day is None:
        return f"{reused} never comes to less than {thrown}. {totals}"
    if found.day == 0:
        return f"{reused} comes to less than {thrown} from the start. {totals}"
    return f"From day {found.day} on {reused} has cost less than {thrown}, all purchases counted. {totals}"


def gap(plan: Plan) -> list[str]:
    """Return how the plan's yearly average comes out of the comparison's long-run rate.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of str
        One line each; the amounts add up to the last.
    """
    return [
        f"{cents(amount, plan.study.currency)}: {words}"
        for key, words in _GAP
        if (amount := getattr(plan.gap, key)) or key in ("long_run", "average")
    ]


def notes(plan: Plan) -> list[str]:
    """Return what the reader should know besides.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of str
        Sentences.
    """
    means = (
        "Earliest and latest are the days by which it has come in 2 and in 18 of 20 equally likely cases; the further "
        "ahead, the wider. Cases in which the water is dull even so count here, those without the flow do not; the "
        "comparison counts both as 0 days."
    )
    return [means, *(_note(remark) for remark in plan.notes)]


def _note(remark: Remark) -> str:
    figures: dict[str, object] = dict(remark.figures)
    if "growth" in figures:
        figures["growth"] = _GROWS if figures["growth"] else ""
    if "chance" in figures:
        figures["cases"] = of_twenty(float(remark.figures["chance"]))
    return _NOTES[remark.kind].format(**figures)


def cautions(plan: Plan) -> list[str]:
    """Return what to mind at services.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of str
        Sentences.
    """
    soaks = any(event.what == "soak" for event in plan.events)
    keys = ["clear", "electricity", "dirty", *(["chemicals"] if soaks else [])]
    return [CAUTIONS[key] for key in keys]
