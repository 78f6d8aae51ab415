"""Words of what leaves the program: calendar, card, report, message."""

from collections.abc import Mapping
from types import MappingProxyType

from filtration.answers.results import OptionAnswer
from filtration.base.units import in_unit
from filtration.plan.dated import Plan, Planned
from filtration.present.words import plan as plan_words
from filtration.present.words.phrases import CAUTIONS, days, number

BUCKET_L = 10.0
_SECONDS_PER_HOUR = 3600.0
_CM_PER_KPA = in_unit(1e3, "cm of water")

RINSE = (
    "Unplug the pump. Close the valves or lift the hose ends, so that the tub does not run out.",
    "Open the housing and carry the element outdoors. Gloves and glasses on.",
    "Rinse it with a soft stream from the clean side to the dirty side, pleat by pleat, until the water runs clear; "
    "squeeze a foam out under water.",
    "Look at it: torn, crushed or slimy after rinsing means a new one.",
    "Wipe the housing and its seal, put the element back, let the air out, plug in, look for drips.",
    "Time a bucket and write it down: that is the new clean flow.",
)
REPLACE = (
    "Unplug the pump. Close the valves or lift the hose ends, so that the tub does not run out.",
    "Open the housing, take the spent element out with gloves on and bin it.",
    "Wipe the housing and its seal, fit the new element, let the air out, plug in, look for drips.",
    "Time a bucket and write it down: that is the new clean flow.",
)
SOAK = (
    "Soak it in degreaser as its label says, rinse it, let it dry; put a clean, dry one in meanwhile if you have one."
)
CHECK_FIRST = (
    "Unplug before you reach in. Is the water level as it should be, the guard on the intake free of hair and leaves?",
    "Is a hose kinked, a valve half closed, the strainer of the pump full?",
    "Does the pump hum as always, without air in it? Bubbles in the return mean a leak on the suction side.",
    "Lower than new straight after a rinse: soak it. Low even without the element: pump or hoses, not the filter.",
)
SOONER = "If the water turns dull or the flow drops sooner than planned, do not wait for the day: rinse, then log it."
FILES: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        (".html", "report"): "Report, three sheets",
        (".html", "card"): "Wall card",
        (".ics", "plan"): "Calendar",
        (".xlsx", "report"): "Workbook",
        (".csv", "plan"): "Plan as CSV",
        (".csv", "answer"): "Options as CSV",
        (".txt", "answer"): "Short message",
    }
)
"""What a page offers to take along, by the file's ending and what it holds."""

FILES_NOTE = (
    "Report and card open in any browser and print from there. A calendar brought in again moves its entries "
    "instead of doubling them."
)
CHARTS: Mapping[str, str] = MappingProxyType(
    {
        "map": "Kind and micron rating",
        "pressure": "Pressure by micron rating",
        "flow": "Flow the pump has left",
        "days": "Flow over the first weeks",
        "cost": "What a year costs",
        "paid": "Rinsed against thrown away",
        "days_cases": "Days, how sure",
        "cost_cases": "Cost, how sure",
        "days_drivers": "What drives the days",
        "cost_drivers": "What drives the cost",
        "life": "Flow, new to replaced",
        "loading": "Pressure taken as dirt gathers",
        "view": "See-through over a water's life",
        "catch": "What it catches, by size",
        "lives": "See-through by water change",
    }
)
"""Names of the charts."""

_DO = {
    "rinse": "Rinse with a soft stream from the clean side, then time a bucket and write it down.",
    "soak": SOAK,
    "replace": "Fit a new element, then time a bucket and write it down.",
    "change water": "Empty, wipe and fill the tub.",
    "buy": "To have it there on the day.",
}
_METERS = {"electricity"}


def seconds_for_bucket(litres_per_hour: float) -> float:
    """Return how long a bucket of 10 L takes to fill.

    Parameters
    ----------
    litres_per_hour : float
        Flow [L/h].

    Returns
    -------
    float
        Time [s].

    Examples
    --------
    >>> seconds_for_bucket(1200.0)
    30.0
    """
    return BUCKET_L / litres_per_hour * _SECONDS_PER_HOUR


def tube_cm(kpa: float) -> float:
    """Return how high a pressure before the housing lifts the water in a clear tube.

    Parameters
    ----------
    kpa : float
        Pressure [kPa].

    Returns
    -------
    float
        Height [cm].

    Examples
    --------
    >>> round(tube_cm(0.980665), 6)
    10.0
    """
    return kpa * _CM_PER_KPA


def flow_words(litres_per_hour: float) -> str:
    """Return a flow as people read it off a bucket.

    Parameters
    ----------
    litres_per_hour : float
        Flow [L/h].

    Returns
    -------
    str
        L/min, and seconds for a bucket.

    Examples
    --------
    >>> flow_words(1260.0)
    '21 L/min: a 10 L bucket in 29 seconds'
    """
    seconds = number(seconds_for_bucket(litres_per_hour))
    return f"{number(litres_per_hour / 60.0)} L/min: a 10 L bucket in {seconds} seconds"


def to_do(event: Planned) -> bool:
    """Return whether an event is something to do; what a meter counts is only paid.

    Parameters
    ----------
    event : Planned
        The event.

    Returns
    -------
    bool
        Whether it belongs into a calendar.
    """
    return not (event.what == "buy" and event.item in _METERS)


def title(event: Planned) -> str:
    """Return an event as the title of a day.

    Parameters
    ----------
    event : Planned
        The event.

    Returns
    -------
    str
        Words.
    """
    text = plan_words.what(event)
    return text[:1].upper() + text[1:]


def about(event: Planned, plan: Plan) -> str:
    """Return what to know of an event on its day.

    Parameters
    ----------
    event : Planned
        The event.
    plan : Plan
        The plan it stands in.

    Returns
    -------
    str
        A few lines.
    """
    lines = [f"{plan.study.name}: {plan.name}."]
    if event.latest != event.earliest:
        latest = "later" if event.latest is None else plan_words.day(event.latest)
        lines.append(f"Likely between {plan_words.day(event.earliest)} and {latest}, planned for the middle.")
    lines.append(_DO[event.what])
    if event.amount:
        lines.append(f"Cost: {plan_words.cents(event.amount, plan.study.currency)}.")
    if event.what in ("rinse", "soak", "replace"):
        lines += [CAUTIONS["electricity"], CAUTIONS["dirty"]]
    if event.what == "soak":
        lines.append(CAUTIONS["chemicals"])
    return "\n".join(lines)


def service(option: OptionAnswer) -> str:
    """Return what an option wants first.

    Parameters
    ----------
    option : OptionAnswer
        The option.

    Returns
    -------
    str
        "rinse" or "replace".
    """
    return "rinse" if any(stage.rinses_before_replacing for stage in option.stages) else "replace"


def care(option: OptionAnswer) -> list[str]:
    """Return how often each stage is rinsed and replaced.

    Parameters
    ----------
    option : OptionAnswer
        The option.

    Returns
    -------
    list of str
        One line a stage.
    """
    lines = []
    for stage in option.stages:
        times = stage.rinses_before_replacing
        rinses = "one rinse" if times == 1 else f"{times} rinses"
        lines.append(f"{rinses}, then a new one: {stage.element}" if times else f"new each time: {stage.element}")
    return lines


def calendar_words(option: OptionAnswer, wanted_l_per_h: float | None = None) -> str:
    """Return after how many days an option is due.

    Parameters
    ----------
    option : OptionAnswer
        The option.
    wanted_l_per_h : float, optional
        The flow at which it is due whatever the day [L/h]; told where a bucket tells it from that on the day.

    Returns
    -------
    str
        A sentence; where time is the limit, of time, and of the flow that comes before it.
    """
    run = days(option.days_to_first_service or 0.0)
    if option.governed_by == "time limit":
        alike = wanted_l_per_h is None or number(seconds_for_bucket(wanted_l_per_h)) == number(
            seconds_for_bucket(option.due_flow_l_per_h or wanted_l_per_h)
        )
        if wanted_l_per_h is None or alike:
            return f"Every {run}, whatever the flow; sooner if it drops below what it is then."
        seconds = number(seconds_for_bucket(wanted_l_per_h))
        left = number(wanted_l_per_h / 60.0)
        return f"Every {run}, whatever the flow; sooner when a 10 L bucket takes {seconds} seconds: {left} L/min left."
    return f"After about {run} from new; sooner after each rinse as it ages."
