"""What an owner takes away: the answer as readings see it, the dated plan, or why there is none, and what was done."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from filtration.answers.ranking import compare
from filtration.answers.results import Comparison
from filtration.base.errors import NoAnswerError
from filtration.plan.dated import Plan, Planned
from filtration.plan.dated_plan import plan
from filtration.readings.next_service import forecast, noon_of
from filtration.readings.reading import Reading
from filtration.study.believed import with_belief
from filtration.study.values import Study

Done = Mapping[tuple[str, str], int]
_SERVICES = ("rinse", "soak", "replace")
_FEWEST_DRAWS = 16


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """Answer and plan of one study.

    Parameters
    ----------
    compared : Comparison
        The study's own answer, which the plan was chosen from.
    answer : Comparison
        The answer as readings see it; the same where there are none.
    plan : Plan or None
        The plan.
    why : str
        Why there is no plan.
    rows : sequence of Reading
        The readings.
    """

    compared: Comparison
    answer: Comparison
    plan: Plan | None
    why: str
    rows: Sequence[Reading]

    @property
    def planned(self) -> Plan:
        """The plan, for what cannot do without; raises NoAnswerError where there is none."""
        if self.plan is None:
            raise NoAnswerError(self.why)
        return self.plan


def outcome_of(
    study: Study,
    *,
    option: str | None,
    today: date,
    rows: Sequence[Reading] | None = None,
    compared: Comparison | None = None,
    draws: int = 0,
    seed: int = 0,
    progress: Callable[[float, str], None] | None = None,
) -> Outcome:
    """Work out answer and plan together.

    Parameters
    ----------
    study : Study
        The study.
    option : str or None
        The option planned with; None for what readings speak of, else the best.
    today : date
        The first day.
    rows : sequence of Reading, optional
        What was read; left out, the study stands for itself.
    compared : Comparison, optional
        The study's own answer, if it is there already.
    draws, seed : int, optional
        Draws of the answer, and which; forecast and plan draw as often as they always do.
    progress : callable, optional
        Called with the share done [-] and what is being done.

    Raises
    ------
    InputError
        If ``compare``, ``forecast`` or ``plan`` refuses what it is given.
    NoAnswerError
        If the readings do not say what is fitted.
    """
    tell = progress or (lambda _share, _what: None)
    ahead = None
    if rows is None:
        answer = compared = compared or compare(study, draws=draws, seed=seed, progress=_within(tell, 0.0, 0.9))
    else:
        ahead = forecast(study, rows, today=noon_of(today), seed=seed, progress=_within(tell, 0.0, 0.4))
        compared = compared or compare(study)
        seen = with_belief(study, ahead.belief)
        answer = compare(seen, draws=draws, seed=seed, progress=_within(tell, 0.4, 0.9))
    tell(0.9, "planning by the calendar")
    made, why = None, ""
    try:
        made = plan(study, option=option, today=today, forecast=ahead, answer=compared, seed=seed)
    except NoAnswerError as error:
        why = str(error)
    tell(1.0, "done")
    return Outcome(compared=compared, answer=answer, plan=made, why=why, rows=rows or ())


def _within(tell: Callable[[float, str], None], start: float, end: float) -> Callable[[float, str], None]:
    """Return what tells of a part of the work as from one share of all of it to another."""
    return lambda share, what: tell(start + share * (end - start), what)


def services_done(made: Plan, compared: Comparison, readings: Sequence[Reading] = ()) -> Done:
    """Count what was done since the option was first fitted and before a plan begins.

    Parameters
    ----------
    made : Plan
        The plan.
    compared : Comparison
        The comparison it was made from.
    readings : sequence of Reading, optional
        The owner's rows. Rinses, soaks and replacements are counted there; without any, each is taken as done when due.

    Returns
    -------
    mapping of (str, str) to int
        Times, by what is done and to what; a key that is not there was never done.
    """
    days = {kind: {row.when.date() for row in readings if row.kind == kind} for kind in _SERVICES}
    since = min({made.fitted_on} | days["replace"])
    if made.study.in_use is not None and (readings or made.fitted_on < made.first_day):
        since = min(since, date.fromisoformat(made.study.in_use.since))  # as far back as is known
    done = _when_due(made, compared, since)
    rinsed, soaked = ({day for day in days[kind] if day >= since} for kind in ("rinse", "soak"))
    replaced = sum(day > since for day in days["replace"])
    for element in made.study.on_pumps[made.option][0].stages if any(days.values()) else ():
        done["replace", element.name] = replaced
        done["buy", element.name] = replaced + 1
        if element.rinseable:
            done["rinse", element.name] = len(rinsed | soaked)
            done["soak", element.name] = len(soaked)
    return done


def numbered(made: Plan, done: Done) -> list[tuple[Planned, int]]:
    """Return a plan's events in order, each with its number, from 1, among those of its kind since the first fitting.

    ``done`` is what ``services_done`` counts.
    """
    count = Counter(dict(done))
    rows = []
    for event in made.events:
        count[event.what, event.item] += 1
        rows.append((event, count[event.what, event.item]))
    return rows


def _when_due(made: Plan, compared: Comparison, since: date) -> Counter[tuple[str, str]]:
    """Count what falls due from a day to a plan's first."""
    elapsed, study = (made.first_day - since).days, made.study
    if elapsed <= 0:
        return Counter()
    before = replace(study, in_use=None, prices=replace(study.prices, horizon_days=float(elapsed)))
    told = plan(before, option=made.option, today=since, answer=compared, draws=_FEWEST_DRAWS)
    return Counter((event.what, event.item) for event in told.events if event.date < made.first_day)
