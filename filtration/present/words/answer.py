"""An answer in words, the same on every face of the program."""

from collections.abc import Callable, Mapping, Sequence
from math import floor

from filtration.answers.results import Comparison, OptionAnswer, WarmthAnswer
from filtration.base.remarks import Remark
from filtration.base.units import US_GALLON_M3, in_unit, written
from filtration.plan.dated import in_cents
from filtration.present.words.makers import counted, grams, makers_figures
from filtration.present.words.odds import a_year, apart, beside, dearer_by, how_often, of_twenty
from filtration.present.words.phrases import capital, days, distance, due, ended, first_run, flow, money, number, title
from filtration.present.words.sentences import single
from filtration.study.values import Study

_LOADED = 0.85  # of the clean flow: what a filter may lose before it is due
_LEAST_SHARE = 1e-3
_FEW_NAMED = 3
_HOURS_SAID_FROM_DAYS = 0.1  # a shorter time is told in minutes
_WRITTEN: Mapping[str, Callable[..., str]] = {
    "flow": flow,
    "clarity": distance,
    "haze": distance,
    "short run": days,
}
"""How the figures of a reason are written, by its kind; of others as numbers."""
_REASONS, _ADVICE, _NOTES = single("reasons"), single("advice"), single("notes")


def _needs(option: OptionAnswer) -> str:
    """Return what an option needs when a run has ended."""
    rinses = [bool(stage.rinses_before_replacing) for stage in option.stages]
    if all(rinses):
        return "rinsing"
    return "rinsing or replacing" if any(rinses) else "replacing"


def why_not(option: OptionAnswer) -> list[str]:
    """Return why an option does not meet the needs: one sentence a reason, without a full stop."""
    return [reason_in_words(reason) for reason in option.reasons]


def reason_in_words(reason: Remark) -> str:
    """Return a reason in words, with as many digits as it takes to tell what is there from what is wanted."""
    for more in range(4):
        told = {
            key: value if isinstance(value, str) else _figure(reason.kind, key, value, more)
            for key, value in reason.figures.items()
        }
        if "have" not in told or told["have"] != told["want"]:
            break
    return _REASONS[reason.kind].format(**told)


def _figure(kind: str, key: str, value: float, more: int) -> str:
    written = number if key.endswith("turnovers") else _WRITTEN.get(kind, number)
    return written(value, more=more)


def _care(option: OptionAnswer) -> str:
    """Return how an option is looked after over a year."""
    parts = []
    for stage in option.stages:
        if stage.elements_per_year is None or stage.life_days is None:
            continue
        life, yearly, times = due(stage.life_days), number(stage.elements_per_year), stage.rinses_before_replacing
        what = "it" if len(option.stages) == 1 else stage.element
        if times:
            often = f"{times} time{'s' if times > 1 else ''}"
            parts.append(f"rinse {what} {often}, then replace it (after {life}, {yearly} a year)")
        else:
            parts.append(f"replace {what} every {life} ({yearly} a year)")
    return capital("; ".join(parts))


def headline(comparison: Comparison) -> str:
    """Return in plain words which option to take and why."""
    taken = comparison.advised
    if taken is None:
        return _nothing_meets(comparison)
    currency = comparison.study.currency
    sentences = [
        f"Take {title(taken, comparison)}.",
        f"It gives {flow(taken.clean_flow_l_per_h)} when new ({number(taken.clean_turnovers_per_hour)} turnovers an "
        "hour).",
    ]
    if taken.days_to_first_service is not None and taken.governed_by is not None:
        sentences.append(
            f"After {how_often(taken)} it needs {_needs(taken)}: "
            f"{ended(taken.governed_by, taken.days_to_first_service)}, with "
            f"{flow(taken.due_flow_l_per_h or 0.0)} left{flow_alone(taken, comparison)}."
        )
    related = f"; {money(taken.choice_cost_per_year or 0.0, currency)} of that is cartridge-related"
    sentences += [
        f"{_care(taken)}.",
        f"At the end of the water's life, just after a session, visibility is {distance(taken.see_through_new_m)} with "
        f"the cartridge new, {distance(taken.see_through_worst_m)} with it due for service.",
        f"A year costs {a_year(taken, currency)} in the long run{related if is_choice(comparison) else ''}.",
        _among(comparison, taken),
    ]
    return " ".join([*sentences, *beside(comparison, taken)])


def flow_alone(option: OptionAnswer, comparison: Comparison) -> str:
    """Return how long the flow alone would last where a time limit comes first."""
    alone = option.flow_alone_days
    if option.governed_by != "time limit" or alone is None:
        return ""
    least = "at least " if alone >= comparison.study.needs.discard_days * (1.0 - 1e-9) else ""
    return f"; the flow alone would last {least}{due(alone)}"


def _among(comparison: Comparison, taken: OptionAnswer) -> str:
    """Return how the option to take stands among the others."""
    meeting, number_of = [option for option in comparison.options if option.meets_needs], len(comparison.options)
    if number_of == 1:
        return "It is the only option in the study; add others to compare."
    if len(meeting) == 1:
        return f"Of {number_of} options it is the only one that meets your needs."
    text = f"{len(meeting)} of {number_of} options meet your needs"
    if taken is not meeting[0]:
        return f"{text}."
    more = money(dearer_by(meeting[1], taken), comparison.study.currency)
    return f"{text} and this one costs least; the next, {title(meeting[1], comparison)}, costs {more} more."


def is_choice(comparison: Comparison) -> bool:
    """Return whether two options or more have a cost, so that a part of it depends on which is taken."""
    return sum(option.cost_per_year.total is not None for option in comparison.options) > 1


def what_helps(comparison: Comparison) -> list[str]:
    """Return what would help where no option meets the needs: a sentence each, the likeliest first."""
    nearest = comparison.options[0]
    bare = max((curve.flow_l_per_h[-1] for curve in comparison.loops if curve.pump == nearest.pump), default=0.0)
    kinds = [
        "loop" if reason.kind == "flow" and bare <= float(reason.figures["want"]) else reason.kind
        for reason in nearest.reasons
    ]
    return list(dict.fromkeys([*_with_fewer_turnovers(comparison), *(_ADVICE[kind] for kind in kinds)]))


def _nothing_meets(comparison: Comparison) -> str:
    nearest = comparison.options[0]
    told = f"The nearest is {title(nearest, comparison)}: {'; '.join(why_not(nearest))}."
    return " ".join(["No option meets your needs.", told, *what_helps(comparison)])


def _with_fewer_turnovers(comparison: Comparison) -> list[str]:
    """Return how many turnovers an hour leave options enough flow, where the study does not say how many it wants."""
    short = [option for option in comparison.options if [each.kind for each in option.reasons] == ["flow"]]
    if not short or all(each.key != "needs.turnovers_per_hour" for each in comparison.study.assumed):
        return []
    asked = floor(10.0 * _LOADED * max(option.clean_turnovers_per_hour for option in short)) / 10.0
    would = [title(option, comparison) for option in short if option.clean_turnovers_per_hour > asked]
    which = ", ".join(would) if len(would) <= _FEW_NAMED else f"{len(would)} of {len(comparison.options)} options"
    return [
        f"The turnovers wanted are assumed: with {asked:g} an hour (needs.turnovers_per_hour) {which} would have "
        "enough flow; try it."
    ]


def others(comparison: Comparison) -> list[str]:
    """Return one line for each option but the one to take: what it fails on, or what it costs more or less."""
    lines = []
    for option in comparison.options:
        if option is comparison.spoken_of:
            continue
        name = title(option, comparison)
        if option.reasons:
            lines.append(f"{name}: {'; '.join(why_not(option))}.")
        elif option.days_to_first_service is not None:
            costs = f"{apart(option, comparison.spoken_of, comparison)} a year"
            lines.append(f"{name}: meets your needs at {costs}; needs {_needs(option)} after {first_run(option)}.")
    return lines


def deciding(comparison: Comparison) -> list[str]:
    """Return what decides between the options: area the interval, rating the clarity, warmth both ways."""
    lines = [single("asides")["area decides"]]
    pump = comparison.spoken_of.pump if comparison.options else ""
    pleated = [o for o in comparison.options if o.pump == pump and o.kind == "pleated" and not o.reasons]
    areas = {option.name: option.stages[0].area_m2 or 0.0 for option in comparison.study.options}
    same = [o for o in pleated if areas[o.name] == areas[pleated[0].name] and o.housings_in_parallel == 1]
    if len({o.rating_um for o in same}) > 1:
        fine, coarse = min(same, key=lambda o: o.rating_um), max(same, key=lambda o: o.rating_um)
        lines.append(
            f"Here, {fine.rating_um:g} and {coarse.rating_um:g} µm pleated on {number(areas[fine.name])} m²: "
            f"first service after {first_run(fine)} and {first_run(coarse)}; lowest visibility "
            f"{distance(fine.worst_view_m)} and {distance(coarse.worst_view_m)}."
        )
    larger = [(a, b) for a in pleated for b in pleated if a.rating_um == b.rating_um and areas[b.name] > areas[a.name]]
    lines += [
        f"{number(areas[a.name])} and {number(areas[b.name])} m² of {a.rating_um:g} µm: first service after "
        f"{first_run(a)} and {first_run(b)}."
        for a, b in larger[:1]
    ]
    if comparison.warmth is not None:
        lines.append(_warmer(comparison.warmth, comparison.spoken_of, comparison))
    return lines


def _warmer(warmth: WarmthAnswer, best: OptionAnswer, comparison: Comparison) -> str:
    def change(warmer_days: float) -> str:
        percent = round(100.0 * (warmer_days / warmth.days_now - 1.0))
        return f"{abs(percent)} % {'longer' if percent > 0 else 'shorter'}" if percent else "as long"

    return (
        f"At {warmth.temperature_c:g} °C instead of {number(comparison.study.tub.water.temperature_c)} °C, time limits "
        f"aside, the first run of {title(best, comparison)} would be {change(warmth.days_both)}: thinner water alone "
        f"makes it {change(warmth.days_thinner_water)}, faster growth in the deposit alone "
        f"{change(warmth.days_faster_growth)}."
    )


def _percent(share: float) -> str:
    return "less than 0.1 %" if share < _LEAST_SHARE else f"{number(100.0 * share)} %"


def note(remark: Remark) -> str:
    """Return one note in words: a sentence or two."""
    if remark.kind == "maker's figures":
        return makers_figures(remark.figures)
    figures = dict(remark.figures)
    if "capacity_g" in figures:
        figures |= {"capacity": grams(figures), "counted": counted(figures)}
    if "bound_g" in figures:
        figures["bound"] = number(float(figures["bound_g"]))
    if "shutoff_kpa" in figures:
        figures["shutoff_psi"] = in_unit(1e3 * float(figures["shutoff_kpa"]), "psi")
    if "by" in figures:
        figures["by"] = f"{100.0 * float(figures['by']):.0f} %"
    if "within_days" in figures:
        figures["within"] = days(float(figures["within_days"]), 1)
    if "even_days" in figures:
        even_days = float(figures["even_days"])
        figures["even"] = written(even_days, "min" if even_days < _HOURS_SAID_FROM_DAYS else "h")
    figures |= {key: _percent(float(by)) for key, by in figures.items() if key.endswith("_by")}
    if "chance" in figures:
        figures["cases"] = of_twenty(float(figures["chance"]))
    return _NOTES[remark.kind].format(**figures)


def notes(comparison: Comparison) -> list[str]:
    """Return what the reader should know beside the figures, what decides first."""
    return deciding(comparison) + asides(comparison)


def asides(comparison: Comparison) -> list[str]:
    """Return what the reader should know beside the figures and what decides."""
    water = [] if comparison.litres_per_dip is None else [_water(comparison, comparison.litres_per_dip)]
    return water + [note(remark) for remark in comparison.notes]


def _water(comparison: Comparison, litres_per_dip: float) -> str:
    rule = comparison.water_change_rule_days
    life = comparison.study.tub.water_life_days
    text = f"A change every {days(life)} gives each dip {number(litres_per_dip)} L of fresh water"
    if rule is None:
        return f"{text}."
    if abs(life - rule) < 1e-6 * rule:
        return f"{text}, as the rule for public spas asks (US gallons / 3 / bathers a day)."
    return f"{text}; the rule for public spas asks for {days(rule)} (US gallons / 3 / bathers a day)."


def cautions(study: Study) -> list[str]:
    """Return the cautions that apply to a tub, the gravest first."""
    applies = {
        "codes": study.shared_with_public,
        "chemicals": any(stage.rinseable for option in study.options for stage in option.stages),
        "frost": study.surroundings == "outdoors",
    }
    return [text for key, text in single("cautions").items() if applies.get(key, True)]


def cost_lines(option: OptionAnswer, comparison: Comparison) -> list[tuple[str, float, str, float, float]]:
    """Return what a year of an option with a cost is made of.

    Returns
    -------
    list of (str, float, str, float, float)
        What, yearly amount, its unit, price of one, and what that comes to in whole cents, which add up to the total.
    """
    study, prices = comparison.study, comparison.study.prices
    lines: list[tuple[str, float, str, float]] = []
    for stage in option.stages:
        element, bought = study.elements[stage.element], stage.elements_per_year or 0.0
        rinses, soaks = stage.rinses_per_year or 0.0, stage.soaks_per_year or 0.0
        hours = (rinses * element.rinse_minutes + soaks * element.soak_minutes) / 60.0
        lines += [
            (element.name, bought, "bought", element.price),
            (f"{element.name}, disposal", bought, "bought", prices.disposal_each),
        ]
        if element.rinseable:
            lines += [
                (f"{element.name}, rinses", rinses, "rinses", element.rinse_water_m3 * prices.water_per_m3),
                (f"{element.name}, soaks", soaks, "soaks", element.soak_price),
                (f"{element.name}, own time", hours, "hours", prices.own_time_per_hour),
            ]
    energy, fresh_m3 = option.energy_kwh_per_year, comparison.water_changes_per_year * study.tub.volume_m3
    measure, measure_m3 = ("1,000 gal", 1e3 * US_GALLON_M3) if study.us else ("m³", 1.0)
    lines += [
        ("pumping", energy.pumping or 0.0, "kWh", prices.electricity_per_kwh),
        ("cooling", energy.cooling or 0.0, "kWh", prices.electricity_per_kwh),
        ("cooling fresh water", energy.water_changes or 0.0, "kWh", prices.electricity_per_kwh),
        ("fresh water", fresh_m3 / measure_m3, measure, prices.water_per_m3 * measure_m3),
        ("pump and housings", option.cost_per_year.equipment or 0.0, "spread over their lives", 1.0),
        ("disinfectant", 12.0, "months", prices.disinfectant_per_month),
    ]
    paid = [line for line in lines if line[1] * line[3] > 0.0]
    whole = in_cents(amount * price for _, amount, _, price in paid)
    return [(*line, cents) for line, cents in zip(paid, whole, strict=True)]


def assumptions(study: Study) -> Sequence[str]:
    """Return the defaults a study leans on, as "key = value"."""
    return [str(each) for each in study.assumed]
