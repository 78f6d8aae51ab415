"""The answer of the front page: one sentence, and the few lines below it. Figures are those of the short answer."""

from collections.abc import Sequence

from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.units import in_unit
from filtration.present.display import METRIC, Display
from filtration.present.words import answer, short
from filtration.present.words.odds import HALF_A_CASE, dearer_by, of_twenty, range_in_brackets
from filtration.present.words.phrases import KINDS, due, money, number, on_pump, title, whole_days
from filtration.present.words.sentences import single

_FRONT = single("front")
DANGER, HOW_SURE, ADVICE = _FRONT["danger"], "How sure", "The advice"
_BUCKETS = {False: ("10 L", 10.0, "L/h"), True: ("5 gal", 5.0, "gph")}
_SECONDS_PER_HOUR = 3600.0


def called(option: OptionAnswer, comparison: Comparison) -> str:
    """Return an option's name with its micron rating."""
    name, rating = option.name, f"{option.rating_um:g}"
    if name.endswith(f" {rating}"):
        name = f"{name} µm"
    elif option.kind != "train" and rating not in name:
        name = f"{name} ({KINDS[option.kind]}, {rating} µm)"
    return on_pump(name, option.pump, comparison.study)


def sentence(option: OptionAnswer, comparison: Comparison) -> str:
    """Return which cartridge, how often it is serviced and what a year costs; or why it will not do."""
    name, year = called(option, comparison), option.cost_per_year
    if not option.meets_needs or option.days_to_first_service is None or year.total is None:
        why = "; ".join(answer.why_not(option))
        fails = f"{name} will not do: {why}."
        return fails if comparison.advised else f"No option meets your needs; nearest is {name}: {why}."
    often = due(option.days_to_first_service) + range_in_brackets(option, "days_to_first_service", whole_days)
    does = "Rinse" if short.service(option) == "rinse" else "Replace"
    whose = "cartridge's" if option.housings == 1 else "cartridges'"
    cost = f"{money(year.total, comparison.study.currency)} a year, {year.own:,.0f} of it the {whose}"
    return f"{name}. {does} about every {often}. {cost}."


def facts(option: OptionAnswer, comparison: Comparison) -> Sequence[short.Line]:
    """Return how sure an option is, what is as good and what would save most; or beside the advice, what that is."""
    lines, taken = dict(short.lines(comparison)), comparison.advised
    if taken is None:
        return [(name, lines[name]) for name in ("What helps",) if name in lines]
    sure = short.cases(option, comparison)
    if option is not taken:
        more, cost = dearer_by(taken, option), option.cost_per_year.total
        told = f"{money(abs(more), comparison.study.currency)} {'less' if more < 0.0 else 'more'} a year, "
        beside = f"{title(taken, comparison)}: {told if cost is not None else ''}{short.cases(taken, comparison)}"
        return [(HOW_SURE, sure), (ADVICE, beside)]
    none = comparison.odds.chance_none_meets_needs
    if none >= HALF_A_CASE:
        sure += f"; in the other {of_twenty(none)} none, {short.in_the_rest(comparison)}"
    return [(HOW_SURE, sure), *((name, lines[name]) for name in ("As good", "Would save") if name in lines)]


def buckets(option: OptionAnswer, display: Display = METRIC) -> str:
    """Return how long a bucket takes when the cartridge is new, and when it is due."""
    bucket, amount, unit = _BUCKETS[display.us]

    def seconds(litres_per_hour: float) -> str:
        flow = litres_per_hour * in_unit(1.0, unit) / in_unit(1.0, "L/h")
        return f"{number(_SECONDS_PER_HOUR * amount / flow)} s"

    if not option.clean_flow_l_per_h:
        return "No water moves"
    told = f"{bucket} in {seconds(option.clean_flow_l_per_h)} new"
    if option.due_flow_l_per_h and option.days_to_first_service:
        told += f", {seconds(option.due_flow_l_per_h)} at the {short.service(option)}"
    return told
