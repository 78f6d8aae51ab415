"""All wording, once: every face of the program takes its sentences from here."""

from collections.abc import Callable, Mapping, Sequence
from math import floor, isfinite, log10

from filtration.answer import Comparison, OptionAnswer, Remark
from filtration.defaults import model
from filtration.study import Study

_FAR_M = model("optics.most_said")

TERMS = {
    "clean flow": "what the pump gives through the new element",
    "first service": "days until it first wants a rinse or, if it cannot be rinsed, a replacement",
    "ends by": "the limit that is reached first",
    "flow when due": "what is left of the flow when it wants that service",
    "worst view": "how far one sees under water just after a session, element due, water at the end of its life",
    "rinses": "how often to rinse an element before replacing it costs least",
    "a year": "everything; 'choice' is the part of it that differs between the options",
}
LIMITS = {
    "flow": "the flow has fallen to what you want as a minimum",
    "pressure": "the pressure has risen as far as you allow",
    "full": "the element is full",
    "time limit": "the time limit is reached",
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
    """Return a number rounded to what is known of it.

    Parameters
    ----------
    value : float
        The number.
    digits : int, optional
        Significant digits; whole digits are all kept from 100 on.

    Returns
    -------
    str
        Its text, thousands set apart by commas.

    Examples
    --------
    >>> number(13.74), number(0.0123), number(1495.6, 3)
    ('14', '0.012', '1,500')
    """
    if value == 0.0 or not isfinite(value):
        return f"{value:g}"
    places = digits - 1 - floor(log10(abs(value)))
    return f"{round(value, places):,.{max(places, 0)}f}"


def days(value: float, digits: int = 2) -> str:
    """Return a length of time in days.

    Parameters
    ----------
    value : float
        Days.
    digits : int, optional
        Significant digits.

    Returns
    -------
    str
        With its unit.

    Examples
    --------
    >>> days(1.0), days(13.7), days(0.21)
    ('1 day', '14 days', '0.21 days')
    """
    text = number(value, digits)
    return f"{text} day" if text in {"1", "1.0"} else f"{text} days"


def distance(value_m: float) -> str:
    """Return a see-through distance, none over 10 m.

    Parameters
    ----------
    value_m : float
        Distance [m].

    Returns
    -------
    str
        With its unit.

    Examples
    --------
    >>> distance(5.678), distance(40.0)
    ('5.7 m', 'more than 10 m')
    """
    return f"more than {_FAR_M:g} m" if value_m > _FAR_M else f"{number(value_m)} m"


def money(value: float, currency: str) -> str:
    """Return an amount of money, whole from 100 on.

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
    >>> money(232.4, "EUR"), money(0.5, "USD")
    ('EUR 232', 'USD 0.50')
    """
    return f"{currency} {value:,.0f}" if abs(value) >= 100.0 else f"{currency} {value:,.2f}"


def title(option: OptionAnswer, comparison: Comparison) -> str:
    """Return an option's name, with its pump where several are compared.

    Parameters
    ----------
    option : OptionAnswer
        The option.
    comparison : Comparison
        The answer it stands in.

    Returns
    -------
    str
        Name.
    """
    return f"{option.name} on {option.pump}" if len(comparison.study.pumps) > 1 else option.name


def _service(option: OptionAnswer) -> str:
    """Return the word for what an option wants when due."""
    rinsed = any(stage.service == "rinse" for stage in option.stages)
    replaced = any(stage.service == "replace" for stage in option.stages)
    if rinsed and replaced:
        return "a rinse or a replacement"
    return "a rinse" if rinsed else "a replacement"


def _reason_flow(figures: Mapping[str, float | str]) -> str:
    return (
        f"even clean it gives {number(float(figures['have']), 3)} L/h, {number(float(figures['have_turnovers']))} "
        f"turnovers an hour; {number(float(figures['want']), 3)} L/h "
        f"({number(float(figures['want_turnovers']))} an hour) are wanted"
    )


def _reason_clarity(figures: Mapping[str, float | str]) -> str:
    return (
        f"even clean it leaves the water dull: {distance(float(figures['have']))} to see just after a session at the end "
        f"of the water's life; {distance(float(figures['want']))} are wanted"
    )


def _reason_short(figures: Mapping[str, float | str]) -> str:
    have, want = days(float(figures["have"])), days(float(figures["want"]))
    return f"it lasts {have} between services; you put up with {want} at the least"


def _reason_fit(figures: Mapping[str, float | str]) -> str:
    area, most = number(float(figures["area_m2"])), number(float(figures["most_m2"]))
    return (
        f"the pleats of {figures['element']} do not fit: {area} m² of sheet and no gap between; at most "
        f"{most} m² fill this size. Count the pleats again and measure one"
    )


_REASONS: dict[str, Callable[[Mapping[str, float | str]], str]] = {
    "flow": _reason_flow,
    "clarity": _reason_clarity,
    "short run": _reason_short,
    "does not fit": _reason_fit,
    "no flow": lambda figures: str(figures["why"]),
}


def why_not(option: OptionAnswer) -> list[str]:
    """Return why an option does not meet the needs.

    Parameters
    ----------
    option : OptionAnswer
        The option.

    Returns
    -------
    list of str
        One sentence a reason, without a full stop; empty where it meets them.
    """
    return [_REASONS[reason.kind](reason.figures) for reason in option.reasons]


def _care(option: OptionAnswer) -> str:
    """Return how an option is looked after over a year."""
    parts = []
    for stage in option.stages:
        if stage.elements_per_year is None or stage.life_days is None:
            continue
        yearly = number(stage.elements_per_year)
        if stage.rinses_before_replacing:
            times = stage.rinses_before_replacing
            rinses = f"rinse {stage.element} {times} time{'s' if times > 1 else ''}, then replace it"
            parts.append(f"{rinses} (after {days(stage.life_days)}, {yearly} a year)")
        else:
            parts.append(f"replace {stage.element} every {days(stage.life_days)} ({yearly} a year)")
    text = "; ".join(parts)
    return text[:1].upper() + text[1:]


def headline(comparison: Comparison) -> str:
    """Return in plain words which option to take and why.

    Parameters
    ----------
    comparison : Comparison
        The answer.

    Returns
    -------
    str
        A short paragraph.
    """
    best = comparison.best
    if best is None:
        return _nothing_meets(comparison)
    currency = comparison.study.currency
    cost, choice = best.cost_per_year.total or 0.0, best.choice_cost_per_year or 0.0
    meeting = [option for option in comparison.options if option.meets_needs]
    sentences = [
        f"Take {title(best, comparison)}.",
        f"It gives {number(best.clean_flow_l_per_h, 3)} L/h when new "
        f"({number(best.clean_turnovers_per_hour)} turnovers an hour).",
    ]
    if best.days_to_first_service is not None and best.governed_by is not None:
        sentences.append(
            f"After {days(best.days_to_first_service)} it wants {_service(best)}: {LIMITS[best.governed_by]}, with "
            f"{number(best.due_flow_l_per_h or 0.0, 3)} L/h left."
        )
    sentences += [
        f"{_care(best)}.",
        f"One sees {distance(best.see_through_worst_m)} just after a session when it is due, "
        f"{distance(best.see_through_clean_m)} before one when it is new.",
        f"A year costs {money(cost, currency)}; {money(choice, currency)} of that depend on the choice.",
    ]
    if len(meeting) > 1:
        second = meeting[1]
        more = (second.cost_per_year.total or 0.0) - cost
        sentences.append(
            f"{len(meeting)} of {len(comparison.options)} options meet the needs and this one costs least; the next, "
            f"{title(second, comparison)}, costs {money(more, currency)} more."
        )
    else:
        sentences.append(f"Of {len(comparison.options)} options it is the only one that meets the needs.")
    return " ".join(sentences)


def _nothing_meets(comparison: Comparison) -> str:
    nearest = comparison.options[0]
    reasons = "; ".join(why_not(nearest))
    advice = {
        "no flow": "A stronger pump or a lower lift is needed.",
        "flow": "A stronger pump, a wider bore, more element area or fewer wanted turnovers would help.",
        "clarity": "A finer rating, more hours of pumping, more frequent water changes or cleaner feet would help.",
        "short run": "More element area, or housings in parallel, would help.",
        "does not fit": "",
    }
    help_ = " ".join(dict.fromkeys(advice[reason.kind] for reason in nearest.reasons))
    return f"No option meets the needs. The nearest is {title(nearest, comparison)}: {reasons}. {help_}".strip()


def others(comparison: Comparison) -> list[str]:
    """Return one line for each option but the best: what it fails on, or what it costs more.

    Parameters
    ----------
    comparison : Comparison
        The answer.

    Returns
    -------
    list of str
        Lines, best first.
    """
    best = comparison.best
    lines = []
    for option in comparison.options:
        if option is best:
            continue
        name = title(option, comparison)
        if option.reasons:
            lines.append(f"{name}: {'; '.join(why_not(option))}.")
        elif best is not None and option.days_to_first_service is not None:
            more = (option.cost_per_year.total or 0.0) - (best.cost_per_year.total or 0.0)
            lines.append(
                f"{name}: meets the needs at {money(more, comparison.study.currency)} more a year; wants "
                f"{_service(option)} after {days(option.days_to_first_service)}."
            )
    return lines


def deciding(comparison: Comparison) -> list[str]:
    """Return what decides between the options: area the interval, rating the clarity, warmth both ways.

    Parameters
    ----------
    comparison : Comparison
        The answer.

    Returns
    -------
    list of str
        Sentences.
    """
    lines = ["Area decides how long an element lasts; the micron rating mostly decides how clear the water is."]
    pump = comparison.options[0].pump if comparison.options else ""
    pleated = [o for o in comparison.options if o.pump == pump and o.kind == "pleated" and o.services_per_year]
    areas = {option.name: option.stages[0] and _area_m2(comparison.study, option) for option in comparison.options}
    same = [o for o in pleated if areas[o.name] == areas[pleated[0].name] and o.housings_in_parallel == 1]
    if len(same) > 1:
        fine, coarse = min(same, key=lambda o: o.rating_um), max(same, key=lambda o: o.rating_um)
        lines.append(
            f"Here, {fine.rating_um:g} and {coarse.rating_um:g} µm pleated on {number(areas[fine.name])} m²: "
            f"first service after {_first_run(fine)} and {_first_run(coarse)}; one sees "
            f"{distance(fine.see_through_clean_m)} and {distance(coarse.see_through_clean_m)}."
        )
    larger = [(a, b) for a in pleated for b in pleated if a.rating_um == b.rating_um and areas[b.name] > areas[a.name]]
    if larger:
        a, b = larger[0]
        lines.append(
            f"{number(areas[a.name])} and {number(areas[b.name])} m² of {a.rating_um:g} µm: first service after "
            f"{_first_run(a)} and {_first_run(b)}."
        )
    if comparison.warmth is not None:
        warmth = comparison.warmth
        lines.append(
            f"At {warmth.temperature_c:g} °C instead of {comparison.study.tub.water.temperature_c:g} °C, time limits "
            f"aside, the first run would last {days(warmth.days_both, 3)} instead of {days(warmth.days_now, 3)}: thinner "
            f"water alone makes it {days(warmth.days_thinner_water, 3)}, faster growth in the deposit alone "
            f"{days(warmth.days_faster_growth, 3)}."
        )
    return lines


def _first_run(option: OptionAnswer) -> str:
    return days(option.days_to_first_service or 0.0)


def _area_m2(study: Study, option: OptionAnswer) -> float:
    element = next(each for each in study.options if each.name == option.name).stages[0]
    return element.area_m2 or 0.0


_NOTES: dict[str, str] = {
    "ten psi": "The rule 'rinse at 10 psi rise' is for housings on the mains: this pump leaves at most {shutoff_kpa:.0f} "
    "kPa ({shutoff_psi:.1f} psi) for a filter, so go by flow and days.",
    "settling": "Grit above about {above_um:.0f} µm sinks faster than the water rises: no filter sees it until it is "
    "stirred up or vacuumed.",
    "never changed": "Water that is never changed grows dull whatever the filter: haze that no cartridge catches builds "
    "up. Figures are for {days:.0f} days.",
    "older than rule": "The water is kept {days:.0f} days; the rule for public spas would change it after {rule:.1f}.",
    "nobody bathes": "Nobody uses the tub: only dust loads the filter, and time limits decide.",
    "sweating": "The hoses in the air sweat: their surface is at about {surface_c:.0f} °C, below the dew point of "
    "{dew_c:.0f} °C. Insulate them and keep the drip off anything electric.",
    "beyond the points": "{options}: part of the run lies outside the flows that were measured ({low:.0f} to {high:.0f} "
    "L/h); the curve goes on straight there, which is a guess.",
    "train on lift test": "The lift test was made with one housing; what a second one takes is left out, as the bore is "
    "not given.",
    "absolute without beta": "{element}: 'absolute' without a measured beta ratio is only a word; it is treated as "
    "nominal.",
    "maker's loss": "{element}: the maker's clean loss makes it {factor:.2g} times as permeable as its rating alone "
    "would.",
    "maker's capacity": "{element}: {capacity_g:.0f} g at {at_kpa:.0f} kPa and {flow_l_per_h:.0f} L/h mean a deposit of "
    "{density_kg_m3:.0f} kg/m³; a small pump stops long before that pressure and uses only part of it. Makers load "
    "with mineral dust, which packs denser than what bathers bring.",
    "capacity alone": "{element}: the capacity of {capacity_g:.0f} g is taken as a ceiling; without the pressure it was "
    "measured at it says nothing of the flow.",
    "capacity not fitted": "{element}: no deposit gives {capacity_g:.0f} g at {at_kpa:.0f} kPa; the capacity is taken as "
    "a ceiling.",
    "cake beyond evidence": "{element}: its cake would catch more of the finest dirt than was ever measured on such "
    "cartridges (36 % of 5 µm a pass); do not count on that clarity.",
}


def note(remark: Remark) -> str:
    """Return one note in words.

    Parameters
    ----------
    remark : Remark
        The note.

    Returns
    -------
    str
        A sentence or two.
    """
    figures = dict(remark.figures)
    if "shutoff_kpa" in figures:
        figures["shutoff_psi"] = float(figures["shutoff_kpa"]) / KPA_PER_PSI
    return _NOTES[remark.kind].format(**figures)


KPA_PER_PSI = 6.894757


def notes(comparison: Comparison) -> list[str]:
    """Return what the reader should know beside the figures.

    Parameters
    ----------
    comparison : Comparison
        The answer.

    Returns
    -------
    list of str
        Sentences, what decides first.
    """
    lines = [note(remark) for remark in comparison.notes]
    if comparison.litres_per_dip is not None:
        lines.insert(0, _water(comparison))
    return deciding(comparison) + lines


def _water(comparison: Comparison) -> str:
    rule = comparison.water_change_rule_days
    text = (
        f"A change every {days(comparison.water_change_days)} gives each dip "
        f"{number(comparison.litres_per_dip or 0.0)} L of fresh water"
    )
    if rule is None:
        return f"{text}."
    return f"{text}; the rule for public spas asks for {days(rule)} (a third of the US gallons over bathers a day)."


CAUTIONS = {
    "clear": "Clear is not clean. A filter does not disinfect: germs are smaller than any rating here stops. Change the "
    "water, keep a disinfectant where others bathe, and test it.",
    "codes": "Where guests or the public bathe, local bathing-water and electrical codes and licensed trades decide, not "
    "this program.",
    "electricity": "Water and electricity: every device on an RCD (GFCI) outlet, plug and cable kept dry, unplug before "
    "you put a hand in or open the housing.",
    "suction": "Suction holds hair and skin: guard every intake, tie hair up, and switch the pump off while anyone "
    "bathes.",
    "cold": "Cold water takes the breath and the grip within a minute: never alone, never after alcohol, get out early.",
    "bottom": "If you cannot see the bottom, nobody goes in.",
    "health": "With open wounds, a weak immune system, in pregnancy or with a heart condition stay out, or ask a doctor "
    "first.",
    "lids": "A closed lid can trap a child: lock it or take it off, and never leave a child near the tub.",
    "freezer": "A converted freezer: do not drill or cut its walls; they hold refrigerant lines, and the gas is often "
    "flammable. Its original wiring is not made for wet hands.",
    "dirty": "A spent element is full of what it caught: rinse it outdoors with gloves and glasses, with a soft stream, "
    "and do not breathe the spray.",
    "chemicals": "Soak in degreaser first, rinse, then disinfect if you must: never bring acid and chlorine together, and "
    "never mix products.",
    "frost": "Outdoors, a housing or hose with standing water bursts in frost: keep it running or drain it.",
}


def cautions(study: Study) -> list[str]:
    """Return the cautions that apply to a tub.

    Parameters
    ----------
    study : Study
        The study.

    Returns
    -------
    list of str
        Sentences, the gravest first.
    """
    rinsed = any(stage.rinseable for option in study.options for stage in option.stages)
    skip = {
        "codes": not study.shared_with_public,
        "chemicals": not rinsed,
        "frost": study.surroundings != "outdoors",
    }
    return [text for key, text in CAUTIONS.items() if not skip.get(key, False)]


def cost_lines(option: OptionAnswer, comparison: Comparison) -> list[tuple[str, float, str, float]]:
    """Return what a year of an option is made of.

    Parameters
    ----------
    option : OptionAnswer
        An option with a cost.
    comparison : Comparison
        The answer it stands in.

    Returns
    -------
    list of (str, float, str, float)
        What, yearly amount, its unit, and price of one; amount times price is the cost to a cent.
    """
    study, prices = comparison.study, comparison.study.prices
    elements = {e.name: e for o in study.options for e in o.stages}
    lines: list[tuple[str, float, str, float]] = []
    for stage in option.stages:
        element = elements[stage.element]
        lines.append((element.name, stage.elements_per_year or 0.0, "bought", element.price))
        lines.append((f"{element.name}, disposal", stage.elements_per_year or 0.0, "bought", prices.disposal_each))
        if element.rinseable:
            water = element.rinse_water_m3 * prices.water_per_m3
            lines.append((f"{element.name}, rinses", stage.rinses_per_year or 0.0, "rinses", water))
            lines.append((f"{element.name}, soaks", stage.soaks_per_year or 0.0, "soaks", element.soak_price))
            minutes = (stage.rinses_per_year or 0.0) * element.rinse_minutes
            minutes += (stage.soaks_per_year or 0.0) * element.soak_minutes
            lines.append((f"{element.name}, own time", minutes / 60.0, "hours", prices.own_time_per_hour))
    energy = option.energy_kwh_per_year
    lines += [
        ("pumping", energy.pumping or 0.0, "kWh", prices.electricity_per_kwh),
        ("cooling", energy.cooling or 0.0, "kWh", prices.electricity_per_kwh),
        ("cooling fresh water", energy.water_changes or 0.0, "kWh", prices.electricity_per_kwh),
        ("fresh water", comparison.water_changes_per_year * study.tub.volume_m3, "m³", prices.water_per_m3),
        ("pump and housings", option.cost_per_year.equipment or 0.0, "spread over their lives", 1.0),
        ("disinfectant", 12.0, "months", prices.disinfectant_per_month),
    ]
    return [line for line in lines if line[1] * line[3] > 0.0]


def assumptions(study: Study) -> Sequence[str]:
    """Return the defaults a study leans on.

    Parameters
    ----------
    study : Study
        The study.

    Returns
    -------
    sequence of str
        As "key = value".
    """
    return study.assumed
