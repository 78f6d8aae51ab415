"""What the pages say: names of fields and how to find them out, and the sentences of each page."""

import re
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Literal

from filtration.answer import Comparison, OptionAnswer
from filtration.clearness import Clearness
from filtration.courses import FlowRun
from filtration.defaults import model
from filtration.present.chart_look import METRIC, Display
from filtration.present.phrases import days, money, number, title
from filtration.present.sure_words import of_twenty
from filtration.spending import Purchase
from filtration.study import Study
from filtration.units import in_unit

Verdict = Literal["crisp", "soft", "gone"]
Told = tuple[str, str]

TITLE = "Tub filtration"
CAPTION = "For small cold tubs: how long a filter lasts, how clear the water stays, what a year costs."
PAGES: Mapping[str, Told] = MappingProxyType(
    {
        "your_tub": ("Your tub", "What is in the water, on the pump's box and in the hose. The rest can wait."),
        "which_filter": ("Which filter", "Every filter you listed, on your pump, and the one to take."),
        "what_if": ("What if", "Move one thing and see what it does. Nothing is kept until you say so."),
        "flow_pressure": ("Flow and pressure", "What the pump still moves as the filter fills, and for how long."),
        "money": ("Money", "What the choice costs you, apart from what you would pay anyway."),
        "plan_ahead": ("Plan", "What to do and to buy on which day; as a calendar, a list, a report to take along."),
        "clear_water": ("Clear water", "How far one sees, from fresh water to the next change."),
        "your_readings": ("Your readings", "Buckets timed and rinses done; from them, the day of the next service."),
        "how_it_works": ("How it works", "What is computed, what is assumed, and how far to trust it."),
    }
)

FIELDS: Mapping[str, Told] = MappingProxyType(
    {
        "name": ("Name", "What you call this tub."),
        "currency": ("Currency", "Shown beside every price, never converted."),
        "tub.volume": (
            "Water",
            "Dilutes the dirt, and sets the flow you need. Time how long the hose fills a bucket, then how long it "
            "fills the tub.",
        ),
        "tub.water_temperature": (
            "Water temperature",
            "Cold water is thicker, and less grows in it. A thermometer in the stirred water, not the display.",
        ),
        "tub.uses_per_day": (
            "Dips a day",
            "Bathers bring most of the dirt. Count a week's dips, all bathers together, and divide by seven.",
        ),
        "tub.water_change_every": (
            "Water change",
            "Haze that no filter catches leaves with the water alone. What you really do, from one change to the next.",
        ),
        "tub.depth": ("Depth of the water", "Whether you see the bottom. A stick and a tape."),
        "tub.open_surface": ("Open surface", "Dust falls on it. Length times width of the water under the lid."),
        "tub.sessions_per_day": ("Sessions a day", "How many times a day people come, one or several together."),
        "tub.showered_share": (
            "After a shower",
            "A shower takes much of the dirt off. Of ten dips, how many come after a shower, over ten.",
        ),
        "tub.feet": ("Feet", "Where bare feet come from: grit and soil come with them."),
        "tub.surroundings": ("Where it stands", "More dust falls outdoors."),
        "tub.uncovered_hours_per_day": ("Hours without the lid", "Dust falls only then. Look at a clock for a day."),
        "tub.disinfectant": (
            "Disinfectant",
            "With a residual in the water nothing grows in the filter. Kept, only if you measure it.",
        ),
        "tub.shared_with_public": ("Guests bathe in it", "Local codes then apply, and you are reminded of them."),
        "tub.air_temperature": ("Air temperature", "Warms hoses in the air. The mean around them."),
        "tub.air_humidity": ("Air humidity", "Whether cold hoses sweat. A hygrometer; 0.6 is 60 %."),
        "tub.fill_temperature": ("Tap water", "It has to be cooled. Let it run, then a thermometer."),
        "pump.shutoff_head": (
            "Highest lift",
            "How hard it pushes. On the box: head, lift or H max. Or hold the hose up until the water stops.",
        ),
        "pump.max_flow": ("Most flow", "How much it moves with nothing in the way. On the box: flow or Q max."),
        "pump.power": (
            "Power",
            "You pay for it, and it warms the water. On the box; better, a plug-in power meter.",
        ),
        "pump.placed": ("Pump stands", "In the water, all its power ends up as heat in it."),
        "pump.hours_per_day": ("Pump hours a day", "What its timer says; 24 without one."),
        "pump.price": ("Price of a pump", "Of the next one."),
        "pump.life": ("A pump lasts", "How long the last one held."),
        "plumbing.bore": (
            "Narrowest fitting",
            "It takes more of the pump's push than all of the hose. Look into the barbs with a ruler: inside width.",
        ),
        "plumbing.length": ("Hose", "Friction. A tape along it, there and back."),
        "plumbing.elbows_90": ("Bends of 90°", "Each costs a little push. Count them."),
        "plumbing.hose_barbs": ("Barbed ends", "Each is narrower than the hose. Count them."),
        "plumbing.other_k": ("Entry, exit, housing", "Their loss, in velocity heads. Leave it if unsure."),
        "plumbing.static_lift": ("Outlet above the water", "Lifting costs push. 0 if it ends under water."),
        "plumbing.length_outside": ("Hose in the air", "It warms the water. A tape."),
        "plumbing.insulation": ("Its insulation", "Thickness of the foam around that hose."),
        "needs.turnovers_per_hour": (
            "Turnovers an hour",
            "The least you want, before the filter wants a rinse: how often an hour all the water passes it.",
        ),
        "needs.flow": ("Least flow", "What you want as a minimum, before the filter wants a rinse."),
        "needs.see_through": (
            "Wanted view",
            "How far you still want to see under water at the worst moment: just after a session, in old water.",
        ),
        "needs.max_pressure_rise": ("Most pressure rise", "Over the clean filter's; a gauge or a clear tube shows it."),
        "needs.rinse_at_least_every": ("Rinse at least every", "Whatever the flow says; stale filters smell."),
        "needs.replace_at_least_every": ("Replace at least every", "Those that cannot be rinsed."),
        "needs.discard_after": ("Throw away after", "However often it was rinsed."),
        "needs.shortest_run": ("Shortest run", "The least time between services that you put up with."),
        "prices.electricity_per_kwh": ("Electricity, a kWh", "The price of one more; your bill."),
        "prices.water_per_m3": ("Water, a m³", "Water and drain together; your bill."),
        "prices.own_time_per_hour": ("Your time, an hour", "0 leaves it out of the sums; the hours are shown anyway."),
        "prices.disposal_each": ("Throwing one away", "What your waste service takes."),
        "prices.disinfectant_per_month": ("Disinfectant, a month", "What you spend."),
        "prices.discount_rate": ("Interest less inflation", "A year; 0.03 is 3 %."),
        "prices.horizon": ("Plan ahead", "How far the sums over the years go."),
        "cooling.cop": ("Cooler: heat over power", "Heat taken out over electricity used; its data sheet."),
        "cooling.share_of_year": ("Cooler runs", "Share of the year; 0.5 is six months."),
    }
)
GROUPS: Mapping[str, str] = MappingProxyType(
    {
        "water": "The water",
        "pump": "The pump's box",
        "hose": "The hose",
        "wish": "What you want",
        "tub": "More about the tub",
        "pump_more": "More about the pump",
        "hose_more": "More about hoses, and the lift test",
        "limits": "Other limits",
        "prices": "Prices and cooling",
    }
)
COLUMNS: Mapping[str, Told] = MappingProxyType(
    {
        "name": ("Name", "What the label or the shop calls it."),
        "kind": ("Kind", "foam: open foam. depth: wound or spun. pleated: a folded sheet that can be rinsed."),
        "size": ("Size", "Length x outer width, as housings are sold; 10 x 2.5 in is the common slim one."),
        "rating": ("Micron rating", "The number on the label, with um."),
        "price": ("Price", "Of one."),
        "pleats": ("Pleats", "Count them: mark one with a pen and go round."),
        "pleat_depth": ("Pleat depth", "How deep one fold is, with mm or in."),
        "area": ("Area", "Of a foam's face or a sheet, with cm^2 or sq ft, where no size or pleats are given."),
        "thickness": ("Thickness", "Of a foam or a flat pad, with mm or in."),
        "pores_per_inch": ("Pores an inch", "Of a foam: count them along a ruler."),
        "shutoff_head": ("Highest lift", "H max on the box, with m or ft."),
        "max_flow": ("Most flow", "Q max on the box, with L/h or gph."),
        "power": ("Power", "With W."),
        "placed": ("Stands", "In the water or outside."),
        "lift": ("Outlet held at", "Height above the water, with cm or in."),
        "flow": ("Flow there", "A bucket and a watch, with L/min or gpm."),
    }
)
LIFT_TEST = (
    "The lift test replaces the box and the hose, and is better than both. Take the filter out. Hold the outlet above "
    "the water at two or more heights, and time how long it fills a bucket at each."
)
MISSING = "Still to fill in"
EMPTY = "An empty tub"
FILE = "A file of mine"
STARTS = "Start another from"
SHELF_NOTE = (
    "An empty tub starts with the usual slim cartridges and example prices. Put in your shop's prices, and take away "
    "what you would not buy."
)
UNIT_SIGNS = MappingProxyType(
    {
        "degC": "°C",
        "degF": "°F",
        "gal": "US gal",
        "day": "days",
        "m^2": "m²",
        "sq ft": "sq ft",
        "h": "h",
        "min": "min",
        "year": "years",
    }
)
CHOICES = MappingProxyType(
    {
        "rinsed": "rinsed",
        "indoors": "indoors",
        "from the garden": "from the garden",
        "outdoors": "outdoors",
        "kept": "kept",
        "none": "none",
        "not stated": "not stated",
        "in the water": "in the water",
        "outside": "outside",
    }
)


def label(key: str, unit: str | None = None) -> str:
    """Return what a field is called, with the unit it is read in.

    Parameters
    ----------
    key : str
        Table and key, "tub.volume".
    unit : str, optional
        As a study file spells it.

    Returns
    -------
    str
        Its label.

    Examples
    --------
    >>> label("tub.volume", "gal"), label("tub.feet")
    ('Water, US gal', 'Feet')
    """
    name = FIELDS[key][0]
    return name if unit is None else f"{name}, {UNIT_SIGNS.get(unit, unit)}"


_US = {
    "L/h": ("L/h", "gph", "gph"),
    "L": ("L", "gal", "gal"),
    "m": ("m", "ft", "ft"),
    "mm": ("mm", "in", "in"),
    "m²": ("m^2", "sq ft", "sq ft"),
    "°C": ("degC", "degF", "°F"),
    "kPa": ("kPa", "inH2O", "in of water"),
}
_NUMBER = r"[0-9][0-9,]*(?:\.[0-9]+)?"
_METRIC = re.compile(
    rf"(?<![\w.])((?:{_NUMBER}(?: µm)? (?:to|and|instead of) )?{_NUMBER})(?: |\u00a0)(L/h|mm|m²|m|L|°C|kPa)(?![\w/²³^])"
    r"(?P<psi> \([0-9.]+ psi\))?"
)
_EXACT = MappingProxyType({"°C": 2})


def _in_us(match: re.Match[str]) -> str:
    numbers, sign = match[1], match[2]
    unit, other, shown = _US[sign]

    def one(found: re.Match[str]) -> str:
        text = found[0]
        value = float(text.replace(",", ""))
        size = in_unit(1.0, unit) if sign != "°C" else 1.0
        us = in_unit(value, other) if sign == "°C" else value / size * in_unit(1.0, other)
        digits = max(2, len(text.replace(",", "").replace(".", "").lstrip("0")))
        return f"{us:.0f}" if sign == "°C" else number(us, min(digits, 3))

    if re.search(r"µm", numbers):  # the first number has its own unit
        head, _, last = numbers.rpartition(" ")
        return f"{head} {re.sub(_NUMBER, one, last)} {shown}{match['psi'] or ''}"
    return f"{re.sub(_NUMBER, one, numbers)} {shown}{match['psi'] or ''}"


def in_units(text: str, display: Display = METRIC, names: Iterable[str] = ()) -> str:
    """Return a sentence with its quantities in the units shown.

    Parameters
    ----------
    text : str
        A sentence of ours, in metric units.
    display : Display, optional
        Units to show.
    names : iterable of str, optional
        Names in it that are somebody's own and stay as they are.

    Returns
    -------
    str
        The same as it is for metric, else with flows, lengths, areas, volumes, temperatures and pressures in US units,
        as many digits as were known.

    Examples
    --------
    >>> in_units("1,500 L/h at 4.0 °C, 3.6 m to see.", US)
    '396 gph at 39 °F, 12 ft to see.'
    """
    if not display.us:
        return text
    kept = sorted({name for name in names if name}, key=len, reverse=True)
    if not kept:
        return _METRIC.sub(_in_us, text)
    parts = re.split("(" + "|".join(map(re.escape, kept)) + ")", text)
    return "".join(part if place % 2 else _METRIC.sub(_in_us, part) for place, part in enumerate(parts))


US = Display(flow="gph", pressure="in of water", length="ft", mass="oz", volume="gal")


def own_names(study: Study) -> set[str]:
    """Return the names in a study that are its owner's.

    Parameters
    ----------
    study : Study
        The study.

    Returns
    -------
    set of str
        Of options, elements, pumps.
    """
    options = {option.name for option in study.options} | {pump.name for pump in study.pumps}
    return options | {element.name for option in study.options for element in option.stages}


def distance(value_m: float, display: Display = METRIC) -> str:
    """Return a see-through distance, none over 10 m.

    Parameters
    ----------
    value_m : float
        Distance [m].
    display : Display, optional
        Units to show.

    Returns
    -------
    str
        With its unit.

    Examples
    --------
    >>> distance(3.6), distance(40.0, US)
    ('3.6 m', 'more than 33 ft')
    """
    most = model("optics.most_said")
    shown = f"{number(display.length_of(min(value_m, most)))} {display.length}"
    return f"more than {shown}" if value_m > most else shown


def verdict(seen_m: float, depth_m: float) -> Verdict:
    """Return how one sees the bottom.

    Parameters
    ----------
    seen_m, depth_m : float
        See-through and depth of the water [m].

    Returns
    -------
    {"crisp", "soft", "gone"}
        Crisp from four depths on, gone where one does not see as far as the bottom.

    Examples
    --------
    >>> verdict(3.0, 0.7), verdict(2.0, 0.7), verdict(0.6, 0.7)
    ('crisp', 'soft', 'gone')
    """
    if seen_m < depth_m:
        return "gone"
    return "crisp" if seen_m >= CRISP_DEPTHS * depth_m else "soft"


CRISP_DEPTHS = 4.0
VERDICTS: Mapping[Verdict, str] = MappingProxyType(
    {"crisp": "bottom crisp", "soft": "bottom soft", "gone": "bottom gone"}
)


def dots(comparison: Comparison) -> tuple[str, str]:
    """Return the answer as twenty dots, and what they mean.

    Parameters
    ----------
    comparison : Comparison
        The answer, with draws.

    Returns
    -------
    str
        Twenty signs; empty for the central case alone.
    str
        What they say.
    """
    option = comparison.options[0]
    if comparison.odds is None or option.sureness is None:
        return "", ""
    meets, best = option.sureness.chance_of_meeting_needs, option.sureness.chance_of_being_best
    does = round(20.0 * meets)
    first = min(round(20.0 * best), does)
    signs = " ".join("●" * first + "◐" * (does - first) + "○" * (20 - does))
    told = (
        f"Of 20 equally likely cases {title(option, comparison)} ● does the job and costs least in {of_twenty(best)}, "
        f"● or ◐ does the job in {of_twenty(meets)}, ○ does not in the rest."
    )
    return signs, told


SHORT_REASONS: Mapping[str, Told] = MappingProxyType(
    {
        "flow": ("too little", "flow"),
        "clarity": ("too dull", "water"),
        "haze": ("too old", "water"),
        "short run": ("too short", "a run"),
        "does not fit": ("does", "not fit"),
        "no flow": ("no flow", "at all"),
    }
)


def flow_story(option: OptionAnswer, runs: Sequence[FlowRun], display: Display) -> str:
    """Return an option's life in a sentence.

    Parameters
    ----------
    option : OptionAnswer
        The option.
    runs : sequence of FlowRun
        Its flow until replacement.
    display : Display
        Units to show.

    Returns
    -------
    str
        A sentence or two.
    """
    if not runs:
        return f"{option.name} lacks the flow even when clean, so it never runs."
    first, last = runs[0], runs[-1]
    rinses = sum(run.ends_with != "replace" for run in runs)
    start, end = (number(display.flow_of(flow), 3) for flow in (first.flow_l_per_h[0], first.flow_l_per_h[-1]))
    text = f"New it gives {start} {display.flow}; after {days(first.day[-1])} {end} {display.flow} are left."
    if not rinses:
        return f"{text} Then it is replaced."
    lasts = f"the first run lasts {days(first.day[-1])}, the last {days(last.day[-1] - last.day[0])}"
    again = "once" if rinses == 1 else f"{rinses} times"
    return f"{text} Rinsed {again} it lasts {days(last.day[-1])}: {lasts}."


def clear_story(clearness: Clearness, depth_m: float, display: Display) -> str:
    """Return what becomes of the view, in a sentence or two.

    Parameters
    ----------
    clearness : Clearness
        See-through over the water's life.
    depth_m : float
        Depth of the water [m].
    display : Display
        Units to show.

    Returns
    -------
    str
        Words.
    """
    first, last = clearness.after_m[0], clearness.after_m[-1]
    before = clearness.before_m[-1]
    return (
        f"Just after the first session one sees {distance(first, display)} ({VERDICTS[verdict(first, depth_m)]}); "
        f"after the last, on day {number(clearness.day[-1])}, {distance(last, display)} "
        f"({VERDICTS[verdict(last, depth_m)]}), and just before it {distance(before, display)} "
        f"({VERDICTS[verdict(before, depth_m)]})."
    )


def water_or_filter(lives: Mapping[str, float], view_m: float, display: Display, most_days: float) -> list[str]:
    """Return for how long the water may stay behind each of some filters.

    Parameters
    ----------
    lives : mapping of str to float
        Longest water life by option [day].
    view_m : float
        The view wanted [m].
    display : Display
        Units to show.
    most_days : float
        The longest life looked at [day].

    Returns
    -------
    list of str
        A line each.
    """
    lines = []
    for name, life in lives.items():
        if life <= 0.0:
            lines.append(f"{name}: not even fresh water stays clear enough.")
        elif life >= most_days:
            lines.append(f"{name}: a year and more.")
        else:
            lines.append(f"{name}: change the water at least every {days(life)}.")
    return [f"To see {distance(view_m, display)} just after a session:", *lines] if lines else []


def paid_story(reusable: str, disposable: str, crossing: int | None, saved: float, currency: str, years: float) -> str:
    """Return when a filter that can be rinsed has paid for itself.

    Parameters
    ----------
    reusable, disposable : str
        Names.
    crossing : int or None
        Day from which the reusable one has cost less.
    saved : float
        What it has saved at the end.
    currency : str
        Its name.
    years : float
        How long that is.

    Returns
    -------
    str
        A sentence.
    """
    over = f"{years:.3g} years" if years != 1.0 else "a year"
    if crossing is None:
        more = money(-saved, currency)
        return f"{reusable} is not cheaper than {disposable} within {over}; it has cost {more} more by then."
    start = "from the first day" if crossing == 0 else f"from day {crossing:,} on"
    less = f"{money(saved, currency)} less after {over}"
    return f"{reusable}, rinsed, has cost less than {disposable}, thrown away, {start}; {less}."


def heat_story(option: OptionAnswer, comparison: Comparison, display: Display) -> str:
    """Return what the pump's heat does and costs.

    Parameters
    ----------
    option : OptionAnswer
        An option.
    comparison : Comparison
        The answer it stands in.
    display : Display
        Units to show.

    Returns
    -------
    str
        A sentence or two; empty where it has no figures.
    """
    warming, cost = option.warming_k_per_day, option.cost_per_year
    if warming is None or cost.cooling is None or cost.pumping is None:
        return ""
    currency = comparison.study.currency
    degrees = f"{number(warming * (1.8 if display.us else 1.0))} {'°F' if display.us else '°C'}"
    return (
        f"Without a cooler, pump and hoses would warm the water by {degrees} a day. Taking that heat out again costs "
        f"{money(cost.cooling, currency)} a year, beside {money(cost.pumping, currency)} for the pump itself."
    )


def time_story(hours: float, priced: float, currency: str) -> str:
    """Return how much of the owner's own time a year takes.

    Parameters
    ----------
    hours : float
        Hours a year.
    priced : float
        What they come to at the price stated.
    currency : str
        Its name.

    Returns
    -------
    str
        A sentence.
    """
    if hours <= 0.0:
        return "Nothing is rinsed, so no time of yours is counted; fitting a new element takes a few minutes."
    worth = f", {money(priced, currency)} at your price" if priced > 0.0 else "; you put no price on it"
    return f"Rinses and soaks take {number(hours)} hours of your time a year{worth}."


def shopping_lines(purchases: Sequence[Purchase], study: Study) -> list[dict[str, str | float]]:
    """Return a year's shopping list, as rows people read.

    Parameters
    ----------
    purchases : sequence of Purchase
        What is bought.
    study : Study
        The study.

    Returns
    -------
    list of dict
        A row each.
    """
    elements = {element.name: element for option in study.options for element in option.stages}
    rows: list[dict[str, str | float]] = []
    for bought in purchases:
        element = elements.get(bought.item)
        lead = element.lead_time_days if element else None
        when = "now" if bought.first_day == 0 else f"by day {bought.first_day}"
        rows.append(
            {
                "what": bought.item,
                "how many": bought.count,
                study.currency: round(bought.amount, 2),
                "first wanted": when,
                "delivery": days(lead) if lead is not None else "",
                "shops": "" if element is None or element.suppliers is None else str(element.suppliers),
            }
        )
    return rows


CLEAR_IS_NOT_CLEAN = (
    "Fresh water takes away what no filter does: the haze, and what is dissolved. Clear is not clean: no filter makes "
    "water safe."
)
WHAT_IFS: Mapping[str, str] = MappingProxyType(
    {
        "tub.uses_per_day": "Fewer dips, or more",
        "tub.showered_share": "A shower first",
        "tub.water_change_every": "Fresh water oftener",
        "tub.water_temperature": "Warmer water",
        "tub.volume": "Another tub",
        "pump.shutoff_head": "A pump that lifts higher",
        "pump.max_flow": "A pump that moves more",
        "pump.hours_per_day": "Fewer pump hours",
        "plumbing.bore": "A wider fitting",
        "plumbing.length": "A shorter hose",
        "needs.turnovers_per_hour": "Fewer turnovers",
        "needs.see_through": "Another wish for the view",
        "prices.electricity_per_kwh": "Dearer electricity",
    }
)


def beside(old: OptionAnswer, new: OptionAnswer, currency: str, display: Display) -> list[tuple[str, str, str]]:
    """Return an option's figures before and after a change.

    Parameters
    ----------
    old, new : OptionAnswer
        The option as it is, and as it would be.
    currency : str
        Its name.
    display : Display
        Units to show.

    Returns
    -------
    list of (str, str, str)
        What, as it is, as it would be.
    """

    def figures(option: OptionAnswer) -> dict[str, str]:
        cost = option.cost_per_year.total
        left = option.due_flow_l_per_h
        rinses = [stage.rinses_before_replacing for stage in option.stages]
        return {
            "does the job": "yes" if option.meets_needs else "no",
            "first service": days(option.days_to_first_service or 0.0),
            "flow when new": f"{number(display.flow_of(option.clean_flow_l_per_h), 3)} {display.flow}",
            "flow when due": "–" if left is None else f"{number(display.flow_of(left), 3)} {display.flow}",
            "worst view": distance(option.worst_view_m, display),
            "rinses": " + ".join("–" if count is None else str(count) for count in rinses),
            "a year": "–" if cost is None else money(cost, currency),
        }

    before, after = figures(old), figures(new)
    return [(name, before[name], after[name]) for name in before]


WORKS: tuple[tuple[str, str], ...] = (
    (
        "Pump and hose",
        "The pump's two numbers give a falling curve of push against flow. Hose, bends and fittings take their share: "
        "Darcy-Weisbach friction with Churchill's factor, and a loss for each fitting. What is left is for the filter.",
    ),
    (
        "A clean filter",
        "Water creeps through a mat of fibres or foam: loss = viscosity × thickness ÷ permeability × speed, with the "
        "permeability from fibre size and packing, plus the core's square-law loss.",
    ),
    (
        "What it catches",
        "The share caught in one pass rises with size over the micron rating; some water slips past. Twenty-four size "
        "classes from 0.5 µm to 2 mm.",
    ),
    (
        "What comes in",
        "Skin, hair, fine and oily matter with each dip; grit on feet; dust on the open water. A shower takes two "
        "fifths of the first three off.",
    ),
    (
        "How it fills",
        "The caught dirt narrows the mat and then lies on its face as a cake, both grow a little by themselves, and "
        "the loss rises until the flow has fallen to what you want: that is when it wants a rinse.",
    ),
    (
        "Rinses",
        "A rinse leaves a share behind, a soak part of that. Runs get shorter until a new element costs less, in the "
        "long run, than going on.",
    ),
    (
        "Clear water",
        "Each size of dirt dims light in its own measure. One sees as far as 4.8 ÷ attenuation. Haze that no "
        "cartridge catches grows with the dips since the water was changed.",
    ),
    (
        "How sure",
        "Sixteen things are not known exactly. They are drawn 256 times together, each option before the same draws.",
    ),
)
CHECKED = (
    "Published cases, from permeability to life-cycle cost, can be recomputed here; a second, slow program solves "
    "the same equations another way and agrees to about a tenth of a per cent; 35 measured loading runs of a filter "
    "mat, in air, follow the loading law. None of that is your tub: dirt a bather brings is known to a factor of two "
    "at best, and one timed bucket is worth more than all of it."
)


def file_stem(name: str) -> str:
    """Return a tub's name as the beginning of a file's.

    Parameters
    ----------
    name : str
        The tub's name.

    Returns
    -------
    str
        Letters, digits and hyphens.

    Examples
    --------
    >>> file_stem("Harbour freezer tub"), file_stem("../=x"), file_stem("水")
    ('harbour-freezer-tub', 'x', '水')
    """
    return "-".join(re.findall(r"\w+", name.lower()))[:60] or "tub"
