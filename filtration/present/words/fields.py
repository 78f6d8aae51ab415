"""Names of the fields, why they matter and how to find them out."""

import re
from collections.abc import Mapping

Told = tuple[str, str]

FIELDS: Mapping[str, Told] = {
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
    "pump.power": ("Power", "You pay for it, and it warms the water. On the box; better, a plug-in power meter."),
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
    "needs.max_pressure_rise": (
        "Most pressure rise",
        "What the element takes over a clean one. A gauge or a clear tube before the housing rises by a little "
        "less, as the hose behind it takes less of a smaller flow.",
    ),
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

GROUPS: Mapping[str, str] = {
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

COLUMNS: Mapping[str, Told] = {
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

LIFT_TEST = (
    "The lift test replaces the box and the hose, and is better than both. Take the filter out. Hold the outlet above "
    "the water at two or more heights, and time how long it fills a bucket at each."
)

MISSING = "Still to fill in"

EMPTY = "An empty tub"

STARTS = "Start another from"

SHELF_NOTE = (
    "An empty tub starts with the usual slim cartridges and example prices. Put in your shop's prices, and take away "
    "what you would not buy."
)

_UNIT_SIGNS = {
    "degC": "°C",
    "degF": "°F",
    "gal": "US gal",
    "day": "days",
    "m^2": "m²",
    "year": "years",
}


_ENTRY = re.compile(r"\[\[(?:elements|pumps)\]\] (\d+)(?: \((.*?)\))? (\w+): ")


def fault_words(fault: str) -> str:
    """Return a fault of a study file as the page has it, with the names of row and column where it is of a column.

    Examples
    --------
    >>> fault_words("[[elements]] 1 (Pleated 20) rating: must be positive")
    'Pleated 20, Micron rating: must be positive'
    >>> fault_words("[prices] horizon: is unknown")
    '[prices] horizon: is unknown'
    """
    found = _ENTRY.match(fault)
    if found is None or found[3] not in COLUMNS:
        return fault
    return f"{found[2] or f'row {found[1]}'}, {COLUMNS[found[3]][0]}: {fault[found.end() :]}"


def label(key: str, unit: str | None = None) -> str:
    """Return what a field, by table and key, is called, with the unit it is read in as a study file spells it.

    Examples
    --------
    >>> label("tub.volume", "gal"), label("tub.feet")
    ('Water, US gal', 'Feet')
    """
    name = FIELDS[key][0]
    return name if unit is None else f"{name}, {_UNIT_SIGNS.get(unit, unit)}"


WHAT_IFS: Mapping[str, str] = {
    "tub.uses_per_day": "Fewer dips, or more",
    "tub.showered_share": "A shower first",
    "tub.water_change_every": "Fresh water more often",
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
