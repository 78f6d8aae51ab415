"""What to do today with the option in use: service it, wait, or read first; and what would help where nothing does."""

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, floor
from typing import Literal

from filtration.answers.clearness import longest_water_life_days
from filtration.answers.figures import L_PER_H, follow
from filtration.answers.results import Measure
from filtration.answers.size_answer import PumpSize
from filtration.answers.sizing import smallest_pump
from filtration.base.arrays import Array
from filtration.base.defaults import model
from filtration.base.draws import Belief
from filtration.base.errors import NoAnswerError
from filtration.loading.assembly import entry_by_id
from filtration.readings.outlook import A_WEEK, Helpless, Outlook
from filtration.readings.record import Record
from filtration.study.believed import with_belief

Range = tuple[float, float, float]
Ranged = Callable[[Callable[[Outlook], Array]], Range]
Do = Literal["service", "wait", "measure", "nothing helps"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to do today, and what waiting a week does; 10, 50 and 90 % each.

    Parameters
    ----------
    do : {"service", "wait", "measure", "nothing helps"}
        Rinse or replace now; leave it; take the reading that the forecast names first; or no service brings what is
        wanted.
    flow_in_a_week_l_per_h, flow_serviced_l_per_h : (float, float, float)
        Flow in a week without a service, and with one today [L/h].
    see_through_now_m, see_through_in_a_week_m, see_through_serviced_m : (float, float, float)
        View today, in a week without a service, and with one today, in water as old as the log says [m].
    flow_new_l_per_h, see_through_new_m : (float, float, float)
        Flow of a new element [L/h], and the view it leaves at the end of the water's life [m].
    saved_by_a_week : float
        Rinses and elements that a week's waiting puts off, in the study's currency.
    wanted_m : float
        View wanted [m].
    why : {"flow", "clarity", "short"} or None
        What even a new element lacks in most cases, or that it is spent within a day.
    pump : PumpSize or None
        The smallest pump that keeps the flow wanted, where that is lacking.
    clear_for_days : int or None
        To how many whole days the water's life must come down for the view wanted, where that is lacking [day].
    """

    do: Do
    flow_in_a_week_l_per_h: Range
    flow_serviced_l_per_h: Range
    see_through_now_m: Range
    see_through_in_a_week_m: Range
    see_through_serviced_m: Range
    flow_new_l_per_h: Range
    see_through_new_m: Range
    saved_by_a_week: float
    wanted_m: float
    why: Helpless | None = None
    pump: PumpSize | None = None
    clear_for_days: int | None = None


def advice_of(
    record: Record, belief: Belief, outlook: Outlook, due_days: Array, ranged: Ranged, measure: Measure | None
) -> Advice:
    """Return what to do today, and what waiting a week does.

    Parameters
    ----------
    record : Record
        What was done and read.
    belief : Belief
        What that says of the unknowns.
    outlook : Outlook
        What lies ahead.
    due_days : (e,) array
        When it is due, of the cases that the forecast tells of [day].
    ranged : callable
        Gives 10, 50 and 90 % of a figure of an outlook, as the forecast tells it.
    measure : Measure or None
        The reading that would narrow the days to go most.

    Returns
    -------
    Advice
        A service when it is due in most cases; a reading first where a service within a week is likely enough to
        matter and the reading would tell.
    """
    helpless, helps, life_days = outlook.helpless, None, None
    if helpless == "flow":
        helps = _larger_pump(record, belief)
    elif helpless == "clarity":
        life_days = _clear_for_days(record, belief)
    days = due_days - outlook.day
    in_a_week = float((days <= A_WEEK).mean())
    do: Do = "wait"
    if helpless is not None:
        do = "nothing helps"
    elif float((days <= 0.0).mean()) >= model("advice.due_chance"):
        do = "service"
    elif in_a_week >= model("advice.soon_chance") and measure is not None and measure.is_worth_a_minute:
        do = "measure"
    return Advice(
        do=do,
        flow_in_a_week_l_per_h=ranged(lambda seen: L_PER_H * seen.in_a_week.flow_m3_s),
        flow_serviced_l_per_h=ranged(lambda seen: L_PER_H * seen.serviced.flow_m3_s),
        see_through_now_m=ranged(lambda seen: seen.now.view_m),
        see_through_in_a_week_m=ranged(lambda seen: seen.in_a_week.view_m),
        see_through_serviced_m=ranged(lambda seen: seen.serviced.view_m),
        flow_new_l_per_h=ranged(lambda seen: L_PER_H * seen.new.flow_m3_s),
        see_through_new_m=ranged(lambda seen: seen.new.view_m),
        saved_by_a_week=A_WEEK * ranged(lambda seen: seen.cost_per_day)[1],
        wanted_m=record.study.needs.see_through_m,
        why=helpless,
        pump=helps,
        clear_for_days=life_days,
    )


def _larger_pump(record: Record, belief: Belief) -> PumpSize | None:
    """Return the smallest pump that keeps the flow wanted with the option in use, None where none does."""
    study, life = with_belief(record.study, belief), record.lives[-1]
    wanted = study.needs.flow_m3_s
    if wanted is None:
        return None
    try:
        return smallest_pump(study, study.id_of(life.entry.option, life.entry.pump), wanted)
    except NoAnswerError:
        return None


def _clear_for_days(record: Record, belief: Belief) -> int | None:
    """Return to how many whole days the water's life must come down for the view wanted; None where none is so short.

    By the rule of the answers, for the option in use as the belief sees it.
    """
    study, life = with_belief(record.study, belief), record.lives[-1]
    (followed,) = follow(study, [entry_by_id(study, study.id_of(life.entry.option, life.entry.pump))])
    younger = ceil(study.tub.water_life_days) - 1.0
    return floor(longest_water_life_days(followed, study.needs.see_through_m, younger)) or None
