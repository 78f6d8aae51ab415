"""What an owner's readings say, in words."""

from collections.abc import Iterable
from datetime import date, datetime

from filtration.base.defaults import model
from filtration.base.remarks import Remark
from filtration.present.words.odds import READ, narrowing, of_twenty
from filtration.present.words.phrases import (
    at_service,
    counted,
    day,
    days,
    distance,
    ended,
    flow,
    moment,
    money,
    number,
)
from filtration.present.words.sentences import single
from filtration.readings.foretold import Estimate, Forecast
from filtration.readings.reading import Reading
from filtration.readings.record import Doubt

_DO = {"rinse": "Rinse", "soak": "Rinse and soak", "replace": "Replace"}
_SERVICE = {"rinse": "rinse", "soak": "rinse", "replace": "replacement"}
_SERVICING = {True: "rinsing", False: "replacing"}
_LIKELY = model("advice.due_chance")
_KNOWN = 2.0  # times from 10 to 90 % of a flow up to which it is told of what is overdue
_LEAST_DAYS = 1.0  # nearer than that no reading brings a day
_MOVED, _NARROWED = 1.25, 0.8  # times the default, share of the default's width, from which a factor is told
_IN_DIRT = ("load_per_dip", "uses")  # told together: readings of the flow alone do not tell them apart
_FACTORS = single("factors")
_REMARKS, _TODAY = single("readings"), single("today")
_MEND = {True: "soak it (gloves on, nothing mixed, rinse well)", False: "take it out and seat it anew"}
_WITH = {"column": "the clear tube", "pressure": "the gauge"}


def headline(forecast: Forecast) -> str:
    """Return what to do and when, or that no service helps."""
    if forecast.advice.why is not None:
        return _helpless(forecast)
    due, today = forecast.next_service, forecast.today.date()
    do = f"{_DO[due.what]} {forecast.option}"
    first, middle, last = map(day, (due.p10, due.p50, due.p90))
    if due.due_already >= _LIKELY:
        since = "today" if due.p50 >= today else f"about {middle}"
        cases = of_twenty(due.due_already)
        over = "" if due.p50 >= today else f", {counted((today - due.p50).days, 'day')} overdue"
        return f"{do} now: it has been due since {since}{over} ({cases} of 20 cases)."
    sure = due.p10 == due.p90
    between = f"in at least 8 of 10 cases on {middle}" if sure else f"8 of 10 cases lie between {first} and {last}"
    away = (due.p50 - today).days
    when = "today" if away <= 0 else "tomorrow" if away == 1 else f"in {away} days, on {middle}"
    return f"{do} {when}; {between}. By then {_because(forecast)}."


def _because(forecast: Forecast) -> str:
    """Return what ends the run, as a clause."""
    due, needs = forecast.next_service, forecast.study.needs
    if due.governed_by == "flow":
        return f"the flow has fallen to the {flow(forecast.wanted_l_per_h)} you want as a minimum"
    option = next(each for each in forecast.study.options if each.name == forecast.option)
    rinseable = any(stage.rinseable for stage in option.stages)
    oldest = min(needs.oldest_days([stage.rinseable for stage in option.stages]))
    aged = (due.p50 - forecast.fitted_on).days >= oldest - 1.0
    return ended(due.governed_by, oldest if aged else needs.between_days(rinseable))


def _helpless(forecast: Forecast) -> str:
    advice = forecast.advice
    return _TODAY[str(advice.why)].format(
        option=forecast.option,
        wanted=flow(forecast.wanted_l_per_h),
        clean=flow(advice.flow_new_l_per_h[1]),
        view=distance(advice.wanted_m),
        seen=distance(advice.see_through_new_m[1]),
    )


def today(forecast: Forecast) -> list[str]:
    """Return what to do today, what a week's waiting does, and what would help where no service does."""
    advice, what = forecast.advice, forecast.next_service.what
    do = _DO[what].lower()
    reading = READ[forecast.measure.with_what] if forecast.measure else ""
    lines = [_TODAY[advice.do].format(do=do, reading=reading)]
    if advice.why is not None:
        return [f"{lines[0]} {_helps(forecast)}"]
    saved = money(advice.saved_by_a_week, forecast.study.currency)
    week = _TODAY["week"].format(
        week=_week(forecast),
        serviced=flow(advice.flow_serviced_l_per_h[1]),
        week_view=distance(advice.see_through_in_a_week_m[1]),
        serviced_view=distance(advice.see_through_serviced_m[1]),
        service=_SERVICE[what],
        saved=saved,
        costs="rinses and cartridges" if is_rinsed(forecast) else "cartridges",
    )
    return [f"{lines[0]} {week}"]


def _week(forecast: Forecast) -> str:
    """Return what a week without a service leaves; of what is overdue and was not read since, that it is too little."""
    low, middle, high = forecast.advice.flow_in_a_week_l_per_h
    if middle < forecast.wanted_l_per_h and high > _KNOWN * low:
        return f"less than the {flow(forecast.wanted_l_per_h)} you want,"
    return f"about {flow(middle)}"


def _helps(forecast: Forecast) -> str:
    """Return what would help where no service does."""
    advice = forecast.advice
    if advice.why == "short":
        return _TODAY["larger"]
    if advice.why == "clarity":
        found = advice.clear_for_days
        return _TODAY["no water"] if found is None else _TODAY["water"].format(days=days(found))
    pump = advice.pump
    if pump is None:
        return _TODAY["no pump"]
    head, most = max(pump.curve_m), max(pump.curve_l_per_h)
    return _TODAY["pump"].format(times=f"{pump.factor:.3g} times", head=number(head, 3), flow=flow(most))


def is_rinsed(forecast: Forecast) -> bool:
    """Return whether what is in use can be rinsed."""
    option = next(each for each in forecast.study.options if each.name == forecast.option)
    return any(element.rinseable for element in option.stages)


def figures(forecast: Forecast) -> list[str]:
    """Return flow today, rinses left, and what of the needs is in doubt."""
    low, middle, high = forecast.flow_today_l_per_h
    wanted = flow(forecast.wanted_l_per_h)
    helpless = forecast.advice.why is not None
    if forecast.next_service.due_already >= _LIKELY and high > _KNOWN * low:
        lines = [f"Flow today: below the {wanted} you want, how far no reading says yet: time a bucket."]
    else:
        between = f"about {flow(middle)}, 8 of 10 cases between {flow(low)} and {flow(high)}"
        asked = f"You want {wanted}" if helpless else f"It needs {_SERVICING[is_rinsed(forecast)]} at {wanted}"
        lines = [f"Flow today: {between}. {asked}."]
    if forecast.rinses_left is not None and not helpless:
        few, usual, many = (round(value) for value in forecast.rinses_left)
        spread = "" if few == many else f", 8 of 10 cases between {few} and {many}"
        oldest = days(forecast.study.needs.discard_days, 3)
        left = f"about {usual}" if usual else "none, a new cartridge is cheaper now"
        until = (
            f", until a new cartridge is cheaper or this one is {oldest} old. Shorter runs until then mean more rinses"
        )
        lines.append(f"Rinses left: {left}{spread}{until if usual else ''}.")
    if forecast.chance_clean_lacks > 0.0:
        cases = of_twenty(forecast.chance_clean_lacks)
        lines.append(f"In {cases} of 20 cases even the new cartridge lacks the flow you want.")
    return lines


def fitted(forecast: Forecast) -> list[str]:
    """Return a sentence for each factor that the readings moved or narrowed, the most narrowed first."""
    if not forecast.readings_used:
        return ["No reading counts yet: everything rests on the assumptions."]
    single = [each for each in forecast.fitted if each.unknown not in _IN_DIRT]
    told = sorted((each for each in (forecast.dirt, *single) if _is_told(each)), key=_share)
    none = "They do not yet say which of the assumptions is off; together they narrow the day."
    return [f"{counted(forecast.readings_used, 'reading')} counted.", *([_learnt(each) for each in told] or [none])]


def _share(each: Estimate) -> float:
    """Return the width after the readings over that before."""
    return (each.p90 - each.p10) / max(each.prior_p90 - each.prior_p10, 1e-12)


def _is_told(each: Estimate) -> bool:
    factor = each.unknown != "onset"
    return _share(each) < _NARROWED or (factor and not 1.0 / _MOVED < each.median < _MOVED)


def _learnt(each: Estimate) -> str:
    values = (each.median, each.p10, each.p90, each.prior_p10, each.prior_p90)
    written = [f"{value:+.2f}" if each.unknown == "onset" else number(value) for value in values]
    spreads = "(8 of 10 cases {} to {}; before the readings {} to {})".format(*written[1:])
    return f"{_FACTORS[each.unknown].format(factor=written[0])} {spreads}."


def refused(forecast: Forecast) -> list[tuple[str, str]]:
    """Return the rows that do not count: which, and why."""
    return [told(doubt, rinsed=is_rinsed(forecast)) for doubt in forecast.refused]


def doubted(forecast: Forecast) -> list[tuple[str, str]]:
    """Return the readings that count for little: which, and why."""
    return [told(doubt, rinsed=is_rinsed(forecast)) for doubt in forecast.doubted]


def told(doubt: Doubt, *, rinsed: bool = True) -> tuple[str, str]:
    """Return a row that does not count, or for little: which, and why; of an element that can be rinsed or not."""
    return row(doubt.reading), _told(doubt.why, rinsed=rinsed)


def asides(rows: Iterable[tuple[str, str]]) -> list[str]:
    """Return rows that do not count, or for little, each as a sentence that ends once."""
    return [f"{which}: {why}{'' if why.endswith('?') else '.'}" for which, why in rows]


def row(reading: Reading) -> str:
    """Return a row of a logbook by its time, kind and value."""
    return f"{moment(reading.when)}, {reading.kind} {reading.value}".strip()


def _told(remark: Remark, *, rinsed: bool) -> str:
    """Return a remark in words, its figures with their unit where that is not fixed."""
    given = remark.figures
    told = {key: number(value, 3) if isinstance(value, float) else str(value) for key, value in given.items()}
    if "when" in given:
        told["when"] = moment(datetime.fromisoformat(told["when"]))
    told |= {key: day(date.fromisoformat(told[key])) for key in ("today", "first") if key in given}
    if "unit" in given:
        told |= {key: f"{told[key]} {given['unit']}" for key in ("value", "expected", "most") if key in given}
    if "kind" in given:
        told["with_what"] = _WITH.get(told["kind"], "it")
    if "fall" in given:
        told |= {"fall": f"{100.0 * float(given['fall']):.0f} %", "days": days(float(given["days"]))}
    done = str(given.get("service", "rinse" if rinsed else "replace"))
    told["service"] = "replacement" if done == "replace" else done
    told |= {"mend": _MEND[rinsed], "served": "rinsed" if rinsed else "replaced it"}
    if "error" in given:
        told["error"] = f"{100.0 * float(given['error']):.0f} %"
    return _REMARKS[remark.kind].format(**told)


def diagnosis(forecast: Forecast) -> list[str]:
    """Return what is going on, likeliest first, with the test of a minute that separates the causes."""
    return [_told(remark, rinsed=is_rinsed(forecast)) for remark in forecast.diagnosis]


def measure(forecast: Forecast) -> list[str]:
    """Return which reading to take now; nothing where none is worth a minute, or the days are known as it is."""
    found = forecast.measure
    if found is None or not found.is_worth_a_minute or found.before[1] - found.before[0] < _LEAST_DAYS:
        return []
    return [f"{READ[found.with_what]} now. {narrowing(found)}"]


def notes(forecast: Forecast) -> list[str]:
    """Return what the reader should know besides."""
    return [_told(remark, rinsed=is_rinsed(forecast)) for remark in forecast.notes]


def cautions(forecast: Forecast) -> list[str]:
    """Return what to mind at the service."""
    return at_service([forecast.next_service.what])
