"""An answer in words, the same on every face of the program."""

from collections.abc import Callable, Mapping, Sequence

from filtration.answer import Comparison, OptionAnswer, Remark
from filtration.present.makers_words import makers_figures
from filtration.present.phrases import CAUTIONS, LIMITS, NOTES, days, distance, money, number, title
from filtration.present.sure_words import of_twenty, surer
from filtration.study import Study
from filtration.units import in_unit


def _service(option: OptionAnswer) -> str:
    """Return the word for what an option wants when due."""
    rinsed = any(stage.rinses_before_replacing for stage in option.stages)
    replaced = any(not stage.rinses_before_replacing for stage in option.stages)
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
        f"even clean it leaves the water dull: {distance(float(figures['have']))} to see just after a session at the "
        f"end of the water's life; {distance(float(figures['want']))} are wanted"
    )


def _reason_haze(figures: Mapping[str, float | str]) -> str:
    return (
        f"at the end of the water's life one sees {distance(float(figures['have']))}; "
        f"{distance(float(figures['want']))} are wanted, and haze that no cartridge catches leaves "
        f"{distance(float(figures['haze_alone']))} at best"
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
    "haze": _reason_haze,
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
        f"At the end of the water's life one sees {distance(best.see_through_new_m)} just after a session with it new, "
        f"{distance(best.see_through_worst_m)} with it due.",
        f"A year costs {money(cost, currency)}{_of_that(comparison, choice)}.",
    ]
    if len(meeting) > 1:
        second = meeting[1]
        more = (second.cost_per_year.total or 0.0) - cost
        sentences.append(
            f"{len(meeting)} of {len(comparison.options)} options meet the needs and this one costs least; the next, "
            f"{title(second, comparison)}, costs {money(more, currency)} more."
        )
    elif len(comparison.options) > 1:
        sentences.append(f"Of {len(comparison.options)} options it is the only one that meets the needs.")
    return " ".join([*sentences, *surer(comparison, best)])


def is_choice(comparison: Comparison) -> bool:
    """Return whether two options or more have a cost, so that a part of it depends on which is taken.

    Parameters
    ----------
    comparison : Comparison
        The answer.

    Returns
    -------
    bool
        No where one alone can be priced.
    """
    return sum(option.cost_per_year.total is not None for option in comparison.options) > 1


def _of_that(comparison: Comparison, choice: float) -> str:
    if not is_choice(comparison):
        return ""
    return f"; {money(choice, comparison.study.currency)} of that depend on the choice"


def _nothing_meets(comparison: Comparison) -> str:
    nearest = comparison.options[0]
    reasons = "; ".join(why_not(nearest))
    advice = {
        "no flow": "A pump that lifts higher, or an outlet nearer the water, is needed.",
        "flow": "A stronger pump, a wider bore, more element area or fewer wanted turnovers would help.",
        "loop": "A stronger pump, a wider bore or fewer bends would help; no element does.",
        "clarity": (
            "More frequent water changes, a shower first and cleaner feet help; so may a finer rating or more hours of "
            "pumping."
        ),
        "haze": "Only changing the water more often helps.",
        "short run": "More element area, or housings in parallel, would help.",
        "does not fit": "",
    }
    bare = max((curve.flow_l_per_h[-1] for curve in comparison.loops if curve.pump == nearest.pump), default=0.0)
    kinds = [
        "loop" if reason.kind == "flow" and bare <= float(reason.figures["want"]) else reason.kind
        for reason in nearest.reasons
    ]
    help_ = " ".join(dict.fromkeys(advice[kind] for kind in kinds))
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
    told = best or (comparison.options[0] if comparison.options else None)
    for option in comparison.options:
        if option is told:
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
    pleated = [o for o in comparison.options if o.pump == pump and o.kind == "pleated" and not o.reasons]
    areas = {option.name: option.stages[0].area_m2 or 0.0 for option in comparison.study.options}
    same = [o for o in pleated if areas[o.name] == areas[pleated[0].name] and o.housings_in_parallel == 1]
    if len({o.rating_um for o in same}) > 1:
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
        warmth, now_c = comparison.warmth, number(comparison.study.tub.water.temperature_c)
        lines.append(
            f"At {warmth.temperature_c:g} °C instead of {now_c} °C, time limits aside, the first run would last "
            f"{days(warmth.days_both, 3)} instead of {days(warmth.days_now, 3)}: thinner water alone makes it "
            f"{days(warmth.days_thinner_water, 3)}, faster growth in the deposit alone "
            f"{days(warmth.days_faster_growth, 3)}."
        )
    return lines


def _first_run(option: OptionAnswer) -> str:
    return days(option.days_to_first_service or 0.0)


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
    if remark.kind == "maker's figures":
        return makers_figures(remark.figures)
    figures = dict(remark.figures)
    if "shutoff_kpa" in figures:
        figures["shutoff_psi"] = in_unit(1e3 * float(figures["shutoff_kpa"]), "psi")
    if "by" in figures:
        figures["by"] = f"{100.0 * float(figures['by']):.0f} %"
    if "within_days" in figures:
        figures["within"] = days(float(figures["within_days"]), 1)
    if "chance" in figures:
        figures["cases"] = of_twenty(float(figures["chance"]))
    return NOTES[remark.kind].format(**figures)


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
    life = comparison.study.tub.water_life_days
    text = f"A change every {days(life)} gives each dip {number(comparison.litres_per_dip or 0.0)} L of fresh water"
    if rule is None:
        return f"{text}."
    if abs(life - rule) < 1e-6 * rule:
        return f"{text}, as the rule for public spas asks (US gallons / 3 / bathers a day)."
    return f"{text}; the rule for public spas asks for {days(rule)} (US gallons / 3 / bathers a day)."


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
