"""A dated plan in words."""

from collections.abc import Callable
from datetime import date

from filtration.base.remarks import Remark
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.plan.dated import Plan, Planned, Purchase
from filtration.present.words.odds import of_twenty
from filtration.present.words.phrases import at_service, capital, cents, counted, day, days, number, on_pump
from filtration.present.words.sentences import single

SERVICES = ("rinse", "soak", "replace")
METERS = {"electricity": "kWh of electricity", "disinfectant": "months' disinfectant"}
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_NOTES = single("plan")
_GROWS = "; what grows in the filter by itself is dated only roughly"
_GAP, _MEANS = single("gap"), single("asides")["earliest and latest"]


def services(plan: Plan) -> list[Planned]:
    """Return the rinses, soaks and replacements of a plan."""
    return [event for event in plan.events if event.what in SERVICES]


def headline(plan: Plan) -> str:
    """Return what the plan is of, what comes first and what it comes to."""
    currency, total = plan.study.currency, plan.total
    first = [f"The first service is due on {when(due)}: {what(due)}." for due in services(plan)[:1]]
    whole, average, long_run, discounted = (
        cents(amount or 0.0, currency)
        for amount in (total.undiscounted, plan.gap.average, plan.gap.long_run, total.discounted)
    )
    sums = (
        f"In all it comes to {whole}: on average {average} a year with everything bought on the way, {long_run} in the "
        f"long run. Discounted to the first day it is {discounted}."
    )
    name = on_pump(plan.name, plan.pump, plan.study)
    return " ".join([f"{name}, from {day(plan.first_day)} to {day(plan.last_day)}.", *first, sums])


def what(event: Planned) -> str:
    """Return what is done, an element by its name.

    Examples
    --------
    >>> from datetime import date
    >>> at = {"day": 0, "date": date(2026, 3, 1), "earliest": date(2026, 3, 1), "latest": None, "amount": 0.0}
    >>> what(Planned(what="rinse", item="Pleated 20", count=2, **at))
    'rinse 2 x Pleated 20'
    """
    if event.what == "change water":
        return "change the water"
    if event.what == "buy" and event.item in METERS and event.day > 0:
        return f"pay {number(event.count, 3)} {METERS[event.item]}"
    times = f"{event.count:g} x " if event.count != 1 else ""
    return f"{event.what} {times}{event.item}"


def when(event: Planned) -> str:
    """Return on which day, and between which days it is likely to fall."""
    if event.latest == event.earliest:
        return day(event.date)
    until = "or later" if event.latest is None else f"to {day(event.latest)}"
    return f"{day(event.date)} ({day(event.earliest)} {until})"


def _in_first_year(plan: Plan) -> list[Planned]:
    return [event for event in plan.events if event.day < DAYS_PER_YEAR]


def first_year(plan: Plan) -> list[str]:
    """Return the events of the first year, one line each."""
    currency = plan.study.currency
    return [f"{when(event)}: {what(event)}, {cents(event.amount, currency)}" for event in _in_first_year(plan)]


def first_year_rows(plan: Plan) -> list[dict[str, object]]:
    """Return the events of the first year as rows of a table; no latest day where that lies far off."""
    return [
        {
            "day": event.date,
            "earliest": event.earliest,
            "latest": event.latest,
            "what": what(event),
            plan.study.currency: event.amount,
        }
        for event in _in_first_year(plan)
    ]


def years(plan: Plan) -> list[str]:
    """Return what each of the calendar's years comes to, and all of them."""
    sums = {**plan.by_year, "in all": plan.total.undiscounted or 0.0}
    return [f"{year}: {cents(amount, plan.study.currency)}" for year, amount in sums.items()]


def shopping(plan: Plan) -> list[str]:
    """Return what to buy in the first year, and what to keep, one line an item."""
    currency = plan.study.currency
    return [_LINES[line.what](line, cents(line.amount, currency), currency) for line in plan.shopping]


def _element_line(line: Purchase, amount: str, currency: str) -> str:
    bought = f"{line.count:g} in the year, {amount}" if line.count else "none in the year"
    sentences = [f"{line.item}: {bought}."]
    if line.lead_time_days is not None:
        sentences.append(f"{_kept(line, line.lead_time_days)}.")
    if line.swap:
        sentences.append(f"Besides, {_some(line.swap, 'clean, dry spare')} to swap in while the other dries.")
    if line.stock_amount:
        sentences.append(f"What is kept costs {cents(line.stock_amount, currency)} once, beside the plan's sums.")
    if line.next_needed is not None:
        order = f"; order by {day(line.order_by)}" if line.order_by is not None else ""
        sentences.append(f"The next may be needed on {day(line.next_needed)}{order}.")
    return " ".join(sentences)


def _kept(line: Purchase, lead_time_days: float) -> str:
    """Return how many spares to keep, and for what.

    Examples
    --------
    >>> _kept(Purchase(item="P", what="element", count=1, amount=1, spares=2, suppliers=1), 10.0)
    'One supplier, 10 days: keep 2'
    """
    suppliers = "" if line.suppliers is None else f"{_some(line.suppliers, 'supplier')}, "
    return capital(f"{suppliers}{days(lead_time_days)}: keep {line.spares or 'none for that'}")


def _some(count: int, what: str) -> str:
    """Return so many things, a small number as a word."""
    number_of = _NUMBERS[count] if count < len(_NUMBERS) else str(count)
    return f"{number_of} {what}{'' if count == 1 else 's'}"


_LINES: dict[str, Callable[[Purchase, str, str], str]] = {
    "element": _element_line,
    "cleaner": lambda line, amount, _: f"cleaner for {line.count:g} soaks of {line.item}: {amount}.",
    "disinfectant": lambda line, amount, _: f"disinfectant for {number(line.count)} months: {amount}.",
    "equipment": lambda line, amount, _: f"{line.item}: {line.count:g}, {amount}.",
}


def break_even(plan: Plan) -> str:
    """Return from which day what is rinsed costs less than what is thrown away."""
    found, currency = plan.break_even, plan.study.currency
    if found is None:
        return "There is nothing to compare: your needs are not met both by a reusable and by a disposable cartridge."
    reused = f"{found.reusable} ({'cheapest reusable' if found.reusable_is_cheapest else 'reusable'})"
    thrown = f"{found.disposable} ({'cheapest disposable' if found.disposable_is_cheapest else 'disposable'})"
    reused_total, thrown_total = cents(found.reusable_total, currency), cents(found.disposable_total, currency)
    horizon = f"Over {days(found.horizon_days, 4)}, each new on the first day,"
    totals = f"{horizon} they come to {reused_total} and {thrown_total}."
    if found.day is None:
        return f"{reused} never comes to less than {thrown}. {totals}"
    if found.day == 0:
        return f"{reused} comes to less than {thrown} from the start. {totals}"
    rinsed = f", after {counted(found.rinses, 'rinse', ',')}," if found.rinses else ""
    return f"From day {found.day} on{rinsed} {reused} has cost less than {thrown}, all purchases counted. {totals}"


def gap(plan: Plan) -> list[str]:
    """Return how the plan's yearly average comes out of the long-run rate: lines whose amounts add up to the last."""
    return [
        f"{cents(amount, plan.study.currency)}: {words}"
        for key, words in _GAP.items()
        if (amount := getattr(plan.gap, key)) or key in ("long_run", "average")
    ]


def notes(plan: Plan) -> list[str]:
    """Return what the reader should know besides."""
    return [_MEANS, *(_note(remark) for remark in plan.notes)]


def _note(remark: Remark) -> str:
    figures: dict[str, object] = dict(remark.figures)
    if "growth" in figures:
        figures["growth"] = _GROWS if figures["growth"] else ""
    if "chance" in figures:
        figures["cases"] = of_twenty(float(remark.figures["chance"]))
    if "on" in figures:
        figures["on"] = day(date.fromisoformat(str(remark.figures["on"])))
    return _NOTES[remark.kind].format(**figures)


def cautions(plan: Plan) -> list[str]:
    """Return what to mind at services."""
    return at_service({event.what for event in plan.events})
