"""Fixed phrases, and how numbers are written: rounded to what is known of them."""

from collections.abc import Container
from math import floor, isfinite, log10
from typing import TYPE_CHECKING

from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.defaults import model
from filtration.study.values import Study

if TYPE_CHECKING:
    from filtration.present.charts.look import Display

TERMS = {
    "clean flow": "what the pump gives through the new element",
    "first service": "days until it first wants a rinse or, if it cannot be rinsed, a replacement",
    "ends by": "the limit that is reached first",
    "flow when due": "what is left of the flow when it wants that service",
    "worst view": "how far one sees just after a session at the end of the water's life, element new or due",
    "rinses": "how many until a new element is cheaper, or this one as old as you let it get",
    "a year": (
        "elements, care, water, electricity and equipment, with cooling what pump, hoses and fresh water warm; not "
        "what comes through walls and lid; 'choice' is the part of it that differs between the options"
    ),
}
AREA_DECIDES = "Area decides how long an element lasts; the micron rating mostly decides how clear the water is."
LIMITS = {
    "flow": "the flow has fallen to what you want as a minimum",
    "pressure": "the pressure has risen as far as you allow",
    "full": "the element is full",
    "time limit": "the longest time between services is over, though the flow would last longer",
    "clarity": "the water is no longer as clear as you want it",
}
KINDS = {"foam": "open foam", "depth": "wound or spun depth", "pleated": "pleated", "train": "in series"}
PARTS = {
    "elements": "elements",
    "rinsing": "rinsing",
    "own_time": "own time",
    "pumping": "pumping",
    "cooling": "cooling the pump's and hoses' heat",
    "disposal": "disposal",
    "equipment": "pump and housings",
    "water_changes": "water changes",
    "disinfectant": "disinfectant",
}


def number(value: float, digits: int = 2) -> str:
    """Return a number to so many significant digits, with all of them before the point from 100 on.

    Examples
    --------
    >>> number(13.74), number(0.0123), number(1495.6, 3), number(9.96)
    ('14', '0.012', '1,500', '10')
    """
    if value == 0.0 or not isfinite(value):
        return f"{value:g}"
    rounded = float(f"{value:.{digits - 1}e}")
    return f"{rounded:,.{max(digits - 1 - floor(log10(abs(rounded))), 0)}f}"


def days(value: float, digits: int = 2) -> str:
    """Return a length of time in days.

    Examples
    --------
    >>> days(1.0), days(13.7), days(0.21)
    ('1 day', '14 days', '0.21 days')
    """
    text = number(value, digits)
    return "1 day" if text in {"1", "1.0", "1.00"} else f"{text} days"


def flow(litres_per_hour: float) -> str:
    """Return a flow to three digits.

    Examples
    --------
    >>> flow(1495.6)
    '1,500 L/h'
    """
    return f"{number(litres_per_hour, 3)} L/h"


def distance(value_m: float, display: "Display | None" = None) -> str:
    """Return a see-through distance [m], none over 10 m, in metres or in the unit shown.

    Examples
    --------
    >>> distance(5.678), distance(40.0)
    ('5.7 m', 'more than 10 m')
    """
    most_m = model("optics.most_said")
    seen_m = min(value_m, most_m)
    shown = f"{number(display.length_of(seen_m))} {display.length}" if display else f"{number(seen_m)} m"
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


def title(option: OptionAnswer, comparison: Comparison) -> str:
    """Return an option's name, with its pump where several are compared."""
    return on_pump(option.name, option.pump, comparison.study)


def on_pump(name: str, pump: str, study: Study) -> str:
    """Return a name with that of its pump, where the study has several."""
    return f"{name} on {pump}" if len(study.pumps) > 1 else name


def at_service(whats: Container[str]) -> list[str]:
    """Return the cautions for services of these kinds: "rinse", "soak", "replace"."""
    return [CAUTIONS[key] for key in ("clear", "electricity", "dirty", *(["chemicals"] if "soak" in whats else []))]


NOTES = {
    "bottom": (
        "With a view of {seen:.1f} m and {depth:.1f} m of water you would not see the bottom: nobody goes in. Change "
        "the water sooner, or filter finer."
    ),
    "warm": "Germs multiply fast in warm water; this program is for cold tubs, and knows nothing of their hygiene.",
    "not worth rinsing": (
        "{element}: rinsed, it would run for less than the {shortest:.0f} days that are taken as the shortest run you "
        "put up with, so it is replaced each time. Say needs.shortest_run if you would rinse more often."
    ),
    "likelier": (
        "{option} on {pump} is the cheapest that meets the needs in more cases ({cases} of 20); the order is that of "
        "the central case."
    ),
    "believed": "Ranked with what readings say of dirt, pump and elements; the cases spread around that.",
    "unsettled": "More cases than these {draws} would still move the chances, by about {by} (--draws).",
    "ten psi": (
        "The rule 'rinse at 10 psi rise' is for housings on the mains: this pump leaves at most {shutoff_kpa:.0f} "
        "kPa ({shutoff_psi:.1f} psi) for a filter, so go by flow and days."
    ),
    "settling": (
        "Grit above about {above_um:.0f} µm sinks faster than the water rises: no filter sees it until it is "
        "stirred up or vacuumed."
    ),
    "never changed": (
        "Water that is never changed grows dull whatever the filter: haze that no cartridge catches builds up. "
        "Figures are for {days:.0f} days."
    ),
    "older than rule": (
        "The water is kept {days:.0f} days; the rule for public spas would change it after {rule:.1f}."
    ),
    "nobody bathes": "Nobody uses the tub: only dust loads the filter, and time limits decide.",
    "sweating": (
        "The hoses in the air sweat: their surface is at about {surface_c:.0f} °C, below the dew point of "
        "{dew_c:.0f} °C. Insulate them and keep the drip off anything electric."
    ),
    "beyond the points": (
        "{options}: part of the run lies outside the flows that were measured ({low:.0f} to {high:.0f} L/h); the "
        "curve goes on straight there, which is a guess."
    ),
    "train on lift test": (
        "The lift test was made with one housing; what a second one takes is left out, as the bore is not given."
    ),
    "absolute without beta": (
        "{element}: 'absolute' without a measured beta ratio is only a word; it is treated as nominal."
    ),
    "capacity alone": (
        "{element}: the capacity of {capacity_g:.0f} g is taken as a ceiling; without the pressure it was measured "
        "at it says nothing of the flow."
    ),
    "capacity not fitted": (
        "{element}: no deposit gives {capacity_g:.0f} g at {at_kpa:.0f} kPa; the capacity is taken as a ceiling."
    ),
    "due at a session": (
        "Dirt comes in sessions, so an element falls due at one. Counted in whole sessions, the first service of "
        "{options} may come up to {within} sooner or later than given."
    ),
    "due by clarity": (
        "Clarity ends the runs of {options}. Followed day by day, the water turns dull up to {by} of a run sooner "
        "or later than given; services and cost change with it."
    ),
    "views with memory": (
        "The water still holds dirt from earlier in a run, when the filter caught more or less than it does now. "
        "Followed day by day, the views given for {options} change by up to {by}."
    ),
    "clearing with memory": (
        "Dust falls all day, and what the last filter left clears along with the new dirt. Followed hour by hour, the "
        "time to clear given for {options} changes by up to {by}."
    ),
    "clearing in a short run": (
        "{options}: a run takes fewer than three sessions, so that how soon the water clears depends on when in the "
        "run the session comes."
    ),
    "close call": (
        "{options}: at some service one of its stages carries close to a fifth of the extra loss, from where on it is "
        "replaced. Small things decide; the yearly cost may be off by up to {by}."
    ),
    "sessions decide": (
        "{options}: a run takes few sessions, and what the filter catches changes over it, so that it matters which "
        "sessions fall into which run. The yearly cost may be off by up to {by}."
    ),
    "cake beyond evidence": (
        "{element}: its cake would catch more of the finest dirt than was ever measured on such cartridges (36 % of"
        " 5 µm a pass); do not count on that clarity."
    ),
}


CAUTIONS = {
    "clear": (
        "Clear is not clean. A filter does not disinfect: no micron rating, however fine, makes water safe. Change the "
        "water, keep a disinfectant where others bathe, and test it."
    ),
    "codes": (
        "Where guests or the public bathe, local bathing-water and electrical codes and licensed trades decide, not"
        " this program."
    ),
    "electricity": (
        "Water and electricity: every device on an RCD (GFCI) outlet, plug and cable kept dry, unplug before you "
        "put a hand in or open the housing."
    ),
    "suction": (
        "Suction holds hair and skin: guard every intake, tie hair up, and switch the pump off while anyone bathes."
    ),
    "cold": (
        "Cold water takes the breath and the grip within a minute: never alone, never after alcohol, get out early."
    ),
    "bottom": "If you cannot see the bottom, nobody goes in.",
    "health": (
        "With open wounds, a weak immune system, in pregnancy or with a heart condition stay out, or ask a doctor "
        "first."
    ),
    "lids": "A closed lid can trap a child: lock it or take it off, and never leave a child near the tub.",
    "freezer": (
        "A converted freezer: do not drill or cut its walls; they hold refrigerant lines, and the gas is often "
        "flammable. Its original wiring is not made for wet hands."
    ),
    "dirty": (
        "A spent element is full of what it caught: rinse it outdoors with gloves and glasses, with a soft stream, "
        "and do not breathe the spray."
    ),
    "chemicals": (
        "Soak in degreaser first, rinse, then disinfect if you must: never bring acid and chlorine together, and "
        "never mix products."
    ),
    "frost": "Outdoors, a housing or hose with standing water bursts in frost: keep it running or drain it.",
}
