"""The answer of the front page: one sentence, and the few lines below it. Figures are those of the short answer."""

from collections.abc import Sequence

from filtration.answers.results import Comparison, OptionAnswer
from filtration.present.display import METRIC, Display
from filtration.present.words import answer, short
from filtration.present.words.exports import bucket, bucket_seconds
from filtration.present.words.odds import HALF_A_CASE, apart, cases_of, in_the_rest, of_twenty, range_in_brackets
from filtration.present.words.phrases import KINDS, due, is_rinsed, money, on_pump, service, title, whole_days
from filtration.present.words.sentences import single

_FRONT = single("front")
DANGER, HOW_SURE, ADVICE = _FRONT["danger"], "How sure", "The advice"


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
    does = "Rinse" if is_rinsed(option) else "Replace"
    whose = "cartridge's" if option.housings == 1 else "cartridges'"
    cost = f"{money(year.total, comparison.study.currency)} a year, {year.own:,.0f} of it the {whose}"
    return f"{name}. {does} about every {often}. {cost}."


def facts(option: OptionAnswer, comparison: Comparison) -> Sequence[short.Line]:
    """Return how sure an option is, what is as good and what would save most; or beside the advice, what that is."""
    lines, taken = dict(short.lines(comparison)), comparison.advised
    if taken is None:
        return [(name, lines[name]) for name in ("What helps",) if name in lines]
    sure = f"in {cases_of(option, comparison)}"
    if option is not taken:
        costs = "" if option.cost_per_year.total is None else f"{apart(taken, option, comparison)} a year, "
        beside = f"{title(taken, comparison)}: {costs}in {cases_of(taken, comparison)}"
        return [(HOW_SURE, sure), (ADVICE, beside)]
    none = comparison.odds.chance_none_meets_needs
    if none >= HALF_A_CASE:
        sure += f"; in the other {of_twenty(none)} none, {in_the_rest(comparison)}"
    return [(HOW_SURE, sure), *((name, lines[name]) for name in ("As good", "Would save") if name in lines)]


def buckets(option: OptionAnswer, display: Display = METRIC) -> str:
    """Return how long a bucket takes when the cartridge is new, and when it is due."""
    if not option.clean_flow_l_per_h:
        return "No water moves"
    told = f"{bucket(display)} in {bucket_seconds(option.clean_flow_l_per_h, display)} s new"
    if option.due_flow_l_per_h and option.days_to_first_service:
        told += f", {bucket_seconds(option.due_flow_l_per_h, display)} s at the {service(option)}"
    return told
