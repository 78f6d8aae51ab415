"""Words of what leaves the program: calendar, card, report, message."""

from collections.abc import Mapping, Sequence

from filtration.answers.results import OptionAnswer
from filtration.base.units import in_unit
from filtration.plan.dated import Plan, Planned, summed
from filtration.present.display import METRIC, Display
from filtration.present.words import plan as plan_words
from filtration.present.words.odds import range_of_days
from filtration.present.words.phrases import CAUTIONS, capital, cents, day, first_run, is_rinsed, number
from filtration.present.words.sentences import listed, single
from filtration.service.events import What

_SECONDS_PER_HOUR, _MINUTES_PER_HOUR = 3600.0, 60.0
_CM_PER_KPA = in_unit(1e3, "cm of water")

_STEPS, _DOING, _ASIDES = listed("steps"), single("doing"), single("asides")
CHECK_FIRST, SOAK, SOONER, FILES_NOTE = _STEPS["check"], _DOING["soak"], _ASIDES["sooner"], _ASIDES["files"]
CHARTS = single("charts")
FILES: Mapping[tuple[str, str], str] = {
    (".html", "report"): "Report, three sheets",
    (".html", "card"): "Wall card",
    (".ics", "plan"): "Calendar, a year",
    (".ics", "water"): "Water changes",
    (".xlsx", "report"): "Workbook",
    (".csv", "plan"): "Plan as CSV",
    (".csv", "answer"): "Options as CSV",
    (".txt", "answer"): "Short message",
}
"""What a page offers to take along, by the file's ending and what it holds."""


def bucket(display: Display = METRIC) -> str:
    """Return what the bucket holds that people have: 10 L, or 5 gallons."""
    return f"{_bucket_of(display):g} {display.volume}"


def _bucket_of(display: Display) -> float:
    return 5.0 if display.us else 10.0


def bucket_seconds(litres_per_hour: float, display: Display = METRIC) -> str:
    """Return how long that bucket takes to fill, in seconds.

    Examples
    --------
    >>> bucket_seconds(1200.0)
    '30'
    """
    return number(_bucket_of(display) / display.flow_of(litres_per_hour) * _SECONDS_PER_HOUR)


def per_minute(litres_per_hour: float, display: Display = METRIC) -> str:
    """Return a flow by the minute.

    Examples
    --------
    >>> per_minute(1200.0)
    '20 L/min'
    """
    return f"{number(display.flow_of(litres_per_hour) / _MINUTES_PER_HOUR)} {'gpm' if display.us else 'L/min'}"


def flow_words(litres_per_hour: float, display: Display = METRIC) -> str:
    """Return a flow as people read it off a bucket.

    Examples
    --------
    >>> flow_words(1260.0)
    '21 L/min: a 10 L bucket in 29 seconds'
    """
    seconds = bucket_seconds(litres_per_hour, display)
    return f"{per_minute(litres_per_hour, display)}: a {bucket(display)} bucket in {seconds} seconds"


def tube_cm(kpa: float) -> float:
    """Return how high a pressure before the housing [kPa] lifts the water in a clear tube [cm].

    Examples
    --------
    >>> round(tube_cm(0.980665), 6)
    10.0
    """
    return kpa * _CM_PER_KPA


def steps(what: str) -> tuple[str, ...]:
    """Return what is done at a service: "rinse" or "replace"."""
    return (*_STEPS["first"], *_STEPS[what], *_STEPS["last"])


ORDER: Sequence[What] = ("replace", "rinse", "soak", "change water", "buy")
"""What of the things to do on one day gives the day its identity, first to last."""


def to_do(event: Planned) -> str | None:
    """Return which calendar an event belongs to, "plan" or "water"; None for what a meter counts."""
    if (event.what, event.item) == ("buy", "electricity"):
        return None
    return "water" if event.what == "change water" else "plan"


def title(events: Sequence[Planned]) -> str:
    """Return what is done on one day as the title of that day."""
    return capital(", ".join(map(plan_words.what, events)))


def about(events: Sequence[Planned], plan: Plan) -> str:
    """Return what to know of what is done on one day, in a few lines."""
    lines = [f"{plan.study.name}: {plan.name}."]
    unsure = next((event for event in events if event.latest != event.earliest), None)
    if unsure is not None:
        latest = "later" if unsure.latest is None else day(unsure.latest)
        lines.append(f"Likely between {day(unsure.earliest)} and {latest}, planned for the middle.")
    done = {event.what for event in events}
    lines += [_DOING[what] for what in ORDER if what in done]
    cost = summed(event.amount for event in events)
    if cost:
        lines.append(f"Cost: {cents(cost, plan.study.currency)}.")
    if done & set(plan_words.SERVICES):
        lines += [CAUTIONS["electricity"], CAUTIONS["dirty"]]
    if "soak" in done:
        lines.append(CAUTIONS["chemicals"])
    return "\n".join(lines)


def service(option: OptionAnswer) -> str:
    """Return what an option needs first: "rinse" or "replace"."""
    return "rinse" if is_rinsed(option) else "replace"


def care(option: OptionAnswer) -> list[str]:
    """Return how often each stage is rinsed and replaced, one line a stage."""
    lines = []
    for stage in option.stages:
        times = stage.rinses_before_replacing
        rinses = "one rinse" if times == 1 else f"{times} rinses"
        lines.append(f"{rinses}, then a new one: {stage.element}" if times else f"new each time: {stage.element}")
    return lines


def calendar_words(option: OptionAnswer, wanted_l_per_h: float | None = None, display: Display = METRIC) -> str:
    """Return after how many days an option is due.

    Parameters
    ----------
    option : OptionAnswer
        The option.
    wanted_l_per_h : float, optional
        The flow at which it is due whatever the day [L/h]; told where a bucket tells it from that on the day.
    display : Display, optional
        Units to show.

    Returns
    -------
    str
        A sentence; where time is the limit, of time, and of the flow that comes before it.
    """
    run, between = first_run(option), range_of_days(option)
    if option.governed_by != "time limit":
        return f"After about {run} from new{between}; sooner after each rinse as it ages."
    seconds = None if wanted_l_per_h is None else bucket_seconds(wanted_l_per_h, display)
    if wanted_l_per_h is None or seconds == bucket_seconds(option.due_flow_l_per_h or wanted_l_per_h, display):
        return f"Every {run}, whatever the flow; sooner if it drops below what it is then."
    sooner = (
        f"sooner when a {bucket(display)} bucket takes {seconds} seconds: {per_minute(wanted_l_per_h, display)} left"
    )
    return f"Every {run}, whatever the flow; {sooner}."
