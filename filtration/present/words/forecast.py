"""What an owner's readings say, in words."""

from datetime import date, datetime

from filtration.base.remarks import Remark
from filtration.present.words.odds import READ, WORTH_A_MINUTE, narrowing, of_twenty
from filtration.present.words.phrases import at_service, counted, day, days, ended, flow, moment, number
from filtration.present.words.sentences import single
from filtration.readings.next_service import Estimate, Forecast
from filtration.readings.reading import Reading

_DO = {"rinse": "Rinse", "soak": "Rinse and soak", "replace": "Replace"}
_LEAST_DAYS = 1.0  # nearer than that no reading brings a day
_MOVED, _NARROWED = 1.25, 0.8  # times the default, share of the default's width, from which a factor is told
_IN_DIRT = ("load_per_dip", "uses")  # told together: readings of the flow alone do not tell them apart
_FACTORS = single("factors")
_REMARKS = single("readings")
_WITH = {"column": "the clear tube", "pressure": "the gauge"}


def headline(forecast: Forecast) -> str:
    """Return what to do and when."""
    due, today = forecast.next_service, forecast.today.date()
    do = f"{_DO[due.what]} {forecast.option}"
    first, middle, last = map(day, (due.p10, due.p50, due.p90))
    sure = due.p10 == due.p90
    between = f"in at least 8 of 10 cases on {middle}" if sure else f"8 of 10 cases lie between {first} and {last}"
    if due.due_already >= 0.5:
        since = "today" if due.p50 >= today else f"about {middle}"
        return f"{do} now: it has been due since {since} ({of_twenty(due.due_already)} of 20 cases); {between}."
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


def figures(forecast: Forecast) -> list[str]:
    """Return flow today, rinses left, and what of the needs is in doubt."""
    low, middle, high = map(flow, forecast.flow_today_l_per_h)
    lines = [
        f"Flow today: about {middle}, 8 of 10 cases between {low} and {high}. It needs service at "
        f"{flow(forecast.wanted_l_per_h)}."
    ]
    if forecast.rinses_left is not None:
        few, usual, many = (round(value) for value in forecast.rinses_left)
        spread = "" if few == many else f", 8 of 10 cases between {few} and {many}"
        oldest = days(forecast.study.needs.discard_days, 3)
        left = f"about {usual}" if usual else "none, a new cartridge is cheaper now"
        until = (
            f", until a new cartridge is cheaper or this one is {oldest} old. Till then shorter runs mean more rinses"
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
    return [(row(each.reading), _told(each.why)) for each in forecast.refused]


def doubted(forecast: Forecast) -> list[tuple[str, str]]:
    """Return the readings that count for little: which, and why."""
    return [(row(each.reading), _told(each.why)) for each in forecast.doubted]


def row(reading: Reading) -> str:
    """Return a row of a logbook by its time, kind and value."""
    return f"{moment(reading.when)}, {reading.kind} {reading.value}".strip()


def _told(remark: Remark) -> str:
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
    if given.get("service") == "replace":
        told["service"] = "replacement"
    return _REMARKS[remark.kind].format(**told)


def diagnosis(forecast: Forecast) -> list[str]:
    """Return what is going on, likeliest first, with the test of a minute that separates the causes."""
    return [_told(remark) for remark in forecast.diagnosis]


def measure(forecast: Forecast) -> list[str]:
    """Return which reading to take now; nothing where none is worth a minute, or the days are known as it is."""
    found = forecast.measure
    if found is None or found.width_share > WORTH_A_MINUTE or found.before[1] - found.before[0] < _LEAST_DAYS:
        return []
    return [f"{READ[found.with_what]} now. {narrowing(found)}"]


def notes(forecast: Forecast) -> list[str]:
    """Return what the reader should know besides."""
    return [_told(remark) for remark in forecast.notes]


def cautions(forecast: Forecast) -> list[str]:
    """Return what to mind at the service."""
    return at_service([forecast.next_service.what])
